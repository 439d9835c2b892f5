package landing

import "math"

// cloud is spots as the search for neighbours sees them.
type cloud struct {
	spots    []spot
	cap      float64   // no spot's mass is more than this
	counts   []float64 // the masses, once one was asked for
	distance []float64
	mass     [buckets]float64
	base     int    // of the first bucket; the furthest spot is in the last one
	inner    []int  // spots up to bucket bound, in their order
	bound    int    // -1: none was looked for
	edge     []near // scratch
}

// near is a value, as a rule a distance, and the mass that has it.
type near struct{ distance, mass float64 }

// Squared distances are sorted into buckets by their leading bits, eight to each
// doubling, so that a search looks closely at one bucket only.
const (
	buckets    = 512
	bucketBits = 49
)

func (c *cloud) bucket(distance float64) int {
	return max(0, int(math.Float64bits(distance)>>bucketBits)-c.base)
}

// measure fills in the squared distances of all spots from a place by a metric.
func (c *cloud) measure(x, y float64, metric cov) {
	if c.counts == nil {
		c.counts, c.distance = make([]float64, len(c.spots)), make([]float64, len(c.spots))
		for i, s := range c.spots {
			c.counts[i] = min(s.weight, c.cap)
		}
	}
	furthest := 0.0
	distance := c.distance
	for i := range c.spots {
		s := &c.spots[i]
		d := metric.form(s.x-x, s.y-y)
		if d <= 0 {
			d = 0
		}
		distance[i] = d
		if d > furthest {
			furthest = d
		}
	}
	c.base, c.bound = int(math.Float64bits(furthest)>>bucketBits)-(buckets-1), -1
	clear(c.mass[:])
	for i, m := range c.counts {
		c.mass[c.bucket(distance[i])] += m
	}
}

// upTo is the spots in the buckets up to b, in their order: of those that it gave
// last for a place, if they hold them.
func (c *cloud) upTo(b int) []int {
	if b <= c.bound {
		return c.inner
	}
	c.inner, c.bound = c.inner[:0], b
	for i, d := range c.distance {
		if c.bucket(d) <= b {
			c.inner = append(c.inner, i)
		}
	}
	return c.inner
}

// reach is the squared distance within which the mass is as given or, if there is
// less, that of all.
func (c *cloud) reach(mass float64) float64 {
	b := 0
	for ; b < buckets-1 && c.mass[b] < mass; b++ {
		mass -= c.mass[b]
	}
	c.edge = c.edge[:0]
	for _, i := range c.upTo(b) {
		if d := c.distance[i]; c.bucket(d) == b {
			c.edge = append(c.edge, near{d, c.counts[i]})
		}
	}
	return lowest(c.edge, mass)
}

// within is the covariance of the spots within a squared distance of a place, each
// counting by its mass, and their effective number.
func (c *cloud) within(x, y, limit float64) (shape cov, count float64) {
	var sum, squares, mx, my float64
	for _, i := range c.upTo(c.bucket(limit)) {
		if c.distance[i] > limit {
			continue
		}
		s, m := &c.spots[i], c.counts[i]
		dx, dy := s.x-x, s.y-y
		sum += m
		squares += m * m
		mx += m * dx
		my += m * dy
		shape.xx += m * (dx*dx + s.within.xx)
		shape.xy += m * (dx*dy + s.within.xy)
		shape.yy += m * (dy*dy + s.within.yy)
	}
	return shape.times(1/sum).plus(-1, outer(mx/sum, my/sum)), sum * sum / squares
}

// lowest is the least value up to which the mass is at least as given, or the
// greatest value. It reorders its argument, which must not be empty.
func lowest(all []near, mass float64) float64 {
	for len(all) > 1 {
		pivot := median(all[0].distance, all[len(all)/2].distance, all[len(all)-1].distance)
		below, equal := 0.0, 0.0
		from, until := 0, len(all)
		for i := 0; i < until; {
			switch d := all[i].distance; {
			case d < pivot:
				below += all[i].mass
				all[from], all[i] = all[i], all[from]
				from++
				i++
			case d > pivot:
				until--
				all[until], all[i] = all[i], all[until]
			default:
				equal += all[i].mass
				i++
			}
		}
		switch {
		case from > 0 && below >= mass:
			all = all[:from]
		case below+equal >= mass || until == len(all):
			return pivot
		default:
			mass -= below + equal
			all = all[until:]
		}
	}
	return all[0].distance
}

func median(a, b, c float64) float64 { return max(min(a, b), min(max(a, b), c)) }
