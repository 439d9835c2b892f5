package grib

import "math"

// Gauss says which rows a regular Gaussian grid has, grid definition template
// 3.40: N rows between a pole and the equator, whose latitudes have the roots of
// the Legendre polynomial of degree 2N as sines (AS1964, 25.4.29).
type Gauss struct {
	N     int // 1 to maxGauss
	South int // row 0 of the field among the 2N rows of the globe, counted from 0 in the south
}

// latitude returns that of row j in degrees, within 1e-11 up to N = 1,280.
// Rows beyond the globe are at the poles.
func (g Gauss) latitude(j int) float64 {
	k := g.South + j
	switch {
	case k < 0:
		return -90
	case k >= 2*g.N:
		return 90
	case k < g.N:
		return -gaussLatitude(g.N, k+1)
	}
	return gaussLatitude(g.N, 2*g.N-k)
}

// gaussLatitude is the latitude of row m from the northern pole, 1 to n, in
// degrees: Newton's method for P(cos θ) = 0, P of degree 2n and θ the distance
// from the pole, from what the roots tend to (AS1964, 22.16.6; 22.7 and 22.8 below too).
func gaussLatitude(n, m int) float64 {
	degree := float64(2 * n)
	theta := (float64(m) - 0.25) * math.Pi / (degree + 0.5)
	theta += 1 / (8 * degree * degree * math.Tan(theta))
	// Each step squares the error relative to θ, at most some hundredths to begin
	// with, so that four leave nothing but rounding.
	for range 4 {
		sin, cos := math.Sincos(theta)
		// (k+1)·P(k+1) = (2k+1)·x·P(k) − k·P(k−1), 22.7.10.
		before, p := 1.0, cos
		for k := 1.0; k < degree; k++ {
			before, p = p, ((2*k+1)*cos*p-k*before)/(k+1)
		}
		// (1−x²)·P′ = n·(P(n−1) − x·P(n)), 22.8.5, and dP/dθ = −sin θ·P′.
		step := p * sin / (degree * (before - cos*p))
		theta += step
		if math.Abs(step) < 1e-8*theta {
			break
		}
	}
	return 90 - theta/radian
}

// row is the coordinate of a latitude in degrees among the rows of the field:
// linear in latitude between neighbouring ones, NaN beyond the outermost of the
// globe.
func (g Gauss) row(lat float64) float64 {
	k := g.below(lat)
	low, high := g.latitude(k), g.latitude(k+1)
	for ; lat < low && g.South+k >= 0; k-- {
		low, high = g.latitude(k-1), low
	}
	for ; lat >= high && g.South+k < 2*g.N-1; k++ {
		low, high = high, g.latitude(k+2)
	}
	switch first, last := -g.South, 2*g.N-1-g.South; {
	case k < first:
		return edge(lat, high, 90/float64(g.N), first)
	case k >= last:
		return edge(lat, low, 90/float64(g.N), last)
	}
	return float64(k) + (lat-low)/(high-low)
}

// edge is the coordinate of a latitude beyond an outermost row of the globe: on
// it within the slack, else nowhere.
func edge(lat, row, spacing float64, k int) float64 {
	if math.Abs(lat-row) < slack*spacing {
		return float64(k)
	}
	return math.NaN()
}

// below is the row of the field south of a latitude, or one next to it.
func (g Gauss) below(lat float64) int {
	m := (90-lat)*radian*(2*float64(g.N)+0.5)/math.Pi + 0.25
	return 2*g.N - int(math.Ceil(m)) - g.South
}

// nearest is the row of the globe nearest to a latitude in degrees, from 0 in
// the south, and its latitude.
func (g Gauss) nearest(lat float64) (int, float64) {
	globe := Gauss{N: g.N}
	k := min(max(globe.below(lat), 0), 2*g.N-1)
	best := globe.latitude(k)
	for _, other := range []int{k - 1, k + 1} {
		if other < 0 || other >= 2*g.N {
			continue
		}
		if there := globe.latitude(other); math.Abs(there-lat) < math.Abs(best-lat) {
			k, best = other, there
		}
	}
	return k, best
}
