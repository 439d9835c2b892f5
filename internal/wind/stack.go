package wind

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
)

// stack makes the columns of one step after the other.
type stack struct {
	grid      geo.Grid
	pressures []int32 // hundredths of a pascal, decreasing
	cold      []bool  // levels that lacked temperature at some step so far
}

// warnings says in whole sentences which levels carry no temperature and what
// is taken instead.
func (s stack) warnings() []string {
	var without []int32
	for l, p := range s.pressures {
		if s.cold[l] {
			without = append(without, p)
		}
	}
	switch len(without) {
	case 0:
		return nil
	case len(s.pressures):
		return []string{"The forecast carries no temperature: the air's density is that of the U.S. Standard Atmosphere 1976."}
	}
	return []string{fmt.Sprintf("Temperature taken from the levels around, for want of it at some step: the levels %s.", hectopascals(without))}
}

// step makes all columns of one step. first says how many levels a column
// lacks from below, as forecasts do that leave out what is under the ground.
func (s stack) step(from *slab) (nodes []node, first []uint8, err error) {
	columns, levels := s.grid.NX*s.grid.NY, len(s.pressures)
	nodes, first = make([]node, columns*levels), make([]uint8, columns)
	warm := make([]bool, levels)
	for l, p := range s.pressures {
		level := from.levels[p]
		lnp := float32(math.Log(float64(p) / 100))
		warm[l] = level[temperature] != nil
		s.cold[l] = s.cold[l] || !warm[l]
		for k := range columns {
			n := &nodes[k*levels+l]
			lat := s.grid.Lat0 + float64(k/s.grid.NX)*s.grid.DLat
			n.u, n.v, n.lnp = level[east][k], level[north][k], lnp
			n.z = float32(atmos.Geopotential(level[height][k]).Geometric(lat))
			n.t = float32(math.NaN())
			if warm[l] {
				n.t = level[temperature][k]
			}
		}
	}
	for k := range columns {
		column := nodes[k*levels : (k+1)*levels]
		below := lacking(column)
		first[k] = uint8(below)
		if err := s.settle(column[below:], warm[below:], k); err != nil {
			return nil, nil, err
		}
	}
	return nodes, first, nil
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
