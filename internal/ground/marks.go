package ground

import (
	_ "embed" // for the data
	"fmt"
	"math"

	"example.org/thistledown/internal/geo"
)

//go:embed rivers.bin
var riversFile []byte

//go:embed airports.bin
var airportsFile []byte

//go:embed towns.bin
var townsFile []byte

// What the sources of rivers, airports and towns do not know is assumed here.
// The numbers are ours, not measured: a river's real width varies from bend to
// bend, and a town is no circle.
const (
	greatRank        = 3    // rivers up to this rank of the source (Danube, Nile, Volga) are great ones
	lastRank         = 6    // smaller rivers are not built in
	greatRiverHalf   = 300  // m from the centre line to the bank of a great river
	riverHalf        = 100  // m, of the others (Rhine, Elbe, Thames)
	largeAirport     = 3000 // m from its reference point
	mediumAirport    = 1500 // m
	peoplePerKM2     = 4000 // in a town, 1/km²
	circleCorners    = 24
	capCorners       = 4      // of the half circle at the end of a stretch of river
	maxTownRadius    = 60_000 // m, of more people than any town has
	hundred          = 100    // people in a step of the towns file
	airportSizeLarge = 1
)

// The rivers file, in the notation of the water file: 4 · 8 f the steps; u the
// number of lines; each line: u its rank, 0 to 6; u the number of vertices, 2 or
// more; s s each vertex less the one before it, in steps.
//
// The airports and the towns file: 4 · 8 f the steps; u the number of points;
// each point: u its size (airports: 1 large, 0 medium; towns: hundreds of
// people); s s its place less the one before it, in steps.

// reach is an edge of a river's centre line, and how far it is from there to a
// bank.
type reach struct {
	a, b vertex
	half float64 // m
}

// decodeRivers reads a rivers file and keeps the stretches of river that are in
// a window, each edge of a line as a polygon of its own.
func decodeRivers(b []byte, window box) (*shapes, error) {
	r := reader{rest: b}
	x, y := r.axis(), r.axis()
	var near []reach
	var line []vertex
	for range r.count(6) {
		rank, n := r.unsigned(), r.count(2)
		if r.err == nil && (rank > lastRank || n < 2) {
			r.fail(fmt.Errorf("line of rank %d and %d vertices: want rank 0 to %d, 2 or more", rank, n, lastRank))
		}
		if extent := r.vertices(n, x, y); r.err != nil || !extent.seen(window) {
			continue
		}
		line = r.placed(line[:0], closesItself, x, y)
		half := float64(riverHalf)
		if rank <= greatRank {
			half = greatRiverHalf
		}
		for i := 1; i < len(line); i++ {
			a, b := line[i-1], line[i]
			if (box{min(a.x, b.x), min(a.y, b.y), max(a.x, b.x), max(a.y, b.y)}).seen(window) {
				near = append(near, reach{a, b, half})
			}
		}
	}
	s := newShapes(len(near), 2*capCorners)
	for _, e := range near {
		s.stretch(e)
	}
	return s, r.end()
}

// stretch appends what is near enough to an edge as a polygon: two sides, and half
// a circle round each end, drawn with four corners.
func (s *shapes) stretch(e reach) {
	a, b := e.a, e.b
	lat := (float64(a.y) + float64(b.y)) / 2 / steps
	meridian, normal := geo.Radii(lat)
	north := meridian * math.Pi / 180 / steps // m in a step
	east := normal * math.Pi / 180 / steps * math.Cos(lat*math.Pi/180)
	along := math.Atan2(float64(b.y-a.y)*north, float64(b.x-a.x)*east)
	s.begin()
	from := len(s.vertices)
	var off [capCorners]vertex // from b; from a the other way
	for k := range off {
		sin, cos := math.Sincos(along - math.Pi/2 + float64(k)*math.Pi/(capCorners-1))
		off[k] = vertex{int32(math.Round(e.half * cos / east)), int32(math.Round(e.half * sin / north))}
		s.vertices = append(s.vertices, vertex{b.x + off[k].x, b.y + off[k].y})
	}
	for _, o := range off {
		s.vertices = append(s.vertices, vertex{a.x - o.x, a.y - o.y})
	}
	s.close(from)
}

// end is the first fault, or that something follows.
func (r *reader) end() error {
	if r.err == nil && len(r.rest) > 0 {
		r.fail(fmt.Errorf("%d octets after the last: want none", len(r.rest)))
	}
	return r.err
}

// widened is a window with some metres more on each side.
func (b box) widened(metres float64) box {
	const metresPerDegree = 111_000 // at least, of latitude: the least is 110.6 km
	north := metres / metresPerDegree * 1.01
	south := math.Max(math.Abs(float64(b.south)), math.Abs(float64(b.north)))/steps + north
	b.south, b.north = max(b.south-round(north), -quarterTurn), min(b.north+round(north), quarterTurn)
	if south >= 89 {
		b.west, b.east = -halfTurn, halfTurn
		return b
	}
	east := round(min(north/math.Cos(south*math.Pi/180), 90))
	if b.west-east < -turn || b.east+east > turn+halfTurn {
		b.west, b.east = -halfTurn, halfTurn
		return b
	}
	b.west, b.east = b.west-east, b.east+east
	return b
}

// point is a place with a size.
type point struct {
	at   vertex
	size uint32
}

// decodePoints reads a file of points and keeps those within a window.
func decodePoints(b []byte, window box) ([]point, error) {
	r := reader{rest: b}
	x, y := r.axis(), r.axis()
	var near []point
	var i, j int64
	for range r.count(3) {
		size := r.unsigned()
		i += r.signed()
		j += r.signed()
		lon, lat := x.origin+float64(i)*x.step, y.origin+float64(j)*y.step
		if r.err == nil && !(math.Abs(lon) <= 180 && math.Abs(lat) <= 90) {
			r.fail(fmt.Errorf("point at longitude %g, latitude %g: want -180 to 180, -90 to 90", lon, lat))
		}
		if r.err != nil {
			break
		}
		at := vertex{round(lon), round(lat)}
		if (box{at.x, at.y, at.x, at.y}).seen(window) {
			near = append(near, point{at, size})
		}
	}
	return near, r.end()
}

// townRadius is the radius in metres of the circle that some hundreds of people fill
// at the assumed density.
func townRadius(hundreds uint32) float64 {
	return min(1000*math.Sqrt(float64(hundreds)*hundred/peoplePerKM2/math.Pi), maxTownRadius)
}

// airportRadius is the radius in metres of an airport of a size.
func airportRadius(size uint32) float64 {
	if size == airportSizeLarge {
		return largeAirport
	}
	return mediumAirport
}

// circles is points as polygons of the area of circles.
func circles(points []point, radius func(size uint32) float64) *shapes {
	// A regular polygon has the circle's area if its corners are this much farther out.
	const step = 2 * math.Pi / circleCorners
	out := math.Sqrt(step / math.Sin(step))
	s := newShapes(len(points), circleCorners)
	for _, t := range points {
		p := geo.Point{Lat: float64(t.at.y) / steps, Lon: float64(t.at.x) / steps}
		s.begin()
		from := len(s.vertices)
		for k := range circleCorners/2 + 1 {
			c := geo.Direct(p, float64(k)*360/circleCorners, radius(t.size)*out)
			s.vertices = append(s.vertices, vertex{t.at.x + round(geo.WrapLon(c.Lon-p.Lon)), round(c.Lat)})
		}
		for k := circleCorners/2 - 1; k > 0; k-- { // the west is as the east
			v := s.vertices[from+k]
			s.vertices = append(s.vertices, vertex{2*t.at.x - v.x, v.y})
		}
		s.close(from)
	}
	return s
}
