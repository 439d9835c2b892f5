package geo

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
)

// areaError is the error that RingArea promises, m² per degree of width.
const areaError = 5e-4

func TestRingAreaError(t *testing.T) {
	worst := 0.0
	for _, r := range fixtureRings(t) {
		got := RingArea(r.ring)
		bound := areaError * width(r.ring)
		missed := math.Abs(got - r.quadrature)
		// The geodesic tool is right to some tenth of a square metre an edge,
		// of which it was given a thousand and more.
		if !(missed <= bound && math.Abs(got-r.planimeter) <= 2) {
			t.Errorf("RingArea(%v) = %.6f, want %.6f to %.2g (geodesic tool: %.3f)", r.ring, got, r.quadrature, bound, r.planimeter)
		}
		worst = max(worst, missed/width(r.ring))
	}
	t.Logf("worst: %.2g m² per degree of width", worst)
	assert.Greater(t, worst, areaError/10, "the promise is slack")
}

// width is how many degrees of longitude a ring spans.
func width(ring []Point) float64 {
	west, east := 0.0, 0.0
	for _, p := range ring {
		d := WrapLon(p.Lon - ring[0].Lon)
		west, east = min(west, d), max(east, d)
	}
	return east - west
}

// TestRingAreaExact: what follows from closed forms. The Earth's area is
// 510065621724088.5 m², from 2πa² + πb²/e·ln((1+e)/(1-e)) with 20 digits.
func TestRingAreaExact(t *testing.T) {
	const earth = 510065621724088.5
	lune := []Point{{-90, -60}, {-90, 60}, {90, 60}, {90, -60}}
	cap60 := []Point{{60, 100}, {60, -140}, {60, -20}, {60, 100}, {90, 100}, {90, -20}, {90, -140}, {90, 100}}
	cell := []Point{{0, 0}, {0, 1}, {1, 1}, {1, 0}}
	shifted := []Point{{0, 179.5}, {0, -179.5}, {1, -179.5}, {1, 179.5}}
	for _, c := range []struct {
		name string
		ring []Point
		want float64
		to   float64
	}{
		{"a third of the Earth", lune, earth / 3, 120 * areaError},
		{"its other way round", reversed(lune), -earth / 3, 120 * areaError},
		{"one degree at the equator", cell, 12308463893.975, areaError}, // as the rings of the fixture
		{"repeating the first", append(slices.Clone(cell), cell[0]), 12308463893.975, areaError},
		{"clockwise", reversed(cell), -12308463893.975, areaError},
		{"across the date line", shifted, 12308463893.975, areaError},
		{"in longitudes 0 to 360", []Point{{0, 179.5}, {0, 180.5}, {1, 180.5}, {1, 179.5}}, 12308463893.975, areaError},
		{"round a pole, cut open", cap60, capArea(60), 0.5},
		{"pole as a vertex", []Point{{60, -10}, {60, 10}, {90, 0}}, triangleArea(60, 20), 1},
		{"empty", nil, 0, 0},
		{"one edge", []Point{{0, 0}, {1, 1}}, 0, 0},
		{"there and back", []Point{{0, 0}, {1, 1}, {2, 0}, {1, 1}}, 0, 1e-3},
	} {
		if got := RingArea(c.ring); !(math.Abs(got-c.want) <= c.to) {
			t.Errorf("%s: RingArea(%v) = %.6f, want %.6f", c.name, c.ring, got, c.want)
		}
	}
	for _, ring := range [][]Point{
		{{60, 0}, {60, 120}, {60, -120}},
		{{-60, 0}, {-60, -120}, {-60, 120}},
		{{60, 0}, {math.NaN(), 1}, {61, 1}},
		{{60, 0}, {60, math.Inf(1)}, {61, 1}},
	} {
		assert.True(t, math.IsNaN(RingArea(ring)), "RingArea(%v) = %g, want NaN", ring, RingArea(ring))
	}
}

func reversed(ring []Point) []Point {
	r := slices.Clone(ring)
	slices.Reverse(r)
	return r
}

// capArea is the area within a parallel of the pole, by quadrature of Radii.
func capArea(lat float64) float64 {
	element := func(x float64) float64 {
		m, n := Radii(90 - x/degree)
		return 2 * math.Pi * m * n * math.Sin(x)
	}
	return quadrature(element, (90-lat)*degree)
}

// triangleArea is the area between a parallel and two straight edges from its
// ends, width degrees apart, to the pole.
func triangleArea(lat, width float64) float64 {
	element := func(x float64) float64 {
		m, n := Radii(90 - x/degree)
		return width * degree * x / ((90 - lat) * degree) * m * n * math.Sin(x)
	}
	return quadrature(element, (90-lat)*degree)
}

func BenchmarkRingArea(b *testing.B) {
	ring := make([]Point, 1000)
	for i := range ring {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 1000)
		ring[i] = Point{47 + 0.3*s, 8 + 0.5*c}
	}
	for b.Loop() {
		RingArea(ring)
	}
}
