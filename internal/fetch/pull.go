package fetch

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

const (
	// cyclesBack is how many cycles are tried, the newest first: where five are
	// missing something else is wrong.
	cyclesBack = 5
	// clockOff is how far this machine's clock and a server's may be apart
	// before the server's is believed.
	clockOff = 15 * time.Minute
)

// ErrNothingNew is what errors wrap where nothing that is wanted could be brought: by
// no fault of the order, but of the network, the server or what it holds.
var ErrNothingNew = errors.New("nothing new could be brought")

// missed is an error that is one.
type missed struct{ error }

func (m missed) Unwrap() error      { return m.error }
func (missed) Is(target error) bool { return target == ErrNothingNew }

// Order is the part of a forecast that is wanted.
type Order struct {
	Source string // name in the sources
	Root   string // address in place of the source's; "": those
	Folder string // where cubes are kept; it is made

	Box      geo.Box
	From, To time.Time     // when winds are needed; To zero: Lead alone counts
	Lead     time.Duration // also all steps up to so long after the cycle
	Members  int           // of an ensemble only so many, the control first; 0: all
}

// Progress says how far a pull is.
type Progress struct {
	Cycle       time.Time
	Indexes, Of int           // index files read, and of how many
	Done, Total int64         // octets of messages; Total 0 before all indexes are read
	Left        time.Duration // estimated; below 0: not known yet
	Packing     float64       // share of the packing that is done, which comes last
}

// Pulled is what came of a pull.
type Pulled struct {
	File    string // the cube
	Link    string // a name that stays and leads to the newest cube of the source
	Cycle   time.Time
	Already bool // it was there before, and nothing newer is complete
	Octets  int64
	Holding archive.Holding // empty if Already
	Packed  archive.Packed  // empty if Already
	Terms   string          // on which the data may be used
	Notes   []string        // what was passed over and why, in whole sentences
}

// Pull brings the newest complete cycle of a forecast into the folder, as a cube
// of what the order wants. Where a file of a cycle is missing the one before is
// tried, which the notes say. Until the new cube is whole, all that was there
// stays as it was; on an error it stays for good, and what has come is kept aside
// for the next try. tell is told of progress, by several goroutines but one at a
// time.
//
// The error wraps wind.ErrNoWind where no cycle that is there reaches the times
// wanted, and ErrNothingNew where nothing could be brought.
func (c Client) Pull(ctx context.Context, s Sources, o Order, tell func(Progress)) (Pulled, error) {
	src, err := s.wind(o.Source)
	if err != nil {
		return Pulled{}, err
	}
	roots := src.Roots
	if o.Root != "" {
		if err := checkRoot(o.Root); err != nil {
			return Pulled{}, err
		}
		roots = []string{o.Root}
	}
	if err := errors.Join(o.Box.Check(), o.check(), os.MkdirAll(o.Folder, 0o755)); err != nil { //nolint:gosec // forecasts are for everybody to read
		return Pulled{}, err
	}
	unlock, err := lock(o.Folder, src.Name)
	if err != nil {
		return Pulled{}, err
	}
	defer unlock()
	p := puller{c: c, src: src, o: o, tell: tell}
	p.web = &web{c: c, pace: func(host string) int {
		if n := src.Slow[host]; n > 0 {
			return n
		}
		return src.PerMinute
	}}
	for i, root := range roots {
		p.root = strings.TrimRight(root, "/")
		pulled, err := p.newest(ctx)
		var disk diskError
		switch {
		case err == nil:
			pulled.Terms, pulled.Notes = src.Terms, p.notes
			return pulled, nil
		case i+1 == len(roots), ctx.Err() != nil, errors.Is(err, wind.ErrNoWind), errors.As(err, &disk):
			if ctx.Err() == nil && !errors.As(err, &disk) {
				err = missed{err}
			}
			return Pulled{Notes: p.notes}, p.stays(err)
		}
		p.note("%v: the next address is tried.", err)
	}
	return Pulled{}, errors.New("no address to pull from")
}

func (o Order) check() error {
	switch {
	case o.Folder == "":
		return errors.New("no folder to keep forecasts in: want one")
	case o.Lead < 0 || o.Lead > maxHours*time.Hour:
		return fmt.Errorf("%g h ahead: want 0 to %d", o.Lead.Hours(), maxHours)
	case o.To.IsZero() && o.Lead == 0:
		return errors.New("neither times nor hours ahead: want one of them")
	case o.To.Before(o.From):
		return fmt.Errorf("winds from %v to %v: want the first before the second", o.From, o.To)
	case o.Members < 0 || o.Members > maxMembers:
		return fmt.Errorf("%d members: want at most %d, or 0 for all", o.Members, maxMembers)
	}
	return nil
}

// puller pulls one order from one root.
type puller struct {
	c     Client
	web   *web
	src   windSource
	root  string
	o     Order
	tell  func(Progress)
	notes []string
}

func (p *puller) note(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); !slices.Contains(p.notes, text) {
		p.notes = append(p.notes, text)
	}
}

// stays adds to an error what is there in spite of it.
func (p *puller) stays(err error) error {
	kept, listErr := Kept(p.o.Folder)
	if listErr != nil {
		return err
	}
	for _, k := range kept {
		if k.Source == p.src.Name && k.Newest {
			return fmt.Errorf("%w\nkept as it was: %s, cycle of %s", err, k.File, hour(k.Axes.Cycle))
		}
	}
	return err
}

func hour(t time.Time) string { return t.UTC().Format("2 Jan 2006 15:04 UTC") }

// newest pulls the newest cycle that is complete.
func (p *puller) newest(ctx context.Context) (Pulled, error) {
	now := p.c.Now()
	cycle := p.start(now)
	moved := false
	var last error
	for range cyclesBack {
		steps, err := p.steps(cycle)
		switch {
		case err != nil && last != nil:
			return Pulled{}, fmt.Errorf("no complete cycle: %w; and older ones do not reach far enough", last)
		case err != nil:
			return Pulled{}, err
		}
		if k, ok := p.have(cycle, steps); ok {
			return k, nil
		}
		pulled, err := p.cycle(ctx, cycle, steps)
		if err == nil || !errors.Is(err, errAbsent) {
			return pulled, err
		}
		last = err
		if server, ok := p.web.clock(now); ok && !moved {
			moved = true
			p.note("This machine's clock says %s, the server's %s: the server's was taken.", hour(now), hour(server))
			cycle = p.start(server)
			continue
		}
		p.note("The cycle of %s is not complete: %v. The one before was tried.", hour(cycle), err)
		cycle = p.src.cycleAt(cycle.Add(-time.Hour))
	}
	return Pulled{}, fmt.Errorf("no complete cycle among the last %d: %w", cyclesBack, last)
}

// start is the newest cycle that may be of use.
func (p *puller) start(now time.Time) time.Time {
	if !p.o.From.IsZero() && p.o.From.Before(now) {
		return p.src.cycleAt(p.o.From)
	}
	return p.src.cycleAt(now)
}

// clock is a server's time where it is far from what Now was.
func (w *web) clock(now time.Time) (time.Time, bool) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	if w.date.IsZero() {
		return now, false
	}
	off := w.date.Sub(now)
	return w.date, off > clockOff+w.c.Now().Sub(now).Abs() || off < -clockOff
}

// steps are those of a cycle that an order needs, hours: around its times, and
// up to its lead.
func (p *puller) steps(cycle time.Time) ([]int, error) {
	all := p.src.steps(cycle)
	if len(all) == 0 {
		return nil, fmt.Errorf("source %q has no steps for the cycle of %s", p.src.Name, hour(cycle))
	}
	first, last := len(all), -1
	if !p.o.To.IsZero() {
		for i, h := range all {
			at := cycle.Add(time.Duration(h) * time.Hour)
			if !at.After(p.o.From) {
				first = i
			}
			if last < 0 && !at.Before(p.o.To) {
				last = i
			}
		}
		if first == len(all) || last < 0 {
			return nil, fmt.Errorf("%w: %s, cycle of %s, reaches from %s to %s: want %s to %s", wind.ErrNoWind, p.src.Name, hour(cycle),
				hour(cycle.Add(time.Duration(all[0])*time.Hour)), hour(cycle.Add(time.Duration(all[len(all)-1])*time.Hour)), hour(p.o.From), hour(p.o.To))
		}
		last = max(last, first)
	}
	if p.o.Lead > 0 {
		first = min(first, 0)
		for i, h := range all {
			if time.Duration(h)*time.Hour <= p.o.Lead {
				last = max(last, i)
			}
		}
	}
	return all[first : last+1], nil
}

// have finds what is wanted among what is kept.
func (p *puller) have(cycle time.Time, steps []int) (Pulled, bool) {
	kept, err := Kept(p.o.Folder)
	if err != nil {
		return Pulled{}, false
	}
	for _, k := range kept {
		if k.Source == p.src.Name && k.Axes.Cycle.Equal(cycle) && k.covers(p.o.Box, steps, p.members()) {
			p.note("Nothing newer is complete than what was there.")
			return Pulled{File: k.File, Link: linkOf(p.o.Folder, p.src.Name), Cycle: cycle, Already: true}, true
		}
	}
	return Pulled{}, false
}

// members is how many an order wants.
func (p *puller) members() int {
	n := 0
	for _, f := range p.src.Files {
		names, _ := f.members() // was checked when the source was read
		switch {
		case f.As == "control":
			n++
		case f.Numbers > 0:
			n += f.Numbers
		default:
			n = max(n, len(names), 1)
		}
	}
	if p.o.Members > 0 {
		n = min(n, p.o.Members)
	}
	return n
}
