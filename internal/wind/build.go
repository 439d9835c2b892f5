package wind

import (
	"fmt"
	"slices"
	"time"

	"example.org/thistledown/internal/geo"
)

// maxGap is how far steps may lie apart, s, before it is worth a warning: the
// widest that global forecasts are published at.
const maxGap = 6 * 3600.0

// Part is which part of a forecast is wanted.
type Part struct {
	Box geo.Box
	// From and To are the times, UTC, between which air is asked for; where
	// they are zero, all of the forecast's time.
	From, To time.Time
}

// Fields unpacks a part of the forecast for every member, in the order of its
// Contents, and says in whole sentences what it lacks.
func (c *Forecast) Fields(p Part, fetch Fetch) ([]*Field, []string, error) {
	what, err := c.Contents()
	if err != nil {
		return nil, nil, err
	}
	frame, err := newFrame(what.Grid, p.Box)
	if err != nil {
		return nil, nil, err
	}
	u := unpacking{from: c, what: what, frame: frame, fetch: fetch}
	terrain, err := u.ground()
	if err != nil {
		return nil, nil, err
	}
	b := build{
		centre: c.Centre, cycle: c.Cycle, grid: frame.grid, pressures: what.pressures,
		all: what.Steps, steps: p.steps(c.Cycle, what.Steps), terrain: geometric(frame.grid, terrain),
	}
	if err := b.check(len(what.Members)); err != nil {
		return nil, nil, err
	}
	warnings := what.Lacks
	var fields []*Field
	for _, m := range what.Members {
		f, more, err := b.field(func(step time.Duration) (*slab, error) { return u.slab(m, step) })
		if err != nil {
			return nil, nil, fmt.Errorf("%v: %w", m, err)
		}
		f.member = m
		fields = append(fields, f)
		warnings = addNew(warnings, more)
	}
	return fields, warnings, nil
}

// addNew appends the sentences that are not there yet.
func addNew(to, more []string) []string {
	for _, s := range more {
		if !slices.Contains(to, s) {
			to = append(to, s)
		}
	}
	return to
}

// steps are the steps around the times that are wanted.
func (p Part) steps(cycle time.Time, all []time.Duration) []time.Duration {
	from, to := 0, len(all)
	for i, s := range all {
		if !p.From.IsZero() && !cycle.Add(s).After(p.From) {
			from = i
		}
		if !p.To.IsZero() && !cycle.Add(s).Before(p.To) {
			to = min(to, i+1)
		}
	}
	// Times outside the forecast leave its nearest steps.
	return all[min(from, len(all)-1):max(to, from+1)]
}

// build makes a Field of the slabs of one member.
type build struct {
	centre     uint16
	cycle      time.Time
	grid       geo.Grid
	pressures  []int32         // hundredths of a pascal, decreasing
	all, steps []time.Duration // of the forecast, and those that are built
	terrain    []float32
}

// check holds what is to be built against the limits of this package.
func (b build) check(members int) error {
	columns := b.grid.NX * b.grid.NY
	n := len(b.steps) * members * max(len(b.pressures), int(quantities))
	if n > 0 && columns > MaxNodes/n {
		return fmt.Errorf("%d columns × %d levels × %d steps × %d members: %w",
			columns, len(b.pressures), len(b.steps), members, ErrTooLarge)
	}
	return nil
}

// moment is what a Field keeps of one step.
type moment struct {
	columns
	surface [quantities][]float32
}

// field makes the field, and says in whole sentences what it lacks.
func (b build) field(slabAt func(step time.Duration) (*slab, error)) (*Field, []string, error) {
	var moments []moment
	stack := newStack(b.grid, b.pressures)
	for _, t := range b.steps {
		s, err := slabAt(t)
		if err != nil {
			return nil, nil, err
		}
		c, err := stack.step(s)
		if err != nil {
			return nil, nil, fmt.Errorf("forecast step %v: %w", t, err)
		}
		moments = append(moments, moment{columns: c, surface: s.surface})
	}
	f, warnings := b.join(moments)
	return f, warnings, nil
}

// join makes the field of its steps, and says in whole sentences what it lacks.
func (b build) join(moments []moment) (*Field, []string) {
	f := &Field{
		grid: b.grid, centre: b.centre, cycle: b.cycle, start: b.cycle.Add(b.steps[0]), terrain: b.terrain,
		covers: [2]time.Time{b.cycle.Add(b.all[0]), b.cycle.Add(b.all[len(b.all)-1])},
	}
	for _, p := range b.pressures {
		f.levels = append(f.levels, float64(p)/100)
	}
	cold := make([]bool, len(b.pressures)) // levels that lack temperature at some step
	for i, m := range moments {
		f.times = append(f.times, (b.steps[i] - b.steps[0]).Seconds())
		f.nodes = append(f.nodes, m.nodes)
		f.first = append(f.first, m.first)
		for q := range f.surface {
			f.surface[q] = append(f.surface[q], m.surface[q])
		}
		for l, warm := range m.warm {
			cold[l] = cold[l] || !warm
		}
	}
	warnings := b.withoutTemperature(cold)
	for i := 1; i < len(f.times); i++ {
		if gap := f.times[i] - f.times[i-1]; gap > maxGap {
			warnings = append(warnings, fmt.Sprintf("Between %s and %s the forecast has no step: winds are interpolated over %g h.",
				f.start.Add(seconds(f.times[i-1])).Format(time.RFC3339), f.start.Add(seconds(f.times[i])).Format(time.RFC3339), gap/3600))
		}
	}
	return f, warnings
}

// withoutTemperature says in whole sentences which levels carry no temperature at
// some step and what is taken instead.
func (b build) withoutTemperature(cold []bool) []string {
	var without []int32
	for l, p := range b.pressures {
		if cold[l] {
			without = append(without, p)
		}
	}
	switch len(without) {
	case 0:
		return nil
	case len(b.pressures):
		return []string{"The forecast carries no temperature: the air's density is that of the U.S. Standard Atmosphere 1976."}
	}
	return []string{fmt.Sprintf("Temperature taken from the levels around, for want of it at some step: the levels %s.", hectopascals(without))}
}
