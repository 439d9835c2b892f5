package ground

import (
	_ "embed" // for the data
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/thistledown/internal/geo"
)

//go:embed water.bin
var waterFile []byte

// What the layer of coast and lakes is called, and whose data they are.
const (
	waterName   = "coast and lakes"
	waterCredit = "Natural Earth, land 1:10m and lakes 1:50m, public domain"
)

// BuiltInWater is the sea and the larger lakes of the whole Earth, from Natural
// Earth (public domain): its land at 1:10m, outside of which everything is sea,
// and its lakes at 1:50m. It is assessed everywhere, but is only as fine as its
// source, which draws coasts to some hundreds of metres and lakes to a kilometre
// or so. Rounding within the source moves a vertex of the coast by up to 200 m
// east or west and 95 m north or south, of a lake by up to 0.75 by 0.55 km in
// Africa, the Americas and Europe west of 60 degrees east, by 0.95 km in Asia, and
// by 2 by 1 km in Siberia, Australia and New Zealand.
//
// So inland a probability of water taken from it is too low: smaller lakes,
// rivers, canals, many reservoirs and also some larger lakes are not in it
// (Saimaa, Manitoba, Nasser); Tanganyika and Balkhash are there at 1:110m only,
// to some 10 km. Ice is not land: the ice shelves of Antarctica are sea.
//
// Making it takes some tens of milliseconds, so make it once.
func BuiltInWater() (*Layer, error) {
	land, lakes, err := decodeWater(waterFile)
	if err != nil {
		return nil, fmt.Errorf("built-in water: %w", err)
	}
	return &Layer{
		source: LayerSource{
			Name:   waterName,
			Class:  Water,
			Credit: waterCredit,
			Covers: []geo.Box{{South: -90, West: -180, North: 90, East: 180}},
		},
		areas:   newIndex(lakes),
		without: newIndex(land),
	}, nil
}

// The water file. u is an unsigned number in base 128, low
// digits first, seven bits to an octet, bit 7 set in all but the last; s is a
// signed one, 2n for n >= 0 and -2n-1 for n < 0, written as u; f is an IEEE 754
// double, low octet first.
//
//	octets  field
//	u       number of groups
//	each group:
//	u       kind: 1 land, 2 lakes
//	8 f     degrees of longitude in a step
//	8 f     longitude of x = 0
//	8 f     degrees of latitude in a step
//	8 f     latitude of y = 0
//	u       number of polygons
//	each polygon:
//	u       number of rings: the outline, then holes
//	each ring:
//	u       how it closes: 0 last vertex to first; 1 it runs once round the
//	        Earth, and closes over the south pole; 2 over the north pole
//	u       number of vertices
//	s s     x and y of the first vertex, then of each vertex less those of the
//	        one before it, in steps
//
// Nothing follows the last group. Longitudes run on across the date line.
const (
	groupLand  = 1
	groupLakes = 2

	closesItself = 0
	closesSouth  = 1
	closesNorth  = 2
)

// decodeWater reads a water file. All counts are bounded by the
// octets that remain.
func decodeWater(b []byte) (land, lakes *shapes, err error) {
	r := reader{rest: b}
	land, lakes = &shapes{}, &shapes{}
	for range r.count(1) {
		at := len(b) - len(r.rest)
		switch kind := r.unsigned(); kind {
		case groupLand:
			r.group(land)
		case groupLakes:
			r.group(lakes)
		default:
			r.fail(fmt.Errorf("octet %d: group of kind %d: want 1 or 2", at, kind))
		}
	}
	if r.err == nil && len(r.rest) > 0 {
		r.fail(fmt.Errorf("%d octets after the last group: want none", len(r.rest)))
	}
	if r.err == nil && len(land.polygons) == 0 {
		r.fail(errors.New("no land: want some"))
	}
	return land, lakes, r.err
}

// reader takes values off the front of rest until the first fault, after which
// it gives zeros.
type reader struct {
	rest []byte
	err  error
}

func (r *reader) fail(err error) {
	if r.err == nil {
		r.err, r.rest = err, nil
	}
}

// unsigned reads a number below 2^32.
func (r *reader) unsigned() uint32 {
	if len(r.rest) > 0 && r.rest[0] < 0x80 {
		v := r.rest[0]
		r.rest = r.rest[1:]
		return uint32(v)
	}
	v, n := binary.Uvarint(r.rest)
	if n <= 0 || v > math.MaxUint32 {
		r.fail(errors.New("a number is cut off or above 2^32: want the whole file"))
		return 0
	}
	r.rest = r.rest[n:]
	return uint32(v)
}

// signed reads a signed number of at most 32 bits.
func (r *reader) signed() int64 {
	v := r.unsigned()
	if v&1 != 0 {
		return -int64(v>>1) - 1
	}
	return int64(v >> 1)
}

// count reads how many things of at least some octets each follow.
func (r *reader) count(octets int) int {
	n := r.unsigned()
	if uint64(n)*uint64(octets) > uint64(len(r.rest)) {
		r.fail(fmt.Errorf("a count of %d: want no more than the %d octets that follow hold", n, len(r.rest)))
		return 0
	}
	return int(n)
}

func (r *reader) float64() float64 {
	if len(r.rest) < 8 {
		r.fail(errors.New("a number is cut off: want the whole file"))
		return 0
	}
	v := math.Float64frombits(binary.LittleEndian.Uint64(r.rest))
	r.rest = r.rest[8:]
	return v
}

// axis turns whole steps of a group into degrees.
type axis struct{ step, origin float64 }

func (r *reader) axis() axis {
	a := axis{step: r.float64(), origin: r.float64()}
	if !(a.step > 0 && a.step <= 1 && math.Abs(a.origin) <= 180) {
		r.fail(fmt.Errorf("step %g from %g: want a step up to 1 degree, from -180 to 180", a.step, a.origin))
	}
	return a
}

// group reads the polygons of a group, its kind already read.
func (r *reader) group(s *shapes) {
	x, y := r.axis(), r.axis()
	s.vertices = slices.Grow(s.vertices, len(r.rest)/2) // two octets or more for each
	r.polygons(s, x, y)
}

// polygons reads polygons on a grid, their number first.
func (r *reader) polygons(s *shapes, x, y axis) {
	for range r.count(1) {
		r.polygon(s, x, y)
		if r.err != nil {
			return
		}
	}
}

// polygon reads one polygon.
func (r *reader) polygon(s *shapes, x, y axis) {
	s.begin()
	for range r.count(2) {
		r.ring(s, x, y)
	}
	k := len(s.polygons) - 1
	if p := s.polygons[k]; r.err == nil && p.from == p.to {
		r.fail(fmt.Errorf("polygon %d without a ring: want one or more", k+1))
	}
	if e, _ := s.measure(k); r.err == nil && int64(e.east)-int64(e.west) > turn {
		r.fail(fmt.Errorf("polygon %d over %d steps of longitude: want at most %d", k+1, int64(e.east)-int64(e.west), turn))
	}
}

// ring reads one ring.
func (r *reader) ring(s *shapes, x, y axis) {
	closes := r.unsigned()
	n := r.count(2)
	if r.err == nil && (n < 3 || closes > closesNorth) {
		r.fail(fmt.Errorf("ring of %d vertices that closes in way %d: want 3 or more, way 0 to 2", n, closes))
	}
	if r.err != nil {
		return
	}
	from := len(s.vertices)
	s.vertices = r.vertices(s.vertices, n, x, y)
	if r.err != nil {
		return
	}
	if closes != closesItself {
		pole := int32(quarterTurn)
		if closes == closesSouth {
			pole = -quarterTurn
		}
		first, last := s.vertices[from], s.vertices[len(s.vertices)-1]
		s.vertices = append(s.vertices, vertex{last.x, pole}, vertex{first.x, pole})
	}
	s.close(from)
}

// vertices reads n vertices on a grid and appends them to s.
func (r *reader) vertices(s []vertex, n int, x, y axis) []vertex {
	var i, j int64
	for range n {
		i += r.signed()
		j += r.signed()
		lon, lat := x.origin+float64(i)*x.step, y.origin+float64(j)*y.step
		if !(math.Abs(lon) <= 540 && math.Abs(lat) <= 90) {
			r.fail(fmt.Errorf("vertex at longitude %g, latitude %g: want -540 to 540, -90 to 90", lon, lat))
			return s
		}
		s = append(s, vertex{round(lon), round(lat)})
	}
	return s
}
