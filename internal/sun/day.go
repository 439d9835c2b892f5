package sun

import (
	"errors"
	"fmt"
	"math"
	"time"
)

// Level is a height of the sun at which day, or a twilight, ends.
type Level uint8

// The levels, by the elevation of the centre of the disc without air, as seen
// from the centre of the Earth (which is the convention of almanacs).
const (
	Horizon      Level = iota // -50' (34' of refraction and 16' of radius) and the dip of the horizon: the upper limb shows
	Civil                     // -6 degrees; like those below, whatever the height of the place
	Nautical                  // -12 degrees
	Astronomical              // -18 degrees
	levels
)

// sunset is how far the centre of the disc is below the horizon at sunset in
// degrees, key Reda2008 (0.26667 + 0.5667).
const sunset = 50.0 / 60

// String is the level in words.
func (l Level) String() string {
	switch l {
	case Horizon:
		return "horizon"
	case Civil:
		return "civil twilight"
	case Nautical:
		return "nautical twilight"
	case Astronomical:
		return "astronomical twilight"
	}
	return fmt.Sprintf("level %d", uint8(l))
}

// depth is the elevation of a level at a place in degrees.
func (p Place) depth(l Level) float64 {
	switch l {
	case Civil:
		return -6
	case Nautical:
		return -12
	case Astronomical:
		return -18
	}
	return -sunset - dip(p.Height)
}

// State is how the sun stands to a level over a whole local date.
type State uint8

// The states. Polar day is NeverDown at the Horizon, polar night NeverUp.
const (
	Crosses   State = iota // up for a part of the date
	NeverDown              // above the level all date
	NeverUp                // below the level all date
)

// String is the state in words.
func (s State) String() string {
	switch s {
	case Crosses:
		return "crosses"
	case NeverDown:
		return "never down"
	case NeverUp:
		return "never up"
	}
	return fmt.Sprintf("state %d", uint8(s))
}

// Span is when, within one local date, the sun comes over a level and goes
// below it, in order and to the second. Most dates have one of each. Near
// polar day and night a date may have only one of the two, or two of one kind;
// and where the clock is far from the sun the set may come before the rise.
type Span struct {
	State       State
	Rises, Sets []time.Time
}

// Day is one local date.
type Day struct {
	Noon   time.Time    // the upper transit (hour angle 0) nearest to 12 h of the local date, to the second
	Levels [levels]Span // by Level
}

const (
	step  = 10 * time.Minute // between looks: the sun turns once, up to down, in some twelve hours
	reach = 48 * time.Hour   // the longest local date that a zone has had, when one was repeated

	steps = int(reach / step)
	days  = 400 // a year and more: the longest that any level is not crossed
)

var errZone = errors.New("sun: no time zone: want that of the place")

// On is the local date that a time falls on in the zone of a place, from its
// midnight to the next, however long changes of the clock make it. The times in
// it are in that zone.
func On(p Place, t time.Time, zone *time.Location) (Day, error) {
	if err := p.check(); err != nil {
		return Day{}, err
	}
	if err := served(t); err != nil {
		return Day{}, err
	}
	if zone == nil {
		return Day{}, errZone
	}
	year, month, date := t.In(zone).Date()
	nodes := p.nodes(t.Truncate(step).Add(-reach), 2*steps+1)
	var d Day
	for l := range d.Levels {
		depth := p.depth(Level(l))
		span := &d.Levels[l]
		for i := 1; i < len(nodes); i++ {
			c, ok := p.crossing(nodes[i-1], nodes[i], depth)
			if !ok {
				continue
			}
			local := c.Time.In(zone)
			y, m, n := local.Date()
			switch {
			case y != year || m != month || n != date:
			case c.Up:
				span.Rises = append(span.Rises, local)
			default:
				span.Sets = append(span.Sets, local)
			}
		}
		switch {
		case len(span.Rises)+len(span.Sets) > 0:
		case p.elevation(t) >= depth:
			span.State = NeverDown
		default:
			span.State = NeverUp
		}
	}
	d.Noon = p.noon(time.Date(year, month, date, 12, 0, 0, 0, zone))
	return d, nil
}

// Crossing is when the sun passes a level, to the second.
type Crossing struct {
	Time time.Time // UTC
	Up   bool      // it rises
}

// Next is the first crossing of a level later than a time, however many days
// off. If it goes down, the sun is above the level until then; if up, below.
func Next(p Place, l Level, after time.Time) (Crossing, error) {
	if err := p.check(); err != nil {
		return Crossing{}, err
	}
	if err := served(after); err != nil {
		return Crossing{}, err
	}
	if l >= levels {
		return Crossing{}, fmt.Errorf("sun: %v: want 0 to %d", l, levels-1)
	}
	depth := p.depth(l)
	from := after.Truncate(step).Add(-step)
	const perDay = int(24 * time.Hour / step)
	for range days {
		nodes := p.nodes(from, perDay+1)
		for i := 1; i < len(nodes); i++ {
			if c, ok := p.crossing(nodes[i-1], nodes[i], depth); ok && c.Time.After(after) {
				return c, nil
			}
		}
		from = from.Add(24 * time.Hour)
	}
	return Crossing{}, fmt.Errorf("sun: latitude %v: the sun does not cross the %v in %d days", p.Lat, l, days)
}

// Above reports whether the sun is above a level at a time, as Next and On have it.
func Above(p Place, l Level, t time.Time) (bool, error) {
	if err := p.check(); err != nil {
		return false, err
	}
	if err := served(t); err != nil {
		return false, err
	}
	if l >= levels {
		return false, fmt.Errorf("sun: %v: want 0 to %d", l, levels-1)
	}
	return p.elevation(t) > p.depth(l), nil
}

// elevation is that which the levels are measured in: without air and parallax, degrees.
func (p Place) elevation(t time.Time) float64 {
	e, _ := bodyAt(t).seen(p.Lat, p.Lon)
	return e
}

// node is the sun's elevation at a time. Between two nodes that follow each
// other the elevation only rises or only falls.
type node struct {
	time      time.Time
	elevation float64
}

// nodes is the elevation at n times, a step apart, and at each extreme between
// them, so that a sun that shows for a minute is not missed.
func (p Place) nodes(from time.Time, n int) []node {
	at := func(i int) node {
		t := from.Add(time.Duration(i) * step)
		return node{t, p.elevation(t)}
	}
	out := make([]node, 0, n+n/16)
	before, here := at(-1), at(0)
	for i := range n {
		after := at(i + 1)
		out = append(out, here)
		if high := here.elevation >= before.elevation; high == (here.elevation > after.elevation) {
			// The extreme lies a step at most to either side: the nodes are put in order.
			e := p.extreme(before.time, high)
			if e.time.Before(here.time) {
				out[len(out)-1] = e
				e = here
			}
			out = append(out, e)
		}
		before, here = here, after
	}
	return out
}

// extreme is the highest or the lowest sun of the two steps from a time on, by
// golden section.
func (p Place) extreme(from time.Time, high bool) node {
	const golden = 0.6180339887498949
	value := func(t time.Time) float64 {
		if high {
			return p.elevation(t)
		}
		return -p.elevation(t)
	}
	to := from.Add(2 * step)
	for range 30 { // 20 minutes come down to 1 ms
		part := time.Duration(golden * float64(to.Sub(from)))
		if value(to.Add(-part)) > value(from.Add(part)) {
			to = from.Add(part)
		} else {
			from = to.Add(-part)
		}
	}
	return node{from, p.elevation(from)}
}

// crossing is where the elevation passes a depth between two nodes, if it does.
func (p Place) crossing(a, b node, depth float64) (Crossing, bool) {
	up := b.elevation >= depth
	if (a.elevation >= depth) == up {
		return Crossing{}, false
	}
	from, to := a.time, b.time
	for range 21 { // ten minutes come down to 0.3 ms
		middle := from.Add(to.Sub(from) / 2)
		if (p.elevation(middle) >= depth) == up {
			to = middle
		} else {
			from = middle
		}
	}
	return Crossing{Time: to.Round(time.Second).UTC(), Up: up}, true
}

// noon is the passage of the meridian nearest to a time, in its zone.
func (p Place) noon(near time.Time) time.Time {
	t := near
	for range 4 { // each shrinks what is left by the 1/360 that the sun moves in a day
		turn := bodyAt(t).hour(p.Lon) / 360
		t = t.Add(-time.Duration(math.Round(turn * float64(24*time.Hour))))
	}
	return t.Round(time.Second)
}
