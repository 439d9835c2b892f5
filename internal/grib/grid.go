package grib

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/nilsmagnus/grib/griblib"
)

// LatLonGrid is a regular latitude-longitude grid, grid definition template
// 3.0. The values of a field lie in rows from south to north, each row from west
// to east: node (i, j) is at index j·NX + i, latitude Lat0 + j·DLat, longitude
// Lon0 + i·DLon.
type LatLonGrid struct {
	NX, NY int // columns and rows, each at least 1

	Lat0, Lon0 float64 // south-west node, degrees; Lat0 in [-90, 90], Lon0 in [-180, 180)
	DLat, DLon float64 // spacing, degrees; above 0, but 0 if there is one row or column and no spacing is given

	// AlongGrid is set if wind components follow the directions of increasing
	// i and j and not east and north. On this grid the two are the same.
	AlongGrid bool
}

// Flag table 3.3, resolution and component flags.
const (
	iIncrement = 0x20 // Di is given
	jIncrement = 0x10 // Dj is given
	alongGrid  = 0x08
)

// Flag table 3.4, scanning mode.
const (
	iNegative   = 0x80 // along a row values go west
	jPositive   = 0x40 // rows go north
	jAdjacent   = 0x20 // adjacent values lie in a column, not in a row
	boustro     = 0x10 // every second row (column) goes the other way, as the ox ploughs
	staggered   = 0x0f // rows or columns are offset against each other
	missing32   = math.MaxUint32
	microdegree = 1e-6
)

// locate reads section 3.
//
//	octets  field
//	6       source of the grid definition, 0 if it is this section
//	7–10    number of points
//	11–12   octets per entry, and meaning, of a list of points in each row
//	13–14   grid definition template number
//	15–72   template 3.0, see lattice
//
// What makes the grid one that is not supported goes to blame.
func (f *Field) locate(b []byte, blame *error) error {
	f.Grid, f.scanning = LatLonGrid{}, 0
	f.Points = int(binary.BigEndian.Uint32(b[6:]))
	f.GridTemplate = binary.BigEndian.Uint16(b[12:])
	if b[5] != 0 {
		*blame = fmt.Errorf("grid defined elsewhere (source %d of code table 3.0) not supported", b[5])
		return nil
	}
	if f.GridTemplate != 0 {
		*blame = refuse("grid 3.", f.GridTemplate, gridName(f.GridTemplate))
		return nil
	}
	var t griblib.Grid0
	if err := decode(b, 14, &t); err != nil {
		return err
	}
	if b[10] != 0 || t.Ni == missing32 || t.Nj == missing32 {
		*blame = errors.New("grid 3.0 with rows of different length (quasi-regular) not supported")
		return nil
	}
	f.scanning = t.ScanningMode
	if t.ScanningMode&staggered != 0 {
		*blame = fmt.Errorf("scanning mode %#02x (staggered rows) not supported", t.ScanningMode)
		return nil
	}
	if t.Ni == 0 || t.Nj == 0 || uint64(t.Ni)*uint64(t.Nj) != uint64(f.Points) {
		return fmt.Errorf("%d × %d points: want the %d of octets 7–10", t.Ni, t.Nj, f.Points)
	}
	grid, err := lattice(t)
	if err != nil {
		return err
	}
	f.Grid = grid
	return nil
}

// lattice converts template 3.0.
//
//	octets  field
//	15–30   shape of the Earth
//	31–38   Ni, Nj: points along a row and a column
//	39–46   basic angle and its subdivisions; both 0 or missing: microdegrees
//	47–54   latitude and longitude of the first point
//	55      resolution and component flags
//	56–63   latitude and longitude of the last point
//	64–71   Di, Dj: increments, without sign
//	72      scanning mode
//
// Spacings are taken from the corners, which are given to the same unit as the
// increments but for the whole grid; increments, where given, must agree.
func lattice(t griblib.Grid0) (LatLonGrid, error) {
	unit, err := angleUnit(t.BasicAngle)
	if err != nil {
		return LatLonGrid{}, err
	}
	degrees := func(n int32) float64 { return float64(signed32(uint32(n))) / unit }
	south, north := degrees(t.La1), degrees(t.La2)
	west, east := degrees(t.Lo1), degrees(t.Lo2)
	if t.ScanningMode&jPositive == 0 {
		south, north = north, south
	}
	if t.ScanningMode&iNegative != 0 {
		west, east = east, west
	}
	if south < -90 || north > 90 || south > north {
		return LatLonGrid{}, fmt.Errorf("latitudes from %g to %g, in the order of scanning mode %#02x: want them to rise from -90 to 90", south, north, t.ScanningMode)
	}
	if min(west, east) < -360 || max(west, east) > 360 {
		return LatLonGrid{}, fmt.Errorf("longitudes from %g to %g: want -360 to 360", west, east)
	}
	if east < west || east == west && t.Ni > 1 {
		east += 360 // the grid crosses the meridian where the numbers start anew
	}
	rows := axis{name: "j", n: t.Nj, span: north - south, unit: unit}
	columns := axis{name: "i", n: t.Ni, span: east - west, unit: unit}
	rows.increment, rows.given = uint32(t.Dj), t.ResolutionAndComponentFlags&jIncrement != 0
	columns.increment, columns.given = uint32(t.Di), t.ResolutionAndComponentFlags&iIncrement != 0
	dlat, err := rows.spacing()
	if err != nil {
		return LatLonGrid{}, err
	}
	dlon, err := columns.spacing()
	if err != nil {
		return LatLonGrid{}, err
	}
	return LatLonGrid{
		NX: int(t.Ni), NY: int(t.Nj),
		Lat0: south, Lon0: wrap(west),
		DLat: dlat, DLon: whole(dlon, int(t.Ni)),
		AlongGrid: t.ResolutionAndComponentFlags&alongGrid != 0,
	}, nil
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

// wrap brings a longitude between -720 and 720 degrees into [-180, 180).
func wrap(lon float64) float64 {
	lon = math.Mod(lon+180, 360)
	if lon < 0 {
		lon += 360
	}
	return lon - 180
}

// gridName names a grid definition template, code table 3.1.
func gridName(template uint16) string {
	switch template {
	case 1:
		return "rotated latitude-longitude"
	case 2, 3:
		return "stretched latitude-longitude"
	case 10:
		return "Mercator"
	case 20:
		return "polar stereographic"
	case 30:
		return "Lambert conformal"
	case 31:
		return "Albers equal-area"
	case 40, 41, 42, 43:
		return "Gaussian"
	case 50, 51, 52, 53:
		return "spherical harmonics"
	case 90:
		return "space view"
	case 100:
		return "icosahedral"
	case 101:
		return "unstructured"
	}
	return ""
}
