package flight

import "math"

// spanned is how wide flights are spread, and how far and slowly they go at most.
type spanned struct {
	west, east, south, north float64 // kernel's columns and rows
	gx, gy                   float32 // columns and rows for each metre of height, either way
	slow                     float64 // s for each metre
}

// span is that of the first n flights of the block that are not to be skipped,
// as birds.
func (b *block) span(n int) spanned {
	s := spanned{west: math.Inf(1), east: math.Inf(-1), south: math.Inf(1), north: math.Inf(-1)}
	for i := range b.birds[:n] {
		b := &b.birds[i]
		if b.skip {
			continue
		}
		s.take(b.x, b.y)
		s.gx, s.gy = larger(s.gx, b.gx), larger(s.gy, b.gy)
		if b.slow > s.slow {
			s.slow = b.slow
		}
	}
	return s
}

// take widens the span to a place. Comparisons that nearly always turn out the
// same cost less here than min and max, which see to NaN.
func (s *spanned) take(x, y float64) {
	if x < s.west {
		s.west = x
	}
	if x > s.east {
		s.east = x
	}
	if y < s.south {
		s.south = y
	}
	if y > s.north {
		s.north = y
	}
}

// larger is the larger size of two numbers, of which the first is not negative.
func larger(size, v float32) float32 {
	if v > size {
		return v
	}
	if -v > size {
		return -v
	}
	return size
}

// isClear reports whether a flight falls through a layer so fast and so high that
// it takes it whole.
func (k *Kernel) isClear(l *layer, b *bird) bool {
	return l.high <= k.top && b.slow < dawdle &&
		(l.low > k.relief.highest || l.low > k.relief.top(b.x, b.y) && k.drifts(l, b.gx, b.gy))
}

// drifts reports whether a flight stays so near in a layer that it does not come
// to ground that relief.top has not seen.
func (k *Kernel) drifts(l *layer, gx, gy float32) bool {
	h := float32(l.high - l.low)
	return 2*max(gx, -gx)*h < k.tileX && 2*max(gy, -gy)*h < k.tileY
}

// areClear reports whether isClear holds for all flights that are spread so: for
// each of them, so that none depends on the others. It need not see that it does.
func (k *Kernel) areClear(l *layer, s spanned) bool {
	if !(s.west <= s.east && s.south <= s.north) {
		return false // there are none
	}
	if !(l.high <= k.top && s.slow < dawdle && k.drifts(l, s.gx, s.gy)) {
		return false
	}
	// A hundredth of a tile for what the span is rounded; relief keeps 16 tiles
	// side by side, each with the ground of its neighbours.
	tx, ty := float64(k.tileX), float64(k.tileY)
	s.west, s.east, s.south, s.north = s.west-tx/100, s.east+tx/100, s.south-ty/100, s.north+ty/100
	if !(s.east-s.west < 14*tx && s.north-s.south < 14*ty) {
		return false
	}
	for y, more := s.south, true; more; {
		for x, more := s.west, true; more; {
			if !(l.low > k.relief.top(x, y)) {
				return false
			}
			more = x < s.east
			x = min(x+2.9*tx, s.east)
		}
		more = y < s.north
		y = min(y+2.9*ty, s.north)
	}
	return true
}
