package landing

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"

	"example.org/thistledown/internal/geo"
)

// Score is how far an ensemble missed what then happened: in the unit of what is
// scored, 0 or more for Plain, smaller is better. It is the mean distance of the
// members from the truth less half the mean distance of two members. For one
// member alone it is the distance.
//
// Plain takes the members as the whole of the forecast: every pair counts, each
// member with itself too. Fair takes them as independent draws from the forecast:
// only pairs of two count, so that on average over such draws it does not depend
// on how many there are (Ferro 2014, Q. J. R. Meteorol. Soc. 140:1917, from
// memory). It may be below 0. Draws that are spread evenly, as those of a flight's
// ensemble, lie between.
type Score struct{ Plain, Fair float64 }

// MaxEnergyError bounds how far a plain Energy score is off, as a share of the two
// mean distances that it is the difference of, added, where all members lie within
// 800 km of the truth: lengths in a map are not those on the ellipsoid.
const MaxEnergyError = 0.002

// CRPS is the continuous ranked probability score of an ensemble of equally likely
// values, in their unit (Gneiting and Raftery 2007, J. Am. Stat. Assoc. 102:359,
// equation 21). It is an error when there is no value or one is not finite.
func CRPS(values []float64, truth float64) (Score, error) {
	if len(values) == 0 {
		return Score{}, errors.New("no values to score: want at least one")
	}
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Score{}, fmt.Errorf("value %d: %g: want a finite number", i, v)
		}
	}
	if math.IsNaN(truth) || math.IsInf(truth, 0) {
		return Score{}, fmt.Errorf("truth %g: want a finite number", truth)
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := float64(len(sorted))
	miss, apart := 0.0, 0.0
	for i, v := range sorted {
		miss += math.Abs(v-truth) / n
		// In order, value i is the larger of i pairs and the smaller of the others.
		apart += 2 * (2*float64(i) - n + 1) * (v - sorted[0]) / (n * n)
	}
	return score(miss, apart, 1/n), nil
}

// Energy is the energy score of weighted landings in m, the CRPS for points of the
// plane: distances stand for differences (Gneiting and Raftery 2007, equation 22).
// They are taken in the package's equal-area plane around the truth; see
// MaxEnergyError. The errors are those of Estimate, with the truth in the place of
// the mean. It takes time as the square of the points.
func Energy(points []Weighted, truth geo.Point) (Score, error) {
	if err := check(points, nil); err != nil {
		return Score{}, err
	}
	if err := truth.Check(); err != nil {
		return Score{}, fmt.Errorf("truth: %w", err)
	}
	around := sphere()
	around = around.around(around.vector(truth))
	nearest := math.Cos(MaxReach / around.radius)
	members := distinct(points)
	places := make([]xy, len(members))
	for i, p := range members {
		v := around.vector(p.At)
		if !(v.dot(around.centre) >= nearest) {
			km := around.radius / 1000 * math.Acos(max(-1, v.dot(around.centre)))
			return Score{}, fmt.Errorf("a landing point at %v: %.0f km from the truth: want at most %.0f km", p.At, km, MaxReach/1000)
		}
		places[i].x, places[i].y = around.xy(v)
	}
	miss, apart := 0.0, 0.0
	for i, p := range members {
		a := places[i]
		miss += p.Weight * math.Sqrt(a.x*a.x+a.y*a.y)
		row := 0.0
		for j, b := range places[:i] {
			dx, dy := a.x-b.x, a.y-b.y
			row += members[j].Weight * math.Sqrt(dx*dx+dy*dy)
		}
		apart += 2 * p.Weight * row
	}
	return score(miss, apart, 1/effective(points)), nil
}

// score is made of the mean distance from the truth, the mean distance of all
// pairs, and the share of those pairs that a member forms with itself.
func score(miss, apart, alone float64) Score {
	s := Score{Plain: miss - apart/2, Fair: miss - apart/2/(1-alone)}
	if alone > 1-1e-12 {
		s.Fair = s.Plain
	}
	return s
}

// Denser is the share of all landings that Estimate expects where the density is
// higher than at each of some places, 0 to 1: 0 at the most likely one, 1 beyond
// all landings. A place lies in the region of a share if, and but for the width
// of a line only if, its value is at most that share; so, where the points are
// draws from the law that truths follow, the values at truths are evenly spread
// from 0 to 1.
//
// It is an error where Estimate has one, or when a place is no position.
func Denser(points []Weighted, places []geo.Point) ([]float64, error) {
	if err := check(points, nil); err != nil {
		return nil, err
	}
	for i, p := range places {
		if err := p.Check(); err != nil {
			return nil, fmt.Errorf("place %d: %w", i, err)
		}
	}
	s, err := gather(points, never)
	if err != nil {
		return nil, err
	}
	f := estimate(s, s.effective() < FewPoints)
	at, highest := f.ascending()
	out := make([]float64, len(places))
	for i, p := range places {
		out[i] = 1 - below(at, f.at(p), highest)
	}
	return out, nil
}

// at is the density at a position, 1/m².
func (d density) at(p geo.Point) float64 {
	v := d.plane.vector(p)
	if v.dot(d.plane.centre) < math.Cos(MaxReach/d.plane.radius) {
		return 0
	}
	x, y := d.m.apply(d.plane.xy(v))
	f := 0.0
	for i := range d.grids {
		f += d.grids[i].at(x, y)
	}
	return f
}

// below is the greatest share whose quantile is at most a value: the inverse of
// quantile.
func below(ascending []near, value, highest float64) float64 {
	if value >= highest {
		return 1
	}
	n := sort.Search(len(ascending), func(i int) bool { return ascending[i].distance > value })
	passed := 0.0
	for _, a := range ascending[:n] {
		passed += a.mass
	}
	before, low := 0.0, 0.0
	if n > 0 {
		before, low = passed-ascending[n-1].mass/2, ascending[n-1].distance
	}
	middle, high := 1.0, highest
	if n < len(ascending) {
		middle, high = passed+ascending[n].mass/2, ascending[n].distance
	}
	return before + (middle-before)*(value-low)/(high-low)
}
