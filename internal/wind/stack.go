package wind

import (
	"fmt"
	"math"
	"slices"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
)

// stack makes the columns of steps.
type stack struct {
	grid      geo.Grid
	pressures []int32         // hundredths of a pascal, decreasing
	logs      []float32       // the same, ln Pa
	gravity   []atmos.Gravity // of each row
}

func newStack(grid geo.Grid, pressures []int32) stack {
	s := stack{grid: grid, pressures: pressures}
	for _, p := range pressures {
		s.logs = append(s.logs, float32(math.Log(float64(p)/100)))
	}
	for row := range grid.NY {
		s.gravity = append(s.gravity, atmos.GravityAt(grid.Lat0+float64(row)*grid.DLat))
	}
	return s
}

// columns are all columns of one step.
type columns struct {
	nodes []node  // [column·levels+level]
	first []uint8 // levels that a column lacks from below, as forecasts do that leave out what is under the ground
	warm  []bool  // levels that carry temperature
}

// empty is a step that nothing was put into.
func (s stack) empty() columns {
	n, levels := s.grid.NX*s.grid.NY, len(s.pressures)
	return columns{nodes: make([]node, n*levels), first: make([]uint8, n), warm: make([]bool, levels)}
}

// step makes all columns of one step.
func (s stack) step(from *slab) (columns, error) {
	const together = 16 // columns, which stay in the nearest cache from level to level
	c := s.empty()
	for l, p := range s.pressures {
		c.warm[l] = from.levels[p][temperature] != nil
	}
	for row := range s.grid.NY {
		for col := 0; col < s.grid.NX; col += together {
			k, n := row*s.grid.NX+col, min(together, s.grid.NX-col)
			for l, p := range s.pressures {
				s.put(c.nodes, spread{row, col, l}, stretchOf(from.levels[p], k, n))
			}
		}
		if err := s.settle(&c, row, row+1); err != nil {
			return columns{}, err
		}
	}
	s.warm(&c)
	return c, nil
}

// spread is a level of neighbouring columns of a row, from one column eastward.
type spread struct{ row, col, level int }

// stretchOf is n values of each map from k on.
func stretchOf(maps *[uppers][]float32, k, n int) [uppers][]float32 {
	var some [uppers][]float32
	for u, m := range maps {
		if m != nil {
			some[u] = m[k : k+n]
		}
	}
	return some
}

// put puts the values of a level into columns that were empty; a temperature that is
// not there is not a number.
func (s stack) put(all []node, at spread, from [uppers][]float32) {
	levels, gravity, lnp := len(s.pressures), s.gravity[at.row], s.logs[at.level]
	nodes := all[(at.row*s.grid.NX+at.col)*levels+at.level:]
	u := from[east]
	v, z := from[north][:len(u)], from[height][:len(u)]
	for i := range u {
		nodes[i*levels] = node{z: float32(gravity.Geometric(atmos.Geopotential(z[i]))), u: u[i], v: v[i], t: float32(math.NaN()), lnp: lnp}
	}
	for i, t := range from[temperature] {
		nodes[i*levels].t = t
	}
}

// settle looks over the columns of some rows that all levels were put into.
func (s stack) settle(c *columns, from, until int) error {
	levels := len(s.pressures)
	for k := from * s.grid.NX; k < until*s.grid.NX; k++ {
		column := c.nodes[k*levels : (k+1)*levels]
		below := lacking(column)
		c.first[k] = uint8(below)
		if err := s.rising(column[below:], k); err != nil {
			return err
		}
	}
	return nil
}

// warm fills in temperatures of the levels that carry none, once all columns are
// settled.
func (s stack) warm(c *columns) {
	if !slices.Contains(c.warm, false) {
		return
	}
	levels := len(s.pressures)
	for k, below := range c.first {
		column, warm := c.nodes[k*levels+int(below):(k+1)*levels], c.warm[below:]
		for l := range column {
			if !warm[l] {
				column[l].t = temperatureAt(column, warm, l)
			}
		}
	}
}

// lacking counts the levels from below that have no wind or no height.
func lacking(column []node) int {
	for l, n := range column {
		if !math.IsNaN(float64(n.u + n.v + n.z)) {
			return l
		}
	}
	return len(column)
}

// rising checks that a column's heights increase. A level without wind or height
// above others that have them stays without: samples next to it are Missing.
func (s stack) rising(column []node, k int) error {
	below := len(s.pressures) - len(column)
	for l := range column {
		if math.IsNaN(float64(column[l].z)) {
			// Between its neighbours, so that they can still be found by height.
			column[l].z = column[l-1].z + 1
			column[l].u = float32(math.NaN())
		}
		if l > 0 && !(column[l].z > column[l-1].z) {
			return fmt.Errorf("at latitude %g, longitude %g the level of %g hPa lies at %g m, not above that of %g hPa at %g m",
				s.grid.Node(k).Lat, s.grid.Node(k).Lon, float64(s.pressures[below+l])/1e4, column[l].z,
				float64(s.pressures[below+l-1])/1e4, column[l-1].z)
		}
	}
	return nil
}

// temperatureAt is the temperature of level l from the levels around that carry it,
// linear in height; from one alone beyond the last; the standard atmosphere's
// where no level carries it.
func temperatureAt(column []node, warm []bool, l int) float32 {
	down, up := l-1, l+1
	for down >= 0 && !warm[down] {
		down--
	}
	for up < len(column) && !warm[up] {
		up++
	}
	switch {
	case down >= 0 && up < len(column):
		a, b := column[down], column[up]
		return a.t + (b.t-a.t)*(column[l].z-a.z)/(b.z-a.z)
	case down >= 0:
		return column[down].t
	case up < len(column):
		return column[up].t
	}
	air, ok := atmos.Standard(atmos.Geometric(column[l].z))
	if !ok {
		return float32(math.NaN())
	}
	return float32(air.Temperature)
}
