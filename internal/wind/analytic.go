package wind

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
)

// Axes are the nodes of a field that is made from a function.
type Axes struct {
	Grid    geo.Grid
	Start   time.Time // UTC, of the first step
	Times   []float64 // s since Start, increasing from 0
	Heights []float64 // geometric m above mean sea level, increasing; at least 2
}

// New makes a field whose nodes have the values of a function of place, height
// and time since the start: winds with a closed form, against which everything
// that flies through a field can be checked. Held is not used. Between the
// nodes the field is as any other.
func New(a Axes, air func(p geo.Point, z, t float64) Sample) (*Field, error) {
	if err := a.Grid.Check(); err != nil {
		return nil, err
	}
	columns, levels := a.Grid.NX*a.Grid.NY, len(a.Heights)
	switch {
	case levels < 2 || levels > MaxLevels:
		return nil, fmt.Errorf("%d heights: want 2 to %d", levels, MaxLevels)
	case len(a.Times) < 1 || len(a.Times) > MaxSteps || a.Times[0] != 0:
		return nil, fmt.Errorf("%d times: want 1 to %d, the first 0", len(a.Times), MaxSteps)
	case columns*levels > MaxNodes/len(a.Times):
		return nil, fmt.Errorf("%d times, %d heights, %d columns: want at most %d nodes", len(a.Times), levels, columns, MaxNodes)
	}
	for i := 1; i < levels; i++ {
		if !(float32(a.Heights[i]) > float32(a.Heights[i-1])) {
			return nil, fmt.Errorf("height %d of %g m: want more than the %g m before it", i, a.Heights[i], a.Heights[i-1])
		}
	}
	f := &Field{grid: a.Grid, cycle: a.Start, start: a.Start, times: slices.Clone(a.Times), terrain: make([]float32, columns)}
	f.covers = [2]time.Time{a.Start, a.Start.Add(seconds(a.Times[len(a.Times)-1]))}
	for i, t := range a.Times {
		if i > 0 && !(t > a.Times[i-1]) {
			return nil, fmt.Errorf("time %d of %g s: want more than the %g s before it", i, t, a.Times[i-1])
		}
		nodes := make([]node, 0, columns*levels)
		for k := range columns {
			for _, z := range a.Heights {
				s := air(a.Grid.Node(k), z, t)
				nodes = append(nodes, node{
					float32(z), float32(s.East), float32(s.North), float32(s.Temperature), float32(math.Log(s.Pressure)),
				})
			}
		}
		f.nodes = append(f.nodes, nodes)
		f.first = append(f.first, make([]uint8, columns))
		for q := range f.surface {
			f.surface[q] = append(f.surface[q], nil)
		}
	}
	// The levels' pressures are those at the first node; they are for telling
	// only, each node has its own.
	for _, z := range a.Heights {
		f.levels = append(f.levels, air(a.Grid.Node(0), z, 0).Pressure)
	}
	return f, nil
}

// Still is air of the U.S. Standard Atmosphere 1976 at a geometric height in
// which no wind blows, for winds made with New. It panics outside that
// atmosphere, which is a bug of the caller.
func Still(z float64) Sample {
	s, ok := atmos.Standard(atmos.Geometric(z))
	if !ok {
		panic(fmt.Sprintf("wind: no standard atmosphere at %g m", z))
	}
	return Sample{Temperature: s.Temperature, Pressure: s.Pressure}
}
