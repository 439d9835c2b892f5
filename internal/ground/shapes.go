package ground

import (
	"math"

	"github.com/paulmach/orb"

	"example.org/thistledown/internal/geo"
)

// Inside this package a coordinate is a whole number of steps of 2^-21 degree,
// 5.3 cm on a meridian. Polygons and points are rounded to it once, on the way
// in; from there all answers are exact, in integers.
const (
	steps       = 1 << 21     // in a degree
	halfTurn    = 180 * steps // in half a turn of longitude
	turn        = 360 * steps // in a whole turn
	quarterTurn = 90 * steps  // from the equator to a pole
)

// vertex is a position in steps, x eastward and y northward.
type vertex struct{ x, y int32 }

// round is a coordinate in degrees as steps.
func round(degrees float64) int32 { return int32(math.RoundToEven(degrees * steps)) }

// place is p in steps, -180 <= longitude < 180. The north pole itself is taken
// one step south of it, so that what reaches up to the pole holds it. False
// where p is no position on the Earth.
func place(p geo.Point) (vertex, bool) {
	lon := geo.WrapLon(p.Lon)
	if !(p.Lat >= -90 && p.Lat <= 90 && lon == lon) {
		return vertex{}, false
	}
	v := vertex{x: round(lon), y: min(round(p.Lat), quarterTurn-1)}
	if v.x == halfTurn {
		v.x = -halfTurn
	}
	return v, true
}

// span is a half-open range of indices.
type span struct{ from, to int }

// shapes is a list of polygons, each a list of rings (the outline, then holes
// in it, though for the even-odd rule they are alike). Longitudes of one
// polygon run on across the date line: they lie in -540..540 degrees.
type shapes struct {
	vertices []vertex // of all rings one after another, each ending with its first vertex again
	rings    []span   // of vertices
	polygons []span   // of rings
}

// newShapes has room for n polygons of one ring with some corners each.
func newShapes(n, corners int) *shapes {
	return &shapes{make([]vertex, 0, n*(corners+1)), make([]span, 0, n), make([]span, 0, n)}
}

// begin starts a new polygon.
func (s *shapes) begin() {
	s.polygons = append(s.polygons, span{len(s.rings), len(s.rings)})
}

// close makes the vertices that were appended since from a ring of the polygon
// that was begun last, and repeats the first of them at the end.
func (s *shapes) close(from int) {
	s.vertices = append(s.vertices, s.vertices[from])
	s.rings = append(s.rings, span{from, len(s.vertices)})
	s.polygons[len(s.polygons)-1].to++
}

// dropEmpty leaves out the polygon that was begun last if it has no ring.
func (s *shapes) dropEmpty() {
	if last := len(s.polygons) - 1; s.polygons[last].from == s.polygons[last].to {
		s.polygons = s.polygons[:last]
	}
}

// add appends a polygon in degrees whose rings are closed and checked. Vertices
// that are the same as the one before them, in steps, are left out.
func (s *shapes) add(p orb.Polygon) {
	s.begin()
	for _, ring := range p {
		from := len(s.vertices)
		s.append(ring[:len(ring)-1])
		for n := len(s.vertices); n-from > 1 && s.vertices[n-1] == s.vertices[from]; n-- {
			s.vertices = s.vertices[:n-1]
		}
		s.close(from)
	}
}

// line appends a line in degrees, or a lone point, as a ring that is not closed
// to the polygon that was begun last. A lone point is its vertex twice.
func (s *shapes) line(line orb.LineString) {
	from := len(s.vertices)
	s.append(line)
	if len(s.vertices) == from+1 {
		s.vertices = append(s.vertices, s.vertices[from])
	}
	s.rings = append(s.rings, span{from, len(s.vertices)})
	s.polygons[len(s.polygons)-1].to++
}

// append appends positions in degrees but for those that are, in steps, the same
// as the one before them.
func (s *shapes) append(positions []orb.Point) {
	from := len(s.vertices)
	for _, at := range positions {
		v := vertex{round(at.Lon()), round(at.Lat())}
		if n := len(s.vertices); n == from || s.vertices[n-1] != v {
			s.vertices = append(s.vertices, v)
		}
	}
}

// box is the extent of a polygon or of a piece of the Earth in steps, edges
// included.
type box struct{ west, south, east, north int32 }

// measure gives the extent of polygon k, and how far its edges go eastward,
// westward, northward and southward in all.
func (s *shapes) measure(k int) (extent box, length int) {
	b := box{math.MaxInt32, math.MaxInt32, math.MinInt32, math.MinInt32}
	for _, r := range s.rings[s.polygons[k].from:s.polygons[k].to] {
		last := s.vertices[r.from]
		for _, v := range s.vertices[r.from:r.to] {
			b.west, b.east = min(b.west, v.x), max(b.east, v.x)
			b.south, b.north = min(b.south, v.y), max(b.north, v.y)
			length += abs(int(v.x)-int(last.x)) + abs(int(v.y)-int(last.y))
			last = v
		}
	}
	return b, length
}

func abs(v int) int { return max(v, -v) }
