package landing

import (
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"example.org/thistledown/internal/geo"
)

// turn is how many degrees east the short way from a to b goes, -180 to 180.
func turn(a, b orb.Point) float64 { return geo.WrapLon(b[0] - a[0]) }

// split closes the rings of a polygon, its outer ring first, and cuts it along the
// meridian of 180 degrees where it crosses that. Around a pole the cut goes out along
// the meridian and back, with an edge along the pole between. The rings come open,
// with longitudes inside -180 to 180, and the inside at their left.
func split(rings []orb.Ring) orb.MultiPolygon {
	var chains, holes []orb.Ring
	around := 0.0
	for _, ring := range rings {
		pieces := chop(ring)
		if len(pieces) == 0 {
			holes = append(holes, closed(ring))
			continue
		}
		chains = append(chains, pieces...)
		from := ring[len(ring)-1]
		for _, to := range ring {
			around += turn(from, to)
			from = to
		}
	}
	if len(chains) == 0 {
		return orb.MultiPolygon{orb.Polygon(holes)}
	}
	switch {
	case around > 180: // with the inside at the left, east is around the north pole
		chains = append(chains, orb.Ring{{180, 90}, {90, 90}, {0, 90}, {-90, 90}, {-180, 90}})
	case around < -180:
		chains = append(chains, orb.Ring{{-180, -90}, {-90, -90}, {0, -90}, {90, -90}, {180, -90}})
	}
	var out orb.MultiPolygon
	for _, outer := range link(chains) {
		out = append(out, orb.Polygon{closed(outer)})
	}
	for _, hole := range holes {
		for i := range out {
			if planar.RingContains(out[i][0], hole[0]) {
				out[i] = append(out[i], hole)
				break
			}
		}
	}
	return out
}

func closed(ring orb.Ring) orb.Ring { return append(ring, ring[0]) }

// chop cuts a ring where it crosses the date line, into chains that begin and end on
// it, at -180 or 180. It gives none for a ring that does not cross.
func chop(ring orb.Ring) []orb.Ring {
	var chains []orb.Ring
	first := -1
	n := len(ring)
	for k := 0; first < 0 && k < n; k++ {
		if crosses(ring[k], ring[(k+1)%n]) {
			first = k
		}
	}
	if first < 0 {
		return nil
	}
	var lastEnd orb.Point
	for i := range n {
		a, b := ring[(first+i)%n], ring[(first+i+1)%n]
		if crosses(a, b) {
			side := math.Copysign(180, turn(a, b))
			lat := a[1] + (b[1]-a[1])*(side-a[0])/turn(a, b)
			if i == 0 {
				lastEnd = orb.Point{side, lat}
			} else {
				chains[len(chains)-1] = append(chains[len(chains)-1], orb.Point{side, lat})
			}
			chains = append(chains, orb.Ring{{-side, lat}})
		}
		chains[len(chains)-1] = append(chains[len(chains)-1], b)
	}
	chains[len(chains)-1] = append(chains[len(chains)-1], lastEnd)
	return chains
}

func crosses(a, b orb.Point) bool { return math.Abs(b[0]-a[0]) > 180 }

// link joins chains to rings along the date line. With the inside at the left, the
// border goes north along 180 and south along -180 to where the next chain begins.
func link(chains []orb.Ring) []orb.Ring {
	var out []orb.Ring
	used := make([]bool, len(chains))
	for first := range chains {
		var ring orb.Ring
		for c := first; !used[c]; {
			used[c] = true
			ring = append(ring, chains[c]...)
			c = follower(chains, chains[c][len(chains[c])-1])
		}
		if ring != nil {
			out = append(out, ring)
		}
	}
	return out
}

// follower is the chain that begins nearest to the end of another on the same side,
// north of it at 180, south of it at -180.
func follower(chains []orb.Ring, end orb.Point) int {
	best, distance := 0, math.Inf(1)
	for i, c := range chains {
		d := c[0][1] - end[1]
		if end[0] < 0 {
			d = -d
		}
		if c[0][0] == end[0] && d >= 0 && d < distance {
			best, distance = i, d
		}
	}
	return best
}

// area is the area of closed polygons on the ellipsoid in m².
func area(shape orb.MultiPolygon) float64 {
	sum := 0.0
	for _, polygon := range shape {
		for _, ring := range polygon {
			points := make([]geo.Point, len(ring)-1)
			for i := range points {
				points[i] = geo.Point{Lat: ring[i][1], Lon: ring[i][0]}
			}
			sum += geo.RingArea(points)
		}
	}
	return sum
}
