package grib

import (
	"fmt"
	"math"

	"github.com/nilsmagnus/grib/griblib"
)

// corners of a grid along meridians and parallels, degrees; east is above west
// by up to a turn.
type corners struct {
	south, north, west, east float64
	unit                     float64 // units of the message per degree
}

// cornersOf takes first and last point of a template that begins as 3.0 does;
// longitudes go up to most.
func cornersOf(t griblib.Grid0, most float64) (corners, error) {
	unit, err := angleUnit(t.BasicAngle)
	if err != nil {
		return corners{}, err
	}
	degrees := func(n int32) float64 { return float64(signed32(uint32(n))) / unit }
	c := corners{south: degrees(t.La1), north: degrees(t.La2), west: degrees(t.Lo1), east: degrees(t.Lo2), unit: unit}
	if t.ScanningMode&jPositive == 0 {
		c.south, c.north = c.north, c.south
	}
	if t.ScanningMode&iNegative != 0 {
		c.west, c.east = c.east, c.west
	}
	if c.south < -90 || c.north > 90 || c.south > c.north {
		return corners{}, fmt.Errorf("latitudes from %g to %g, in the order of scanning mode %#02x: want them to rise from -90 to 90", c.south, c.north, t.ScanningMode)
	}
	if min(c.west, c.east) < -360 || max(c.west, c.east) > most {
		return corners{}, fmt.Errorf("longitudes from %g to %g: want -360 to %g", c.west, c.east, most)
	}
	if c.east < c.west || c.east == c.west && t.Ni > 1 {
		c.east += 360 // the grid crosses the meridian where the numbers start anew
	}
	return c, nil
}

// columns is the distance of neighbouring columns in degrees.
func (c corners) columns(t griblib.Grid0) (float64, error) {
	a := axis{name: "i", n: t.Ni, span: c.east - c.west, unit: c.unit}
	a.increment, a.given = uint32(t.Di), t.ResolutionAndComponentFlags&iIncrement != 0
	d, err := a.spacing()
	return whole(d, int(t.Ni)), err
}

// angleUnit is how many units of the grid's angles make a degree.
func angleUnit(a griblib.BasicAngle) (float64, error) {
	if a.BasicAngle == 0 || a.BasicAngle == missing32 {
		return 1e6, nil
	}
	if a.BasicAngleSub == 0 || a.BasicAngleSub == missing32 {
		return 0, fmt.Errorf("basic angle %d with %d subdivisions: want at least 1", a.BasicAngle, a.BasicAngleSub)
	}
	return float64(a.BasicAngleSub) / float64(a.BasicAngle), nil
}

// axis is one direction of a grid.
type axis struct {
	name      string
	n         uint32  // points, at least 1
	span      float64 // from first to last point, degrees
	unit      float64 // units per degree
	increment uint32  // in units, if given and not missing
	given     bool
}

// spacing returns the distance of neighbouring points in degrees.
func (a axis) spacing() (float64, error) {
	given := a.given && a.increment != missing32 && a.increment != 0
	step := float64(a.increment) / a.unit
	if a.n == 1 {
		if a.span != 0 {
			return 0, fmt.Errorf("one point along %s, first and last %g degrees apart: want none", a.name, a.span)
		}
		if !given {
			step = 0
		}
		return step, nil
	}
	d := a.span / float64(a.n-1)
	if d == 0 {
		return 0, fmt.Errorf("%d points along %s between equal corners: want them apart", a.n, a.name)
	}
	// Corners and increments are rounded to the unit, so that d and step may
	// differ by a unit; a hundredth of d lets coarser rounding pass and no
	// increment of another grid.
	if given && math.Abs(step-d) > max(d/100, 1/a.unit) {
		return 0, fmt.Errorf("increment along %s %g degrees, but %d points over %g: want %g", a.name, step, a.n, a.span, d)
	}
	return d, nil
}

// whole makes a spacing that takes a row round the Earth, but for the rounding
// of angles in the message, do so exactly.
func whole(d float64, n int) float64 {
	if circle := 360 / float64(n); math.Abs(d-circle)*float64(n) < d/1000 {
		return circle
	}
	return d
}
