package landing

import "math"

// How far a point is spread. A point's kernel is a Gaussian whose covariance is
// spreadFactor times that of the nearest neighbours that hold a share of the weight:
// localShare at 1,024 points, falling as n to the power -1/5. For the level is read
// from the points, so a kernel's second-order bias does no harm, and without it the
// best bandwidth falls as n to the power -1/10. The numbers were chosen by measuring
// shares and areas over the laws of law_test.go.
const (
	localShare     = 0.1
	localAt        = 1024
	localFewest    = 12 // neighbours, in effective number, below which the share does not go
	spreadFactor   = 1.44
	localLandmarks = 128
	localPasses    = 2

	// Half the neighbours cover half the area where the density is even. Where they
	// cover less than a steep-th, the others belong to another cluster, and the half
	// is used; twice at most, and not below fewestHalf neighbours.
	steep      = 4.0
	halvings   = 2
	fewestHalf = 16

	// No neighbour counts for more than one in fewest, and this much roundness, in
	// neighbours, is added to each local covariance.
	fewest    = 8
	roundness = 4

	pooledShare     = 0.25
	pooledLandmarks = 32
	pooledSpots     = 512
	pooledPasses    = 4

	// widest is the greatest standard deviation of a kernel in m: with it no
	// region reaches the edge of the plane.
	widest = 1e6

	// tight times Blur is the spread of a kernel from which on Blur is left out of
	// the level: a law so wide is blurred by less than a per cent.
	tight = 5
)

// landmark is a place with the covariance of its kernels.
type landmark struct {
	x, y  float64
	shape cov
}

// pooled is the shape (a covariance up to a factor) that neighbourhoods have on
// average, each counting alike whatever its size. It starts from the shape of all
// and repeats, so several clusters, however far apart, end with their own common
// shape and not with that of the line between them.
func pooled(spots []spot) cov {
	c := cloud{spots: thin(spots, pooledSpots), cap: pooledShare / fewest}
	marks := along(c.spots, pooledLandmarks)
	all := join(c.spots)
	shape := all.within.plus(1, round(Blur*Blur))
	for range pooledPasses {
		metric := shape.inverse()
		var sum cov
		for _, m := range marks {
			c.measure(m.x, m.y, metric)
			s, _ := c.within(m.x, m.y, c.reach(pooledShare))
			s = s.plus(1, round(Blur*Blur))
			sum = sum.plus(1/math.Sqrt(s.det()), s)
		}
		shape = sum
	}
	return shape
}

// thin keeps at most n spots, evenly along their order, weights scaled to one.
func thin(spots []spot, n int) []spot {
	if len(spots) <= n {
		return spots
	}
	out, sum := make([]spot, n), 0.0
	for i := range out {
		out[i] = spots[i*len(spots)/n]
		sum += out[i].weight
	}
	for i := range out {
		out[i].weight /= sum
	}
	return out
}

// along is up to n places that divide the weight evenly along the order.
func along(spots []spot, n int) []landmark {
	const offset = 0.381966 // of a part; keeps places away from ties between equal weights
	n = min(n, len(spots))
	var out []landmark
	passed, taken := 0.0, 0
	for i, s := range spots {
		passed += s.weight
		due := int(math.Ceil(passed*float64(n) - offset))
		if due > taken || i == len(spots)-1 && len(out) == 0 {
			out, taken = append(out, landmark{x: s.x, y: s.y}), due
		}
	}
	return out
}

// kernel is a spot spread out: a Gaussian of the spot's weight.
type kernel struct {
	x, y   float64
	weight float64
	one    float64 // weight of one of the spot's points
	spread cov
	tight  bool // so narrow that Blur counts
}

// peak is a kernel's density at its centre.
func (k *kernel) peak() float64 { return k.weight / (2 * math.Pi * math.Sqrt(k.spread.det())) }

// spread gives each spot its kernel. Spots and kernels are in the coordinates of m;
// count is the effective number of points.
func spread(spots []spot, m affine, count float64) []kernel {
	share := min(1, max(localFewest/count, localShare*math.Pow(localAt/count, 0.2)))
	c := cloud{spots: spots, cap: share / fewest}
	marks := along(spots, localLandmarks)
	for i, l := range marks {
		metric := round(1)
		for range localPasses {
			shape := c.local(l.x, l.y, metric, share).times(spreadFactor)
			marks[i].shape = m.of(m.back(shape).clamp(Blur*Blur, widest*widest))
			metric = marks[i].shape.inverse()
		}
	}
	between := newMixture(marks)
	out := make([]kernel, len(spots))
	for i, s := range spots {
		shape := between.at(s.x, s.y)
		small, _, _, _ := m.back(shape).eigen()
		out[i] = kernel{
			x: s.x, y: s.y, weight: s.weight, one: s.one,
			spread: shape.plus(1, s.within),
			tight:  small < tight*tight*Blur*Blur,
		}
	}
	return out
}

// local is the covariance of a place's neighbours.
func (c *cloud) local(x, y float64, metric cov, share float64) cov {
	c.measure(x, y, metric)
	shape, count := c.within(x, y, c.reach(share))
	wide := shape
	for range halvings {
		share /= 2
		half, n := c.within(x, y, c.reach(share))
		if n < fewestHalf {
			break
		}
		if wide.det() > steep*steep*half.det() {
			shape, count = half, n
		}
		wide = half
	}
	part := roundness / (count + roundness)
	return shape.times(1-part).plus(part*(shape.xx+shape.yy)/2, round(1))
}

// mixture weighs the landmarks' shapes for a place by how likely it belongs to each:
// every landmark stands for the same weight, with tails heavy enough for outliers.
type mixture struct {
	marks   []landmark
	inverse []cov
	height  []float64
}

func newMixture(marks []landmark) mixture {
	x := mixture{marks, make([]cov, len(marks)), make([]float64, len(marks))}
	for i, l := range marks {
		x.inverse[i], x.height[i] = l.shape.inverse(), 1/math.Sqrt(l.shape.det())
	}
	return x
}

func (x mixture) at(px, py float64) cov {
	var sum cov
	total := 0.0
	for i := range x.marks {
		l := &x.marks[i]
		u := 1 + x.inverse[i].form(px-l.x, py-l.y)
		w := x.height[i] / (u * u * u)
		sum = sum.plus(w, l.shape)
		total += w
	}
	return sum.times(1 / total)
}
