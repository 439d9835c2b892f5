package landing

import (
	"cmp"
	"math"
	"slices"

	"example.org/thistledown/internal/geo"
)

const (
	// ownShare is how much of a point's own kernel is left out of the density at
	// that point when the level is read. Independent draws want 1 (the density that
	// the others give), perfectly even draws want 0; the draws of the ensemble lie
	// between.

	ownShare = 0.75

	probes = 16 // places that stand for a blurred point
)

// density is the estimated density of landings, in coordinates that m takes the
// plane to; zero outside its grids.
type density struct {
	plane plane
	m     affine
	grids []grid
	few   bool
}

func estimate(s sample, few bool) density {
	d := density{plane: s.plane, m: whitening(pooled(s.spots)), few: few}
	spots := make([]spot, len(s.spots))
	for i, p := range s.spots {
		spots[i] = p
		spots[i].x, spots[i].y = d.m.apply(p.x, p.y)
		spots[i].within = d.m.of(p.within)
	}
	sets := apart(spread(spots, d.m, s.effective()))
	side := min(maxSide, int(math.Sqrt(float64(maxNodes/len(sets)))))
	for _, kernels := range sets {
		d.grids = append(d.grids, rasterise(kernels, side))
	}
	return d
}

// mode is the place of the plane where the density is highest: that of the highest
// node, moved to the top of the parabolas through the logarithms at its neighbours.
func (d density) mode() (x, y float64) {
	var top *grid
	best := 0
	for i := range d.grids {
		g := &d.grids[i]
		for k, v := range g.value {
			if top == nil || v > top.value[best] {
				top, best = g, k
			}
		}
	}
	u := top.x + top.step*(float64(best%top.nx)+summit(top.value, best, 1))
	v := top.y + top.step*(float64(best/top.nx)+summit(top.value, best, top.nx))
	return d.m.undo(u, v)
}

// summit is how far in steps the parabola through the logarithms at node k and the
// nodes before and after it has its top from k.
func summit(value []float64, k, stride int) float64 {
	low, mid, high := math.Log(value[k-stride]), math.Log(value[k]), math.Log(value[k+stride])
	shift := (high - low) / (2 * (2*mid - low - high))
	if !(math.Abs(shift) <= 0.5) {
		return 0
	}
	return shift
}

// levels is the density that a share of all landings exceeds, for each share.
func (d density) levels(shares []float64) []float64 {
	at, highest := d.ascending()
	out := make([]float64, len(shares))
	for i, share := range shares {
		out[i] = quantile(at, 1-share, highest)
	}
	return out
}

// ascending is the densities at the points, with the points' weights, and the
// highest density of all.
func (d density) ascending() (at []near, highest float64) {
	for i := range d.grids {
		g := &d.grids[i]
		highest = max(highest, slices.Max(g.value))
		for i := range g.kernels {
			at = d.probe(at, g, &g.kernels[i], i)
		}
	}
	slices.SortFunc(at, byDistance)
	return at, highest
}

func byDistance(a, b near) int {
	return cmp.Or(cmp.Compare(a.distance, b.distance), cmp.Compare(a.mass, b.mass))
}

// quantile is the value below which a share of the mass lies, linear between the
// middles of the masses, from zero at no mass to the highest value at all of it.
// The values ascend and the masses sum to one.
func quantile(ascending []near, share, highest float64) float64 {
	before, low := 0.0, 0.0 // share and value at the last middle
	passed := 0.0
	for _, n := range ascending {
		middle := passed + n.mass/2
		if middle >= share {
			return low + (n.distance-low)*(share-before)/(middle-before)
		}
		passed += n.mass
		before, low = middle, n.distance
	}
	return low + (highest-low)*(share-before)/(1-before)
}

// probe appends the density where a kernel's point may be, and its weight.
// The probes of successive points are turned and moved outward against each other, so
// that those of many points in one place fill it evenly.
func (d density) probe(at []near, g *grid, k *kernel, number int) []near {
	own := ownShare * k.peak() * k.one / k.weight
	value := func(x, y, weight float64) {
		f := g.at(x, y)
		e := k.spread.inverse().form(x-k.x, y-k.y)
		at = append(at, near{max(f-own*math.Exp(-e/2), f/4), weight})
	}
	var blur cov
	switch {
	case d.few: // the point says little; its kernel stands for it
		blur, own = k.spread, 0
	case k.tight:
		blur = d.m.of(round(Blur * Blur))
	default:
		value(k.x, k.y, k.weight)
		return at
	}
	a := math.Sqrt(blur.xx)
	b, c := blur.xy/a, math.Sqrt(blur.det()/blur.xx)
	_, part := math.Modf(0.5 + float64(number)*math.Phi)
	part = max(part, 1e-6)
	for i := range probes {
		r := math.Sqrt(-2 * math.Log((float64(i)+part)/probes))
		sin, cos := math.Sincos((float64(i) + part) * 2 * math.Pi * math.Phi)
		value(k.x+a*r*cos, k.y+b*r*cos+c*r*sin, k.weight/probes)
	}
	return at
}

// sphereOff bounds by what share a geodesic's length differs from that on the sphere of
// equal area: its scale along a parallel is R cos β / (N cos φ), 0.9989 at the equator and
// 1 at a pole, and along a meridian the inverse.
const sphereOff = 0.0015

// radius is the distance in m from a centre within which a share of the weight lies. Only
// points whose distance on the sphere leaves it open on which side of that they lie are
// measured on the ellipsoid.
func radius(s sample, centre geo.Point, share float64, stopped func() error) (float64, error) {
	const every = 1024 // points
	from := s.onSphere(centre)
	low, high := window(from, share)
	below := 0.0
	open := make([]near, 0, len(from)/8)
	for i, p := range s.points {
		switch d := from[i].distance; {
		case d < low:
			below += p.Weight
		case d <= high:
			if len(open)%every == 0 {
				if err := stopped(); err != nil {
					return 0, err
				}
			}
			metres, _, _ := geo.Inverse(centre, p.At)
			open = append(open, near{metres, p.Weight})
		}
	}
	slices.SortFunc(open, byDistance)
	furthest := open[len(open)-1].distance
	if below > 0 { // of what lies below the mass alone counts
		open = slices.Insert(open, 0, near{low, below})
	}
	return max(quantile(open, share, furthest), blurRadius95), nil
}

// onSphere is the points' distances from a centre on the sphere of equal area, with
// their weights.
func (s sample) onSphere(centre geo.Point) []near {
	c := s.plane.vector(centre)
	from := make([]near, len(s.points))
	for i, v := range s.vectors {
		apart := v.plus(-1, c)
		from[i] = near{2 * s.plane.radius * math.Asin(min(1, math.Sqrt(apart.dot(apart))/2)), s.points[i].Weight}
	}
	return from
}

// window is between which distances on the sphere a point may lie at which a share of the
// weight is reached on the ellipsoid, or the one before it. Two of the heaviest points
// more on either side see to it that what lies beyond stays there in either order.
func window(from []near, share float64) (low, high float64) {
	sorted, heaviest := slices.Clone(from), 0.0
	for _, n := range from {
		heaviest = max(heaviest, n.mass)
	}
	slices.SortFunc(sorted, byDistance)
	high = math.Inf(1)
	passed := 0.0
	for _, n := range sorted {
		passed += n.mass
		if passed <= share-2*heaviest {
			low = n.distance
		}
		if passed >= share+2*heaviest {
			high = n.distance
			break
		}
	}
	return low * (1 - 2*sphereOff), high * (1 + 2*sphereOff)
}
