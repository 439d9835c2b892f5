package ensemble

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// MaxFixes bounds the fixes of one flight: three hours of one a second.
const MaxFixes = 10800

// DefaultFixError is the standard deviation of a fix on each axis, m, where nothing
// better is known: that of a receiver of satellite navigation (common practice; heights
// are the worse).
const DefaultFixError = 15.0

// MaxFixError bounds Fix.Error, m.
const MaxFixError = 5000.0

// Fix is where a flight was seen.
type Fix struct {
	Time   float64 // s since the forecast's first time
	At     geo.Point
	Height atmos.Geometric // m above mean sea level, -500 m to balloon.MaxBurst
	Error  float64         // standard deviation on each axis, m, up to MaxFixError; 0: DefaultFixError
}

// Check reports every fault of a fix.
func (f Fix) Check() error {
	errs := []error{f.At.Check()}
	if math.IsNaN(f.Time) || math.IsInf(f.Time, 0) {
		errs = append(errs, fmt.Errorf("time %g s: want a finite number", f.Time))
	}
	if !(f.Height >= minRelease && f.Height <= balloon.MaxBurst) {
		errs = append(errs, fmt.Errorf("height %g m: want %g to %g m", float64(f.Height), minRelease, balloon.MaxBurst))
	}
	if !(f.Error >= 0 && f.Error <= MaxFixError) {
		errs = append(errs, fmt.Errorf("error %g m: want 0 to %g m", f.Error, MaxFixError))
	}
	return errors.Join(errs...)
}

func (f *Fix) sigma() float64 {
	if f.Error > 0 {
		return f.Error
	}
	return DefaultFixError
}

// Doubt is why a fix is not believed.
type Doubt uint8

// The doubts.
const (
	Repeated  Doubt = iota // another fix has the same time
	Uncovered              // the forecast does not cover its place or time
	Unlikely               // nothing that flies in this wind goes there from the fixes before it, and from there to those after it
	Displaced              // the fixes around it say that it lies elsewhere
)

// String is the reason, to be read after "it".
func (d Doubt) String() string {
	return [...]string{
		Repeated: "has the time of another fix", Uncovered: "lies outside the forecast",
		Unlikely:  "does not fit the others: nothing flies so in this wind",
		Displaced: "lies off the line of those around it",
	}[d]
}

// Rejected is a fix that is not believed.
type Rejected struct {
	Fix int // its number among those given
	Why Doubt
}

// Phase is what a flight was doing at its last fix.
type Phase uint8

// The phases.
const (
	Climbing Phase = iota
	Hanging
	Falling
	Down
)

// String is the phase in a word.
func (p Phase) String() string {
	return [...]string{Climbing: "climbing", Hanging: "hanging", Falling: "falling", Down: "down"}[p]
}

// track is the fixes that are believed, in the order of time.
type track struct {
	fixes   []Fix
	numbers []int // among those given
	fall    int   // the first that is falling; len(fixes) if none is
	hang    int   // the first of those at the end of the climb that do not rise; fall if none
	phase   Phase
}

// last is the last believed fix.
func (t *track) last() *Fix { return &t.fixes[len(t.fixes)-1] }

// mostSorted bounds the fixes that are compared with each other; of more, as many,
// evenly chosen, and the last.
const mostSorted = 1500

// lookBack is with how many fixes before it one is compared: so many wrong ones in a
// row are told from right ones.
const lookBack = 24

// The least vertical speeds that count as a change, m/s, and for how long a train that
// does not rise must have been seen so to count as hanging, and as lying on the ground, s.
const (
	levelSpeed = 0.5
	slowFall   = 1.5 // less than anything falls at, near the ground
	hangsFrom  = 600.0
	liesFrom   = 60.0
	nearGround = 150.0 // m, of terrain as coarse as a forecast's and more
)

// believe sorts the fixes of a flight into those that are believed and others. The
// believed are the longest row of fixes in which each can be reached from the one before
// it by a train that climbs until it falls, in the forecast's wind give or take its
// error. ok is false where there is none.
func (n *narrowing) believe(fixes []Fix, dropped map[int]bool) (t track, out []Rejected, ok bool) {
	order := make([]int, 0, len(fixes))
	for i := range fixes {
		order = append(order, i)
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case fixes[a].Time < fixes[b].Time:
			return -1
		case fixes[a].Time > fixes[b].Time:
			return 1
		}
		return 0
	})
	if every := (len(order) + mostSorted - 1) / mostSorted; every > 1 {
		thin := make([]int, 0, mostSorted+1)
		for i := (len(order) - 1) % every; i < len(order); i += every {
			thin = append(thin, order[i])
		}
		order = thin
	}
	var nodes []node
	for _, i := range order {
		f := fixes[i]
		f.At.Lon = geo.WrapLon(f.At.Lon)
		switch air, in := n.scenes[0].Wind.At(f.At, f.Height, f.Time); {
		case dropped[i]:
			out = append(out, Rejected{i, Displaced})
		case len(nodes) > 0 && nodes[len(nodes)-1].Time == f.Time:
			out = append(out, Rejected{i, Repeated})
		case in == wind.AboveTop: // it is believed, though nothing is known of its air
			nodes = append(nodes, node{Fix: f, number: i, density: atmos.SeaLevelDensity * math.Exp(-float64(f.Height)/7000)})
		case in != wind.Inside:
			out = append(out, Rejected{i, Uncovered})
		default:
			nodes = append(nodes, node{Fix: f, number: i, known: true, east: air.East, north: air.North, density: air.Density(), spread: n.spread(f, air)})
		}
	}
	if len(nodes) == 0 {
		return t, out, false
	}
	chain, fall := n.longest(nodes)
	in := make(map[int]bool, len(chain))
	for _, i := range chain {
		in[i] = true
		t.fixes, t.numbers = append(t.fixes, nodes[i].Fix), append(t.numbers, nodes[i].number)
	}
	for i := range nodes {
		if !in[i] {
			out = append(out, Rejected{nodes[i].number, Unlikely})
		}
	}
	t.fall = fall
	n.readPhase(&t)
	return t, out, true
}

// node is a fix with the air around it.
type node struct {
	Fix
	number      int
	known       bool // the air is
	east, north float64
	density     float64 // kg/m³
	spread      float64 // m/s, standard deviation of the wind on each axis
}

// spread is the standard deviation of the wind on each axis at a fix, m/s: of its error,
// and of the members about the first.
func (n *narrowing) spread(f Fix, air wind.Sample) float64 {
	own := n.law.axis(float64(f.Height))
	if air.Held {
		own *= flight.HeldErrorFactor
	}
	square := own * own
	for _, s := range n.scenes[1:] {
		if a, in := s.Wind.At(f.At, f.Height, f.Time); in == wind.Inside {
			square += (math.Pow(a.East-air.East, 2) + math.Pow(a.North-air.North, 2)) / 2 / float64(len(n.scenes)-1)
		}
	}
	return math.Sqrt(square) * math.Exp(n.spec.WindDoubt)
}

// gate is how many standard deviations a step between fixes may be off, and leastGate
// what is let pass in any case, m/s: winds between levels of a forecast differ by so much.
const (
	gate      = 5.0
	leastGate = 8.0
)

// step reports whether a train that climbs, or falls, at one fix can be climbing, or
// falling, at a later one (whatever falls does not climb any more), and how far off the wind is in standard deviations, squared.
func (n *narrowing) step(a, b *node, fallsA, fallsB bool) (misfit float64, ok bool) {
	seconds := b.Time - a.Time
	noise := math.Hypot(a.sigma(), b.sigma()) / seconds
	rise := float64(b.Height-a.Height) / seconds
	fastest := 1.5 * CanopyFailsFactor * n.spec.Landing.Centre * math.Sqrt(atmos.SeaLevelDensity/min(a.density, b.density))
	switch slack := gate * noise; {
	case rise > balloon.MaxAscent+slack, rise < -fastest-slack:
		return 0, false
	case fallsA && rise > levelSpeed+slack, !fallsB && rise < -levelSpeed-slack:
		return 0, false
	}
	if fallsA && rise > 0 || !fallsB && rise < 0 {
		misfit = rise * rise / (noise * noise)
	}
	if !a.known || !b.known {
		return misfit, true
	}
	d := plane(a.At, b.At)
	off := math.Hypot(d[0]/seconds-(a.east+b.east)/2, d[1]/seconds-(a.north+b.north)/2)
	sigma := math.Hypot(max(a.spread, b.spread), noise)
	// Between two heights the wind need not be what it is at them.
	between := math.Hypot(a.east-b.east, a.north-b.north) / 2
	if off > max(gate*sigma, leastGate+gate*noise)+between {
		return 0, false
	}
	return misfit + off*off/(sigma*sigma), true
}

// longest is the longest row of fixes of which each is a step from the one before it; of
// several the one with the least misfit, and then the one that begins first. fall is the
// place in it of the first that falls.
func (n *narrowing) longest(nodes []node) (row []int, fall int) {
	type best struct {
		count  int
		misfit float64
		from   int
		fell   bool // at that one
	}
	all := make([][2]best, len(nodes))
	better := func(a, b best) bool {
		return a.count > b.count || a.count == b.count && a.misfit < b.misfit
	}
	end, falls := 0, 0
	for j := range nodes {
		for state := range 2 {
			b := best{count: 1, from: -1, misfit: n.alone(&nodes[j], state == 1)}
			for i := max(j-lookBack, 0); i < j; i++ {
				for before := range state + 1 {
					off, ok := n.step(&nodes[i], &nodes[j], before == 1, state == 1)
					if !ok {
						continue
					}
					a := all[i][before]
					if c := (best{a.count + 1, a.misfit + off, i, before == 1}); better(c, b) {
						b = c
					}
				}
			}
			all[j][state] = b
			if better(b, all[end][falls]) {
				end, falls = j, state
			}
		}
	}
	state := falls
	for i := end; i >= 0; {
		row = append(row, i)
		if state == 1 {
			fall++
		}
		b := all[i][state]
		i = b.from
		state = 0
		if b.fell {
			state = 1
		}
	}
	slices.Reverse(row)
	return row, len(row) - fall
}

// alone is how little a fix by itself looks like one of a train that falls, or climbs, by
// its time, and by how far it lies from where the planned flight is at its height: in units
// of misfit, so small that it decides only where nothing else does.
func (n *narrowing) alone(f *node, falls bool) float64 {
	half := len(n.planned) / 2
	k := min(max(int(f.Height/errorSpacing), 0), half-1)
	if falls {
		k += half
	}
	misfit := 0.0
	if m := (moment{place: fromCentre(f.At)}); n.planned[k].place != [3]float64{} {
		misfit = 1e-9 * m.distance(&n.planned[k])
	}
	up := (n.spec.Burst.Centre - float64(n.spec.Launch.Height)) / n.spec.Ascent.Centre
	if late := f.Time-n.spec.Launch.Time > up; late != falls {
		misfit += 1e-3
	}
	return misfit
}

// readPhase says what the flight was doing at its last fix.
func (n *narrowing) readPhase(t *track) {
	t.hang, t.phase = t.fall, Climbing
	if t.fall > 0 {
		if i := t.level(0, t.fall-1); t.lasts(i, t.fall-1, hangsFrom, levelSpeed) {
			t.phase, t.hang = Hanging, i
		}
	}
	if t.fall == len(t.fixes) {
		return
	}
	t.phase = Falling
	last := t.last()
	ground, ok := n.scenes[0].Terrain.At(last.At)
	if i := t.level(t.fall, len(t.fixes)-1); ok && float64(last.Height)-ground < nearGround && t.lasts(i, len(t.fixes)-1, liesFrom, slowFall) {
		t.phase = Down
	}
}

// level is the first of the fixes from a place on that are as high as the one at another.
func (t *track) level(from, to int) int {
	last := &t.fixes[to]
	for to > from {
		f := &t.fixes[to-1]
		if math.Abs(float64(last.Height-f.Height)) > levelSpeed/2*(last.Time-f.Time)+slack(f, last) {
			break
		}
		to--
	}
	return to
}

// slack is by how much the heights of two fixes at one height may differ, m.
func slack(a, b *Fix) float64 { return 2 * math.Hypot(a.sigma(), b.sigma()) }

// lasts reports whether it is so long from one fix to another, and so long that something
// that moves at a speed would be known to.
func (t *track) lasts(from, to int, seconds, speed float64) bool {
	a, b := &t.fixes[from], &t.fixes[to]
	return b.Time-a.Time >= max(seconds, 2*slack(a, b)/speed)
}

// released drops the fixes at the launch before the train rose: on the ground no wind
// carried it. Where there are no others the last of them stays, as that of a train that is
// let go there and then.
func (t *track) released(launch flight.Release) {
	k := 0
	for k < len(t.fixes) && k < t.fall && atLaunch(launch, &t.fixes[k]) {
		k++
	}
	if k == len(t.fixes) {
		k--
		t.phase, t.hang = Climbing, t.fall
	}
	t.fixes, t.numbers = t.fixes[k:], t.numbers[k:]
	t.fall, t.hang = t.fall-k, max(t.hang-k, 0)
}

// atLaunch reports whether a fix is where a flight is launched, or nearly.
func atLaunch(launch flight.Release, f *Fix) bool {
	d := plane(launch.At, f.At)
	return math.Hypot(d[0], d[1]) < 500 && math.Abs(float64(f.Height-launch.Height)) < 100
}
