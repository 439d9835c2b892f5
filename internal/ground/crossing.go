package ground

import (
	"errors"
	"math"

	"github.com/paulmach/orb"
)

// Limits of the search for crossings: edges looked at together, for each edge
// and beside that. The rings of maps need some tens for each.
const (
	pairsPerEdge = 200
	morePairs    = 4_000_000
)

// errTangled is said of polygons on which the search gives up.
var errTangled = errors.New("too many of its edges lie across each other to look for crossings: want simpler rings")

// crossing is where two edges of a polygon cross: edge i of a ring runs from its
// i-th position, counted from 0, to the next.
type crossing struct {
	ring, edge [2]int
	at         orb.Point
}

// outlines are the edges of a polygon, numbered through all its rings.
type outlines struct {
	polygon orb.Polygon
	first   []int // number of each ring's first edge, and at the end that of all edges
}

func newOutlines(p orb.Polygon) outlines {
	o := outlines{polygon: p, first: make([]int, 1, len(p)+1)}
	for k, ring := range p {
		o.first = append(o.first, o.first[k]+max(len(ring)-1, 0))
	}
	return o
}

// find is the ring of an edge and its place there.
func (o outlines) find(edge int) (ring, i int) {
	low, high := 0, len(o.first)-1
	for high-low > 1 {
		if mid := (low + high) / 2; o.first[mid] <= edge {
			low = mid
		} else {
			high = mid
		}
	}
	return low, edge - o.first[low]
}

// extent holds an edge.
func (o outlines) extent(edge uint32) box {
	k, i := o.find(int(edge))
	a, b := o.polygon[k][i], o.polygon[k][i+1]
	const grown = 1 // a step, for the rounding
	return box{
		round(min(a.Lon(), b.Lon())) - grown, round(min(a.Lat(), b.Lat())) - grown,
		round(max(a.Lon(), b.Lon())) + grown, round(max(a.Lat(), b.Lat())) + grown,
	}
}

// findCrossing looks for two edges of a polygon, of one ring or of two, that
// cross each other. Rings may touch, at a vertex or along edges: that leaves no
// doubt as to what is inside. A crossing is told only where it is beyond the
// rounding of the coordinates themselves.
func findCrossing(p orb.Polygon) (c crossing, found bool, err error) {
	o := newOutlines(p)
	edges := o.first[len(p)]
	left := pairsPerEdge*edges + morePairs
	t := newTree(edges, o.extent)
	for e := 0; e < edges && !found && left >= 0; e++ {
		q := o.extent(uint32(e))
		t.touch(q, func(other uint32) bool {
			left--
			if other > uint32(e) {
				c, found = o.cross(e, int(other))
			}
			return !found && left >= 0
		})
	}
	if !found && left < 0 {
		return c, false, errTangled
	}
	return c, found, nil
}

// cross reports whether two edges cross, and where.
func (o outlines) cross(e, f int) (crossing, bool) {
	var c crossing
	c.ring[0], c.edge[0] = o.find(e)
	c.ring[1], c.edge[1] = o.find(f)
	r, s := o.polygon[c.ring[0]], o.polygon[c.ring[1]]
	a, b := r[c.edge[0]], r[c.edge[0]+1]
	u, v := s[c.edge[1]], s[c.edge[1]+1]
	if max(a[0], b[0]) < min(u[0], v[0]) || max(u[0], v[0]) < min(a[0], b[0]) ||
		max(a[1], b[1]) < min(u[1], v[1]) || max(u[1], v[1]) < min(a[1], b[1]) {
		return c, false
	}
	su, sv := side(a, b, u), side(a, b, v)
	sa, sb := side(u, v, a), side(u, v, b)
	switch {
	case su*sv < 0 && sa*sb < 0:
		c.at = meeting(a, b, u, v)
		return c, true
	case sv == 0 && su != 0 && sa*sb < 0 && su*side(a, b, after(s, c.edge[1]+1)) < 0:
		c.at = v // through a vertex of the second one
		return c, true
	case sb == 0 && sa != 0 && su*sv < 0 && sa*side(u, v, after(r, c.edge[0]+1)) < 0:
		c.at = b // through a vertex of the first one
		return c, true
	}
	return c, false
}

// after is the first position of a closed ring behind position i that is
// another one.
func after(ring orb.Ring, i int) orb.Point {
	n := len(ring) - 1
	for k := 1; k < n; k++ {
		if next := ring[(i+k)%n]; next != ring[i] {
			return next
		}
	}
	return ring[i]
}

// side is 1 if c lies left of the way from a to b, -1 if right of it, and 0 if
// on it or so close that the rounding of doubles leaves it open. The bound,
// (3 + 16 ε) ε with ε = 2^-53, is that of Shewchuk1997 for this test (from memory).
func side(a, b, c orb.Point) int {
	const bound = (3 + 16*epsilon) * epsilon
	l, r := (a[0]-c[0])*(b[1]-c[1]), (a[1]-c[1])*(b[0]-c[0])
	switch d := l - r; {
	case d > bound*(math.Abs(l)+math.Abs(r)):
		return 1
	case d < -bound*(math.Abs(l)+math.Abs(r)):
		return -1
	}
	return 0
}

// epsilon is the rounding of doubles, half a unit in the last place of 1.
const epsilon = 1.0 / (1 << 53)

// meeting is where the lines through a and b and through u and v meet.
func meeting(a, b, u, v orb.Point) orb.Point {
	dx, dy := b[0]-a[0], b[1]-a[1]
	ex, ey := v[0]-u[0], v[1]-u[1]
	t := ((u[0]-a[0])*ey - (u[1]-a[1])*ex) / (dx*ey - dy*ex)
	return orb.Point{a[0] + t*dx, a[1] + t*dy}
}
