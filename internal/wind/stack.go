package wind

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
)

// stack makes the columns of a step.
type stack struct {
	grid      geo.Grid
	pressures []int32 // hundredths of a pascal, decreasing
}

// columns are all columns of one step.
type columns struct {
	nodes []node  // [column·levels+level]
	first []uint8 // levels that a column lacks from below, as forecasts do that leave out what is under the ground
	warm  []bool  // levels that carry temperature
}

// step makes all columns of one step.
func (s stack) step(from *slab) (columns, error) {
	across, levels := s.grid.NX, len(s.pressures)
	c := columns{
		nodes: make([]node, across*s.grid.NY*levels), first: make([]uint8, across*s.grid.NY), warm: make([]bool, levels),
	}
	sheets := make([]sheet, levels)
	for l, p := range s.pressures {
		sheets[l] = sheet{from.levels[p], float32(math.Log(float64(p) / 100))}
		c.warm[l] = from.levels[p][temperature] != nil
	}
	const together = 16 // columns, which stay in the nearest cache from level to level
	for row := range s.grid.NY {
		gravity := atmos.GravityAt(s.grid.Lat0 + float64(row)*s.grid.DLat)
		for k := row * across; k < (row+1)*across; k += together {
			until := min(k+together, (row+1)*across)
			for l, one := range sheets {
				one.put(c.nodes[k*levels+l:], levels, k, until, gravity)
			}
			for k := k; k < until; k++ {
				column := c.nodes[k*levels : (k+1)*levels]
				below := lacking(column)
				c.first[k] = uint8(below)
				if err := s.settle(column[below:], c.warm[below:], k); err != nil {
					return columns{}, err
				}
			}
		}
	}
	return c, nil
}

// sheet is one level of all columns.
type sheet struct {
	maps *[uppers][]float32
	lnp  float32 // ln Pa
}

// put puts the level of the columns from one to another, all of one latitude, where
// there are so many levels to a column.
func (h sheet) put(nodes []node, levels, from, until int, gravity atmos.Gravity) {
	u, v, z := h.maps[east][from:until], h.maps[north][from:until], h.maps[height][from:until]
	for i := range until - from {
		nodes[i*levels] = node{z: float32(gravity.Geometric(atmos.Geopotential(z[i]))), u: u[i], v: v[i], t: float32(math.NaN()), lnp: h.lnp}
	}
	if h.maps[temperature] == nil {
		return
	}
	for i, t := range h.maps[temperature][from:until] {
		nodes[i*levels].t = t
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

// settle fills in temperatures that a column's levels lack, and checks that
// its heights increase. A level without wind or height above others that have
// them stays without: samples next to it are Missing.
func (s stack) settle(column []node, warm []bool, k int) error {
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
	for l := range column {
		if !warm[l] {
			column[l].t = temperatureAt(column, warm, l)
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
