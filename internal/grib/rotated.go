package grib

import "math"

// Rotation says how the coordinates of a rotated latitude-longitude grid lie on
// the Earth: grid definition template 3.1. The sphere is turned about its axis
// by Lon, then tilted so that the southern pole of the coordinates comes to lie
// at latitude Lat on the meridian Lon; last, the coordinates are turned by Angle
// about their own axis.
type Rotation struct {
	Lat, Lon float64 // southern pole of the rotated coordinates, degrees: [-90, 90], [-180, 180)

	// Angle about the new axis, degrees in [-360, 360], clockwise when looking
	// from the southern to the northern pole, which is toward increasing
	// longitude. Centres leave it at 0.
	Angle float64
}

// With south the latitude of the rotated southern pole, and geographic longitude
// counted from its meridian, the rotated axes are in Cartesian coordinates
//
//	x = (-sin south, 0, cos south)   rotated latitude 0, longitude 0
//	y = (0, 1, 0)
//	z = (-cos south, 0, -sin south)  rotated northern pole
//
// which is the identity for south = -90°.

// fromEarth returns the rotated latitude and longitude of a place; all degrees.
func (r Rotation) fromEarth(lat, lon float64) (rlat, rlon float64) {
	sin, cos := math.Sincos(r.Lat * radian)
	x, y, z := cartesian(lat, lon-r.Lon)
	rlat, rlon = spherical(z*cos-x*sin, y, -x*cos-z*sin)
	return rlat, wrap(rlon - r.Angle)
}

// toEarth returns the place of a rotated latitude and longitude; all degrees.
func (r Rotation) toEarth(rlat, rlon float64) (lat, lon float64) {
	sin, cos := math.Sincos(r.Lat * radian)
	x, y, z := cartesian(rlat, rlon+r.Angle)
	lat, lon = spherical(-x*sin-z*cos, y, x*cos-z*sin)
	return lat, wrap(lon + r.Lon)
}

// turn returns sine and cosine of the angle from east to rotated east: the
// components of the rotated unit vector toward the east along geographic north
// and east.
func (r Rotation) turn(lat, lon float64) (sin, cos float64) {
	_, rlon := r.fromEarth(lat, lon)
	sinR, cosR := math.Sincos((rlon + r.Angle) * radian)
	sinS, cosS := math.Sincos(r.Lat * radian)
	// Rotated east is (-sinR, cosR, 0) on the rotated axes.
	x, y, z := sinR*sinS, cosR, -sinR*cosS
	sinL, cosL := math.Sincos((lon - r.Lon) * radian)
	sinP, cosP := math.Sincos(lat * radian)
	cos = -x*sinL + y*cosL
	sin = -x*sinP*cosL - y*sinP*sinL + z*cosP
	return sin, cos
}

// cartesian is the unit vector of a place in degrees.
func cartesian(lat, lon float64) (x, y, z float64) {
	sinP, cosP := math.Sincos(lat * radian)
	sinL, cosL := math.Sincos(lon * radian)
	return cosP * cosL, cosP * sinL, sinP
}

// spherical is the place of a vector, in degrees.
func spherical(x, y, z float64) (lat, lon float64) {
	return math.Atan2(z, math.Hypot(x, y)) / radian, math.Atan2(y, x) / radian
}
