// Package wind is the forecast's air over a region: wind, temperature and
// pressure at any place, height and time that the forecast covers.
//
// It hides the axes of a forecast, how its levels are stored, and what is done
// about levels that are missing. The order of interpolation is part of the
// contract: linearly in geometric height within each grid column and step,
// each level at its own geopotential height converted with the column's
// latitude; then bilinearly in latitude and longitude; then linearly in time.
// Wind, temperature and the logarithm of pressure are all taken that way.
//
// Below a column's lowest level wind and temperature are constant and pressure
// is hydrostatic. Everything else outside the data is a named Outcome, never
// an extrapolation. Wind components point toward east and north, in m/s;
// heights are geometric metres above mean sea level, times are seconds since
// Field.Start. The package knows nothing of flights, files or members.
package wind

import (
	"math"
	"sort"
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
)

// PoleMargin is how near to a pole, in degrees of latitude, nothing is
// sampled: east and north turn too fast there for their components to be
// interpolated.
const PoleMargin = 0.5

// Outcome says whether a forecast covers a place, height and time, and if not,
// on which side it was left.
type Outcome uint8

// The outcomes of a sample.
const (
	Inside      Outcome = iota // covered
	OffGrid                    // outside the area
	AboveTop                   // above the highest level of a column around
	BeforeFirst                // before the first step
	AfterLast                  // after the last step
	NearPole                   // within PoleMargin of a pole
	Missing                    // the forecast has no value there
)

// String is the outcome in words.
func (o Outcome) String() string {
	switch o {
	case Inside:
		return "inside the forecast"
	case OffGrid:
		return "outside the forecast's area"
	case AboveTop:
		return "above the forecast's highest level"
	case BeforeFirst:
		return "before the forecast's first time"
	case AfterLast:
		return "after the forecast's last time"
	case NearPole:
		return "within half a degree of a pole"
	case Missing:
		return "at a place where the forecast has no value"
	}
	return "unknown outcome"
}

// Sample is the air at one place, height and time.
type Sample struct {
	East, North float64 // wind toward east and north, m/s
	Temperature float64 // K
	Pressure    float64 // Pa
	// Held says that the highest level's wind and temperature were held above
	// it; see Field.HoldAboveTop.
	Held bool
}

// Density is the density of dry air at the sample's pressure and temperature,
// kg/m³. Moisture, left out, would lower it by up to 1.5 % near the ground in
// the tropics and by nothing that matters above 10 km.
func (s Sample) Density() float64 { return atmos.Density(s.Pressure, s.Temperature) }

// usable reports whether the wind is a number and the air has a density.
func (s Sample) usable() bool {
	sum := s.East + s.North + s.Temperature + s.Pressure
	return s.Temperature > 0 && s.Pressure > 0 && sum-sum == 0 // not so for NaN and infinities
}

// node is one level of one column at one step.
type node struct {
	z, u, v, t, lnp float32 // m, m/s, m/s, K, ln Pa
}

// Field is a forecast over a region. It is read-only once built, and may be
// sampled from many goroutines.
type Field struct {
	grid    geo.Grid
	centre  uint16
	cycle   time.Time
	start   time.Time
	times   []float64               // seconds since start, increasing
	levels  []float64               // Pa, decreasing
	nodes   [][]node                // [step][column·levels+level], heights increasing
	first   [][]uint8               // [step][column]: levels that the column has not, from below
	surface [quantities][][]float32 // [quantity][step][column], nil where there is none
	terrain []float32               // m above mean sea level, geometric; nil if none
	member  Member
	covers  [2]time.Time // first and last time of the whole forecast, of which times may be a part
	hold    bool
}

// Centre is the issuing centre's number in WMO Common Code Table C-11.
func (f *Field) Centre() uint16 { return f.centre }

// Cycle is the time, UTC, that the forecast starts from.
func (f *Field) Cycle() time.Time { return f.cycle }

// Member is the run of the forecast that the field is.
func (f *Field) Member() Member { return f.member }

// Start is the time, UTC, from which samples count their seconds: the first
// for which there are winds here.
func (f *Field) Start() time.Time { return f.start }

// End is the last time, UTC, for which there are winds here.
func (f *Field) End() time.Time { return f.start.Add(seconds(f.times[len(f.times)-1])) }

// Covers are the first and the last time, UTC, of the whole forecast, of which
// the field may be a part.
func (f *Field) Covers() (first, last time.Time) { return f.covers[0], f.covers[1] }

// Times are those that there are winds for, in seconds since Start.
func (f *Field) Times() []float64 { return append([]float64(nil), f.times...) }

// Steps is how many times there are winds for.
func (f *Field) Steps() int { return len(f.times) }

// Levels are the isobaric levels, Pa, from the lowest height up.
func (f *Field) Levels() []float64 { return append([]float64(nil), f.levels...) }

// Grid is the grid of columns.
func (f *Field) Grid() geo.Grid { return f.grid }

// Terrain is the forecast model's own ground height on Grid, geometric metres
// above mean sea level; nil where the forecast carries none.
func (f *Field) Terrain() []float32 { return f.terrain }

// HoldAboveTop is the same field with the highest level's wind and temperature
// held above it, and pressure going on hydrostatically. Samples from there say
// that they are Held.
func (f *Field) HoldAboveTop() *Field {
	h := *f
	h.hold = true
	return &h
}

// At samples the field at a place, a geometric height above mean sea level and
// a time in seconds since Start. The sample means something only where the
// outcome is Inside. NaN is on no grid, before every time, and Missing as a
// height.
func (f *Field) At(p geo.Point, z atmos.Geometric, t float64) (Sample, Outcome) {
	if math.Abs(p.Lat) > 90-PoleMargin {
		return Sample{}, NearPole
	}
	step, frac, out := f.step(t)
	if out != Inside {
		return Sample{}, out
	}
	cell, ok := f.grid.Cell(p)
	if !ok {
		return Sample{}, OffGrid
	}
	if math.IsNaN(float64(z)) {
		return Sample{}, Missing
	}
	q := query{z: float64(z), hold: f.hold, levels: len(f.levels)}
	a := q.cell(f.nodes[step], f.first[step], cell)
	if frac > 0 && q.out == Inside {
		b := q.cell(f.nodes[step+1], f.first[step+1], cell)
		a = a.scale(1-frac).add(b, frac)
	}
	if q.out != Inside {
		return Sample{}, q.out
	}
	s := Sample{East: a.u, North: a.v, Temperature: a.t, Pressure: math.Exp(a.lnp), Held: q.held}
	if !s.usable() {
		return Sample{}, Missing
	}
	return s, Inside
}

// step finds the step at or before t and how far t is toward the next, 0 to 1.
func (f *Field) step(t float64) (step int, frac float64, out Outcome) {
	last := len(f.times) - 1
	switch {
	case !(t >= f.times[0]):
		return 0, 0, BeforeFirst
	case t > f.times[last]:
		return 0, 0, AfterLast
	case t == f.times[last]:
		return last, 0, Inside
	}
	step = sort.SearchFloat64s(f.times, t)
	if f.times[step] > t {
		step--
	}
	return step, (t - f.times[step]) / (f.times[step+1] - f.times[step]), Inside
}

// air is what is interpolated.
type air struct{ u, v, t, lnp float64 }

func (a air) scale(w float64) air { return air{a.u * w, a.v * w, a.t * w, a.lnp * w} }

func (a air) add(b air, w float64) air {
	return air{a.u + b.u*w, a.v + b.v*w, a.t + b.t*w, a.lnp + b.lnp*w}
}

// query is one sample under way: the height asked for, and what was met.
type query struct {
	z      float64
	levels int
	hint   int // the level found in the last column: the next is near it
	hold   bool
	held   bool
	out    Outcome
}

// cell interpolates between the four columns of a cell.
func (q *query) cell(nodes []node, first []uint8, c geo.Cell) air {
	var a air
	for _, corner := range [4]struct {
		column int
		weight float64
	}{
		{c.SW, (1 - c.X) * (1 - c.Y)},
		{c.SE, c.X * (1 - c.Y)},
		{c.NW, (1 - c.X) * c.Y},
		{c.NE, c.X * c.Y},
	} {
		if corner.weight == 0 {
			continue
		}
		n := nodes[corner.column*q.levels : (corner.column+1)*q.levels]
		a = a.add(q.column(n[first[corner.column]:]), corner.weight)
	}
	return a
}

// column interpolates within one column, whose heights increase.
func (q *query) column(n []node) air {
	if len(n) == 0 {
		q.out = Missing
		return air{}
	}
	z := float32(q.z)
	top := len(n) - 1
	switch {
	case z >= n[top].z:
		if q.z > float64(n[top].z) && !q.hold {
			q.out = AboveTop
			return air{}
		}
		q.held = q.held || q.z > float64(n[top].z)
		return n[top].beyond(q.z)
	case z < n[0].z:
		return n[0].beyond(q.z)
	}
	l := min(q.hint, top-1)
	for n[l].z > z {
		l--
	}
	for n[l+1].z <= z {
		l++
	}
	q.hint = l
	a, b := n[l], n[l+1]
	w := (q.z - float64(a.z)) / float64(b.z-a.z)
	return a.air().scale(1-w).add(b.air(), w)
}

func (n node) air() air { return air{float64(n.u), float64(n.v), float64(n.t), float64(n.lnp)} }

// beyond is the air at a height past the node: wind and temperature as at the
// node, pressure hydrostatic in an isothermal layer.
func (n node) beyond(z float64) air {
	a := n.air()
	a.lnp += atmos.StandardGravity * (float64(n.z) - z) / (atmos.GasConstant * a.t)
	return a
}

func seconds(s float64) time.Duration { return time.Duration(math.Round(s * 1e9)) }
