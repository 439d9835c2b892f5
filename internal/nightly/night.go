package nightly

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/sys/unix"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/logbook"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/report"
)

// Look is how the caller looks at weeks. Each may be called again with the same outcome.
type Look struct {
	// Bring sees to a site's forecast and returns the files to fly on, and what must be
	// said of it, such as that nothing new could be brought.
	Bring func(ctx context.Context, s Site) (files, notes []string, err error)
	// Glance reads what a week would be of, without flying it.
	Glance func(ctx context.Context, s Site, files []string) (Glance, error)
}

// Glance is a week that could be flown.
type Glance struct {
	Cycle    time.Time
	Plan     string         // digest of the plan
	Zone     *time.Location // of its site; nil: UTC
	Launches int
	// Fly flies it.
	Fly func(ctx context.Context) (report.Week, error)
	// Files are what is published of it once it was flown, at least one.
	Files func(ctx context.Context, week report.Week) ([]File, error)
}

// File is one that is published, by a name without folders.
type File struct {
	Name  string
	Write func(io.Writer) error
}

// Options are what a night is told besides.
type Options struct {
	Version string // of the program
	Dry     bool   // says what would be done, and does nothing
	Again   bool   // flies what was looked at before, too
	Wait    bool   // waits for another night of the same folder to end
	Out     io.Writer
	Post    func(*http.Request) (*http.Response, error) // for the webhook; nil: nobody is told
}

// Outcome is what came of a night.
type Outcome struct {
	Busy   bool // another night is under way, and nothing was done
	Good   bool // some site has a launch time that is go
	Failed int  // sites of which nothing new could be made
	// History is what was wrong with the logbook; everything else was done in spite of
	// it.
	History error
}

// recalled is with how many cycles before a week is compared.
const recalled = 8

// Run does a night's work. The error is of what keeps all of it from being done; what is
// wrong with one site is said on its line.
func Run(ctx context.Context, s Sites, look Look, o Options) (Outcome, error) {
	n := night{sites: s, look: look, options: o}
	if o.Dry {
		return n.dry(ctx)
	}
	if err := os.MkdirAll(s.Folder, 0o755); err != nil { //nolint:gosec // pages are for everybody to read
		return Outcome{}, err
	}
	unlock, err := n.lock(ctx)
	if err != nil {
		return Outcome{}, err
	}
	if unlock == nil {
		_, err := fmt.Fprintf(o.Out, "Another night of %s is under way: this one leaves.\n", s.Folder)
		return Outcome{Busy: true}, err
	}
	defer unlock()
	n.book, n.outcome.History = logbook.Open(ctx, s.History)
	if book := n.book; book != nil {
		defer func() { _ = book.Close() }() // all that was written is committed
	}
	for _, site := range s.Sites {
		if err := ctx.Err(); err != nil {
			return n.outcome, err
		}
		p := n.piece(ctx, site)
		if err := ctx.Err(); err != nil {
			return n.outcome, err
		}
		n.pieces = append(n.pieces, p)
		if p.err != nil {
			n.outcome.Failed++
		}
		n.outcome.Good = n.outcome.Good || p.good()
		if _, err := fmt.Fprintln(o.Out, p.line()); err != nil {
			return n.outcome, err
		}
	}
	if err := n.index(); err != nil {
		return n.outcome, err
	}
	n.tell(ctx)
	if n.outcome.History != nil {
		_, err = fmt.Fprintf(o.Out, "History     %v: the pages were made without what moved\n", n.outcome.History)
	}
	return n.outcome, err
}

// night is one under way.
type night struct {
	sites   Sites
	look    Look
	options Options
	book    *logbook.Book // nil where it cannot be opened or read
	pieces  []piece
	outcome Outcome
}

// lock keeps other nights from the folder until unlocked, which the end of this program
// does as well; nil where another has it.
func (n *night) lock(ctx context.Context) (unlock func(), err error) {
	file, err := os.OpenFile(filepath.Join(n.sites.Folder, ".night.lock"), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, err
	}
	for {
		err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB)
		switch {
		case err == nil:
			return func() { _ = file.Close() }, nil // nothing was written to it
		case !errors.Is(err, unix.EWOULDBLOCK):
			return nil, errors.Join(err, file.Close())
		case !n.options.Wait:
			return nil, file.Close()
		}
		select {
		case <-ctx.Done():
			return nil, errors.Join(ctx.Err(), file.Close())
		case <-time.After(200 * time.Millisecond):
		}
	}
}

// piece is what came of one site.
type piece struct {
	site  Site
	notes []string
	err   error       // why there is nothing new
	run   logbook.Run // the newest that there is; without windows where there is none
	was   bool        // it was there before this night
	zone  *time.Location
}

// key names the folder of a site's cycle: the same plan, cycle and program have the same.
func (n *night) key(g Glance) string {
	sum := sha256.Sum256([]byte(g.Plan + "\n" + n.options.Version))
	return g.Cycle.UTC().Format("20060102T1504Z") + "-" + hex.EncodeToString(sum[:4])
}

// piece looks at one site, unless its newest cycle was looked at before.
func (n *night) piece(ctx context.Context, site Site) piece {
	p := piece{site: site, zone: time.UTC}
	err := n.week(ctx, &p)
	if err != nil {
		p.err = err
	}
	if p.err != nil && p.run.Windows == nil && n.book != nil {
		// What was said last still stands on the pages.
		if last, err := n.book.Last(ctx, site.Name, 1); err == nil && len(last) > 0 {
			p.run = last[0]
		}
	}
	return p
}

// week flies a site's week and publishes it.
func (n *night) week(ctx context.Context, p *piece) error {
	files, notes, err := n.look.Bring(ctx, p.site)
	p.notes = append(p.notes, notes...)
	if err != nil {
		return err
	}
	g, err := n.look.Glance(ctx, p.site, files)
	if err != nil {
		return err
	}
	if p.zone = g.Zone; p.zone == nil {
		p.zone = time.UTC
	}
	page := filepath.Join(p.site.Name, n.key(g))
	before := n.recall(ctx, p.site.Name)
	if k := slices.IndexFunc(before, func(r logbook.Run) bool { return r.Cycle.Equal(g.Cycle) && r.Page == page }); k >= 0 && !n.options.Again {
		if there(filepath.Join(n.sites.Folder, page)) {
			p.run, p.was = before[k], true
			return n.history(p, before)
		}
	}
	week, err := g.Fly(ctx)
	if err != nil {
		return err
	}
	older := slices.DeleteFunc(slices.Clone(before), func(r logbook.Run) bool { return !r.Cycle.Before(g.Cycle) })
	for _, r := range older[:min(len(older), recalled)] {
		week = mission.Recall(week, r.Cycle, said(r))
	}
	published, err := g.Files(ctx, week)
	if err != nil {
		return err
	}
	if err := publish(filepath.Join(n.sites.Folder, page), published); err != nil {
		return err
	}
	p.run = written(p.site.Name, g, page, week)
	// A book that was locked once is not waited for at every site.
	if n.book != nil && n.outcome.History == nil {
		if err := n.book.Keep(ctx, p.run); err != nil {
			n.outcome.History = fmt.Errorf("%s: %w", n.sites.History, err)
		}
	}
	all := append([]logbook.Run{p.run}, slices.DeleteFunc(before, func(r logbook.Run) bool { return r.Cycle.Equal(g.Cycle) })...)
	slices.SortFunc(all, func(a, b logbook.Run) int { return b.Cycle.Compare(a.Cycle) })
	return n.history(p, all)
}

// recall is what was said of a site before, the newest first.
func (n *night) recall(ctx context.Context, site string) []logbook.Run {
	if n.book == nil {
		return nil
	}
	all, err := n.book.Last(ctx, site, mostKept)
	if err != nil {
		if n.outcome.History == nil {
			n.outcome.History = fmt.Errorf("%s: %w", n.sites.History, err)
		}
		n.book = nil // what cannot be read is not asked again
		return nil
	}
	return all
}

// said is what a run said, as weeks are compared.
func said(r logbook.Run) []mission.Said {
	var all []mission.Said
	for _, w := range r.Windows {
		s := mission.Said{Site: w.From, Launch: w.Launch, Earlier: report.Earlier{
			NotCovered: w.NotCovered, Score: w.Score, Area80: w.Area80, MostLikely: w.MostLikely,
		}}
		for v := launch.Unlimited; v <= launch.NoGo; v++ {
			if v.String() == w.Verdict {
				s.Verdict = v
			}
		}
		all = append(all, s)
	}
	return all
}

// written is a week as it is written down.
func written(site string, g Glance, page string, week report.Week) logbook.Run {
	r := logbook.Run{Site: site, Cycle: g.Cycle, Plan: g.Plan, Version: week.Version, Page: page}
	nan := math.NaN()
	rank := make([]int, len(week.Windows))
	for place, i := range week.Ranked {
		rank[i] = place + 1
	}
	for i, one := range week.Windows {
		w := logbook.Window{From: one.Site, Launch: one.Time, NotCovered: one.NotCovered, Rank: rank[i], Score: nan, Low: nan, High: nan, MostLikely: geo.Point{Lat: nan, Lon: nan}, Area80: nan}
		if one.NotCovered == "" {
			r.Seed = one.Launch.Seed
			then := mission.Say(one)
			w.Verdict, w.NotCovered = one.Launch.Verdict.String(), then.NotCovered
			if l := one.Launch; l.Landing != nil {
				w.Score, w.Low, w.High, w.MostLikely, w.Area80 = l.Hazard.Value, l.Hazard.Low, l.Hazard.High, then.MostLikely, then.Area80
			}
		}
		r.Windows = append(r.Windows, w)
	}
	return r
}

// best is the first of a run's ranking that something is said of.
func best(r logbook.Run) (logbook.Window, bool) {
	var found logbook.Window
	for _, w := range r.Windows {
		if w.NotCovered == "" && (found.Rank == 0 || w.Rank < found.Rank) {
			found = w
		}
	}
	return found, found.Rank > 0
}

// good reports whether a site has a launch time that is go.
func (p piece) good() bool {
	w, ok := best(p.run)
	return ok && p.err == nil && (w.Verdict == launch.Go.String() || w.Verdict == launch.Unlimited.String())
}

// line is what is said of a site.
func (p piece) line() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-11s ", p.site.Name)
	switch w, ok := best(p.run); {
	case p.err != nil:
		fmt.Fprintf(&b, "nothing new: %s", strings.ReplaceAll(p.err.Error(), "\n", "; "))
		if p.run.Windows != nil {
			fmt.Fprintf(&b, "; the pages of the cycle of %s stay", hour(p.run.Cycle))
		}
	case !ok:
		fmt.Fprintf(&b, "no launch time of %d is covered by the cycle of %s", len(p.run.Windows), hour(p.run.Cycle))
	default:
		fmt.Fprintf(&b, "%s %s from %s, score %.0f; cycle of %s", w.Verdict, p.when(w.Launch), w.From, w.Score, hour(p.run.Cycle))
		if p.was {
			b.WriteString(", looked at before")
		}
	}
	for _, note := range p.notes {
		b.WriteString("\n            " + note)
	}
	return b.String()
}

// when is a launch time by the site's clock and in UTC.
func (p piece) when(t time.Time) string {
	local := t.In(p.zone).Format("Mon 2 Jan 15:04 MST")
	if utc := t.UTC().Format("15:04 UTC"); !strings.HasSuffix(local, utc) {
		local += " (" + utc + ")"
	}
	return local
}

func hour(t time.Time) string { return t.UTC().Format("2 Jan 2006 15:04 UTC") }

// dry says what would be done.
func (n *night) dry(ctx context.Context) (Outcome, error) {
	var o Outcome
	for _, site := range n.sites.Sites {
		said := ""
		if files := n.sites.Forecast.Files; len(files) == 0 {
			said = fmt.Sprintf("would pull %s into %s and fly on its newest complete cycle", n.sites.Forecast.Source, filepath.Join(n.sites.Forecast.Folder, site.Name))
		} else if g, err := n.look.Glance(ctx, site, files); err != nil {
			said = "could not: " + strings.ReplaceAll(err.Error(), "\n", "; ")
			o.Failed++
		} else {
			page := filepath.Join(n.sites.Folder, site.Name, n.key(g))
			said = fmt.Sprintf("would fly %d launch times on the cycle of %s and write %s", g.Launches, hour(g.Cycle), page)
			if there(page) && !n.options.Again {
				said = fmt.Sprintf("%s is there: nothing to do", page)
			}
		}
		if _, err := fmt.Fprintf(n.options.Out, "%-11s %s\n", site.Name, said); err != nil {
			return o, err
		}
	}
	return o, ctx.Err()
}
