package grib

import (
	"encoding/binary"
	"math/bits"
)

const (
	padding = 8 // octets behind packed ones, so that eight can be loaded wherever a bit is
	spare   = 7 // integers that take may write beyond those asked for
)

// peek returns the n bits, 0 to maxBits, at bit at of b. Eight octets of b must
// follow the one that holds this bit.
func peek(b []byte, at uint64, n uint) int64 {
	return int64(binary.BigEndian.Uint64(b[at>>3:]) << (at & 7) >> 1 >> (63 - n&63))
}

// take fills x with base + the integers of the given width, 0 to maxBits, that
// begin at bit at of b, which has padding. Eight octets hold 57 bits wherever the
// first begins: as many integers as surely lie in them are taken from one load.
// Multiplying by 2^width moves the first integer into the upper word of the
// product and leaves the others in the lower. Up to spare elements behind x,
// within its capacity, are overwritten.
func take(x []int64, b []byte, at uint64, width uint, base int64) {
	m := uint64(1) << (width & 63)
	var v uint64
	switch {
	case width <= 7:
		for i := 0; i < len(x); i += 8 {
			w := binary.BigEndian.Uint64(b[at>>3:]) << (at & 7)
			y := x[i : i+8]
			v, w = bits.Mul64(w, m)
			y[0] = base + int64(v)
			v, w = bits.Mul64(w, m)
			y[1] = base + int64(v)
			v, w = bits.Mul64(w, m)
			y[2] = base + int64(v)
			v, w = bits.Mul64(w, m)
			y[3] = base + int64(v)
			v, w = bits.Mul64(w, m)
			y[4] = base + int64(v)
			v, w = bits.Mul64(w, m)
			y[5] = base + int64(v)
			v, w = bits.Mul64(w, m)
			y[6] = base + int64(v)
			v, _ = bits.Mul64(w, m)
			y[7] = base + int64(v)
			at += 8 * uint64(width)
		}
	case width <= 14:
		for i := 0; i < len(x); i += 4 {
			w := binary.BigEndian.Uint64(b[at>>3:]) << (at & 7)
			y := x[i : i+4]
			v, w = bits.Mul64(w, m)
			y[0] = base + int64(v)
			v, w = bits.Mul64(w, m)
			y[1] = base + int64(v)
			v, w = bits.Mul64(w, m)
			y[2] = base + int64(v)
			v, _ = bits.Mul64(w, m)
			y[3] = base + int64(v)
			at += 4 * uint64(width)
		}
	case width <= 28:
		for i := 0; i < len(x); i += 2 {
			w := binary.BigEndian.Uint64(b[at>>3:]) << (at & 7)
			y := x[i : i+2]
			v, w = bits.Mul64(w, m)
			y[0] = base + int64(v)
			v, _ = bits.Mul64(w, m)
			y[1] = base + int64(v)
			at += 2 * uint64(width)
		}
	default:
		for i := range x {
			x[i] = base + peek(b, at, width)
			at += uint64(width)
		}
	}
}

// countOnes returns how many of the first n bits of a bitmap, which has padding,
// are set.
func countOnes(bitmap []byte, n int) int {
	ones := 0
	for ; n >= 64; n -= 64 {
		ones += bits.OnesCount64(binary.BigEndian.Uint64(bitmap))
		bitmap = bitmap[8:]
	}
	return ones + bits.OnesCount64(binary.BigEndian.Uint64(bitmap)>>(64-n))
}
