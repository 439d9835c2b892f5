package ground

import (
	"math"
	"sort"

	"example.org/thistledown/internal/geo"
)

// near answers how far it is from a point to the nearest edge of some rings,
// lines and lone points.
//
// Distances are measured in the plane of metres east and north at the middle
// latitude between the point and the place on the edge that is nearest to it:
// up to 20 km and 80 degrees of latitude within 0.01 % of the geodesic, beside
// the 5.3 cm to which edges are rounded. Nearer a pole it gets worse.
type near struct {
	shapes *shapes
	edges  []uint32 // edge i runs from vertex i to vertex i + 1
	tree   *tree    // over the places in edges
}

// newNear makes the index of the rings of s, which it keeps; s must not change
// after that. A ring here need not be closed; a lone point is its vertex twice.
func newNear(s *shapes) *near {
	n := &near{shapes: s, edges: make([]uint32, 0, len(s.vertices))}
	for _, r := range s.rings {
		for i := r.from; i < r.to-1; i++ {
			n.edges = append(n.edges, uint32(i))
		}
	}
	n.tree = newSortedTree(len(n.edges), func(k uint32) box {
		a, b := s.vertices[n.edges[k]], s.vertices[n.edges[k]+1]
		return box{min(a.x, b.x), min(a.y, b.y), max(a.x, b.x), max(a.y, b.y)}
	})
	return n
}

// nearest is the place on an edge that is nearest to a point.
type nearest struct {
	metres      float64
	east, north float64 // degrees from the point to the place
	edge        uint32
}

// few is how many edges closest looks at without a thought; unlimited is any
// number of them.
const (
	few       = 128
	unlimited = math.MaxInt
)

// closest finds the nearest place that is not farther than a reach in metres, 20
// km at most, from p, -180 <= longitude <= 180; false if there is none. Where
// many edges are in reach it looks close by first.
func (n *near) closest(p geo.Point, reach float64) (nearest, bool) {
	r := reach
	for r > 1 {
		at, ok, all := n.within(p, r, few)
		if all && (ok || r == reach) {
			return at, ok
		}
		if all {
			break
		}
		r /= 2
	}
	for ; ; r *= 2 {
		if at, ok, _ := n.within(p, min(r, reach), unlimited); ok || r >= reach {
			return at, ok
		}
	}
}

// within is closest, looking at all edges in reach or, if there are more than so
// many, giving up: all is false then.
func (n *near) within(p geo.Point, reach float64, most int) (best nearest, found, all bool) {
	best.metres = reach
	window := around(p, reach)
	for turns := int64(-1); turns <= 1; turns++ {
		q, ok := window.moved(turns * turn)
		if !ok {
			continue
		}
		lon := p.Lon + float64(turns)*360
		n.tree.touch(q, func(k uint32) bool {
			edge := n.edges[k]
			a, b := n.shapes.vertices[edge], n.shapes.vertices[edge+1]
			if min(a.x, b.x) > q.east || max(a.x, b.x) < q.west || min(a.y, b.y) > q.north || max(a.y, b.y) < q.south {
				return true
			}
			most--
			at := toEdge(p.Lat, a.from(lon, p.Lat), b.from(lon, p.Lat))
			if at.metres <= best.metres {
				at.edge = edge
				best, found = at, true
			}
			return most >= 0
		})
	}
	return best, found, most >= 0
}

// ring is the number of the ring, in the order in which they were added, that
// has an edge.
func (n *near) ring(edge uint32) int {
	rings := n.shapes.rings
	return sort.Search(len(rings), func(i int) bool { return rings[i].to > int(edge) })
}

// from is v in degrees east and north of a place.
func (v vertex) from(lon, lat float64) [2]float64 {
	return [2]float64{float64(v.x)/steps - lon, float64(v.y)/steps - lat}
}

// toEdge finds the place between a and b, degrees east and north of a point at a
// latitude, that is nearest to it. What is nearest depends on the scales of the
// plane, and those on where it is: the second look is at the scales that the
// first one gave. An error in the place counts for the distance by its square.
func toEdge(lat float64, a, b [2]float64) nearest {
	x, y := scales(lat)
	at := nearest{}
	for range 2 {
		ax, ay, dx, dy := a[0]*x, a[1]*y, (b[0]-a[0])*x, (b[1]-a[1])*y
		t := 0.0
		if d := dx*dx + dy*dy; d > 0 {
			t = min(max(-(ax*dx+ay*dy)/d, 0), 1)
		}
		at.east, at.north = a[0]+t*(b[0]-a[0]), a[1]+t*(b[1]-a[1])
		x, y = scales(lat + at.north/2)
	}
	at.metres = math.Hypot(at.east*x, at.north*y)
	return at
}

// scales are the metres in a degree east and north at a latitude.
func scales(lat float64) (x, y float64) {
	meridian, normal := geo.Radii(lat)
	return normal * math.Cos(lat*math.Pi/180) * math.Pi / 180, meridian * math.Pi / 180
}

// wide is an extent in steps that may reach beyond what a box can hold.
type wide struct{ west, south, east, north int64 }

// around is an extent that holds all within a reach in metres of p, and a little
// more: a thousandth for the change of the scales, two steps for rounding. Where
// it comes near a pole it goes the whole way round.
func around(p geo.Point, reach float64) wide {
	_, y := scales(p.Lat)
	north := 1.001*reach/y + 2.0/steps
	east := 180.0
	if edge := math.Abs(p.Lat) + north; edge < 89.9 {
		x, _ := scales(edge)
		east = min(east, 1.001*reach/x+2.0/steps)
	}
	to := func(degrees float64) int64 { return int64(math.Round(degrees * steps)) }
	return wide{to(p.Lon - east), to(p.Lat - north), to(p.Lon + east), to(p.Lat + north)}
}

// moved is w moved east, as far as a box can hold it; false if none of it is
// left.
func (w wide) moved(east int64) (box, bool) {
	hold := func(v int64) int32 { return int32(min(max(v, math.MinInt32), math.MaxInt32)) }
	if w.west+east > math.MaxInt32 || w.east+east < math.MinInt32 {
		return box{}, false
	}
	return box{hold(w.west + east), hold(w.south), hold(w.east + east), hold(w.north)}, true
}
