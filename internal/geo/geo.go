// Package geo is the shape of the Earth: positions, lines and areas on the
// WGS84 ellipsoid, boxes and regular grids of latitude and longitude.
//
// It hides the ellipsoid's series, the jump at the date line and the index of
// a grid node. Latitude and longitude are geodetic and in degrees, north and
// east positive; lengths are metres and areas square metres, both on the
// ellipsoid (height zero). Bearings are degrees clockwise from true north.
//
// It knows nothing of height above the ellipsoid, of terrain, or of what a
// grid's nodes carry.
package geo

import (
	"errors"
	"fmt"
	"math"
)

// WGS84: semi-major axis and flattening are its defining constants (NIMA
// TR8350.2, 3rd edition, table 3.1); the others follow from them.
const (
	semiMajor  = 6378137.0                     // a, m
	flattening = 1 / 298.257223563             // f
	axesRatio  = 1 - flattening                // b/a
	semiMinor  = semiMajor * axesRatio         // b, m
	eccentric2 = flattening * (2 - flattening) // e²
	secondEcc2 = eccentric2 / (1 - eccentric2) // e′²
	thirdFlat  = flattening / (2 - flattening) // n
)

const (
	degree     = math.Pi / 180 // rad per degree
	fullCircle = 360.0         // degrees
)

// Point is a position in degrees: Lat from -90 to 90, Lon from -180 up to but
// not including 180 once normalised (see WrapLon). Check also accepts
// longitudes up to 360, as forecast grids write them.
type Point struct{ Lat, Lon float64 }

// Check reports each coordinate that is not a finite number in its range:
// latitude -90 to 90, longitude -360 to 360.
func (p Point) Check() error {
	var errs []error
	if !(p.Lat >= -90 && p.Lat <= 90) {
		errs = append(errs, fmt.Errorf("latitude %g: want -90 to 90", p.Lat))
	}
	if !(p.Lon >= -fullCircle && p.Lon <= fullCircle) {
		errs = append(errs, fmt.Errorf("longitude %g: want -360 to 360", p.Lon))
	}
	return errors.Join(errs...)
}

// WrapLon brings any finite longitude in degrees into -180 <= lon < 180, and
// does so exactly. NaN and infinities give NaN.
func WrapLon(deg float64) float64 {
	if !(deg >= -fullCircle && deg < 2*fullCircle) {
		deg = math.Mod(deg, fullCircle)
	}
	if deg >= 180 {
		deg -= fullCircle
	}
	if deg >= 180 {
		deg -= fullCircle
	}
	if deg < -180 {
		deg += fullCircle
	}
	return deg
}

// Radii gives the two radii of curvature of the ellipsoid at a latitude in
// degrees, in metres: M along the meridian, N along the prime vertical. One
// radian of latitude is M, one of longitude N cos(lat); at height h above the
// ellipsoid add h to each. M runs from 6,335,439 to 6,399,594 m, N from
// 6,378,137 to 6,399,594 m.
func Radii(lat float64) (meridian, normal float64) {
	s := math.Sin(lat * degree)
	w2 := 1 - eccentric2*s*s
	normal = semiMajor / math.Sqrt(w2)
	return normal * (1 - eccentric2) / w2, normal
}
