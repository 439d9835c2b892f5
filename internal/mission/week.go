package mission

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"sync"
	"time"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/sun"
	"example.org/thistledown/internal/wind"
)

// MaxLaunches is how many launch times one week may have, of all sites together.
const MaxLaunches = 4096

// mostLost is the largest share of flights that may run out of the forecast for
// a launch time to count as covered: with more the 95 % region is not known.
const mostLost = 0.05

// NeedsOf is the part of a forecast that the flights of several plans may come to.
func NeedsOf(plans []plan.Plan) wind.Part {
	var part wind.Part
	for i, p := range plans {
		one := Needs(p)
		if i == 0 {
			part = one
			continue
		}
		part.Box = union(part.Box, one.Box)
		if one.From.Before(part.From) {
			part.From = one.From
		}
		if one.To.After(part.To) {
			part.To = one.To
		}
	}
	return part
}

// union is a box around two, on the short way around the Earth where they are
// apart.
func union(a, b geo.Box) geo.Box {
	middle := (a.West + a.East) / 2
	shift := 360 * math.Round((middle-(b.West+b.East)/2)/360)
	a.South, a.North = min(a.South, b.South), max(a.North, b.North)
	a.West, a.East = min(a.West, b.West+shift), max(a.East, b.East+shift)
	if a.East-a.West >= 360 {
		a.West, a.East = -180, 180
	}
	return a
}

// sites are those that a plan may be launched from, its own first.
func sites(p plan.Plan) []plan.Site { return append([]plan.Site{p.Site}, p.Schedule.Sites...) }

// Launches are the launch times of a plan's schedule from one time to another, each
// the plan with that time and one of its sites, in order of time and of site.
// They count from midnight at the plan's own site. The error says that there are
// none, or too many.
func Launches(p plan.Plan, from, to time.Time) ([]plan.Plan, error) {
	zone := p.Site.Zone
	if zone == nil {
		zone = time.UTC
	}
	var all []plan.Plan
	day := from.In(zone)
	for day = time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, zone); !day.After(to); {
		next := time.Date(day.Year(), day.Month(), day.Day()+1, 0, 0, 0, 0, zone)
		for k, last := 0, (time.Time{}); ; k++ {
			// By the clock, also on the day on which it is changed.
			t := time.Date(day.Year(), day.Month(), day.Day(), 0, 0, k*int(p.Schedule.Step.Seconds()), 0, zone)
			if !t.Before(next) {
				break
			}
			again := !t.After(last)
			if last = t; again || t.Before(from) || t.After(to) {
				continue
			}
			for _, site := range sites(p) {
				if !open(p.Schedule.Hours, site, t) {
					continue
				}
				one := p
				one.Site, one.Launch = site, t.UTC()
				if all = append(all, one); len(all) > MaxLaunches {
					return nil, fmt.Errorf("schedule.step: %v: more than %d launch times from %s to %s: want a longer step, or fewer hours or sites",
						p.Schedule.Step, MaxLaunches, from.UTC().Format(time.RFC3339), to.UTC().Format(time.RFC3339))
				}
			}
		}
		day = next
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("schedule.hours: no launch time from %s to %s, all that the forecast covers: want others, or a shorter schedule.step",
			from.UTC().Format(time.RFC3339), to.UTC().Format(time.RFC3339))
	}
	return all, nil
}

// open reports whether a launch is possible by the clock, or where no hours are
// given by daylight.
func open(hours []ground.Hours, site plan.Site, t time.Time) bool {
	for _, h := range hours {
		if h.Contains(t) {
			return true
		}
	}
	if len(hours) > 0 {
		return false
	}
	up, err := sun.Above(beneath(site.At), sun.Horizon, t)
	return up && err == nil // an error is of a year that no forecast is of
}

// WeekOptions are what does not change the answer.
type WeekOptions struct {
	Version string
	Workers int // goroutines, 0: one for each core
	// Begin, if not nil, is called first with the week of which no launch time has
	// been looked at.
	Begin func(report.Week)
	// Each, if not nil, is called with each launch time in their order, as soon as
	// it and those before it are done; never from two goroutines at once.
	Each func(done int, w report.Window)
}

// Worlds opens the worlds that some launches are flown in, by site. Its error
// wraps wind.ErrTooLarge where fewer launches might do.
type Worlds func(ctx context.Context, launches []plan.Plan) (map[geo.Point]World, error)

// WorldsOver are the worlds of some launches, by site: one forecast over what is
// built in of the ground and the files that the plans name, read for each site.
func WorldsOver(ctx context.Context, launches []plan.Plan, forecast World, built *Built, find Finder) (map[geo.Point]World, error) {
	worlds := map[geo.Point]World{}
	for _, one := range launches {
		if _, ok := worlds[one.Site.At]; ok {
			continue
		}
		others := slices.DeleteFunc(slices.Clone(launches), func(p plan.Plan) bool { return p.Site.At != one.Site.At })
		over, err := ReadGround(ctx, one, built, forecast.Winds, find, others[1:]...)
		if err != nil {
			return nil, err
		}
		forecast.Ground = over
		worlds[one.Site.At] = forecast
	}
	return worlds, nil
}

// Week flies launch times, each in the world of its site, and puts them in order.
// What is too large to be held at once is flown in parts, one after the other.
// Where the context ends first, the week has what was done until then, and the
// error is the context's.
func Week(ctx context.Context, open Worlds, launches []plan.Plan, o WeekOptions) (report.Week, error) {
	run := weekly{open: open, launches: launches, options: o, windows: make([]*report.Window, len(launches))}
	err := run.part(ctx, 0, len(launches))
	if err != nil && (ctx.Err() == nil || run.field == nil) {
		return report.Week{}, err
	}
	return run.week(), err
}

// weekly is one week under way.
type weekly struct {
	open     Worlds
	launches []plan.Plan
	options  WeekOptions
	worlds   map[geo.Point]World // of the part that is being flown
	field    *wind.Field         // the control of the first part
	members  int

	mutex     sync.Mutex
	windows   []*report.Window // nil: not flown yet
	next, end int              // of launches of the part, to be begun
	told      int              // of launches, whose windows were handed on
	fault     error
}

// part flies the launches from one to another.
func (r *weekly) part(ctx context.Context, from, to int) error {
	r.worlds = nil // before the next ones are unpacked
	worlds, err := r.open(ctx, r.launches[from:to])
	if errors.Is(err, wind.ErrTooLarge) && to-from > 1 {
		middle := (from + to) / 2
		if err := r.part(ctx, from, middle); err != nil {
			return err
		}
		return r.part(ctx, middle, to)
	}
	if err != nil {
		return err
	}
	r.worlds, r.next, r.end = worlds, from, to
	if winds := worlds[r.launches[from].Site.At].Winds; r.field == nil {
		if r.field, r.members = winds[0], len(winds); r.options.Begin != nil {
			r.options.Begin(r.week())
		}
	}
	return r.fly(ctx)
}

// fly flies the launches of the part.
func (r *weekly) fly(ctx context.Context) error {
	workers := r.options.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var group sync.WaitGroup
	for range min(workers, r.end-r.next) {
		group.Go(func() {
			for {
				i, ok := r.take(ctx)
				if !ok {
					return
				}
				w, err := window(ctx, r.worlds[r.launches[i].Site.At], r.launches[i], Options{Version: r.options.Version, Workers: 1})
				r.hand(i, w, err)
			}
		})
	}
	group.Wait()
	if r.fault != nil {
		return r.fault
	}
	return ctx.Err()
}

// take is the next launch time to fly; false where there is none.
func (r *weekly) take(ctx context.Context) (int, bool) {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	if r.next == r.end || r.fault != nil || ctx.Err() != nil {
		return 0, false
	}
	r.next++
	return r.next - 1, true
}

// hand takes in what was flown, and hands on what is next.
func (r *weekly) hand(i int, w report.Window, err error) {
	r.mutex.Lock()
	defer r.mutex.Unlock()
	if err != nil {
		if r.fault == nil {
			r.fault = err
		}
		return
	}
	r.windows[i] = &w
	for r.told < len(r.windows) && r.windows[r.told] != nil {
		if r.told++; r.options.Each != nil {
			r.options.Each(r.told, *r.windows[r.told-1])
		}
	}
}

// window flies one launch time.
func window(ctx context.Context, world World, p plan.Plan, o Options) (report.Window, error) {
	w := report.Window{Site: p.Site.Name, Time: p.Launch}
	l, err := Fly(ctx, world, p, o)
	var elsewhere *NotCovered
	if errors.As(err, &elsewhere) {
		w.NotCovered = elsewhere.Error()
		return w, nil
	}
	if err != nil {
		return report.Window{}, err
	}
	if lost := outlasted(l.Endings); lost > mostLost {
		w.NotCovered = fmt.Sprintf("%.0f %% of its flights last longer than the forecast", 100*lost)
		return w, nil
	}
	l.Flown = nil
	l.Calls, err = calls(p, l)
	w.Launch = l
	return w, err
}

// outlasted is the share of flights that were still up when the forecast ended.
func outlasted(endings []report.Ending) float64 {
	for _, e := range endings {
		if e.End == flight.AfterLast {
			return e.Share.Value
		}
	}
	return 0
}

// week puts together what was flown.
func (r *weekly) week() report.Week {
	first := r.launches[0]
	field := r.field
	from, to := field.Covers()
	w := report.Week{
		Plan: first.Name, Zone: first.Site.Zone, Step: first.Schedule.Step, Daylight: len(first.Schedule.Hours) == 0,
		Forecast: report.Forecast{
			Centre: field.Centre(), Cycle: field.Cycle(), First: from, Last: to,
			Levels: field.Levels(), Grid: field.Grid(), Members: r.members,
		},
		Asked: len(r.launches), Version: r.options.Version, Cautions: report.Cautions(),
	}
	for _, p := range r.launches {
		if !slices.Contains(w.Sites, p.Site.Name) {
			w.Sites = append(w.Sites, p.Site.Name)
		}
	}
	for _, one := range r.windows {
		if one != nil {
			w.Windows = append(w.Windows, *one)
		}
	}
	w.Ranked = Rank(w.Windows)
	w.Warnings = common(w.Windows)
	return w
}

// common is what every launch time that is covered has to be warned of.
func common(windows []report.Window) []string {
	var all []string
	begun := false
	for _, w := range windows {
		if w.NotCovered != "" {
			continue
		}
		if !begun {
			all, begun = slices.Clone(w.Launch.Warnings), true
			continue
		}
		all = slices.DeleteFunc(all, func(s string) bool { return !slices.Contains(w.Launch.Warnings, s) })
	}
	return all
}

// Rank is the order of windows from the best to the worst, as indices: by verdict,
// of those that are no-go by how few limits they are beyond, then by hazard score,
// then by how small the 80 % region is, then by time. Those that are not covered
// come last.
func Rank(windows []report.Window) []int {
	order := make([]int, len(windows))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return compare(windows[a], windows[b]) })
	return order
}

func compare(a, b report.Window) int {
	if x, y := place(a), place(b); x != y {
		return x - y
	}
	if a.NotCovered != "" || a.Launch.Hazard == nil {
		return a.Time.Compare(b.Time)
	}
	return cmp.Or(
		cmp.Compare(against(a.Launch), against(b.Launch)),
		cmp.Compare(a.Launch.Hazard.Value, b.Launch.Hazard.Value),
		cmp.Compare(a.Launch.Area(0.8), b.Launch.Area(0.8)),
		a.Time.Compare(b.Time),
	)
}

// against is how many limits a launch is beyond for sure.
func against(l report.Launch) int {
	n := 0
	for _, r := range l.Reasons {
		if r.Verdict == launch.NoGo {
			n++
		}
	}
	return n
}

// place is that of a verdict among the others.
func place(w report.Window) int {
	switch {
	case w.NotCovered != "":
		return 4
	case w.Launch.Hazard == nil: // nothing landed
		return 3
	case w.Launch.Verdict == launch.NoGo:
		return 2
	case w.Launch.Verdict == launch.Marginal:
		return 1
	}
	return 0
}
