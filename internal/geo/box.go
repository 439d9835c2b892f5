package geo

import "fmt"

// Box is the part of the Earth between two latitudes and two meridians, in
// degrees, edges included. It runs eastward from West to East, so West greater
// than East means that it crosses the date line; East-West of 360 or more is
// the whole way round.
type Box struct{ South, North, West, East float64 }

// Check reports the first bound of the box that is not a finite number in its
// range (latitudes -90 to 90, longitudes -360 to 360) or a south edge that is
// north of the north edge.
func (b Box) Check() error {
	if !(b.South >= -90 && b.North <= 90 && b.South <= b.North) {
		return fmt.Errorf("box from latitude %g to %g: want -90 to 90, south first", b.South, b.North)
	}
	for _, lon := range [...]float64{b.West, b.East} {
		if !(lon >= -fullCircle && lon <= fullCircle) {
			return fmt.Errorf("box from longitude %g to %g: want -360 to 360", b.West, b.East)
		}
	}
	return nil
}

// Contains reports whether p lies in the box or on its edge. NaN never does.
func (b Box) Contains(p Point) bool {
	if !(p.Lat >= b.South && p.Lat <= b.North) {
		return false
	}
	east := eastward(b.West, p.Lon)
	return east <= eastward(b.West, b.East) || east >= 0 && b.East-b.West >= fullCircle
}

// eastward is eastOf counted 0 <= d < 360.
func eastward(from, to float64) float64 {
	d := eastOf(from, to)
	if d < 0 {
		return d + fullCircle
	}
	return d
}
