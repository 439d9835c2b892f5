package wind

import (
	"fmt"
	"math"
	"sort"
	"time"

	"example.org/thistledown/internal/geo"
)

// seamDepth is over how many scale heights above a seam the lower forecast's
// differences from the upper one fade out: one, about 7 km.
const seamDepth = 1.0

// Above puts another forecast above the highest level of this one, on this
// one's columns and times, and says so in a whole sentence. upper is
// interpolated to the columns bilinearly and to the times linearly, level by
// level.
//
// The seam is smooth: at this field's highest level the wind, temperature and
// height of that level hold, and what they differ by from upper's there fades
// out over one scale height above, in proportion to the logarithm of pressure.
// It is an error if upper reaches no higher or does not cover this field's
// columns and times.
func (f *Field) Above(upper *Field) (*Field, string, error) {
	top := f.levels[len(f.levels)-1]
	from := sort.Search(len(upper.levels), func(l int) bool { return upper.levels[l] < top })
	if from == len(upper.levels) {
		return nil, "", fmt.Errorf("the upper forecast ends at %g hPa: want levels above the %g hPa of the lower",
			upper.levels[len(upper.levels)-1]/100, top/100)
	}
	if from == 0 {
		return nil, "", fmt.Errorf("the upper forecast begins at %g hPa: want levels down to the %g hPa of the lower", upper.levels[0]/100, top/100)
	}
	s := *f
	s.levels = append(append([]float64(nil), f.levels...), upper.levels[from:]...)
	if len(s.levels) > MaxLevels || len(s.levels)*len(f.times)*len(f.first[0]) > MaxNodes {
		return nil, "", fmt.Errorf("%d levels, %d steps, %d columns with the upper forecast: want at most %d levels and %d of all",
			len(s.levels), len(f.times), len(f.first[0]), MaxLevels, MaxNodes)
	}
	s.nodes = make([][]node, len(f.times))
	seam := seam{lower: f, upper: upper, top: top, from: from}
	for i := range f.times {
		nodes, err := seam.step(i)
		if err != nil {
			return nil, "", err
		}
		s.nodes[i] = nodes
	}
	return &s, fmt.Sprintf(
		"Above %g hPa, some %.1f km up, the winds are those of another forecast, of centre %d, cycle %s, up to %g hPa; differences between the two fade out over the first %.0f km above.",
		top/100, seam.height/1000, upper.centre, upper.cycle.Format(time.RFC3339), upper.levels[len(upper.levels)-1]/100, 7*seamDepth), nil
}

// seam makes the columns of two forecasts, one above the other.
type seam struct {
	lower, upper *Field
	top          float64 // Pa, of the lower's highest level
	from         int     // first of the upper's levels above
	height       float64 // m, of the lower's highest level, at the last column made
}

// step makes the columns of one of the lower's steps.
func (s *seam) step(i int) ([]node, error) {
	levels := len(s.lower.levels)
	t := s.lower.start.Add(seconds(s.lower.times[i])).Sub(s.upper.start).Seconds()
	at, frac, out := s.upper.step(t)
	if out != Inside {
		return nil, fmt.Errorf("the upper forecast covers %s to %s: want %s, a time of the lower",
			s.upper.Start().Format(time.RFC3339), s.upper.End().Format(time.RFC3339), s.lower.start.Add(seconds(s.lower.times[i])).Format(time.RFC3339))
	}
	var nodes []node
	for k := range s.lower.first[i] {
		column := s.lower.nodes[i][k*levels : (k+1)*levels]
		nodes = append(nodes, column...)
		p := s.lower.grid.Node(k)
		cell, ok := s.upper.grid.Cell(p)
		if !ok {
			return nil, fmt.Errorf("the upper forecast does not cover latitude %g, longitude %g: want all columns of the lower", p.Lat, p.Lon)
		}
		above, err := s.column(column[levels-1], func(l int) node {
			n := s.upper.isobaric(at, l, cell)
			if frac > 0 {
				n = n.toward(s.upper.isobaric(at+1, l, cell), frac)
			}
			return n
		})
		if err != nil {
			return nil, fmt.Errorf("at latitude %g, longitude %g: %w", p.Lat, p.Lon, err)
		}
		nodes = append(nodes, above...)
	}
	return nodes, nil
}

// column is what goes above a lower column's highest node, from the upper
// forecast's levels at its place and time.
func (s *seam) column(last node, level func(l int) node) ([]node, error) {
	s.height = float64(last.z)
	below, next := level(s.from-1), level(s.from)
	share := (math.Log(s.top) - float64(below.lnp)) / float64(next.lnp-below.lnp)
	here := below.toward(next, share)
	var nodes []node
	z := last.z
	for l := s.from; l < len(s.upper.levels); l++ {
		n := level(l)
		w := float32(max(0, 1-(math.Log(s.top)-float64(n.lnp))/seamDepth))
		n.u += w * (last.u - here.u)
		n.v += w * (last.v - here.v)
		n.t += w * (last.t - here.t)
		n.z += w * (last.z - here.z)
		if n.z <= z {
			return nil, fmt.Errorf("the upper forecast's level of %g hPa lies at %g m, not above the %g m below it: the two do not fit together",
				s.upper.levels[l]/100, n.z, z)
		}
		z = n.z
		nodes = append(nodes, n)
	}
	return nodes, nil
}

// isobaric is a level of a step at a place in a cell.
func (f *Field) isobaric(step, level int, c geo.Cell) node {
	levels := len(f.levels)
	at := func(column int) node { return f.nodes[step][column*levels+level] }
	south := at(c.SW).toward(at(c.SE), c.X)
	return south.toward(at(c.NW).toward(at(c.NE), c.X), c.Y)
}

// toward is the node that is a share of the way to another.
func (n node) toward(o node, share float64) node {
	if share == 0 {
		return n // the other may be missing
	}
	w := float32(share)
	return node{n.z + w*(o.z-n.z), n.u + w*(o.u-n.u), n.v + w*(o.v-n.v), n.t + w*(o.t-n.t), n.lnp + w*(o.lnp-n.lnp)}
}
