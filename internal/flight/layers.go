package flight

import (
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

const (
	// errorKnot is the spacing of the heights at which the kernel keeps a wind
	// error, m. Layers have an edge at each of them, so that the mean of an
	// error over a layer is its value in the middle.
	errorKnot = 1000.0
	knots     = int(balloon.MaxBurst/errorKnot) + 1

	// maxParts is how many parts a layer has at most.
	maxParts = 20
	// finest and coarsest bound the thickness of a part, m: those near the
	// ground are as thick as the ground is looked at.
	finest, coarsest = 50.0, 250.0

	thickest     = 1000.0 // m: no layer is thicker
	lowestLaunch = -500.0 // m: launches from below are flown by Scene.Fly
)

// layer is the air between two heights as the kernel flies it: in one step, or
// in a few parts where a flight bursts or may meet the ground.
type layer struct {
	low, high float64 // m above mean sea level
	whole     part
	parts     []part
	cells     [2]*cells // of the whole layer, on the way up and down; nil until asked for
	// before are the layers that a flight comes through before, the last one first.
	before [2][2]*layer
	// ahead is how far a flight is in the mean from where half the way of the layer
	// before would bring it, m by what that way was more than the one before it. So
	// it is where the wind changes evenly with height through all three.
	ahead [2]float32

	knot   int     // the wind error's entry at or below the middle
	weight float32 // the share of the way from there to the next
}

// part is one span of heights with what is the same for all that pass it.
type part struct {
	number      uint64 // among all of the kernel
	low, high   float64
	east, north float64 // N/(N+z) and M/(M+z) in the middle
	// root is the mean of √(ρ/ρ₀) in the column that the others are compared
	// with, and logRoot its logarithm.
	root, logRoot float64
	slope         float64 // of the logarithm with height, 1/m
}

func (p *part) middle() float64 { return (p.low + p.high) / 2 }

// thicknesses are those of layers on grids with nodes at least so far apart.
type thicknesses struct {
	spacing float64    // degrees
	layers  [4]float64 // m; see edges
	deep    float64    // m: above it flights fall through layers of errorKnot
}

// thicknessesBySpacing are those of layers by how far the grid's nodes lie apart:
// what a thick layer gets wrong is the kink where a flight crosses from one cell
// into the next, and the more cells there are, the more of it.
var thicknessesBySpacing = []thicknesses{
	{2, [4]float64{500, 500, 500, 1000}, 5e3},
	{0.4, [4]float64{250, 1000.0 / 3, 1000.0 / 3, 500}, 18e3},
	{0, [4]float64{250, 1000.0 / 3, 1000.0 / 3, 500}, 15e3},
}

// layersFor is how thick layers are over a grid with nodes so many degrees apart.
func layersFor(spacing float64) thicknesses {
	for _, t := range thicknessesBySpacing {
		if spacing >= t.spacing {
			return t
		}
	}
	return thicknessesBySpacing[len(thicknessesBySpacing)-1]
}

// edges are the heights between layers from the lowest ground to the highest
// burst. From 1 km below to 1 km above the launch they are as far apart as the
// first thickness says, from there to 2 km above it as the second, up to 15 km
// above mean sea level as the third, then as the last. The launch is one of
// them.
func edges(launch, lowest, spacing float64) []float64 {
	layers := layersFor(spacing).layers
	var all []float64
	for z := math.Floor(min(launch, lowest)/1000) * 1000; z < balloon.MaxBurst; {
		all = append(all, z)
		thick := thickness(layers, z-launch, z)
		next := (math.Floor(z/thick+1e-6) + 1) * thick
		if z < launch && next > launch-1e-6 {
			next = launch
		}
		z = next
	}
	return append(all, balloon.MaxBurst)
}

func thickness(layers [4]float64, above, z float64) float64 {
	switch {
	case above >= -1000 && above < 1000:
		return layers[0]
	case above >= 1000 && above < 2000:
		return layers[1]
	case z < 15e3:
		return layers[2]
	}
	return layers[3]
}

// newLayers makes the layers of a rise, their air compared with that of one
// column, and from them those of a fall.
func newLayers(edges []float64, deep, launch float64, site geo.Point, f *wind.Field, column int) ([]layer, []descent) {
	meridian, normal := geo.Radii(site.Lat)
	number := uint64(0)
	newPart := func(low, high float64) part {
		p := part{number: number, low: low, high: high}
		number++
		z := p.middle()
		p.east, p.north = normal/(normal+z), meridian/(meridian+z)
		if s, out := f.Span(0, column, low, high); out == wind.Inside {
			p.logRoot, p.slope = logRoot(s, high-low)
		} else if s, ok := atmos.Standard(atmos.Geometric(z)); ok {
			p.logRoot = math.Log(s.Density/atmos.SeaLevelDensity) / 2
			p.slope = -atmos.StandardGravity / (2 * atmos.GasConstant * s.Temperature)
		}
		p.root = math.Exp(p.logRoot)
		return p
	}
	newLayer := func(low, high float64) layer {
		l := layer{low: low, high: high, whole: newPart(low, high)}
		at, share := tablePlace(l.whole.middle(), errorKnot, knots-1)
		l.knot, l.weight = min(at, knots-2), float32(share)
		if at > knots-2 {
			l.weight = 1
		}
		return l
	}
	layers := make([]layer, len(edges)-1)
	for i := range layers {
		l := &layers[i]
		*l = newLayer(edges[i], edges[i+1])
		most := finest
		if l.low > highestGround {
			most = coarsest
		}
		n := min(max(int(math.Ceil((l.high-l.low)/most-1e-6)), 1), maxParts)
		for j := range n {
			at := func(j int) float64 { return l.low + (l.high-l.low)*float64(j)/float64(n) }
			l.parts = append(l.parts, newPart(at(j), at(j+1)))
		}
		l.parts[n-1].high = l.high
	}
	var falls []descent
	for first := 0; first < len(layers); {
		d := descent{layer: &layers[first], first: first, last: first}
		low := d.layer.low
		if low >= max(deep, launch) && math.Mod(low, errorKnot) == 0 {
			for d.last < len(layers)-1 && layers[d.last+1].high <= low+errorKnot {
				d.last++
			}
		}
		if d.last > first {
			thick := newLayer(low, layers[d.last].high)
			d.layer = &thick
		}
		falls = append(falls, d)
		first = d.last + 1
	}
	for i := range layers {
		if i > 1 {
			layers[i].setBefore(up, &layers[i-1], &layers[i-2])
		}
		if i < len(layers)-2 {
			layers[i].setBefore(down, &layers[i+1], &layers[i+2])
		}
	}
	for i := range len(falls) - 2 {
		falls[i].setBefore(down, falls[i+1].layer, falls[i+2].layer)
	}
	return layers, falls
}

// descent is a layer as flights fall through it: one that they rise through, or
// several from the first to the last in one.
type descent struct {
	*layer
	first, last int
}

// The ways through a layer.
const (
	up = iota
	down
)

// setBefore tells a layer which two layers a flight comes through before it one
// way, the last one first.
func (l *layer) setBefore(way int, one, two *layer) {
	h, h1, h2 := l.high-l.low, one.high-one.low, two.high-two.low
	l.before[way] = [2]*layer{one, two}
	l.ahead[way] = float32(2 * (h*h1/4 + h*h/6) / (h1 + h2))
}

// logRoot is the logarithm of the mean of √(ρ/ρ₀) over a span so thick, half the
// mean of ln ρ and what its slope adds to the mean of the root; and that slope,
// 1/m.
func logRoot(s wind.Span, thickness float64) (root, slope float64) {
	slope = 6 / (thickness * thickness) * (s.PressureTilt - s.TemperatureTilt/s.Temperature)
	change := slope * thickness
	return (s.LogPressure-math.Log(atmos.GasConstant*s.Temperature*atmos.SeaLevelDensity))/2 + change*change/24, slope
}
