package wind

import (
	"math"

	"example.org/thistledown/internal/atmos"
)

// Span is the air of one column at one step over a span of heights: exact
// means of what Field.At interpolates there.
type Span struct {
	East, North float64 // mean wind toward east and north, m/s
	Temperature float64 // mean, K
	LogPressure float64 // mean of ln(p/Pa)
	// EastTilt and NorthTilt are how wind and height vary together: the mean
	// of wind times height above the span's middle, m²/s.
	EastTilt, NorthTilt float64
	// TemperatureTilt and PressureTilt are the same of the temperature, K m, and
	// of the pressure's logarithm, m.
	TemperatureTilt, PressureTilt float64
	// Held is the share of the span, 0 to 1, above the column's highest level,
	// on air that is held there.
	Held float64
}

// Span is the air of a column of Grid, by its number there, at a step, over the
// heights from low to high, geometric metres above mean sea level, low < high.
// It is AboveTop where the span goes above the highest level and that is not
// held, Missing where some of it has no value. Column and step must exist.
func (f *Field) Span(step, column int, low, high float64) (Span, Outcome) {
	levels := len(f.levels)
	n := f.nodes[step][column*levels : (column+1)*levels][f.first[step][column]:]
	if len(n) == 0 {
		return Span{}, Missing
	}
	top := float64(n[len(n)-1].z)
	if high > top && !f.hold {
		return Span{}, AboveTop
	}
	sum := spanSum{middle: (low + high) / 2}
	z, l := low, levelBelow(n, low)
	if l < 0 {
		to := min(high, float64(n[0].z))
		sum.constant(n[0], z, to)
		z, l = to, 0
	}
	for ; z < high && l < len(n)-1; l++ {
		to := min(high, float64(n[l+1].z))
		sum.linear(n[l], n[l+1], z, to)
		z = to
	}
	if z < high {
		sum.constant(n[len(n)-1], z, high)
	}
	s := sum.mean(high - low)
	s.Held = min(max((high-top)/(high-low), 0), 1)
	if !(s.Temperature > 0) || math.IsNaN(s.EastTilt+s.NorthTilt+s.PressureTilt) || math.IsInf(s.East+s.North, 0) {
		return Span{}, Missing
	}
	return s, Inside
}

// Holds reports whether the field is one that HoldAboveTop made.
func (f *Field) Holds() bool { return f.hold }

// LowestTop is the lowest height that the highest level has in any column at
// any step: nothing is held below it. It looks at every column.
func (f *Field) LowestTop() float64 {
	levels, lowest := len(f.levels), math.Inf(1)
	for _, nodes := range f.nodes {
		for top := levels - 1; top < len(nodes); top += levels {
			lowest = min(lowest, float64(nodes[top].z))
		}
	}
	return lowest
}

// levelBelow is the highest level at or below a height, -1 where there is none.
func levelBelow(n []node, z float64) int {
	low, high := -1, len(n)
	for high-low > 1 {
		middle := int(uint(low+high) >> 1)
		if float64(n[middle].z) <= z {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// spanSum adds up the pieces of a span.
type spanSum struct {
	middle    float64
	sum, tilt air
}

// linear adds the air between two levels, from one height to another.
func (s *spanSum) linear(a, b node, from, to float64) {
	length, thickness := to-from, float64(b.z)-float64(a.z)
	w := ((from+to)/2 - float64(a.z)) / thickness
	low, high := a.air(), b.air()
	change := high.add(low, -1)
	s.piece(low.add(change, w), (from+to)/2, length)
	s.tilt = s.tilt.add(change, length*length*length/(12*thickness))
}

// constant adds the air below the lowest level or above the highest.
func (s *spanSum) constant(n node, from, to float64) {
	length := to - from
	s.piece(n.beyond((from+to)/2), (from+to)/2, length)
	s.tilt.lnp -= length * length * length / 12 * atmos.StandardGravity / (atmos.GasConstant * float64(n.t))
}

// piece adds a piece's mean, its middle and its length.
func (s *spanSum) piece(mean air, middle, length float64) {
	s.sum = s.sum.add(mean, length)
	s.tilt = s.tilt.add(mean, length*(middle-s.middle))
}

func (s *spanSum) mean(length float64) Span {
	mean, tilt := s.sum.scale(1/length), s.tilt.scale(1/length)
	return Span{
		East: mean.u, North: mean.v, Temperature: mean.t, LogPressure: mean.lnp,
		EastTilt: tilt.u, NorthTilt: tilt.v, TemperatureTilt: tilt.t, PressureTilt: tilt.lnp,
	}
}
