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
		shapes:  lakes, polygons: len(lakes.polygons), land: land,
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

// decodeWater reads a water file.
func decodeWater(b []byte) (land, lakes *shapes, err error) {
	r := reader{rest: b}
	land, lakes = &shapes{}, &shapes{}
	into := [...]*shapes{groupLand: land, groupLakes: lakes}
	r.groups(func(kind uint32, polygons int, x, y axis) {
		s := into[kind]
		s.vertices = slices.Grow(s.vertices, len(r.rest)/2) // two octets or more for each
		for range polygons {
			r.polygon(s, x, y)
		}
	})
	return land, lakes, r.err
}

// decodeWaterIn reads a water file and gives what of the water is in a window as
// polygons: the sea, which is the window with the land as holes in it, and the
// lakes.
func decodeWaterIn(b []byte, window box) (*shapes, error) {
	r := reader{rest: b}
	c := clipper{window: window}
	sea, lakes := &shapes{}, &shapes{}
	sea.begin()
	sea.vertices = append(sea.vertices,
		vertex{window.west, window.south}, vertex{window.east, window.south},
		vertex{window.east, window.north}, vertex{window.west, window.north})
	sea.close(0)
	r.groups(func(kind uint32, polygons int, x, y axis) {
		for range polygons {
			if kind == groupLand {
				r.polygonIn(&c, sea, x, y)
				continue
			}
			lakes.begin()
			r.polygonIn(&c, lakes, x, y)
			lakes.dropEmpty()
		}
	})
	sea.join(lakes)
	return sea, r.err
}

// groups reads a water file, its polygons by a function that is given the kind of
// a group and how many they are. All counts are bounded by the octets that remain.
func (r *reader) groups(read func(kind uint32, polygons int, x, y axis)) {
	all, land := len(r.rest), 0
	for range r.count(1) {
		at := all - len(r.rest)
		kind := r.unsigned()
		if kind != groupLand && kind != groupLakes {
			r.fail(fmt.Errorf("octet %d: group of kind %d: want 1 or 2", at, kind))
		}
		x, y, n := r.axis(), r.axis(), r.count(1)
		if r.err != nil {
			return
		}
		read(kind, n, x, y)
		if kind == groupLand {
			land += n
		}
	}
	if r.err == nil && len(r.rest) > 0 {
		r.fail(fmt.Errorf("%d octets after the last group: want none", len(r.rest)))
	}
	if land == 0 {
		r.fail(errors.New("no land: want some"))
	}
}

// reader takes values off the front of rest until the first fault, after which
// it gives zeros.
type reader struct {
	rest []byte
	err  error
	line []vertex // the last one that was read
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

// minStep is the smallest step in degrees, so that 720 degrees are less than 2^31
// of them.
const minStep = 1e-6

func (r *reader) axis() axis {
	a := axis{step: r.float64(), origin: r.float64()}
	if !(a.step >= minStep && a.step <= 1 && math.Abs(a.origin) <= 180) {
		r.fail(fmt.Errorf("step %g from %g: want a step of %g to 1 degree, from -180 to 180", a.step, a.origin, minStep))
	}
	return a
}

// at is a number of steps of a group as steps of this package, held within the
// longitudes that polygons may have.
func (a axis) at(n int64) int32 {
	return round(min(max(a.origin+float64(n)*a.step, -540), 540))
}

// polygon reads one polygon and appends it.
func (r *reader) polygon(s *shapes, x, y axis) {
	s.begin()
	r.rings(x, y, func(closes uint32, _ box) {
		from := len(s.vertices)
		s.vertices = r.placed(s.vertices, closes, x, y)
		s.close(from)
	})
}

// polygonIn reads one polygon and appends what of it is in the clipper's window,
// its copies whole turns east and west included, to the polygon of into that was
// begun last.
func (r *reader) polygonIn(c *clipper, into *shapes, x, y axis) {
	r.rings(x, y, func(closes uint32, extent box) {
		if !extent.seen(c.window) {
			return
		}
		c.whole = r.placed(c.whole[:0], closes, x, y)
		for turns, most := extent.turnsInto(c.window); turns <= most; turns++ {
			c.ring(into, c.whole, turns*turn)
		}
	})
}

// rings reads the rings of one polygon into r.line, one after the other, and
// hands on for each how it closes and its extent.
func (r *reader) rings(x, y axis, take func(closes uint32, extent box)) {
	all := nowhere
	rings := r.count(2)
	if r.err == nil && rings == 0 {
		r.fail(errors.New("a polygon without a ring: want one or more"))
	}
	for range rings {
		closes, n := r.unsigned(), r.count(2)
		if r.err == nil && (n < 3 || closes > closesNorth) {
			r.fail(fmt.Errorf("ring of %d vertices that closes in way %d: want 3 or more, way 0 to 2", n, closes))
		}
		e := r.vertices(n, x, y)
		if r.err != nil {
			return
		}
		switch closes {
		case closesSouth:
			e.south = -quarterTurn
		case closesNorth:
			e.north = quarterTurn
		}
		all = all.with(e)
		take(closes, e)
	}
	if wide := int64(all.east) - int64(all.west); wide > turn {
		r.fail(fmt.Errorf("a polygon over %d steps of longitude: want at most %d", wide, turn))
	}
}

// placed appends the vertices in r.line, and those over a pole, in steps of this
// package.
func (r *reader) placed(s []vertex, closes uint32, x, y axis) []vertex {
	s = slices.Grow(s, len(r.line)+3)
	for _, v := range r.line {
		s = append(s, vertex{round(x.origin + float64(v.x)*x.step), round(y.origin + float64(v.y)*y.step)})
	}
	if closes == closesItself {
		return s
	}
	pole := int32(quarterTurn)
	if closes == closesSouth {
		pole = -quarterTurn
	}
	first, last := s[len(s)-len(r.line)], s[len(s)-1]
	return append(s, vertex{last.x, pole}, vertex{first.x, pole})
}

// vertices reads n vertices into r.line, in steps of their grid, and gives their
// extent in steps of this package.
func (r *reader) vertices(n int, x, y axis) box {
	if n == 0 || r.err != nil {
		return nowhere
	}
	r.line = slices.Grow(r.line[:0], n)[:n]
	var i, j int64
	west, south, east, north := int64(math.MaxInt64), int64(math.MaxInt64), int64(math.MinInt64), int64(math.MinInt64)
	rest := r.rest
	for k := range r.line {
		if len(rest) >= 2 && rest[0]|rest[1] < 0x80 { // most numbers are of one octet
			i += int64(rest[0]>>1) ^ -int64(rest[0]&1)
			j += int64(rest[1]>>1) ^ -int64(rest[1]&1)
			rest = rest[2:]
		} else {
			r.rest = rest
			i += r.signed()
			j += r.signed()
			rest = r.rest
		}
		west, east = min(west, i), max(east, i)
		south, north = min(south, j), max(north, j)
		r.line[k] = vertex{int32(i), int32(j)} // fits if the extent does: see minStep
	}
	r.rest = rest
	b := [4]float64{
		x.origin + float64(west)*x.step, y.origin + float64(south)*y.step,
		x.origin + float64(east)*x.step, y.origin + float64(north)*y.step,
	}
	if r.err == nil && !(b[0] >= -540 && b[2] <= 540 && b[1] >= -90 && b[3] <= 90) {
		r.fail(fmt.Errorf("vertices from longitude %g to %g, latitude %g to %g: want -540 to 540, -90 to 90", b[0], b[2], b[1], b[3]))
	}
	if r.err != nil {
		return nowhere
	}
	return box{round(b[0]), round(b[1]), round(b[2]), round(b[3])}
}
