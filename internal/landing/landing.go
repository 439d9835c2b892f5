// Package landing turns weighted landing points into where the payload will
// come down: the smallest regions that hold a stated share of all landings
// (highest-density regions), the most likely point, the mean, and the distance
// from the most likely point that holds 95 % of them.
//
// It hides the estimate of the density, the choice of its bandwidth, the level
// at which a region is cut, the contours, and how a region is written when it
// meets the date line or a pole. Positions come in and go out as latitude and
// longitude in degrees on the WGS84 ellipsoid; lengths are metres, areas square
// metres on the ellipsoid, weights any non-negative numbers (only their ratios
// count). Inside, everything happens in an equal-area plane around the mean.
//
// It knows nothing of flights, of the ground, or of why a point has its weight.
package landing

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"example.org/thistledown/internal/geo"
)

const (
	// FewPoints is the effective number of points below which an estimate says
	// that it rests on few (see Distribution.Few).
	FewPoints = 30

	// MaxShareError (for a share of 95 %, MaxShareError95) bounds how far the true
	// share in a region of 1,024 points lies from the one stated, on average over
	// samples, whether their points are independent (mostly below) or evenly spread
	// (mostly above). A single sample scatters around that: by 1.6 % at 50 % and 0.7 %
	// at 95 % if its points are independent, by 0.3 % if they are evenly spread. It
	// holds for laws that fall off smoothly: on a plateau of even density no level is
	// defined, and there a region of 50 % is off by up to 6 %, of 80 % by 2 %, of 95 %
	// by 1 %. Fewer independent points hold less than stated: 128 of them 4, 2.5 and
	// 1.5 % less, 40 of them 6, 4 and 3 %.
	MaxShareError = 0.01

	// MaxShareError95 is MaxShareError for a share of 95 %.
	MaxShareError95 = 0.005

	// MaxAreaExcess bounds how much larger a region of 1,024 points is than the smallest
	// that holds its share, on average: for one normal cluster it is 3 %, for several
	// clusters and bent ones this. A cluster of less than a tenth of the weight that the
	// edge of a region cuts may come out a fifth too large.
	MaxAreaExcess = 0.08

	// Blur is the standard deviation in metres, in each direction, of the circle
	// that every landing point stands for at least. Landings that coincide give
	// regions of this size: 50 % within 1.18 Blur, 95 % within 2.45 Blur.
	Blur = 10.0

	// MaxReach is how far in metres a point may lie from the mean of all.
	MaxReach = 5e6

	blurRadius95 = 2.447746830680816 * Blur // √(-2 ln 0.05)

	maxPoints = 1 << 22
	maxShares = 32
)

// Weighted is one landing: where, and how much it counts (zero or more; weights
// need not sum to one).
type Weighted struct {
	At     geo.Point
	Weight float64
}

// Region is the smallest area that holds a share of all landings.
type Region struct {
	Share float64          // of all landings, above 0 and below 1
	Shape orb.MultiPolygon // RFC 7946: longitude, latitude in degrees; rings closed, outer ones counterclockwise, cut at the date line
	Area  float64          // m² on the ellipsoid
}

// Contains tells whether a position lies in the region. One on its very edge may count
// either way.
func (r Region) Contains(p geo.Point) bool {
	const pole = 90 - 1e-9 // below it lies all of a polygon but its edge along the pole
	x, y := geo.WrapLon(p.Lon), min(max(p.Lat, -pole), pole)
	in := false // polygons do not meet, so every ring that is crossed on the way out counts
	for _, polygon := range r.Shape {
		for _, ring := range polygon {
			for i := 1; i < len(ring); i++ {
				a, b := ring[i-1], ring[i]
				if (a[1] > y) != (b[1] > y) && x < a[0]+(b[0]-a[0])*(y-a[1])/(b[1]-a[1]) {
					in = !in
				}
			}
		}
	}
	return in
}

// Distribution is where a set of weighted points says that a landing will be.
type Distribution struct {
	MostLikely geo.Point // where the density is highest
	Mean       geo.Point // weighted mean direction from the centre of the Earth
	Regions    []Region  // one for each share asked for, in that order
	Radius95   float64   // m, geodesic: holds 95 % of the weight around MostLikely
	Effective  float64   // Kish's effective number of points, (Σw)²/Σw²
	Few        bool      // fewer than FewPoints points count: the regions are rough, and rather too large
}

// Estimate finds the regions that hold the given shares (each above 0 and
// below 1) of the law that the points were drawn from.
//
// Each point is spread by a Gaussian whose covariance is a fixed fraction of
// that of its own nearest neighbours (a sample-point estimator: Breiman, Meisel
// and Purcell 1977, Technometrics 19:135), so clusters of any size, shape and
// number are followed. A region is where this density exceeds a level; the level
// is read from the points and not from the density: it is the quantile of the
// densities at the points, so the spreading does not widen a region
// (Hyndman 1996, Am. Stat. 50:120).
//
// It is an error when a point is no position, a weight is no number or below
// zero, no weight is above zero, or a point lies more than MaxReach from the mean.
// The result does not depend on the order of the points, and equal positions
// count as one with the sum of their weights.
func Estimate(points []Weighted, shares []float64) (Distribution, error) {
	return EstimateUnless(points, shares, never)
}

// never is what stops nothing.
func never() error { return nil }

// EstimateUnless is Estimate, given up once stopped has an error, which is its own
// then. It is asked between the steps, of which the longest grows with the points.
func EstimateUnless(points []Weighted, shares []float64, stopped func() error) (Distribution, error) {
	if err := check(points, shares); err != nil {
		return Distribution{}, err
	}
	s, err := gather(points, stopped)
	if err != nil {
		return Distribution{}, err
	}
	out := Distribution{
		Mean:      s.plane.point(0, 0),
		Effective: effective(points),
		Regions:   make([]Region, len(shares)),
	}
	few := s.effective() < FewPoints
	out.Few = few || out.Effective < FewPoints
	f := estimate(s, few)
	out.MostLikely = s.plane.point(f.mode())
	if out.Radius95, err = radius(s, out.MostLikely, 0.95, stopped); err != nil {
		return Distribution{}, err
	}
	levels := f.levels(shares)
	for i, share := range shares {
		if err := stopped(); err != nil {
			return Distribution{}, err
		}
		shape := f.region(levels[i])
		out.Regions[i] = Region{Share: share, Shape: shape, Area: area(shape)}
	}
	return out, nil
}

func check(points []Weighted, shares []float64) error {
	if len(points) == 0 {
		return errors.New("no landing points: want at least one")
	}
	if len(points) > maxPoints {
		return fmt.Errorf("%d landing points: want at most %d", len(points), maxPoints)
	}
	if len(shares) > maxShares {
		return fmt.Errorf("%d shares: want at most %d", len(shares), maxShares)
	}
	for i, share := range shares {
		if !(share > 0 && share < 1) {
			return fmt.Errorf("share %d: %g: want above 0 and below 1", i, share)
		}
	}
	largest := 0.0
	for i, p := range points {
		if err := p.At.Check(); err != nil {
			return fmt.Errorf("landing point %d: %w", i, err)
		}
		if !(p.Weight >= 0 && p.Weight <= math.MaxFloat64) {
			return fmt.Errorf("landing point %d: weight %g: want a number of 0 or more", i, p.Weight)
		}
		largest = max(largest, p.Weight)
	}
	if largest == 0 {
		return fmt.Errorf("all %d landing points have weight 0: want at least one above 0", len(points))
	}
	return nil
}

// effective is Kish's effective number of points (Kish 1965, Survey Sampling,
// §11.7), free of overflow and of the order. At least one weight is above zero.
func effective(points []Weighted) float64 {
	weights := make([]float64, len(points))
	for i, p := range points {
		weights[i] = p.Weight
	}
	slices.Sort(weights)
	largest := weights[len(weights)-1]
	sum, squares := 0.0, 0.0
	for _, w := range weights {
		sum += w / largest
		squares += w / largest * (w / largest)
	}
	return sum * sum / squares
}
