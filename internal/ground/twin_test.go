package ground

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// twin is what index does, the obvious way: all edges of all polygons whose
// extent holds the point, counting those east of it. (The index counts the edges
// between the point and a corner to the south-west.)
type twin struct {
	s       *shapes
	extents []box
}

func newTwin(s *shapes) twin {
	w := twin{s: s}
	for k := range s.polygons {
		e, _ := s.measure(k)
		w.extents = append(w.extents, e)
	}
	return w
}

func (w twin) contains(p vertex) bool {
	for k, e := range w.extents {
		for turns := int64(-2); turns <= 2; turns++ {
			x, y := int64(p.x)+turns*turn, int64(p.y)
			if x < int64(e.west) || x > int64(e.east) || y < int64(e.south) || y > int64(e.north) {
				continue
			}
			if w.eastward(k, x, y)%2 == 1 {
				return true
			}
		}
	}
	return false
}

// eastward counts the edges of polygon k that lie east of a point.
func (w twin) eastward(k int, x, y int64) int {
	n := 0
	for _, r := range w.s.rings[w.s.polygons[k].from:w.s.polygons[k].to] {
		for i := r.from; i+1 < r.to; i++ {
			a, b := w.s.vertices[i], w.s.vertices[i+1]
			ax, ay, bx, by := int64(a.x), int64(a.y), int64(b.x), int64(b.y)
			if ay > by {
				ax, ay, bx, by = bx, by, ax, ay
			}
			if ay <= y && y < by && (x-ax)*(by-ay) < (bx-ax)*(y-ay) {
				n++
			}
		}
	}
	return n
}

// degrees is polygon k in degrees.
func degrees(s *shapes, k int) orb.Polygon {
	var p orb.Polygon
	for _, r := range s.rings[s.polygons[k].from:s.polygons[k].to] {
		var ring orb.Ring
		for _, v := range s.vertices[r.from:r.to] {
			ring = append(ring, orb.Point{float64(v.x) / steps, float64(v.y) / steps})
		}
		p = append(p, ring)
	}
	return p
}

// anywhere is a point on the Earth, evenly by area.
func anywhere(r *rand.Rand) geo.Point {
	return geo.Point{Lat: math.Asin(2*r.Float64()-1) * 180 / math.Pi, Lon: 360*r.Float64() - 180}
}

func mustPlace(t testing.TB, p geo.Point) vertex {
	t.Helper()
	v, ok := place(p)
	require.True(t, ok, "place(%v)", p)
	return v
}

// nearEdge is five points on or close to an edge: a vertex, one a few steps from
// it, one level with it and one due north or south of it, one near the edge's
// middle.
func nearEdge(r *rand.Rand, s *shapes) []vertex {
	ring := s.rings[r.IntN(len(s.rings))]
	i := ring.from + r.IntN(ring.to-ring.from-1)
	a, b := s.vertices[i], s.vertices[i+1]
	off := func(n int32) int32 { return r.Int32N(2*n+1) - n }
	wrap := func(x, y int32) vertex {
		x = (x%turn+turn+halfTurn)%turn - halfTurn
		return vertex{x, min(max(y, -quarterTurn), quarterTurn-1)}
	}
	return []vertex{
		wrap(a.x, a.y),
		wrap(a.x+off(3), a.y+off(3)),
		wrap(a.x+off(steps), a.y),
		wrap(a.x, a.y+off(steps)),
		wrap((a.x+b.x)/2+off(2), (a.y+b.y)/2+off(2)),
	}
}
