// Package nightly looks at the week of standing sites, night after night.
//
// It hides the list of sites, what of a night is done already, how pages and files take
// their place whole, what is kept and what leaves, and who is told. How a week is flown
// is the caller's (Look): the work is a list of pieces, one for each site and cycle, that
// can be done in any order, and again, with the same outcome.
package nightly

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/url"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"example.org/thistledown/internal/quantity"
)

// Limits of a list of sites.
const (
	maxSites  = 500
	mostKept  = 1000
	mostHours = 384
)

// Sites is a list of standing sites and what every night needs. Names of files are
// paths, those of the list taken from its own folder.
type Sites struct {
	Folder   string // where pages are written
	History  string // the logbook's file
	Forecast Forecast
	Keep     Keep
	Webhook  *Webhook // nil: nobody is told
	Units    quantity.System
	Sites    []Site
}

// Site is one standing site.
type Site struct {
	Name string // of its folder and pages: small letters, digits and hyphens
	Plan string // file
}

// Forecast is what is flown on: files, or what is pulled for each site.
type Forecast struct {
	Files   []string
	Source  string
	Hours   int
	Members int
	Folder  string
	Keep    string // as --keep of winds pull
}

// Keep bounds what stays: the newest cycles of a site, none older than so long before
// the newest.
type Keep struct {
	Cycles int
	Age    time.Duration
}

// Webhook is who is told of a launch time that is go.
type Webhook struct {
	URL    string
	Secret string // file with the key
}

var (
	fitSite   = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,62}$`)
	reserved  = map[string]bool{"assets": true}
	yamlLines = regexp.MustCompile(`(?m)line ([0-9]+): `)
)

// list is the file as it is written.
type list struct {
	Folder   string `yaml:"folder"`
	History  string `yaml:"history"`
	Forecast struct {
		Files   []string `yaml:"files"`
		Source  string   `yaml:"source"`
		Hours   int      `yaml:"hours"`
		Members int      `yaml:"members"`
		Folder  string   `yaml:"folder"`
		Keep    string   `yaml:"keep"`
	} `yaml:"forecast"`
	Keep struct {
		Cycles *int `yaml:"cycles"`
		Days   *int `yaml:"days"`
	} `yaml:"keep"`
	Webhook *struct {
		URL        string `yaml:"url"`
		SecretFile string `yaml:"secret_file"`
	} `yaml:"webhook"`
	Units string  `yaml:"units"`
	Sites []entry `yaml:"sites"`
}

// entry is a site and the line that it is on.
type entry struct {
	Name string
	Plan string
	line int
}

// UnmarshalYAML reads a site with its line.
func (e *entry) UnmarshalYAML(n *yaml.Node) error {
	e.line = n.Line
	if n.Kind != yaml.MappingNode {
		return fmt.Errorf("line %d: want a site as {name: …, plan: …}", n.Line)
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		to := map[string]*string{"name": &e.Name, "plan": &e.Plan}[key.Value]
		if to == nil || value.Kind != yaml.ScalarNode {
			return fmt.Errorf("line %d: %q: want name and plan, each with a text", key.Line, key.Value)
		}
		*to = value.Value
	}
	return nil
}

// Read reads a list of sites. The error has a line for each fault, with the file and
// where it can be told the line and the field.
func Read(file string, text []byte) (Sites, error) {
	var l list
	read := yaml.NewDecoder(bytes.NewReader(text))
	read.KnownFields(true)
	if err := read.Decode(&l); err != nil && !errors.Is(err, io.EOF) {
		return Sites{}, unread(file, err)
	}
	if err := read.Decode(new(yaml.Node)); !errors.Is(err, io.EOF) {
		return Sites{}, fmt.Errorf("%s: a second document: want one", file)
	}
	var faults []error
	fault := func(field, format string, args ...any) {
		faults = append(faults, fmt.Errorf("%s: %s: "+format, append([]any{file, field}, args...)...))
	}
	beside := func(name string) string {
		if name == "" || filepath.IsAbs(name) {
			return name
		}
		return filepath.Join(filepath.Dir(file), name)
	}
	s := Sites{Folder: beside(l.Folder), History: beside(l.History)}
	if l.Folder == "" {
		fault("folder", "missing: want where the pages are written")
	}
	if l.History == "" {
		s.History = beside("history.db")
	}
	s.Forecast = l.forecast(fault, beside)
	s.Keep = l.keep(fault)
	if l.Webhook != nil {
		if u, err := url.Parse(l.Webhook.URL); err != nil || u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || u.User != nil {
			fault("webhook.url", "%q: want https:// or http://, a host and a path, and no password in it", l.Webhook.URL)
		}
		if l.Webhook.SecretFile == "" {
			fault("webhook.secret_file", "missing: want a file with the key that bodies are signed with")
		}
		s.Webhook = &Webhook{URL: l.Webhook.URL, Secret: beside(l.Webhook.SecretFile)}
	}
	units := l.Units
	if units == "" {
		units = quantity.SI.String()
	}
	var err error
	if s.Units, err = quantity.ParseSystem(units); err != nil {
		fault("units", "%v", err)
	}
	if len(l.Sites) < 1 || len(l.Sites) > maxSites {
		fault("sites", "%d of them: want 1 to %d", len(l.Sites), maxSites)
	}
	seen := map[string]int{}
	for _, e := range l.Sites {
		where := fmt.Sprintf("%s:%d", file, e.line)
		switch {
		case !fitSite.MatchString(e.Name) || reserved[e.Name]:
			faults = append(faults, fmt.Errorf("%s: sites: name %q: want small letters, digits and hyphens, at most 63", where, e.Name))
		case seen[e.Name] > 0:
			faults = append(faults, fmt.Errorf("%s: sites: name %q: given to a site on line %d already: want another", where, e.Name, seen[e.Name]))
		case e.Plan == "":
			faults = append(faults, fmt.Errorf("%s: sites: %s: plan: missing: want a plan's file", where, e.Name))
		}
		seen[e.Name] = e.line
		s.Sites = append(s.Sites, Site{Name: e.Name, Plan: beside(e.Plan)})
	}
	return s, errors.Join(faults...)
}

// unread is a fault of the YAML itself, each of its lines with the file.
func unread(file string, err error) error {
	var all []error
	for line := range strings.SplitSeq(strings.TrimPrefix(strings.TrimPrefix(err.Error(), "yaml: "), "unmarshal errors:\n"), "\n") {
		line = strings.TrimSpace(line)
		if m := yamlLines.FindStringSubmatch(line); m != nil {
			all = append(all, fmt.Errorf("%s:%s: %s", file, m[1], strings.Replace(line, m[0], "", 1)))
			continue
		}
		all = append(all, fmt.Errorf("%s: %s", file, line))
	}
	return errors.Join(all...)
}

// forecast is what is flown on.
func (l list) forecast(fault func(field, format string, args ...any), beside func(string) string) Forecast {
	f := Forecast{Source: l.Forecast.Source, Hours: l.Forecast.Hours, Members: l.Forecast.Members, Folder: beside(l.Forecast.Folder), Keep: l.Forecast.Keep}
	for _, name := range l.Forecast.Files {
		f.Files = append(f.Files, beside(name))
	}
	if (len(f.Files) > 0) == (f.Source != "") {
		fault("forecast", "%d files and source %q: want files, or a source that is pulled", len(f.Files), f.Source)
	}
	if f.Source != "" && f.Folder == "" {
		f.Folder = beside("winds")
	}
	if f.Source != "" && f.Hours == 0 {
		f.Hours = 192
	}
	if f.Hours < 0 || f.Hours > mostHours {
		fault("forecast.hours", "%d: want 1 to %d", f.Hours, mostHours)
	}
	if f.Members < 0 {
		fault("forecast.members", "%d: want 0, which is all, or more", f.Members)
	}
	return f
}

// keep is what stays.
func (l list) keep(fault func(field, format string, args ...any)) Keep {
	const day = 24 * time.Hour
	k := Keep{Cycles: 28, Age: 60 * day}
	if n := l.Keep.Cycles; n != nil {
		if *n < 1 || *n > mostKept {
			fault("keep.cycles", "%d: want 1 to %d", *n, mostKept)
		}
		k.Cycles = *n
	}
	if n := l.Keep.Days; n != nil {
		if *n < 1 || *n > 10*mostKept {
			fault("keep.days", "%d: want 1 to %s", *n, strconv.Itoa(10*mostKept))
		}
		k.Age = time.Duration(min(max(*n, 0), 10*mostKept)) * day
	}
	return k
}
