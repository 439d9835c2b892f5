package grib_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
	"time"
)

// The writer of GRIB2 messages for tests. Each function writes the octets of one
// section as the templates of WMO-No. 306 have them, so that tests can say in
// plain values what is in a message, or damage it.

// sealed puts sections 1 to 7 between section 0 and "7777".
func sealed(discipline byte, sections ...[]byte) []byte {
	body := slices.Concat(sections...)
	m := append([]byte("GRIB\xff\xff"), discipline, 2)
	m = binary.BigEndian.AppendUint64(m, uint64(16+len(body)+4))
	return slices.Concat(m, body, []byte("7777"))
}

// section puts a head before the parts, which may be numbers of fixed size,
// arrays and slices of them.
func section(number byte, parts ...any) []byte {
	b := []byte{0, 0, 0, 0, number}
	for _, p := range parts {
		var err error
		if b, err = binary.Append(b, binary.BigEndian, p); err != nil {
			panic(err)
		}
	}
	binary.BigEndian.PutUint32(b, uint32(len(b)))
	return b
}

var referenceTime = time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC)

func date(t time.Time) []byte {
	b := binary.BigEndian.AppendUint16(nil, uint16(t.Year()))
	return append(b, byte(t.Month()), byte(t.Day()), byte(t.Hour()), byte(t.Minute()), byte(t.Second()))
}

func section1(reference time.Time) []byte {
	return section(1, uint16(7), uint16(0), byte(2), byte(1), byte(1), date(reference), byte(0), byte(1))
}

// signed is a number as GRIB2 has it, with a sign bit.
func signed[T uint8 | uint16 | uint32](n int, width T) T {
	if n >= 0 {
		return T(n)
	}
	return T(-n) | (width/2 + 1) // the highest bit
}

const (
	wide8  = math.MaxUint8
	wide16 = math.MaxUint16
	wide32 = math.MaxUint32
)

// lattice is template 3.0; angles in microdegrees unless base says otherwise.
type lattice struct {
	ni, nj         uint32
	points         uint32 // ni·nj if 0
	base, parts    uint32
	la1, lo1       int
	la2, lo2       int
	flags          byte
	di, dj         uint32
	mode           byte
	listOctets     byte
	source         byte
	templateNumber uint16
}

// threeByTwo has columns at 10, 12, 14°E and rows at 50, 51°N.
func threeByTwo(mode byte) lattice {
	l := lattice{ni: 3, nj: 2, la1: 51e6, la2: 50e6, lo1: 10e6, lo2: 14e6, di: 2e6, dj: 1e6, flags: 0x30, mode: mode}
	if mode&0x80 != 0 {
		l.lo1, l.lo2 = l.lo2, l.lo1
	}
	if mode&0x40 != 0 {
		l.la1, l.la2 = l.la2, l.la1
	}
	return l
}

func (l lattice) section3() []byte {
	points := l.points
	if points == 0 {
		points = l.ni * l.nj
	}
	angle := func(n int) uint32 { return signed(n, uint32(wide32)) }
	return section(3, l.source, points, l.listOctets, byte(0), l.templateNumber,
		byte(6), [15]byte{}, l.ni, l.nj, l.base, l.parts,
		angle(l.la1), angle(l.lo1), l.flags, angle(l.la2), angle(l.lo2), l.di, l.dj, l.mode)
}

// rotated is section 3 of template 3.1: l in coordinates whose southern pole lies
// at lat, lon, in microdegrees, turned by angle degrees.
func rotated(l lattice, lat, lon int, angle float32) []byte {
	l.templateNumber = 1
	tail := binary.BigEndian.AppendUint32(nil, signed(lat, uint32(wide32)))
	tail = binary.BigEndian.AppendUint32(tail, signed(lon, uint32(wide32)))
	return section(3, l.section3()[5:], tail, math.Float32bits(angle))
}

// gaussian is section 3 of template 3.40: l with n rows between pole and equator.
func gaussian(n uint32, l lattice) []byte {
	l.templateNumber, l.dj = 40, n
	return l.section3()
}

// cone is template 3.30; angles in microdegrees, lengths in mm.
type cone struct {
	shape          byte
	major, minor   uint32 // m; the radius of a sphere is major
	nx, ny         uint32
	la1, lo1       int
	flags          byte
	lad, lov       int
	dx, dy         uint32
	centre, mode   byte
	latin1, latin2 int
}

// cone211 is NCEP grid 211 (NCEP Office Note 388, table B) with as many columns
// and rows.
func cone211(nx, ny uint32) cone {
	return cone{
		shape: 6, nx: nx, ny: ny, la1: 12190000, lo1: 226541000, flags: 8, lad: 25e6, lov: 265e6,
		dx: 81271000, dy: 81271000, mode: 0x40, latin1: 25e6, latin2: 25e6,
	}
}

func (c cone) section3() []byte {
	angle := func(n int) uint32 { return signed(n, uint32(wide32)) }
	return section(3, byte(0), c.nx*c.ny, byte(0), byte(0), uint16(30),
		c.shape, byte(0), c.major, byte(0), c.major, byte(0), c.minor, c.nx, c.ny,
		angle(c.la1), angle(c.lo1), c.flags, angle(c.lad), angle(c.lov), c.dx, c.dy, c.centre, c.mode,
		angle(c.latin1), angle(c.latin2), angle(-90e6), uint32(0))
}

// product is templates 4.0, 4.1, 4.8 and 4.11.
type product struct {
	template         uint16
	category, number byte
	unit             byte
	forecast         int
	surface          byte
	scale            int
	value            int
	surface2         byte // 255 if 0
	end              time.Time
	ranges           byte
	statistic        byte
	kind, member, of byte // of an ensemble
	process          byte // 2 if 0
}

// wind500 is the eastward wind at 500 hPa after 6 hours.
var wind500 = product{category: 2, number: 2, unit: 1, forecast: 6, surface: 100, value: 50000}

func (p product) section4() []byte {
	second := p.surface2
	if second == 0 {
		second = 255
	}
	process := p.process
	if process == 0 {
		process = 2
	}
	parts := []any{
		uint16(0), p.template, p.category, p.number,
		[3]byte{process, 0, 81},
		uint16(0), byte(0),
		p.unit, signed(p.forecast, uint32(wide32)),
		p.surface, signed(p.scale, byte(wide8)), signed(p.value, uint32(wide32)),
		second, byte(0), uint32(0),
	}
	if p.template == 1 || p.template == 11 {
		parts = append(parts, p.kind, p.member, p.of)
	}
	if p.template == 8 || p.template == 11 {
		parts = append(parts, date(p.end), p.ranges, uint32(0), p.statistic, [11]byte{2, 1, 0, 0, 0, 6, 255})
	}
	return section(4, parts...)
}

// scale is R, E, D and bits of template 5.0.
type scale struct {
	r    float32
	e, d int
	bits byte
}

func (s scale) octets() []byte {
	b := binary.BigEndian.AppendUint32(nil, math.Float32bits(s.r))
	b = binary.BigEndian.AppendUint16(b, signed(s.e, uint16(wide16)))
	b = binary.BigEndian.AppendUint16(b, signed(s.d, uint16(wide16)))
	return append(b, s.bits, 0)
}

// bitString is a string of bits, first bit first.
type bitString struct {
	octets []byte
	n      int
}

func (s *bitString) put(v uint64, width int) {
	for k := width - 1; k >= 0; k-- {
		if s.n%8 == 0 {
			s.octets = append(s.octets, 0)
		}
		s.octets[s.n/8] |= byte(v>>k&1) << (7 - s.n%8)
		s.n++
	}
}

// simple is sections 5, 6 and 7 in packing 5.0; bitmap as in section6.
func simple(s scale, bitmap []byte, x ...uint64) []byte {
	var data bitString
	for _, v := range x {
		data.put(v, int(s.bits))
	}
	return slices.Concat(section(5, uint32(len(x)), uint16(0), s.octets()), bitmap, section(7, data.octets))
}

// noBitmap, sameBitmap and bitmapOf are section 6.
var (
	noBitmap   = section(6, byte(255))
	sameBitmap = section(6, byte(254))
)

func bitmapOf(present ...uint64) []byte {
	var s bitString
	for _, p := range present {
		s.put(p, 1)
	}
	return section(6, byte(0), s.octets)
}

// Missing values among the integers that complexly takes.
const (
	primary   = math.MaxInt64
	secondary = math.MaxInt64 - 1
)

// groups says how complexly packs; lengths of the groups sum up to the number of
// integers.
type groups struct {
	scale   scale
	missing byte // missing value management
	order   byte // of spatial differencing
	plain   bool // packing 5.2
	lengths []int
}

// complexly is sections 5 and 7 in packing 5.2 or 5.3, without bitmap.
func complexly(g groups, x ...int64) []byte {
	h, extra := difference(slices.Clone(x), int(g.order))
	var references, widths, lengths, values bitString
	const widthBits, lengthBase, lengthStep, lengthBits = 6, 1, 2, 7
	at := 0
	for k, length := range g.lengths {
		group := h[at : at+length]
		at += length
		reference, width := measureGroup(group, g)
		references.put(reference, int(g.scale.bits))
		widths.put(uint64(width), widthBits)
		if k < len(g.lengths)-1 && (length-lengthBase)%lengthStep != 0 {
			panic("a group but the last has an even length")
		}
		lengths.put(uint64((length-lengthBase)/lengthStep), lengthBits)
		for _, v := range group {
			switch {
			case width == 0:
			case v == primary:
				values.put(1<<width-1, width)
			case v == secondary:
				values.put(1<<width-2, width)
			default:
				values.put(uint64(v)-reference, width)
			}
		}
	}
	template, tail := uint16(3), []byte{g.order, 3}
	if g.plain {
		template, tail = 2, nil
	}
	last := uint32(0)
	if n := len(g.lengths); n > 0 {
		last = uint32(g.lengths[n-1])
	}
	five := section(5, uint32(len(x)), template, g.scale.octets(), byte(1), g.missing, uint32(0), uint32(0),
		uint32(len(g.lengths)), byte(0), byte(widthBits), uint32(lengthBase), byte(lengthStep), last, byte(lengthBits), tail)
	return slices.Concat(five, noBitmap, section(7, extra, references.octets, widths.octets, lengths.octets, values.octets))
}

// difference turns integers into differences of the given order, less the least
// one, and returns with them the extra descriptors, of three octets each. Missing
// values stay where they are.
func difference(x []int64, order int) (h []int64, extra []byte) {
	if order == 0 {
		return x, nil
	}
	var there []int // indices
	for i, v := range x {
		if v < secondary {
			there = append(there, i)
		}
	}
	descriptors := make([]int64, order+1)
	for k := range min(order, len(there)) {
		descriptors[k] = x[there[k]]
	}
	d := slices.Clone(x)
	least := int64(math.MaxInt64)
	for k := order; k < len(there); k++ {
		i, j := there[k], there[k-1]
		d[i] = x[i] - x[j]
		if order == 2 {
			d[i] -= x[j] - x[there[k-2]]
		}
		least = min(least, d[i])
	}
	if len(there) <= order {
		least = 0
	}
	descriptors[order] = least
	for k, i := range there {
		if d[i] -= least; k < order {
			d[i] = 0
		}
	}
	for k, v := range descriptors {
		u := uint32(v)
		if k == order {
			if u = uint32(max(v, -v)); v < 0 {
				u |= 1 << 23
			}
		}
		extra = append(extra, byte(u>>16), byte(u>>8), byte(u))
	}
	return d, extra
}

// measureGroup returns reference and width of a group.
func measureGroup(group []int64, g groups) (reference uint64, width int) {
	low, high, there, gone := int64(math.MaxInt64), int64(math.MinInt64), 0, 0
	for _, v := range group {
		if v >= secondary {
			gone++
			continue
		}
		there++
		low, high = min(low, v), max(high, v)
	}
	if there == 0 {
		if !slices.Contains(group, secondary) {
			return 1<<g.scale.bits - 1, 0
		}
		if !slices.Contains(group, primary) {
			return 1<<g.scale.bits - 2, 0
		}
		return 0, 2
	}
	if low == high && gone == 0 {
		return uint64(low), 0
	}
	return uint64(low), bits.Len64(uint64(high-low) + uint64(g.missing))
}

// whole is a message with one field on threeByTwo(0).
func whole(five67 []byte) []byte {
	return sealed(0, section1(referenceTime), threeByTwo(0).section3(), wind500.section4(), five67)
}

// plain is such a message with the integers 1 to 6, in its own order.
func plain() []byte {
	return whole(simple(scale{bits: 8}, noBitmap, 1, 2, 3, 4, 5, 6))
}

// reader reads the concatenation of its parts.
func reader(parts ...[]byte) (*bytes.Reader, int64) {
	b := slices.Concat(parts...)
	return bytes.NewReader(b), int64(len(b))
}
