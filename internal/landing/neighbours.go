package landing

import "math"

// cloud is spots as the search for neighbours sees them.
type cloud struct {
	spots    []spot
	x, y     []float64 // of the spots
	counts   []float64 // their masses
	distance []float64 // squared, of each from the place that is looked from
	mass     [buckets]float64
	base     int    // of the first bucket; the furthest spot is in the last one
	nearest  int    // the bucket of the nearest spot
	inner    []int  // spots up to bucket bound, in their order
	bound    int    // -1: none was looked for
	edge     []near // scratch
}

// newCloud is a cloud in which no spot's mass is more than a bound.
func newCloud(spots []spot, most float64) *cloud {
	n := len(spots)
	room := make([]float64, 4*n)
	c := &cloud{spots: spots, x: room[:n], y: room[n : 2*n], counts: room[2*n : 3*n], distance: room[3*n:]}
	for i, s := range spots {
		c.x[i], c.y[i], c.counts[i] = s.x, s.y, min(s.weight, most)
	}
	return c
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

// beyond is the least squared distance that lies beyond a bucket.
func (c *cloud) beyond(bucket int) float64 {
	return math.Float64frombits(uint64(max(0, bucket+c.base+1)) << bucketBits)
}

// measure fills in the squared distances of all spots from a place by a metric.
func (c *cloud) measure(x, y float64, metric cov) {
	furthest, nearest := 0.0, math.MaxFloat64
	distance, ys := c.distance[:len(c.x)], c.y[:len(c.x)]
	for i, sx := range c.x {
		d := metric.form(sx-x, ys[i]-y)
		if d <= 0 {
			d = 0
		}
		distance[i] = d
		if d > furthest {
			furthest = d
		}
		if d < nearest {
			nearest = d
		}
	}
	c.base, c.bound = int(math.Float64bits(furthest)>>bucketBits)-(buckets-1), -1
	c.nearest = c.bucket(nearest)
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
	beyond := c.beyond(b)
	for i, d := range c.distance {
		if d < beyond {
			c.inner = append(c.inner, i)
		}
	}
	return c.inner
}

// reach is the squared distance within which the mass is as given or, if there is
// less, that of all.
func (c *cloud) reach(mass float64) float64 {
	b := c.nearest
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
