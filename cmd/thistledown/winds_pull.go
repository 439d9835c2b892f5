package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/term"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/fetch"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/report"
)

// maxSourcesFile bounds a file of sources, octets.
const maxSourcesFile = 1 << 20

// windsPull is the command of that name.
type windsPull struct {
	Plan    string `arg:"" optional:"" placeholder:"PLAN" help:"Bring what the flights of this plan can reach, around its launch."`
	Box     string `placeholder:"BOX" help:"Or bring this box, in degrees: south=44,north=62,west=-5,east=25; west greater than east is a box across the date line."`
	Source  string `default:"gfs" placeholder:"NAME" help:"Which forecast: gfs, gefs, ecmwf, ecmwf-ens, or one of --sources (${default})."`
	Hours   int    `placeholder:"N" help:"Also all steps up to so many hours after the cycle; with --box alone 192."`
	Members int    `placeholder:"N" help:"Of an ensemble only so many members, the control first."`
	To      string `placeholder:"DIR" help:"Where forecasts are kept: the folder winds beside the plan, or here with --box."`
	From    string `placeholder:"URL" help:"Another address that holds the same files under the same paths."`
	Sources string `placeholder:"FILE" help:"Your own addresses and forecasts, in the form of the built-in list, which --list-sources prints."`
	Keep    string `placeholder:"SIZE" help:"Remove the oldest forecasts kept there beyond this size, such as 2GB; never the newest of a source, nor one that is being read."`
	Watch   bool   `help:"Go on, and pull each new cycle when it is complete, until interrupted."`

	ListSources bool `help:"Print the built-in list of addresses and leave."`
}

// Run does it.
func (p *windsPull) Run(ctx context.Context, s *streams) error {
	if p.ListSources {
		_, err := io.WriteString(s.out, fetch.BuiltInText())
		return err
	}
	sources, err := sourcesOf(p.Sources)
	if err != nil {
		return err
	}
	keep, err := sizeOf(p.Keep)
	if err != nil {
		return err
	}
	return p.pull(ctx, s, fetch.NewClient(), sources, keep)
}

// look is how long --watch waits before it looks again: a cycle takes hours to become
// complete.
const look = 15 * time.Minute

// pull pulls once, or on and on.
func (p *windsPull) pull(ctx context.Context, s *streams, c fetch.Client, sources fetch.Sources, keep int64) error {
	for first := true; ; first = false {
		// The plan is read anew each time: its launch may have been moved.
		order, err := p.order()
		if err != nil {
			return err
		}
		err = p.once(ctx, s, c, sources, order, keep, first)
		if !p.Watch || ctx.Err() != nil {
			return err
		}
		if err != nil {
			if _, err := fmt.Fprintf(s.err, "thistledown: %v\n", err); err != nil {
				return err
			}
		}
		if err := c.Wait(ctx, look); err != nil {
			return err
		}
	}
}

// once pulls once. Where nothing is new it says so the first time only.
func (p *windsPull) once(ctx context.Context, s *streams, c fetch.Client, sources fetch.Sources, order fetch.Order, keep int64, first bool) error {
	line := newPullLine(s.err)
	got, err := c.Pull(ctx, sources, order, func(p fetch.Progress) { line.show(pullText(p)) })
	line.clear()
	if err == nil && got.Already && !first {
		return nil
	}
	for _, note := range got.Notes {
		if _, err := fmt.Fprintf(s.out, "%s\n", note); err != nil {
			return err
		}
	}
	if err != nil {
		return err
	}
	if err := p.tell(s.out, got, c.Now()); err != nil {
		return err
	}
	if keep == 0 {
		return nil
	}
	gone, err := fetch.Evict(order.Folder, keep)
	for _, g := range gone {
		if _, err := fmt.Fprintf(s.out, "Removed     %s, to keep within %s\n", g, p.Keep); err != nil {
			return err
		}
	}
	return err
}

// tell says what came of a pull.
func (p *windsPull) tell(out io.Writer, got fetch.Pulled, now time.Time) error {
	age := now.Sub(got.Cycle).Round(time.Hour)
	if got.Already {
		_, err := fmt.Fprintf(out, "There       %s, cycle of %s, %g h old\n", got.File, got.Cycle.Format("2 Jan 2006 15:04 UTC"), age.Hours())
		return err
	}
	if err := errors.Join(report.WriteContents(out, got.Holding), report.WritePacked(out, got.Packed)); err != nil {
		return err
	}
	if _, err := io.WriteString(out, lowTop(got.Holding.Levels)); err != nil {
		return err
	}
	use := "thistledown fly PLAN.yaml --forecast " + got.Link
	if p.Plan != "" {
		use = "thistledown fly " + p.Plan + " --forecast " + got.Link
	}
	_, err := fmt.Fprintf(out, "Fetched     %.1f MB; the cycle is %g h old\nTerms       %s\nFly on it   %s\n",
		float64(got.Octets)/1e6, age.Hours(), got.Terms, use)
	return err
}

// lowTop warns of a forecast that ends below where common envelopes burst, 30 km: nothing
// where it does not.
func lowTop(levels []float64) string {
	const enough = 1200.0 // Pa, some 30.8 km in the standard atmosphere
	if len(levels) == 0 {
		return ""
	}
	top := slices.Min(levels)
	height, ok := atmos.PressureAltitude(top)
	if !ok || top <= enough {
		return ""
	}
	return fmt.Sprintf("Low top     %g hPa, some %.0f km: flights that burst higher need another forecast above it, by --above FILE\n", top/100, float64(height.Geometric(45))/1000)
}

// order is what of a forecast is wanted.
func (p *windsPull) order() (fetch.Order, error) {
	o := fetch.Order{
		Source: p.Source, Root: p.From, Folder: p.To, Members: p.Members, Lead: time.Duration(p.Hours) * time.Hour,
	}
	if p.Hours < 0 {
		return o, fmt.Errorf("--hours %d: want 0 or more", p.Hours)
	}
	switch {
	case (p.Plan == "") == (p.Box == ""):
		return o, errors.New("PLAN, --box: want one of them, to say what to bring")
	case p.Box != "":
		var err error
		if o.Box, err = parseBox(p.Box); err != nil {
			return o, fmt.Errorf("--box %s: %w", p.Box, err)
		}
		if o.Folder == "" {
			o.Folder = keptHere
		}
		if o.Lead == 0 {
			o.Lead = 192 * time.Hour
		}
		return o, nil
	}
	read, err := input{plan: p.Plan}.read()
	if err != nil {
		return o, err
	}
	part := mission.Needs(read)
	o.Box, o.From, o.To = part.Box, part.From, part.To
	if o.Folder == "" {
		o.Folder = filepath.Join(filepath.Dir(p.Plan), keptHere)
	}
	return o, nil
}

// keptHere is the folder in which forecasts are kept unless another is named.
const keptHere = "winds"

// sourcesOf are the built-in sources and those of a file, if one is named.
func sourcesOf(file string) (fetch.Sources, error) {
	sources, err := fetch.BuiltIn()
	if err != nil {
		return sources, fmt.Errorf("%w: %w", errInternal, err)
	}
	if file == "" {
		return sources, nil
	}
	own, err := archive.ReadFile(file, maxSourcesFile)
	if err == nil {
		sources, err = sources.With(own)
	}
	if err != nil {
		return sources, fmt.Errorf("--sources %s: %w", file, err)
	}
	return sources, nil
}

// sizeOf reads 500MB or 2GB, in octets; 0 is none given.
func sizeOf(s string) (int64, error) {
	if s == "" {
		return 0, nil
	}
	var n float64
	var unit string
	if _, err := fmt.Sscanf(strings.ToUpper(strings.ReplaceAll(s, " ", "")), "%g%s", &n, &unit); err == nil && n > 0 && n < 1e6 {
		if octets, ok := map[string]float64{"MB": 1e6, "GB": 1e9, "TB": 1e12}[unit]; ok {
			return int64(n * octets), nil
		}
	}
	return 0, fmt.Errorf("--keep %s: want a size such as 500MB or 2GB", s)
}

// pullLine shows how far a pull is: a line that is written over on a terminal.
type pullLine struct {
	to          io.Writer // nil if it is no terminal
	start, last time.Time
}

func newPullLine(to io.Writer) *pullLine {
	if file, ok := to.(*os.File); ok && term.IsTerminal(int(file.Fd())) {
		return &pullLine{to: to, start: time.Now()}
	}
	return &pullLine{start: time.Now()}
}

func (l *pullLine) show(text string) {
	if l.to == nil || time.Since(l.last) < 200*time.Millisecond {
		return
	}
	l.last = time.Now()
	_, _ = fmt.Fprintf(l.to, "\r\x1b[K%s", text) // a line that cannot be drawn is no reason to stop
}

func (l *pullLine) clear() {
	if l.to != nil {
		_, _ = fmt.Fprint(l.to, "\r\x1b[K")
	}
}

// pullText is how far a pull is, in words.
func pullText(p fetch.Progress) string {
	text := "cycle " + p.Cycle.Format("2 Jan 15:04 UTC") + ": "
	switch {
	case p.Packing > 0:
		return text + fmt.Sprintf("packing, %.0f %%", 100*p.Packing)
	case p.Total == 0:
		return text + fmt.Sprintf("index %d of %d", p.Indexes, p.Of)
	}
	text += fmt.Sprintf("%.1f of %.1f MB", float64(p.Done)/1e6, float64(p.Total)/1e6)
	if p.Left >= 0 {
		text += ", some " + p.Left.Round(time.Second).String() + " left"
	}
	return text
}

// listKept prints the forecasts that are kept in a folder.
func listKept(out io.Writer, folder string, now time.Time) error {
	kept, err := fetch.Kept(folder)
	if err != nil {
		return err
	}
	if len(kept) == 0 {
		return fmt.Errorf("%s: no forecast that was pulled: thistledown winds pull brings one, or name files", folder)
	}
	if _, err := fmt.Fprintf(out, "%-12s %-20s %6s %8s %8s %10s  %s\n", "source", "cycle", "age", "steps", "members", "size", "file"); err != nil {
		return err
	}
	for _, k := range kept {
		a := k.Axes
		marks := ""
		if k.Newest {
			marks += ", the newest"
		}
		if k.InUse {
			marks += ", being read"
		}
		last := a.Steps[len(a.Steps)-1]
		if _, err := fmt.Fprintf(out, "%-12s %-20s %4.0f h %4g h %10d %7.1f MB  %s%s\n", k.Source, a.Cycle.Format("2 Jan 2006 15:04 Z"),
			now.Sub(a.Cycle).Hours(), last.Hours(), len(a.Members), float64(k.Size)/1e6, k.File, marks); err != nil {
			return err
		}
	}
	return nil
}

// boxText is a box as --box takes it.
func boxText(b geo.Box) string {
	return fmt.Sprintf("south=%.4g,north=%.4g,west=%.4g,east=%.4g", b.South, b.North, b.West, b.East)
}
