package landing

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"example.org/thistledown/internal/geo"
)

// maxSpots bounds how many spots the density is made of; more points than that
// are grouped with their neighbours first.
const maxSpots = 2048

// spot is one point of the plane or a group of neighbours: their mean, weight
// and covariance.
type spot struct {
	x, y   float64 // m
	weight float64 // share of all
	one    float64 // weight of one of its points
	within cov     // m², zero for a single point
}

// sample is the points as the estimate sees them: distinct, in the plane, weights
// that sum to one, in an order that depends on the points alone.
type sample struct {
	plane   plane
	points  []Weighted // distinct, ordered by latitude and longitude
	vectors []vector   // where they are on the plane's sphere
	spots   []spot     // ordered along a space-filling curve
}

// gather puts checked points into the plane around their mean, unless it is stopped.
func gather(points []Weighted, stopped func() error) (sample, error) {
	s := sample{points: distinct(points)}
	if err := stopped(); err != nil {
		return sample{}, err
	}
	globe := sphere()
	var centre vector
	vectors := make([]vector, len(s.points))
	for i, p := range s.points {
		vectors[i] = globe.vector(p.At)
		centre = centre.plus(p.Weight, vectors[i])
	}
	s.vectors = vectors
	if centre.dot(centre) == 0 {
		centre = vectors[0]
	}
	s.plane = globe.around(centre)
	nearest := math.Cos(MaxReach / s.plane.radius)
	for _, v := range vectors {
		if !(v.dot(s.plane.centre) >= nearest) {
			return sample{}, s.plane.tooFar(points)
		}
	}
	spots := make([]spot, len(vectors))
	for i, v := range vectors {
		x, y := s.plane.xy(v)
		spots[i] = spot{x: x, y: y, weight: s.points[i].Weight, one: s.points[i].Weight}
	}
	if err := stopped(); err != nil {
		return sample{}, err
	}
	along, err := alongCurve(spots, stopped)
	if err != nil {
		return sample{}, err
	}
	s.spots = group(along)
	return s, stopped()
}

// tooFar names the point farthest from the centre.
func (p plane) tooFar(points []Weighted) error {
	which, least := 0, math.Inf(1)
	for i, q := range points {
		if c := p.vector(q.At).dot(p.centre); q.Weight > 0 && c < least {
			which, least = i, c
		}
	}
	km := p.radius / 1000 * math.Acos(max(-1, least))
	return fmt.Errorf("landing point %d: %.0f km from the mean of all: want at most %.0f km", which, km, MaxReach/1000)
}

// distinct is the points of positive weight in order of position, equal ones
// joined, weights scaled to sum to one.
func distinct(points []Weighted) []Weighted {
	largest := 0.0
	for _, p := range points {
		largest = max(largest, p.Weight)
	}
	out := make([]Weighted, 0, len(points))
	for _, p := range points {
		at := geo.Point{Lat: p.At.Lat, Lon: geo.WrapLon(p.At.Lon)}
		if math.Abs(at.Lat) == 90 {
			at.Lon = 0
		}
		if w := p.Weight / largest; w > 0 {
			out = append(out, Weighted{at, w})
		}
	}
	slices.SortFunc(out, func(a, b Weighted) int { // no part of which is not a number
		switch {
		case a.At.Lat != b.At.Lat:
			return order(a.At.Lat < b.At.Lat)
		case a.At.Lon != b.At.Lon:
			return order(a.At.Lon < b.At.Lon)
		}
		return cmp.Compare(a.Weight, b.Weight)
	})
	sum, n := 0.0, 0
	for _, p := range out {
		sum += p.Weight
		if n > 0 && out[n-1].At == p.At {
			out[n-1].Weight += p.Weight
			continue
		}
		out[n] = p
		n++
	}
	out = out[:n]
	for i := range out {
		out[i].Weight /= sum
	}
	return out
}

// effective is Kish's effective number of distinct points.
func (s sample) effective() float64 {
	squares := 0.0
	for _, p := range s.points {
		squares += p.Weight * p.Weight
	}
	return 1 / squares
}

// alongCurve orders spots along Hilbert's curve over their bounding square, so
// that neighbours in the order are neighbours in the plane; unless it is stopped.
func alongCurve(spots []spot, stopped func() error) ([]spot, error) {
	west, south := spots[0].x, spots[0].y
	east, north := west, south
	for _, s := range spots {
		west, east = min(west, s.x), max(east, s.x)
		south, north = min(south, s.y), max(north, s.y)
	}
	scale := float64(hilbertSide-1) / max(east-west, north-south, 1e-3)
	type keyed struct {
		key uint32
		at  int32 // of spots, at most maxPoints
	}
	along := make([]keyed, len(spots))
	for i, s := range spots {
		along[i] = keyed{hilbert(uint32((s.x-west)*scale), uint32((s.y-south)*scale)), int32(i)}
	}
	if err := stopped(); err != nil {
		return nil, err
	}
	slices.SortFunc(along, func(a, b keyed) int {
		if a.key != b.key {
			return order(a.key < b.key)
		}
		p, q := &spots[a.at], &spots[b.at]
		return cmp.Or(cmp.Compare(p.x, q.x), cmp.Compare(p.y, q.y))
	})
	if err := stopped(); err != nil {
		return nil, err
	}
	out := make([]spot, len(spots))
	for i, one := range along {
		out[i] = spots[one.at]
	}
	return out, nil
}

// order is how two that differ compare: the first is less, or is not.
func order(less bool) int {
	if less {
		return -1
	}
	return 1
}

const hilbertSide = 1 << 15

// hilbert is how far along the curve through a square of hilbertSide cells the
// cell (x, y) lies.
func hilbert(x, y uint32) uint32 {
	d := uint32(0)
	for s := uint32(hilbertSide / 2); s > 0; s /= 2 {
		var rx, ry uint32
		if x&s != 0 {
			rx = 1
		}
		if y&s != 0 {
			ry = 1
		}
		d += s * s * (3*rx ^ ry)
		if ry == 0 {
			if rx == 1 {
				x, y = hilbertSide-1-x, hilbertSide-1-y
			}
			x, y = y, x
		}
	}
	return d
}

// group joins runs of neighbours until there are at most maxSpots spots.
func group(spots []spot) []spot {
	if len(spots) <= maxSpots {
		return spots
	}
	size := (len(spots) + maxSpots - 1) / maxSpots
	out := make([]spot, 0, maxSpots)
	for run := range slices.Chunk(spots, size) {
		out = append(out, join(run))
	}
	return out
}

// join is a group of spots as one.
func join(run []spot) spot {
	var g spot
	for _, s := range run {
		g.weight += s.weight
		g.one += s.weight * s.one
		g.x += s.weight * s.x
		g.y += s.weight * s.y
	}
	g.one /= g.weight
	g.x /= g.weight
	g.y /= g.weight
	for _, s := range run {
		g.within = g.within.plus(s.weight/g.weight, outer(s.x-g.x, s.y-g.y))
	}
	return g
}
