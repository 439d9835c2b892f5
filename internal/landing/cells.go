package landing

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"example.org/thistledown/internal/geo"
)

// MaxCells bounds how many cells lie where landings may be.
const MaxCells = 1 << 20

// Cell is a square of ground, its sides east and north.
type Cell struct {
	Middle geo.Point
	Share  float64 // of all landings
}

// Cells are squares of a side, m, over where landings may be, the likeliest first, until
// they hold a share of all landings, above 0 and up to 1: where to look first on ground
// that is walked piece by piece. They are put in order by the density that Estimate finds,
// and what they hold is held against the points, as the regions' levels are. East and
// north are those at the mean of all points.
//
// It is an error where Estimate has one, when the side is not over 0, or when there would
// be more than MaxCells.
func Cells(points []Weighted, side, share float64) ([]Cell, error) {
	if err := check(points, nil); err != nil {
		return nil, err
	}
	if !(side > 0) || math.IsInf(side, 0) || !(share > 0 && share <= 1) {
		return nil, fmt.Errorf("cells of %g m until %g: want a side over 0 and a share above 0 and up to 1", side, share)
	}
	s, err := gather(points, never)
	if err != nil {
		return nil, err
	}
	f := estimate(s, s.effective() < FewPoints)
	held := map[[2]int]float64{}
	sum := 0.0
	for i := range f.grids {
		g := &f.grids[i]
		// Each node stands for a square of the grid, in so many pieces that none is more
		// than a quarter of a cell wide. Steps are longest along the law's own axes.
		east, north := f.m.undo(g.step, 0)
		far, across := f.m.undo(0, g.step)
		pieces := int(math.Ceil(4 * max(math.Hypot(east, north), math.Hypot(far, across)) / side))
		if float64(pieces*pieces)*float64(len(g.value)) > 16*MaxCells {
			return nil, fmt.Errorf("cells of %g m: too small for where landings may be: want larger ones", side)
		}
		for j := range g.ny {
			for i := range g.nx {
				u, v := g.x+float64(i)*g.step, g.y+float64(j)*g.step
				if g.value[j*g.nx+i] == 0 {
					continue
				}
				for k := range pieces * pieces {
					du := (float64(k%pieces)+0.5)/float64(pieces) - 0.5
					dv := (float64(k/pieces)+0.5)/float64(pieces) - 0.5
					density := g.at(u+du*g.step, v+dv*g.step) / float64(pieces*pieces) * g.step * g.step
					x, y := f.m.undo(u+du*g.step, v+dv*g.step)
					held[[2]int{int(math.Floor(x / side)), int(math.Floor(y / side))}] += density
					sum += density
				}
			}
		}
		if len(held) > MaxCells {
			return nil, fmt.Errorf("cells of %g m: more than %d where landings may be: want larger ones", side, MaxCells)
		}
	}
	keys := make([][2]int, 0, len(held))
	for k := range held {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b [2]int) int {
		return cmp.Or(cmp.Compare(held[b], held[a]), cmp.Compare(a[1], b[1]), cmp.Compare(a[0], b[0]))
	})
	scale := s.against(keys, held, sum, side)
	cells := make([]Cell, len(keys))
	at, whole := 0.0, 0.0
	for i, k := range keys {
		at += held[k] / sum
		share := held[k] / sum * scale(at-held[k]/sum/2)
		cells[i] = Cell{Middle: s.plane.point((float64(k[0])+0.5)*side, (float64(k[1])+0.5)*side), Share: share}
		whole += share
	}
	slices.SortStableFunc(cells, func(a, b Cell) int { return cmp.Compare(b.Share, a.Share) })
	contained := 0.0
	for i := range cells {
		cells[i].Share /= whole
		if contained += cells[i].Share; contained >= share {
			return cells[:i+1], nil
		}
	}
	return cells, nil
}

// levels is how many parts of the density, from the densest on, are held against the
// points.
const levels = 10

// against is by how much more points lie in cells than the density says, which its kernels
// flatten: by the share of the density in cells before one. It is linear between the
// middles of the parts.
func (s sample) against(keys [][2]int, held map[[2]int]float64, sum, side float64) func(at float64) float64 {
	part := make(map[[2]int]int, len(keys))
	var dense, seen [levels]float64
	at := 0.0
	for _, k := range keys {
		i := min(int(levels*(at+held[k]/sum/2)), levels-1)
		part[k] = i
		at += held[k] / sum
		dense[i] += held[k] / sum
	}
	for _, p := range s.points {
		x, y := s.plane.xy(s.plane.vector(p.At))
		if i, ok := part[[2]int{int(math.Floor(x / side)), int(math.Floor(y / side))}]; ok {
			seen[i] += p.Weight
		}
	}
	var ratios, middles []float64
	at = 0
	for i := range dense {
		if dense[i] > 0 {
			ratios, middles = append(ratios, max(seen[i]/dense[i], 0.1)), append(middles, at+dense[i]/2)
		}
		at += dense[i]
	}
	return func(at float64) float64 {
		i := sort.SearchFloat64s(middles, at)
		switch {
		case i == 0:
			return ratios[0]
		case i == len(middles):
			return ratios[i-1]
		}
		w := (at - middles[i-1]) / (middles[i] - middles[i-1])
		return ratios[i-1] + w*(ratios[i]-ratios[i-1])
	}
}
