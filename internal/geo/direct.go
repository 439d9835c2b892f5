package geo

import "math"

// Direct is where a geodesic ends that leaves p on a bearing in degrees and
// runs for a length in metres (a negative length runs backwards). The error is
// below 30 nm for lengths up to half round the globe. At a pole the bearing
// counts from the meridian that p.Lon names. An argument that is not a finite
// number, or a latitude beyond a pole, gives NaN for both coordinates.
func Direct(p Point, bearing, metres float64) Point {
	if !(math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= math.MaxFloat64) {
		return Point{Lat: math.NaN(), Lon: math.NaN()}
	}
	sinA1, cosA1 := sincosDeg(bearing)
	beta := reduced(p.Lat)
	sinA0 := sinA1 * beta.cos
	cosA0 := math.Hypot(cosA1, sinA1*beta.sin)

	sigma1, omega1 := sincos{0, 1}, sincos{0, 1} // eastward on the equator
	if beta.sin != 0 || cosA1 != 0 {
		sigma1 = sincos{beta.sin, cosA1 * beta.cos}.unit()
		omega1 = sincos{sinA0 * beta.sin, cosA1 * beta.cos}.unit()
	}
	e := expansion(cosA0)
	a1, c1 := distanceSeries(e)
	back := revertedSeries(e)
	tau12 := metres / (semiMinor * a1)
	head := c1.sum(sigma1.sin, sigma1.cos)
	tau2 := sigma1.turned(head + tau12)
	sigma12 := head + tau12 + back.sum(tau2.sin, tau2.cos)
	sigma2 := sigma1.turned(sigma12)

	a3, c3 := longitudeSeries(e)
	bend := sigma12 + c3.sum(sigma2.sin, sigma2.cos) - c3.sum(sigma1.sin, sigma1.cos)
	omega12 := omega1.to(sincos{sinA0 * sigma2.sin, sigma2.cos})
	lambda12 := omega12 - flattening*sinA0*a3*bend

	lat := math.Atan2(cosA0*sigma2.sin, axesRatio*math.Hypot(sinA0, cosA0*sigma2.cos))
	return Point{Lat: lat / degree, Lon: WrapLon(p.Lon + lambda12/degree)}
}
