package geo

import "math"

// RingArea is the area in m² on the ellipsoid that a ring of positions
// encloses, positive if the ring runs counterclockwise. Its edges are straight
// in latitude and longitude, as RFC 7946 has them, not geodesics. The last
// position may repeat the first or not. Each edge goes the short way round in
// longitude, so a ring may cross the date line and an edge must be less than
// 180 degrees wide. A ring that goes round a pole does not close in these
// coordinates and gives NaN, unless it is cut open: out along a meridian, along
// the pole in such edges, and back. The error is that of rounding, below
// 5e-4 m² for each degree of longitude that the ring is wide.
func RingArea(ring []Point) float64 {
	if len(ring) < 3 {
		return 0
	}
	area, turned := 0.0, 0.0
	from := ring[len(ring)-1]
	for _, to := range ring {
		d := eastOf(from.Lon, to.Lon)
		turned += d
		area -= d * degree * meanBelow(from.Lat, to.Lat)
		from = to
	}
	if math.Abs(turned) > 180 {
		return math.NaN()
	}
	return area
}

// meanBelow is the mean over an edge of the area between it and the equator
// per radian of longitude.
func meanBelow(lat1, lat2 float64) float64 {
	// Gauss-Legendre, ten points, Abramowitz and Stegun table 25.4.
	nodes := [...]float64{0.1488743389816312, 0.4333953941292472, 0.6794095682990244, 0.8650633666889845, 0.9739065285171717}
	weights := [...]float64{0.2955242247147529, 0.2692667193099964, 0.2190863625159820, 0.1494513491505806, 0.0666713443086881}
	middle, half := (lat1+lat2)/2, (lat2-lat1)/2
	if half == 0 {
		return below(middle)
	}
	sum := 0.0
	for i, x := range nodes {
		sum += weights[i] * (below(middle-half*x) + below(middle+half*x))
	}
	return sum / 2
}

// below is the area between the equator and a latitude in degrees, per radian
// of longitude: ∫ M N cos φ dφ = b²/2 (sin φ/(1 - e² sin²φ) + atanh(e sin φ)/e),
// with atanh as its series, which e² = 0.0067 lets end after seven terms.
func below(lat float64) float64 {
	s := math.Sin(lat * degree)
	x := eccentric2 * s * s
	atanh := 1 + x*(1./3+x*(1./5+x*(1./7+x*(1./9+x*(1./11+x/13)))))
	return semiMinor * semiMinor / 2 * s * (1/(1-x) + atanh)
}
