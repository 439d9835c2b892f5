package grib

import (
	"encoding/binary"
	"fmt"
	"math"
)

// streams are where the parts of section 7 in complex packing begin, in bits of
// its payload: the extra descriptors of spatial differencing (at 0), the
// references of the groups, their widths, their lengths, the values.
type streams struct {
	references, widths, lengths, values uint64
}

// absent marks a missing value among packed integers.
const absent = math.MinInt64

const (
	chunk = 2048 // packed integers that are held at a time, 16 KiB of stack
	spare = 7    // integers that take may write beyond those asked for
)

// measure returns the streams of a payload (with its padding) in which n values
// lie, whose group references have the given bits. It checks that they fit, and
// that the groups hold n values in all.
func (g *grouping) measure(payload []byte, bits uint, n int) (streams, error) {
	octets := uint64(len(payload) - padding)
	count := uint64(g.n)
	whole := func(bits uint64) uint64 { return (bits + 7) &^ 7 }
	var s streams
	if g.order > 0 {
		s.references = uint64(g.order+1) * uint64(g.extraOctets) * 8
	}
	s.widths = s.references + whole(count*uint64(bits))
	s.lengths = s.widths + whole(count*uint64(g.widthBits))
	s.values = s.lengths + whole(count*uint64(g.lengthBits))
	if s.values > octets*8 {
		return s, fmt.Errorf("%d octets: want at least %d, for descriptors, references, widths and lengths of %d groups", octets, s.values/8, g.n)
	}
	values, packed := uint64(0), s.values
	part := s
	for k := range g.n {
		width, length := g.next(payload, &part, k)
		if width > maxBits {
			return s, fmt.Errorf("group %d of %d: %d bits per value: want at most %d", k+1, g.n, width, maxBits)
		}
		values += length
		packed += length * uint64(width)
		if length > uint64(n) || values > uint64(n) {
			return s, fmt.Errorf("group %d of %d: the groups so far hold more values than the %d of section 5", k+1, g.n, n)
		}
	}
	if values != uint64(n) {
		return s, fmt.Errorf("%d groups hold %d values: want the %d of section 5", g.n, values, n)
	}
	if packed > octets*8 {
		return s, fmt.Errorf("%d octets: want at least %d, for %d values in %d groups", octets, whole(packed)/8, n, g.n)
	}
	return s, nil
}

// complex unpacks the groups of a payload that measure has found good for
// len(dst) values. It returns a bound of the magnitudes of the integers, which
// have overflowed unseen only if it is above maxMagnitude.
func (f *Field) complex(dst []float32, payload []byte, s streams) uint64 {
	g, bits := f.groups, f.scale.bits
	sum := g.differences(payload)
	var room [chunk + spare]int64
	held, largest := 0, uint64(0)
	for k := range g.n {
		reference := peek(payload, s.references, bits)
		s.references += uint64(bits)
		width, length := g.next(payload, &s, k)
		for left := int(length); left > 0; {
			n := min(left, chunk-held)
			part := room[held : held+n]
			switch {
			case width == 0:
				g.repeat(part, reference, bits)
			case g.missing == 0:
				take(part, payload, s.values, width, reference)
			default:
				g.takeMarked(part, payload, s.values, width, reference)
			}
			s.values += uint64(n) * uint64(width)
			left -= n
			held += n
			if held == chunk {
				largest |= sum.convert(dst[:chunk], room[:chunk], f.scale)
				dst, held = dst[chunk:], 0
			}
		}
	}
	return largest | sum.convert(dst, room[:held], f.scale)
}

// next takes width, in bits per value, and length, in values, of group k from
// the streams.
func (g *grouping) next(payload []byte, s *streams, k int) (width uint, length uint64) {
	width = g.widthBase + uint(peek(payload, s.widths, g.widthBits))
	length = g.lengthBase + g.lengthStep*uint64(peek(payload, s.lengths, g.lengthBits))
	s.widths += uint64(g.widthBits)
	s.lengths += uint64(g.lengthBits)
	if k == g.n-1 {
		length = g.lastLength
	}
	return width, length
}

// repeat fills x with the reference of a group of width 0; all ones in it are
// the primary substitute for missing values, one less the secondary.
func (g *grouping) repeat(x []int64, reference int64, bits uint) {
	if reference > 1<<bits-1-int64(g.missing) {
		reference = absent
	}
	for i := range x {
		x[i] = reference
	}
}

// take fills x with reference + the integers of the given width, 1 to maxBits,
// that begin at bit at. Groups are short, so narrow integers are taken in fixed
// fours or eights, as many as eight octets hold wherever the first begins; up to
// spare elements behind x, within its capacity, are overwritten.
func take(x []int64, payload []byte, at uint64, width uint, reference int64) {
	down := (64 - width) & 63
	up := width & 63
	switch {
	case width <= 7:
		for i := 0; i < len(x); i += 8 {
			w := binary.BigEndian.Uint64(payload[at>>3:]) << (at & 7)
			y := x[i : i+8]
			y[0] = reference + int64(w>>down)
			y[1] = reference + int64(w<<up>>down)
			w = w << up << up
			y[2] = reference + int64(w>>down)
			y[3] = reference + int64(w<<up>>down)
			w = w << up << up
			y[4] = reference + int64(w>>down)
			y[5] = reference + int64(w<<up>>down)
			w = w << up << up
			y[6] = reference + int64(w>>down)
			y[7] = reference + int64(w<<up>>down)
			at += 8 * uint64(width)
		}
	case width <= 14:
		for i := 0; i < len(x); i += 4 {
			w := binary.BigEndian.Uint64(payload[at>>3:]) << (at & 7)
			y := x[i : i+4]
			y[0] = reference + int64(w>>down)
			y[1] = reference + int64(w<<up>>down)
			w = w << up << up
			y[2] = reference + int64(w>>down)
			y[3] = reference + int64(w<<up>>down)
			at += 4 * uint64(width)
		}
	default:
		for i := range x {
			x[i] = reference + peek(payload, at, width)
			at += uint64(width)
		}
	}
}

// takeMarked is take where all ones in an integer are the primary substitute for
// a missing value and, if there are two, one less the secondary.
func (g *grouping) takeMarked(x []int64, payload []byte, at uint64, width uint, reference int64) {
	most := int64(1)<<width - 1 - int64(g.missing)
	for i := range x {
		v := peek(payload, at, width)
		at += uint64(width)
		if v > most {
			x[i] = absent
			continue
		}
		x[i] = reference + v
	}
}

// differences undoes spatial differencing, passing over missing values. An h of
// template 7.3 becomes the integer X by
//
//	order 0  X = h
//	order 1  X = X before + h + least
//	order 2  X = X before + slope, slope = slope before + h + least
//
// which is one formula with what is not carried on masked away.
type differences struct {
	x, slope        int64    // what the last value left
	carryX, carryDX int64    // all ones if x and slope are carried on, else 0
	least           int64    // least difference, which was taken off all
	first           [2]int64 // h that give the first X of the message
	order, met      int      // how many of first there are, and have been used
}

// differences reads the extra descriptors of template 7.3: X of the first value,
// or of the first two, then the least difference with a sign bit.
func (g *grouping) differences(payload []byte) differences {
	d := differences{order: g.order}
	if d.order == 0 {
		return d
	}
	n := g.extraOctets * 8
	extra := func(k int) int64 { return peek(payload, uint64(k)*uint64(n), n) }
	d.least = extra(d.order)
	if sign := int64(1) << n >> 1; d.least&sign != 0 {
		d.least = -(d.least &^ sign)
	}
	d.carryX = -1
	d.first[0] = extra(0) - d.least
	if d.order == 2 {
		d.carryDX = -1
		d.first[1] = extra(1) - 2*extra(0) - d.least
	}
	return d
}

// convert turns the next integers h of a message into values, absent ones into
// NaN. It returns an integer that no bit of the magnitudes of X is missing in.
func (d *differences) convert(dst []float32, h []int64, s scaling) uint64 {
	for i := 0; d.met < d.order && i < len(h); i++ {
		if h[i] != absent {
			h[i] = d.first[d.met]
			d.met++
		}
	}
	missing := float32(math.NaN())
	x, slope, largest := d.x, d.slope, uint64(0)
	carryX, carryDX, least := d.carryX, d.carryDX, d.least
	dst = dst[:len(h)]
	for i, v := range h {
		if v == absent {
			dst[i] = missing
			continue
		}
		slope = slope&carryDX + v + least
		x = x&carryX + slope
		largest |= uint64(x ^ x>>63)
		dst[i] = float32((s.reference + float64(x)*s.binary) * s.decimal)
	}
	d.x, d.slope = x, slope
	return largest
}
