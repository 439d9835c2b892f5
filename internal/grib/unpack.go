package grib

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/bits"
)

// padding lets peek load eight octets wherever a bit of the payload is.
const padding = 8

// unpack reads sections 6 and 7 and returns the values in the order that Values
// promises. Memory for them is allocated only when the packed octets are found to
// be enough for as many.
func (f *Field) unpack(dst []float32) ([]float32, error) {
	payload, err := f.read(f.payload)
	if err != nil {
		return nil, err
	}
	bitmap, err := f.read(f.bitmap)
	if err != nil {
		return nil, err
	}
	mapped := f.bitmap.length > 0
	if mapped {
		if n := countOnes(bitmap, f.Points); n != f.stored {
			return nil, fmt.Errorf("section 6: %d points present: want the %d values of section 5", n, f.stored)
		}
	}
	streams, err := f.measure(payload)
	if err != nil {
		return nil, fmt.Errorf("section 7: %w", err)
	}
	if cap(dst) < f.Points {
		dst = make([]float32, f.Points)
	}
	dst = dst[:f.Points]
	if err := f.expand(dst[:f.stored], payload, streams); err != nil {
		return nil, fmt.Errorf("section 7: %w", err)
	}
	if mapped {
		spread(dst, bitmap, f.stored)
	}
	f.orient(dst)
	return dst, nil
}

// read returns a segment of the file with padding zeros behind it.
func (f *Field) read(s segment) ([]byte, error) {
	b := make([]byte, s.length+padding)
	return b, readFull(f.source, b[:s.length], s.offset)
}

// measure checks that the payload is as long as what it is said to hold, and
// returns where in it the parts of complex packing begin.
func (f *Field) measure(payload []byte) (streams, error) {
	if f.constant() {
		return streams{}, nil
	}
	switch f.Packing {
	case 2, 3:
		return f.groups.measure(payload, f.scale.bits, f.stored)
	case 4:
		return streams{}, f.enough(uint64(f.float) * 8)
	case 41, 40010:
		_, err := imageHeader(payload, f.scale.bits, f.stored)
		return streams{}, err
	case 42:
		return streams{}, f.coding.enough(payload, f.stored)
	}
	return streams{}, f.enough(uint64(f.scale.bits))
}

// enough checks that the payload is long enough for values of the given bits one
// behind the other.
func (f *Field) enough(bits uint64) error {
	want := (uint64(f.stored)*bits + 7) / 8
	if have := uint64(f.payload.length); have < want {
		return fmt.Errorf("%d octets of values: want %d, for %d values of %d bits", have, want, f.stored, bits)
	}
	return nil
}

// expand unpacks the values that the message holds, in its order.
func (f *Field) expand(dst []float32, payload []byte, at streams) error {
	largest := uint64(1)<<f.scale.bits - 1 // bound of the packed integers
	var err error
	switch {
	case f.constant():
		largest = 0
		f.scale.constant(dst)
	case f.Packing == 0:
		f.scale.simple(dst, payload)
	case f.Packing == 4:
		return ieee(dst, payload, f.float)
	case f.Packing == 41 || f.Packing == 40010:
		err = f.scale.png(dst, payload)
	case f.Packing == 42:
		err = f.scale.ccsds(dst, payload, f.coding)
	default:
		largest = f.complex(dst, payload, at)
	}
	if err != nil {
		return err
	}
	if largest > maxMagnitude {
		return fmt.Errorf("packed integers sum up to more than %d: want less", uint64(maxMagnitude))
	}
	if v := f.scale.bound(largest); !(v <= math.MaxFloat32) {
		return fmt.Errorf("values up to %.3g: want the range of float32", v)
	}
	return nil
}

// constant reports whether all values are the reference value and section 7 is
// empty: no bits, or no groups. There are encoders that then take R for the value
// itself; here it is R·10^-D, by the formula of regulation 92.9.4.
func (f *Field) constant() bool {
	switch f.Packing {
	case 2, 3:
		return f.groups.n == 0
	case 4:
		return false
	}
	return f.scale.bits == 0
}

// constant fills dst with the value of X = 0.
func (s scaling) constant(dst []float32) {
	v := float32(s.reference * s.decimal)
	for i := range dst {
		dst[i] = v
	}
}

// simple unpacks len(dst) integers of s.bits bits each, 1 to maxBits, one behind
// the other.
func (s scaling) simple(dst []float32, payload []byte) {
	at := uint64(0)
	for i := range dst {
		x := peek(payload, at, s.bits)
		at += uint64(s.bits)
		dst[i] = float32((s.reference + float64(x)*s.binary) * s.decimal)
	}
}

// bound is the greatest magnitude of a value whose packed integer has a magnitude
// of at most x.
func (s scaling) bound(x uint64) float64 {
	return (math.Abs(s.reference) + float64(x)*s.binary) * s.decimal
}

// peek returns the n bits, 0 to maxBits, at bit at of b. Eight octets of b must
// follow the one that holds this bit.
func peek(b []byte, at uint64, n uint) int64 {
	return int64(binary.BigEndian.Uint64(b[at>>3:]) << (at & 7) >> 1 >> (63 - n&63))
}

// countOnes returns how many of the first n bits of a bitmap are set.
func countOnes(bitmap []byte, n int) int {
	ones := 0
	for ; n >= 8; n -= 8 {
		ones += bits.OnesCount8(bitmap[0])
		bitmap = bitmap[1:]
	}
	return ones + bits.OnesCount8(bitmap[0]>>(8-n))
}

// spread moves the first n values of dst to the points that the bitmap has bits
// set for, n of them, and makes the others NaN. It works from the end, so that no
// value is overwritten before it has moved.
func spread(dst []float32, bitmap []byte, n int) {
	missing := float32(math.NaN())
	for i := len(dst) - 1; i >= 0; i-- {
		if bitmap[i>>3]>>(7-i&7)&1 == 0 {
			dst[i] = missing
			continue
		}
		n--
		dst[i] = dst[n]
	}
}
