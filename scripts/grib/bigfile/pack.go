package main

import (
	"encoding/binary"
	"math"
	"math/bits"
	"slices"
)

const (
	nx, ny   = 1440, 721
	longest  = 32 // values of a group
	overhead = 20 // bits that a group costs, about
)

// message is the job's message on the 0.25° grid.
func (j job) message() []byte {
	m := append([]byte{}, j.head[:16]...)
	var five []byte
	for at := 16; at < len(j.head); {
		s := j.head[at:][:binary.BigEndian.Uint32(j.head[at:])]
		at += len(s)
		switch s[4] {
		case 3:
			s = globe(s)
		case 4:
			s = slices.Clone(s)
			if j.pressure > 0 {
				s[23] = 0 // scale factor of the level
				binary.BigEndian.PutUint32(s[24:], uint32(j.pressure))
			}
		case 5:
			five = slices.Clone(s)
			continue
		}
		m = append(m, s...)
	}
	e, d := signed(five[15:]), signed(five[17:])
	unit := math.Ldexp(math.Pow10(-d), e)
	x, least := j.quantised(unit)
	binary.BigEndian.PutUint32(five[11:], math.Float32bits(float32(float64(least)*math.Ldexp(1, e))))
	m = append(m, pack(five, x)...)
	m = append(m, "7777"...)
	binary.BigEndian.PutUint64(m[8:], uint64(len(m)))
	return m
}

// globe is section 3 with nx × ny points, northern row first.
func globe(s []byte) []byte {
	s = slices.Clone(s)
	put := func(octet int, v uint32) { binary.BigEndian.PutUint32(s[octet-1:], v) }
	put(7, nx*ny)
	put(31, nx)
	put(35, ny)
	put(60, 359750000)
	put(64, 250000)
	put(68, 250000)
	return s
}

// signed is a number of two octets with a sign bit.
func signed(b []byte) int {
	n := int(binary.BigEndian.Uint16(b))
	if n>>15 == 1 {
		return -(n & 0x7fff)
	}
	return n
}

// quantised is the field on the fine grid, northern row first, in units above the
// least, with noise of -1, 0 or 1 unit.
func (j job) quantised(unit float64) (x []int64, least int64) {
	g := j.grid
	x = make([]int64, 0, nx*ny)
	least = math.MaxInt64
	noise := j.seed
	for row := ny - 1; row >= 0; row-- {
		r := min(row/4, g.NY-2)
		b := float64(row-4*r) / 4
		south, north := j.values[r*g.NX:][:g.NX], j.values[(r+1)*g.NX:][:g.NX]
		for col := range nx {
			c, a := col/4, float64(col%4)/4
			next := (c + 1) % g.NX
			low := float64(south[c])*(1-a) + float64(south[next])*a
			high := float64(north[c])*(1-a) + float64(north[next])*a
			noise = noise*6364136223846793005 + 1442695040888963407 // PCG's multiplier and increment
			v := int64(math.Round((low*(1-b)+high*b)/unit)) + int64(noise>>33%3) - 1
			least = min(least, v)
			x = append(x, v)
		}
	}
	for i := range x {
		x[i] -= least
	}
	return x, least
}

// pack is sections 5 to 7 of integers from 0 on in packing 5.3, differences of
// the second order; five gives R, E and D.
func pack(five []byte, x []int64) []byte {
	extra := []int64{x[0], x[1], 0}
	for i := len(x) - 1; i >= 2; i-- {
		x[i] += x[i-2] - 2*x[i-1]
	}
	least := slices.Min(x[2:])
	extra[2] = least
	for i := range x {
		x[i] = max(0, x[i]-least)
	}
	x[0], x[1] = x[2], x[2] // not used
	groups := split(x)
	most, wide := int64(0), uint8(0)
	for _, g := range groups {
		most, wide = max(most, g.low), max(wide, g.width)
	}
	referenceBits, widthBits := uint8(bits.Len64(uint64(most))), uint8(bits.Len8(wide))

	five = five[:49]
	binary.BigEndian.PutUint32(five, 49)
	binary.BigEndian.PutUint32(five[5:], uint32(len(x)))
	five[19] = referenceBits
	five[22] = 0 // no missing values
	binary.BigEndian.PutUint32(five[31:], uint32(len(groups)))
	five[35], five[36] = 0, widthBits
	binary.BigEndian.PutUint32(five[37:], 1)
	five[41] = 1
	binary.BigEndian.PutUint32(five[42:], uint32(groups[len(groups)-1].n))
	five[46], five[47], five[48] = 5, 2, 4

	var w bitWriter
	for k, v := range extra {
		u := uint64(v)
		if k == 2 && v < 0 {
			u = 1<<31 | uint64(-v)
		}
		w.put(u, 32)
	}
	for _, g := range groups {
		w.put(uint64(g.low), referenceBits)
	}
	w.align()
	for _, g := range groups {
		w.put(uint64(g.width), widthBits)
	}
	w.align()
	for _, g := range groups {
		w.put(uint64(g.n-1), 5)
	}
	w.align()
	for _, g := range groups {
		for _, v := range x[:g.n] {
			w.put(uint64(v-g.low), g.width)
		}
		x = x[g.n:]
	}
	w.align()
	b := append([]byte(nil), five...)
	b = append(b, 0, 0, 0, 6, 6, 255)
	b = binary.BigEndian.AppendUint32(b, uint32(5+len(w.octets)))
	b = append(b, 7)
	return append(b, w.octets...)
}

type group struct {
	n     int
	low   int64
	width uint8
}

// split closes a group where one more value would widen it at a greater cost than
// that of a new group.
func split(x []int64) []group {
	var groups []group
	for len(x) > 0 {
		low, high, n, width := x[0], x[0], 1, 0
		for n < min(longest, len(x)) {
			l, h := min(low, x[n]), max(high, x[n])
			w := bits.Len64(uint64(h - l))
			if (w-width)*n > overhead {
				break
			}
			low, high, width = l, h, w
			n++
		}
		groups = append(groups, group{n, low, uint8(width)})
		x = x[n:]
	}
	return groups
}

// bitWriter writes numbers of some bits, first bit first.
type bitWriter struct {
	octets []byte
	held   uint64
	n      uint8 // bits held, less than 8 after put
}

func (w *bitWriter) put(v uint64, width uint8) {
	w.held = w.held<<width | v
	for w.n += width; w.n >= 8; w.n -= 8 {
		w.octets = append(w.octets, byte(w.held>>(w.n-8)))
	}
}

func (w *bitWriter) align() {
	if w.n > 0 {
		w.put(0, 8-w.n)
	}
}
