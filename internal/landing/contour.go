package landing

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"example.org/thistledown/internal/geo"
)

// xy is a place of the plane or, as the text says, of the map of a density.
type xy struct{ x, y float64 }

// Edges of a cell, and the segments that a contour makes in it with the inside at
// its left, by which corners are inside: 1 south-west, 2 south-east, 4 north-east,
// 8 north-west. Where two opposite corners are inside (5 and 10) the middle of the
// cell decides; these are the segments for a middle outside.
const (
	south = iota
	east
	north
	west
)

var segments = [16][][2]int{
	1: {{south, west}}, 2: {{east, south}}, 4: {{north, east}}, 8: {{west, north}},
	3: {{east, west}}, 6: {{north, south}}, 12: {{west, east}}, 9: {{south, north}},
	7: {{north, west}}, 11: {{east, north}}, 13: {{south, east}}, 14: {{west, south}},
	5:  {{south, west}, {north, east}},
	10: {{east, south}, {west, north}},
}

// joined is the segments where the middle of a cell joins two opposite corners.
var joined = map[int][][2]int{
	5:  {{south, east}, {north, west}},
	10: {{west, south}, {east, north}},
}

// contours is the rings around the places of a grid where the density is at least
// the level, inside at the left. They are simple and do not meet.
func (g *grid) contours(level float64) [][]xy {
	next := map[int]int{} // crossed lattice edge to the one after it
	var order []int
	for j := range g.ny - 1 {
		low, high := g.value[j*g.nx:(j+1)*g.nx], g.value[(j+1)*g.nx:(j+2)*g.nx]
		for i := range g.nx - 1 {
			corners := 0
			if low[i] >= level {
				corners |= 1
			}
			if low[i+1] >= level {
				corners |= 2
			}
			if high[i+1] >= level {
				corners |= 4
			}
			if high[i] >= level {
				corners |= 8
			}
			pairs := segments[corners]
			if len(pairs) == 2 && low[i]+low[i+1]+high[i]+high[i+1] >= 4*level {
				pairs = joined[corners]
			}
			for _, p := range pairs {
				from := g.edge(i, j, p[0])
				next[from] = g.edge(i, j, p[1])
				order = append(order, from)
			}
		}
	}
	var rings [][]xy
	for _, start := range order {
		var ring []xy
		for e := start; ; {
			to, ok := next[e]
			if !ok {
				break
			}
			delete(next, e)
			ring = append(ring, g.crossing(e, level))
			e = to
		}
		if len(ring) > 0 {
			rings = append(rings, ring)
		}
	}
	return rings
}

// edge numbers the edges of the lattice: 2k for that east of node k, 2k+1 north of it.
func (g *grid) edge(i, j, side int) int {
	switch side {
	case south:
		return 2 * (j*g.nx + i)
	case north:
		return 2 * ((j+1)*g.nx + i)
	case west:
		return 2*(j*g.nx+i) + 1
	default:
		return 2*(j*g.nx+i+1) + 1
	}
}

// crossing is where the density, linear along an edge, has the level; never quite at
// a node, so that no two edges share it.
func (g *grid) crossing(edge int, level float64) xy {
	const clear = 1e-6
	k := edge / 2
	p := xy{g.x + float64(k%g.nx)*g.step, g.y + float64(k/g.nx)*g.step}
	other := k + 1
	if edge%2 == 1 {
		other = k + g.nx
	}
	f := (level - g.value[k]) / (g.value[other] - g.value[k])
	f = max(clear, min(1-clear, f)) * g.step
	if edge%2 == 1 {
		p.y += f
	} else {
		p.x += f
	}
	return p
}

// twiceArea is positive for a counterclockwise ring.
func twiceArea(ring []xy) float64 {
	sum := 0.0
	a := ring[len(ring)-1]
	for _, b := range ring {
		sum += (a.x-ring[0].x)*(b.y-ring[0].y) - (b.x-ring[0].x)*(a.y-ring[0].y)
		a = b
	}
	return sum
}

// surrounds tells whether a place lies inside a ring.
func surrounds(ring []xy, p xy) bool {
	in := false
	a := ring[len(ring)-1]
	for _, b := range ring {
		if (a.y > p.y) != (b.y > p.y) && p.x < a.x+(b.x-a.x)*(p.y-a.y)/(b.y-a.y) {
			in = !in
		}
		a = b
	}
	return in
}

// polygons gives each hole (a clockwise ring) to the smallest ring around it. The
// outer ring of a polygon comes first.
func polygons(rings [][]xy) [][][]xy {
	type sized struct {
		ring []xy
		area float64
	}
	var outers, holes []sized
	for _, r := range rings {
		if a := twiceArea(r); a > 0 {
			outers = append(outers, sized{r, a})
		} else {
			holes = append(holes, sized{r, a})
		}
	}
	slices.SortStableFunc(outers, func(a, b sized) int {
		switch {
		case a.area > b.area:
			return -1
		case a.area < b.area:
			return 1
		}
		return 0
	})
	out := make([][][]xy, len(outers))
	for i, o := range outers {
		out[i] = [][]xy{o.ring}
	}
	for _, h := range holes {
		for i := len(outers) - 1; i >= 0; i-- {
			if surrounds(outers[i].ring, h.ring[0]) {
				out[i] = append(out[i], h.ring)
				break
			}
		}
	}
	return out
}

// region is the places where the density is at least the level.
func (d density) region(level float64) orb.MultiPolygon {
	out := orb.MultiPolygon{}
	for i := range d.grids {
		g := &d.grids[i]
		for _, p := range polygons(g.contours(level)) {
			out = append(out, d.onGlobe(p, g.step)...)
		}
	}
	return out
}

const (
	// straight is how far in steps of a grid an edge that is straight in longitude and
	// latitude may pass from the middle of the one it stands for. Near a pole, over
	// hundreds of km, and along a needle of a region, it takes places between.
	straight = 0.02

	maxHalvings = 10 // of an edge
)

// onGlobe writes a polygon of the density's coordinates in longitude and latitude.
func (d density) onGlobe(polygon [][]xy, step float64) orb.MultiPolygon {
	rings := make([]orb.Ring, len(polygon))
	for i, ring := range polygon {
		a := ring[len(ring)-1]
		from := d.position(a)
		for _, b := range ring {
			to := d.position(b)
			rings[i] = d.line(rings[i], [2]xy{a, b}, [2]orb.Point{from, to}, straight*step, maxHalvings)
			a, from = b, to
		}
	}
	return split(rings)
}

// position is the longitude and latitude of a place, never on the date line.
func (d density) position(p xy) orb.Point {
	at := d.plane.point(d.m.undo(p.x, p.y))
	if at.Lon == -180 {
		at.Lon = math.Nextafter(-180, 0)
	}
	return orb.Point{at.Lon, at.Lat}
}

// line appends the end of an edge to a ring, after as many places between as keep it
// within a distance of the straight line.
func (d density) line(ring orb.Ring, places [2]xy, ends [2]orb.Point, within float64, halvings int) orb.Ring {
	from, to := ends[0], ends[1]
	middle := xy{(places[0].x + places[1].x) / 2, (places[0].y + places[1].y) / 2}
	drawn := geo.Point{Lat: (from[1] + to[1]) / 2, Lon: from[0] + turn(from, to)/2}
	u, v := d.m.apply(d.plane.xy(d.plane.vector(drawn)))
	if halvings == 0 || math.Hypot(u-middle.x, v-middle.y) <= within {
		return append(ring, to)
	}
	at := d.position(middle)
	ring = d.line(ring, [2]xy{places[0], middle}, [2]orb.Point{from, at}, within, halvings-1)
	return d.line(ring, [2]xy{middle, places[1]}, [2]orb.Point{at, to}, within, halvings-1)
}
