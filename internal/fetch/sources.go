package fetch

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

//go:embed sources.yaml
var builtIn string

// Limits of a file of sources.
const (
	maxSources  = 100
	maxParallel = 16
	maxMembers  = 128
	maxSteps    = 1000
	maxHours    = 24 * 40
)

// Sources are the places that forecasts and ground data can be pulled from.
type Sources struct {
	winds  []windSource
	ground []groundSource
}

// windSource is one published forecast, as sources.yaml explains it.
type windSource struct {
	Name      string         `yaml:"name"`
	Title     string         `yaml:"title"`
	Terms     string         `yaml:"terms"`
	Roots     []string       `yaml:"roots"`
	Index     string         `yaml:"index"`      // idx or index
	TopHPa    float64        `yaml:"top_hpa"`    // levels above it are left; 0: none are
	Parallel  int            `yaml:"parallel"`   // files at once
	PerMinute int            `yaml:"per_minute"` // requests
	Slow      map[string]int `yaml:"slow"`       // the same at some hosts
	Steps     []stepRun      `yaml:"steps"`
	Files     []fileSet      `yaml:"files"`
}

// stepRun are steps of the same distance, in hours after the cycle.
type stepRun struct {
	Cycles []int `yaml:"cycles"` // hours of the day
	From   int   `yaml:"from"`
	To     int   `yaml:"to"`
	Every  int   `yaml:"every"`
}

// fileSet is the files of each step.
type fileSet struct {
	Path    string   `yaml:"path"`
	Members []string `yaml:"members"` // one file for each; none: {MEM} is not in the path
	Numbers int      `yaml:"numbers"` // perturbed members within each file; 0: all that are there
	As      string   `yaml:"as"`      // control: it is the ensemble's, whatever the messages say
	Filter  string   `yaml:"filter"`  // address that cuts the file to a box; none: ranges of the file are fetched
}

// BuiltIn are the sources that come with the program.
func BuiltIn() (Sources, error) { return Sources{}.With([]byte(builtIn)) }

// BuiltInText is sources.yaml, for whoever writes a file of his own.
func BuiltInText() string { return builtIn }

// With adds the sources of a file in the form of sources.yaml, at most 1 MiB of
// YAML; those of a name that is there already are replaced. The error says what
// is wrong with which source, all of it at once.
func (s Sources) With(own []byte) (Sources, error) {
	var file struct {
		Winds  []windSource   `yaml:"winds"`
		Ground []groundSource `yaml:"ground"`
	}
	if len(own) > 1<<20 {
		return s, fmt.Errorf("%d octets: want at most %d", len(own), 1<<20)
	}
	read := yaml.NewDecoder(bytes.NewReader(own))
	read.KnownFields(true)
	if err := read.Decode(&file); err != nil && !errors.Is(err, io.EOF) {
		return s, err
	}
	out := Sources{slices.Clone(s.winds), slices.Clone(s.ground)}
	var faults []error
	for _, w := range file.Winds {
		faults = append(faults, w.check())
		out.winds = slices.DeleteFunc(out.winds, func(o windSource) bool { return o.Name == w.Name })
		out.winds = append(out.winds, w)
	}
	for _, g := range file.Ground {
		faults = append(faults, g.check())
		out.ground = slices.DeleteFunc(out.ground, func(o groundSource) bool { return o.Name == g.Name })
		out.ground = append(out.ground, g)
	}
	if len(out.winds)+len(out.ground) > maxSources {
		faults = append(faults, fmt.Errorf("more than %d sources", maxSources))
	}
	return out, errors.Join(faults...)
}

// Winds are the names of the forecasts that can be pulled.
func (s Sources) Winds() []string {
	var names []string
	for _, w := range s.winds {
		names = append(names, w.Name)
	}
	return names
}

func (s Sources) wind(name string) (windSource, error) {
	for _, w := range s.winds {
		if w.Name == name {
			return w, nil
		}
	}
	return windSource{}, fmt.Errorf("source %q: want one of %s", name, strings.Join(s.Winds(), ", "))
}

var (
	fitName   = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,30}$`)
	fitMember = regexp.MustCompile(`^[A-Za-z0-9]{1,20}$`)
	hole      = regexp.MustCompile(`\{[^}]*\}`)
	running   = regexp.MustCompile(`^([a-z]*)([0-9]{1,3})-([a-z]*)([0-9]{1,3})$`)
)

// check reports everything that is wrong with a source.
func (w windSource) check() error {
	var errs []error
	fault := func(format string, args ...any) {
		errs = append(errs, fmt.Errorf("source %q: "+format, append([]any{w.Name}, args...)...))
	}
	if !fitName.MatchString(w.Name) {
		fault("name: want small letters, digits and hyphens")
	}
	errs = append(errs, checkRoots(w.Name, w.Roots))
	if w.Index != "idx" && w.Index != "index" {
		fault("index %q: want idx, lines with colons, or index, lines of JSON", w.Index)
	}
	if !(w.TopHPa >= 0 && w.TopHPa <= 1000) {
		fault("top_hpa %g: want 0 to 1000", w.TopHPa)
	}
	if w.Parallel < 1 || w.Parallel > maxParallel {
		fault("parallel %d: want 1 to %d", w.Parallel, maxParallel)
	}
	for host, n := range w.Slow {
		if n < 1 || n > 6000 {
			fault("slow %s: %d: want 1 to 6000 requests a minute", host, n)
		}
	}
	if w.PerMinute < 1 || w.PerMinute > 6000 {
		fault("per_minute %d: want 1 to 6000", w.PerMinute)
	}
	if len(w.Steps) == 0 || len(w.Steps) > 20 {
		fault("steps: want 1 to 20 runs of them")
	}
	for _, r := range w.Steps {
		if r.From < 0 || r.To < r.From || r.To > maxHours || r.Every < 1 {
			fault("steps from %d to %d by %d: want hours from 0 to %d, by 1 or more", r.From, r.To, r.Every, maxHours)
		}
		for _, h := range r.Cycles {
			if h < 0 || h > 23 {
				fault("cycle %d: want an hour of the day, 0 to 23", h)
			}
		}
		if len(r.Cycles) == 0 {
			fault("steps: cycles: want the hours of the day")
		}
	}
	if len(w.Files) == 0 || len(w.Files) > 10 {
		fault("files: want 1 to 10")
	}
	for _, f := range w.Files {
		errs = append(errs, f.check(w.Name))
	}
	return errors.Join(errs...)
}

// checkRoots finds what is wrong with addresses.
func checkRoots(name string, roots []string) error {
	var errs []error
	if len(roots) == 0 || len(roots) > 10 {
		errs = append(errs, fmt.Errorf("source %q: roots: want 1 to 10", name))
	}
	for _, r := range roots {
		if err := checkRoot(r); err != nil {
			errs = append(errs, fmt.Errorf("source %q: %w", name, err))
		}
	}
	return errors.Join(errs...)
}

func checkRoot(root string) error {
	u, err := url.Parse(root)
	if err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || u.RawQuery != "" {
		return fmt.Errorf("root %q: want https:// or http://, a host and a path", root)
	}
	return nil
}

func (f fileSet) check(name string) error {
	var errs []error
	fault := func(format string, args ...any) {
		errs = append(errs, fmt.Errorf("source %q: path %q: "+format, append([]any{name, f.Path}, args...)...))
	}
	for _, h := range hole.FindAllString(f.Path, -1) {
		switch h {
		case "{YYYYMMDD}", "{HH}", "{FFF}", "{F}", "{MEM}":
		default:
			fault("%s: want {YYYYMMDD}, {HH}, {FFF}, {F} or {MEM}", h)
		}
	}
	errs = append(errs, f.checkFilter(name))
	if !strings.Contains(f.Path, "{FFF}") && !strings.Contains(f.Path, "{F}") || !strings.Contains(f.Path, "{HH}") {
		fault("want {HH} and {FFF} or {F} in it")
	}
	members, err := f.members()
	if err != nil {
		fault("%v", err)
	}
	for _, m := range members {
		if !fitMember.MatchString(m) {
			fault("member %q: want letters and digits", m)
		}
	}
	if strings.Contains(f.Path, "{MEM}") != (len(members) > 0) {
		fault("want {MEM} in it if there are members, and only then")
	}
	if f.As != "" && f.As != "control" {
		fault("as %q: want control", f.As)
	}
	if f.Numbers < 0 || f.Numbers > maxMembers {
		fault("numbers %d: want 0 to %d", f.Numbers, maxMembers)
	}
	return errors.Join(errs...)
}

// checkFilter finds what is wrong with the address of a filter.
func (f fileSet) checkFilter(name string) error {
	if f.Filter == "" {
		return nil
	}
	var errs []error
	fault := func(format string, args ...any) {
		errs = append(errs, fmt.Errorf("source %q: filter %q: "+format, append([]any{name, f.Filter}, args...)...))
	}
	if u, err := url.Parse(hole.ReplaceAllString(f.Filter, "0")); err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" {
		fault("want https:// or http://, a host and a path")
	}
	must := []string{"{FIELDS}", "{NORTH}", "{SOUTH}", "{WEST}", "{EAST}"}
	for _, h := range must {
		if !strings.Contains(f.Filter, h) {
			fault("want %s in it", h)
		}
	}
	for _, h := range hole.FindAllString(f.Filter, -1) {
		if !slices.Contains(append(must, "{YYYYMMDD}", "{HH}", "{FFF}", "{F}", "{MEM}"), h) {
			fault("%s: want one of %s, or one that a path has", h, strings.Join(must, ", "))
		}
	}
	return errors.Join(errs...)
}

// members writes out p01-p30.
func (f fileSet) members() ([]string, error) {
	var all []string
	for _, m := range f.Members {
		r := running.FindStringSubmatch(m)
		if r == nil {
			all = append(all, m)
			continue
		}
		from, _ := strconv.Atoi(r[2])
		to, _ := strconv.Atoi(r[4])
		if r[1] != r[3] || len(r[2]) != len(r[4]) || to < from {
			return nil, fmt.Errorf("members %q: want such as p01-p30", m)
		}
		for n := from; n <= to; n++ {
			all = append(all, fmt.Sprintf("%s%0*d", r[1], len(r[2]), n))
		}
	}
	if len(all) > maxMembers {
		return nil, fmt.Errorf("%d members: want at most %d", len(all), maxMembers)
	}
	return all, nil
}

// fill fills the holes of a path.
func fill(path string, cycle time.Time, step int, member string) string {
	return strings.NewReplacer(
		"{YYYYMMDD}", cycle.Format("20060102"), "{HH}", cycle.Format("15"),
		"{FFF}", fmt.Sprintf("%03d", step), "{F}", strconv.Itoa(step), "{MEM}", member,
	).Replace(path)
}

// steps are those of a cycle, increasing, hours.
func (w windSource) steps(cycle time.Time) []int {
	var all []int
	for _, r := range w.Steps {
		if !slices.Contains(r.Cycles, cycle.Hour()) {
			continue
		}
		for h := r.From; h <= r.To && len(all) < maxSteps; h += r.Every {
			all = append(all, h)
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

// cycleAt is the last cycle that starts at a time or before it.
func (w windSource) cycleAt(t time.Time) time.Time {
	t = t.UTC().Truncate(time.Hour)
	for range 24 {
		if len(w.steps(t)) > 0 {
			break
		}
		t = t.Add(-time.Hour)
	}
	return t
}
