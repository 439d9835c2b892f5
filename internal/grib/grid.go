package grib

import (
	"fmt"
	"math"
)

// Grid says where the points of a field lie. Values orders them in NY rows of NX
// columns: i counts columns from 0, along the rows toward what the grid holds for
// east, j counts rows from 0 toward what it holds for north, and node (i, j) is
// at index j·NX + i. Grids are the same if they are ==.
//
// Latitudes and longitudes are those of the message's own datum. Rotation of a
// grid and Gaussian latitudes are taken on the sphere, as the templates define
// them; the cone of Lambert's on the sphere or ellipsoid that the message names.
type Grid struct {
	Template uint16 // grid definition template, the N of 3.N: 0, 1, 30 or 40
	NX, NY   int    // columns and rows, each at least 1

	// Node (0, 0), degrees: Lat0 in [-90, 90], Lon0 in [-180, 180). In the
	// rotated coordinates if Template is 1, else geographic.
	Lat0, Lon0 float64

	// Spacing of rows (templates 0, 1) and columns (0, 1, 40) in the coordinates
	// of Lat0 and Lon0, degrees; above 0, but 0 if there is one row or column and
	// no spacing is given.
	DLat, DLon float64

	Rotation Rotation // template 1
	Cone     Cone     // template 30
	Gauss    Gauss    // template 40

	// AlongGrid is set if wind components follow the directions of increasing
	// i and j and not east and north.
	AlongGrid bool
}

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

// slack is how far outside the outermost rows and columns, in spacings, a point
// still counts as on them: corners are rounded to the unit of the message.
const slack = 1e-6

// LatLon returns the grid as a regular latitude-longitude grid, and whether it
// is one.
func (g Grid) LatLon() (LatLonGrid, bool) {
	if g.Template != 0 {
		return LatLonGrid{}, false
	}
	return LatLonGrid{NX: g.NX, NY: g.NY, Lat0: g.Lat0, Lon0: g.Lon0, DLat: g.DLat, DLon: g.DLon, AlongGrid: g.AlongGrid}, true
}

// Place returns where node (i, j) lies, 0 ≤ i < NX and 0 ≤ j < NY: degrees, lon
// in [-180, 180). It is for nodes only and panics for others, as an index would.
func (g Grid) Place(i, j int) (lat, lon float64) {
	if i < 0 || i >= g.NX || j < 0 || j >= g.NY {
		panic(fmt.Sprintf("grib: node (%d, %d) of a grid of %d × %d", i, j, g.NX, g.NY))
	}
	east, north := float64(i), float64(j)
	switch g.Template {
	case 1:
		return g.Rotation.toEarth(g.Lat0+north*g.DLat, g.Lon0+east*g.DLon)
	case 30:
		c := g.Cone.develop()
		x, y := c.plane(g.Lat0, g.Lon0)
		return c.earth(x+east*g.Cone.DX, y+north*g.Cone.DY)
	case 40:
		return g.Gauss.latitude(j), wrap(g.Lon0 + east*g.DLon)
	}
	return min(g.Lat0+north*g.DLat, 90), wrap(g.Lon0 + east*g.DLon)
}

// Locate returns column and row of a place, in degrees, as coordinates between
// the nodes: x in [0, NX-1] and y in [0, NY-1], linear in the grid's own
// coordinates (metres on the plane of the cone; latitude between neighbouring
// Gaussian rows). Where the rows go round the Earth, x is in [0, NX) and column 0
// comes again after column NX-1. It is not ok outside the outermost nodes, but
// for a millionth of a spacing, which counts as on them; nor for NaN. Longitudes
// may be any from -360 to 360.
func (g Grid) Locate(lat, lon float64) (x, y float64, ok bool) {
	if !(lat >= -90 && lat <= 90 && lon >= -360 && lon <= 360) {
		return 0, 0, false
	}
	switch g.Template {
	case 30:
		c := g.Cone.develop()
		x0, y0 := c.plane(g.Lat0, g.Lon0)
		x, y = c.plane(lat, lon)
		x, inX := within((x-x0)/g.Cone.DX, g.NX)
		y, inY := within((y-y0)/g.Cone.DY, g.NY)
		return x, y, inX && inY
	case 40:
		x, inX := g.column(lon)
		y, inY := within(g.Gauss.row(lat), g.NY)
		return x, y, inX && inY
	case 1:
		lat, lon = g.Rotation.fromEarth(lat, lon)
	}
	x, inX := g.column(lon)
	y, inY := within(steps(lat-g.Lat0, g.DLat), g.NY)
	return x, y, inX && inY
}

// column is x of Locate where columns are meridians, geographic or rotated.
func (g Grid) column(lon float64) (float64, bool) {
	d := math.Mod(lon-g.Lon0, 360)
	if d < 0 {
		d += 360
	}
	if float64(g.NX)*g.DLon > 360-slack*g.DLon {
		x := d / g.DLon
		if x >= float64(g.NX) {
			x = 0 // a turn, by rounding
		}
		return x, true
	}
	if d > 360-slack*g.DLon {
		d -= 360
	}
	return within(steps(d, g.DLon), g.NX)
}

// steps is how many spacings make a distance; where there is no spacing, only
// the distance 0 is on the grid.
func steps(distance, spacing float64) float64 {
	if spacing == 0 && distance == 0 {
		return 0
	}
	return distance / spacing
}

// within holds a coordinate against n nodes.
func within(x float64, n int) (float64, bool) {
	last := float64(n - 1)
	if !(x > -slack && x < last+slack) {
		return 0, false
	}
	return min(max(x, 0), last), true
}

// Turn returns sine and cosine of the angle a, counter-clockwise seen from above,
// from east to the direction of the first wind component at a place, in degrees.
// With components u (EastwardWind) and v (NorthwardWind) of this grid
//
//	toward the east  = u·cos − v·sin
//	toward the north = u·sin + v·cos
//
// It is (0, 1), no turn, unless AlongGrid is set and the grid is rotated or
// Lambert's. The place need not lie on the grid, but at the poles of the Earth
// and of a rotated grid the angle is arbitrary.
func (g Grid) Turn(lat, lon float64) (sin, cos float64) {
	if !g.AlongGrid {
		return 0, 1
	}
	switch g.Template {
	case 1:
		return g.Rotation.turn(lat, lon)
	case 30:
		return g.Cone.develop().turn(lon)
	}
	return 0, 1
}

// Spacing is a typical distance between neighbouring rows in degrees of latitude
// (between neighbouring columns where there is one row), 0 for a single point
// without spacing. On a cone it is the smaller of the two spacings at the
// standard parallels.
func (g Grid) Spacing() float64 {
	switch g.Template {
	case 30:
		return min(g.Cone.DX, g.Cone.DY) / g.Cone.Earth.Major / radian
	case 40:
		return 90 / float64(g.Gauss.N)
	}
	if g.DLat == 0 {
		return g.DLon
	}
	return g.DLat
}

// String is such as "regular latitude-longitude 144 × 73, 2.5° × 2.5°": columns
// by rows, and the spacing along and across a row. Of a grid that is not
// supported it is the name of its template, such as "polar stereographic".
func (g Grid) String() string {
	if g.NX == 0 {
		if name := gridName(g.Template); name != "" {
			return name
		}
		return fmt.Sprintf("grid 3.%d", g.Template)
	}
	size := fmt.Sprintf("%d × %d", g.NX, g.NY)
	switch g.Template {
	case 1:
		return fmt.Sprintf("rotated latitude-longitude %s, %.4g° × %.4g°", size, g.DLon, g.DLat)
	case 30:
		return fmt.Sprintf("Lambert conformal %s, %.6g km × %.6g km", size, g.Cone.DX/1000, g.Cone.DY/1000)
	case 40:
		return fmt.Sprintf("regular Gaussian N%d %s, %.4g° along a row", g.Gauss.N, size, g.DLon)
	}
	return fmt.Sprintf("regular latitude-longitude %s, %.4g° × %.4g°", size, g.DLon, g.DLat)
}

const radian = math.Pi / 180 // of a degree

// wrap brings a longitude between -720 and 720 degrees into [-180, 180).
func wrap(lon float64) float64 {
	lon = math.Mod(lon+180, 360)
	if lon < 0 {
		lon += 360
	}
	if lon >= 360 { // a negative number too small to take off 360
		lon = 0
	}
	return lon - 180
}
