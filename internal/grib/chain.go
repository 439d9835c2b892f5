package grib

import (
	"fmt"
	"math"
)

// chain undoes spatial differencing, passing over missing values, and puts what
// is wanted into its place. An h of template 7.3 becomes the integer X by
//
//	order 0  X = h
//	order 1  X = X before + h + least
//	order 2  X = X before + slope, slope = slope before + h + least
//
// where least is the least difference, which was taken off all; here it comes
// with the references of the groups.
type chain struct {
	at       int      // position in the stream of the next integer
	x, slope int64    // what the last value left
	order    int      // of differencing
	first    [2]int64 // h that give the first X of the message
	met      int      // how many of first have been used
	least    int64    // least difference, 0 for order 0
	missing  int64    // number of substitutes for missing values
	most     int64    // greatest group reference that is none
	scale    scaling

	dst  []float32
	want pieces // after now
	now  piece
}

// newChain reads the extra descriptors of template 7.3 from section 7: X of the
// first value, or of the first two, then the least difference with a sign bit.
func newChain(f *Field, section []byte) chain {
	g := &f.groups
	c := chain{order: g.order, missing: int64(g.missing), scale: f.scale}
	c.most = 1<<f.scale.bits - 1 - c.missing
	if c.order == 0 {
		return c
	}
	n := g.extraOctets * 8
	extra := func(k int) int64 { return peek(section, uint64(k)*uint64(n), n) }
	c.least = extra(c.order)
	if sign := int64(1) << n >> 1; c.least&sign != 0 {
		c.least = -(c.least &^ sign)
	}
	c.first[0] = extra(0)
	if c.order == 2 {
		c.first[1] = extra(1) - 2*extra(0)
	}
	return c
}

// mark adds reference and least to the integers of a group of the given width, but
// makes those absent that are all ones, the primary substitute for missing values,
// and, if there are two, one less, the secondary.
func (c *chain) mark(x []int64, width uint, reference int64) {
	most := int64(1)<<width - 1 - c.missing
	for i, v := range x {
		if v > most {
			x[i] = absent
			continue
		}
		x[i] = reference + c.least + v
	}
}

// emit takes the next integers h of the stream, at most chunk.
func (c *chain) emit(h []int64) error {
	// Below these bounds chunk integers of less than 2^34 cannot make X
	// overflow: 2^52 + 512·(2^53 + 512·2^34) < 2^63.
	if abs(c.x) > maxMagnitude || abs(c.slope) > 2*maxMagnitude {
		return fmt.Errorf("packed integers sum up to more than %d: want less", uint64(maxMagnitude))
	}
	for i := 0; c.met < c.order && i < len(h); i++ {
		if h[i] != absent {
			h[i] = c.first[c.met]
			c.met++
		}
	}
	for len(h) > 0 && c.now.n > 0 {
		n := len(h)
		if before := c.now.at - c.at; before > 0 {
			n = min(n, before)
			c.pass(h[:n])
		} else {
			n = min(n, c.now.n)
			c.convert(c.dst[c.now.to:][:n], h[:n])
			c.now = piece{c.now.at + n, c.now.n - n, c.now.to + n}
			if c.now.n == 0 {
				c.now = c.want.next()
			}
		}
		c.at += n
		h = h[n:]
	}
	return nil
}

func abs(x int64) int64 {
	if x < 0 {
		return -x
	}
	return x
}

// pass takes integers that are not wanted themselves.
func (c *chain) pass(h []int64) {
	if c.order == 0 {
		return
	}
	x, slope, carry := c.x, c.slope, c.carry()
	if c.missing > 0 {
		for _, v := range h {
			if v != absent {
				slope = slope&carry + v
				x += slope
			}
		}
	} else {
		for _, v := range h {
			slope = slope&carry + v
			x += slope
		}
	}
	c.x, c.slope = x, slope
}

// carry is all ones if the slope goes on from value to value, else 0.
func (c *chain) carry() int64 {
	if c.order == 2 {
		return -1
	}
	return 0
}

// convert turns integers into values, absent ones into NaN.
func (c *chain) convert(dst []float32, h []int64) {
	switch {
	case c.missing > 0:
		c.convertMarked(dst, h)
	case c.order == 0:
		c.scale.convert(dst, h)
	default:
		s := c.scale
		x, slope, carry := c.x, c.slope, c.carry()
		dst = dst[:len(h)]
		for i, v := range h {
			slope = slope&carry + v
			x += slope
			dst[i] = float32((s.reference + float64(x)*s.binary) * s.decimal)
		}
		c.x, c.slope = x, slope
	}
}

// convertMarked is convert where integers may be absent.
func (c *chain) convertMarked(dst []float32, h []int64) {
	missing := float32(math.NaN())
	s := c.scale
	x, slope, carry, keep := c.x, c.slope, c.carry(), int64(-1)
	if c.order == 0 {
		keep = 0
	}
	dst = dst[:len(h)]
	for i, v := range h {
		if v == absent {
			dst[i] = missing
			continue
		}
		slope = slope&carry + v
		x = x&keep + slope
		dst[i] = float32((s.reference + float64(x)*s.binary) * s.decimal)
	}
	c.x, c.slope = x, slope
}
