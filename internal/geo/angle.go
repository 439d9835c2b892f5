package geo

import "math"

// tiny stands for the cosine of a latitude at a pole, so that the bearing there
// is still read from the meridian: 1e-100 of the Earth's radius is no length.
const tiny = 1e-100

// sincos is an angle kept as its sine and cosine.
type sincos struct{ sin, cos float64 }

// unit scales s to length one.
func (s sincos) unit() sincos {
	h := math.Hypot(s.sin, s.cos)
	return sincos{s.sin / h, s.cos / h}
}

// turned is s increased by an angle in radians.
func (s sincos) turned(by float64) sincos {
	sin, cos := math.Sincos(by)
	return sincos{s.sin*cos + s.cos*sin, s.cos*cos - s.sin*sin}
}

// to is the angle from s to t in radians, -π to π.
func (s sincos) to(t sincos) float64 {
	return math.Atan2(s.cos*t.sin-s.sin*t.cos, s.cos*t.cos+s.sin*t.sin)
}

// reduced is the reduced latitude β of a geodetic latitude in degrees,
// tan β = (1-f) tan φ.
func reduced(lat float64) sincos {
	sin, cos := sincosDeg(lat)
	s := sincos{axesRatio * sin, cos}.unit()
	return sincos{s.sin, max(s.cos, tiny)}
}

// sincosDeg is the sine and cosine of an angle in degrees, exact at multiples
// of 90.
func sincosDeg(deg float64) (sin, cos float64) {
	const big = 1e6 // beyond it the product below may round
	if !(math.Abs(deg) < big) {
		deg = math.Mod(deg, fullCircle)
	}
	q := math.RoundToEven(deg / 90)
	s, c := math.Sincos((deg - 90*q) * degree)
	switch int(q) & 3 {
	case 1:
		return c, -s
	case 2:
		return -s, -c
	case 3:
		return -c, s
	}
	return s, c
}

// compass is the bearing of a direction with these parts toward east and
// north, 0 <= bearing < 360 degrees.
func compass(east, north float64) float64 {
	b := math.Atan2(east, north) / degree
	if b < 0 {
		b += fullCircle
	}
	if b >= fullCircle {
		return 0
	}
	return b + 0 // no negative zero
}

// eastOf is how far east of from the longitude to lies, in degrees,
// -180 <= d < 180. It is as exact across the date line as anywhere.
func eastOf(from, to float64) float64 {
	d := to - from
	if d >= -180 && d < 180 {
		return d
	}
	return WrapLon(halfTurn(to) - halfTurn(from))
}

// halfTurn counts a longitude from the date line.
func halfTurn(lon float64) float64 {
	lon = WrapLon(lon)
	if lon < 0 {
		return lon + 180
	}
	return lon - 180
}
