package grib

import "math"

// Cone is Lambert's conformal conic projection, grid definition template 3.30.
type Cone struct {
	// Latin1 and Latin2 are the standard parallels, where the scale is 1,
	// degrees in [-89, 89]; equal if the cone touches along one.
	Latin1, Latin2 float64

	LoV    float64 // meridian along which j increases toward the north, degrees in [-180, 180)
	DX, DY float64 // spacing of columns and rows on the plane of the cone, m; above 0
	Earth  Earth
}

// development is a cone ready to compute with. Equation numbers are those of
// Snyder1987; the sphere is the ellipsoid of eccentricity 0. The constant n and
// the radii are negative where the apex is the south pole.
type development struct {
	e   float64 // eccentricity of the ellipsoid
	n   float64 // constant of the cone, (15-8)
	af  float64 // radius of the parallel with t = 1 about the apex, a·F of (15-10), m
	lov float64 // degrees
}

// develop computes the constants of the cone.
func (c Cone) develop() development {
	d := development{e: c.Earth.eccentricity(), lov: c.LoV}
	m1, t1 := d.parallel(c.Latin1)
	d.n = math.Sin(c.Latin1 * radian)
	if c.Latin1 != c.Latin2 {
		m2, t2 := d.parallel(c.Latin2)
		d.n = math.Log(m1/m2) / math.Log(t1/t2)
	}
	d.af = c.Earth.Major * m1 / (d.n * math.Pow(t1, d.n))
	return d
}

// parallel returns m and t of a latitude in degrees, (14-15) and (15-9).
func (d development) parallel(lat float64) (m, t float64) {
	sin, cos := math.Sincos(lat * radian)
	m = cos / math.Sqrt(1-d.e*d.e*sin*sin)
	t = math.Tan((45-lat/2)*radian) / math.Pow((1-d.e*sin)/(1+d.e*sin), d.e/2)
	return m, t
}

// plane returns where a place in degrees lies on the plane, in metres from the
// apex: x to the right, y up along the meridian LoV. (15-7), (14-4), (14-1), and
// (14-2) with the apex for origin.
func (d development) plane(lat, lon float64) (x, y float64) {
	_, t := d.parallel(lat)
	r := d.af * math.Pow(t, d.n)
	sin, cos := math.Sincos(d.n * wrap(lon-d.lov) * radian)
	return r * sin, -r * cos
}

// earth is the inverse of plane, lon in [-180, 180): (14-10), (14-11), (14-9),
// (15-11) and the iteration (7-9), of which each step leaves less than a
// hundredth of the error.
func (d development) earth(x, y float64) (lat, lon float64) {
	sign := math.Copysign(1, d.n)
	r := sign * math.Hypot(x, y)
	theta := math.Atan2(sign*x, -sign*y)
	lon = wrap(theta/d.n/radian + d.lov)
	t := math.Pow(r/d.af, 1/d.n)
	phi := math.Pi/2 - 2*math.Atan(t)
	if d.e == 0 {
		return phi / radian, lon
	}
	for range 10 {
		sin := d.e * math.Sin(phi)
		phi = math.Pi/2 - 2*math.Atan(t*math.Pow((1-sin)/(1+sin), d.e/2))
	}
	return phi / radian, lon
}

// turn returns sine and cosine of the angle from east to the direction of
// increasing i: meridians run to the apex, and at the angle n·(lon − LoV) from
// the one of LoV.
func (d development) turn(lon float64) (sin, cos float64) {
	sin, cos = math.Sincos(d.n * wrap(lon-d.lov) * radian)
	return -sin, cos
}

// scale is the ratio of a short length on the plane to that on the Earth at a
// latitude in degrees, (15-3).
func (d development) scale(lat float64, major float64) float64 {
	m, t := d.parallel(lat)
	return d.n * d.af * math.Pow(t, d.n) / (major * m)
}

// cut reports whether a rectangle on the plane, which has a corner on the
// developed cone, reaches the gap at which the cone is cut open: the meridian
// opposite LoV, whose two sides are rays from the apex. On it there are no places
// on the Earth.
func (d development) cut(x0, y0, x1, y1 float64) bool {
	sin, cos := math.Sincos(d.n * math.Pi)
	sign := math.Copysign(1, d.n)
	return crosses(sign*sin, -sign*cos, x0, y0, x1, y1) || crosses(-sign*sin, -sign*cos, x0, y0, x1, y1)
}

// crosses reports whether the ray from the origin in direction (dx, dy) meets the
// rectangle with x0 ≤ x ≤ x1 and y0 ≤ y ≤ y1.
func crosses(dx, dy, x0, y0, x1, y1 float64) bool {
	from, to := 0.0, math.Inf(1)
	for _, side := range [2][3]float64{{dx, x0, x1}, {dy, y0, y1}} {
		d, low, high := side[0], side[1], side[2]
		if d == 0 {
			if low > 0 || high < 0 {
				return false
			}
			continue
		}
		a, b := low/d, high/d
		from, to = max(from, min(a, b)), min(to, max(a, b))
	}
	return from <= to
}
