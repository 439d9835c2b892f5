package landing

import (
	"math"

	"example.org/thistledown/internal/geo"
)

// plane is Lambert's azimuthal equal-area map of the ellipsoid around a point:
// positions go to the sphere of equal area by their authalic latitude and from
// there to the plane. Areas are kept exactly, so a density per m² of the plane is
// one per m² of the ground; lengths are off by at most 0.4 % near the centre
// (the ellipsoid's flattening) and by 0.2 % more at 800 km. It has no pole and no
// date line. Snyder 1987, Map Projections (USGS Professional Paper 1395), pages
// 16, 185 to 187.
type plane struct {
	radius              float64 // m, of the sphere of equal area
	toAuthalic, toPlain [3]float64
	centre, east, north vector
}

// seriesError bounds in m how far there and back leads: the series leave out e⁸.
const seriesError = 2e-3

type vector struct{ x, y, z float64 }

func (a vector) dot(b vector) float64 { return a.x*b.x + a.y*b.y + a.z*b.z }

func (a vector) plus(k float64, b vector) vector {
	return vector{a.x + k*b.x, a.y + k*b.y, a.z + k*b.z}
}

// sphere is the plane's sphere without a centre yet.
func sphere() plane {
	m, a := geo.Radii(0)
	e2 := 1 - m/a // M = a (1-e²) on the equator
	e4, e6 := e2*e2, e2*e2*e2
	e := math.Sqrt(e2)
	// Radius: Snyder (3-12) and (3-13). The two series: Snyder page 16 and (3-18),
	// from memory; the tests hold them to areas and to each other.
	return plane{
		radius:     a * math.Sqrt((1+(1-e2)*math.Atanh(e)/e)/2),
		toAuthalic: [3]float64{-(e2/3 + 31*e4/180 + 59*e6/560), 17*e4/360 + 61*e6/1260, -383 * e6 / 45360},
		toPlain:    [3]float64{e2/3 + 31*e4/180 + 517*e6/5040, 23*e4/360 + 251*e6/3780, 761 * e6 / 45360},
	}
}

func series(lat float64, c [3]float64) float64 {
	return lat + c[0]*math.Sin(2*lat) + c[1]*math.Sin(4*lat) + c[2]*math.Sin(6*lat)
}

// vector is the direction of a position on the sphere of equal area.
func (p plane) vector(at geo.Point) vector {
	sinLat, cosLat := math.Sincos(series(at.Lat*math.Pi/180, p.toAuthalic))
	sinLon, cosLon := math.Sincos(at.Lon * math.Pi / 180)
	return vector{cosLat * cosLon, cosLat * sinLon, sinLat}
}

// around is the plane whose origin lies in the direction c, x east, y north.
// The length of c is free but must not be zero.
func (p plane) around(c vector) plane {
	k := 1 / math.Sqrt(c.dot(c))
	p.centre = vector{c.x * k, c.y * k, c.z * k}
	sinLon, cosLon := math.Sincos(math.Atan2(c.y, c.x))
	p.east = vector{-sinLon, cosLon, 0}
	h := math.Hypot(p.centre.x, p.centre.y)
	p.north = vector{-p.centre.z * cosLon, -p.centre.z * sinLon, h}
	return p
}

// xy is where a direction other than the antipode falls, in m.
func (p plane) xy(v vector) (x, y float64) {
	k := p.radius * math.Sqrt(2/(1+v.dot(p.centre)))
	return k * v.dot(p.east), k * v.dot(p.north)
}

// point is the position at x m, y m of the plane, up to 2 radii from its centre.
func (p plane) point(x, y float64) geo.Point {
	x, y = x/p.radius, y/p.radius
	s2 := min(x*x+y*y, 4)
	k := math.Sqrt(1 - s2/4)
	v := vector{}.plus(1-s2/2, p.centre).plus(k*x, p.east).plus(k*y, p.north)
	lat := series(math.Atan2(v.z, math.Hypot(v.x, v.y)), p.toPlain)
	return geo.Point{
		Lat: max(-90, min(90, lat*180/math.Pi)),
		Lon: geo.WrapLon(math.Atan2(v.y, v.x) * 180 / math.Pi),
	}
}
