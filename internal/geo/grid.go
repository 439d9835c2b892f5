package geo

import (
	"fmt"
	"math"
)

const (
	maxGridNodes = 1 << 28 // bounds what a caller allocates for a grid
	wrapsWithin  = 1e-6    // degrees: spacings come rounded to a millionth
	edgeSlack    = 1e-9    // cells: rounding of a coordinate on the edge
)

// Grid is a regular grid of latitude and longitude. (Lat0, Lon0) is its
// south-west node, DLat and DLon its spacing, all in degrees and the spacings
// positive. Rows run from south to north, columns from west to east, and node
// k is the one in column k mod NX of row k / NX.
type Grid struct {
	NX, NY     int
	Lat0, Lon0 float64
	DLat, DLon float64
}

// Check reports the first thing that keeps g from being a grid: fewer than two
// rows or columns, more than 2^28 nodes, a spacing that is not positive, rows
// beyond a pole, columns more than once round the Earth.
func (g Grid) Check() error {
	switch {
	case g.NX < 2 || g.NY < 2:
		return fmt.Errorf("grid of %d columns and %d rows: want at least 2 of each", g.NX, g.NY)
	case g.NX > maxGridNodes/g.NY:
		return fmt.Errorf("grid of %d columns and %d rows: want at most %d nodes", g.NX, g.NY, maxGridNodes)
	case !(g.DLat > 0 && g.DLat <= 180):
		return fmt.Errorf("grid spacing in latitude %g: want over 0 to 180", g.DLat)
	case !(g.DLon > 0 && g.DLon <= fullCircle):
		return fmt.Errorf("grid spacing in longitude %g: want over 0 to 360", g.DLon)
	case !(g.Lon0 >= -fullCircle && g.Lon0 <= fullCircle):
		return fmt.Errorf("grid's west edge %g: want -360 to 360", g.Lon0)
	}
	if north := g.Lat0 + float64(g.NY-1)*g.DLat; !(g.Lat0 >= -90 && north <= 90+edgeSlack) {
		return fmt.Errorf("grid rows from latitude %g to %g: want -90 to 90", g.Lat0, north)
	}
	if width := float64(g.NX-1) * g.DLon; width > fullCircle+edgeSlack {
		return fmt.Errorf("grid columns over %g degrees: want at most 360", width)
	}
	return nil
}

// Wraps reports whether the grid goes once round the Earth: the column after
// the last is the first again. NX·DLon must be 360 to within 1e-6 degrees.
func (g Grid) Wraps() bool {
	return math.Abs(float64(g.NX)*g.DLon-fullCircle) <= wrapsWithin
}

// Box is the box from the grid's first rows and columns to its last: all the way round
// where it Wraps.
func (g Grid) Box() Box {
	b := Box{South: g.Lat0, North: g.Lat0 + float64(g.NY-1)*g.DLat, West: g.Lon0, East: g.Lon0 + float64(g.NX-1)*g.DLon}
	if g.Wraps() {
		b.West, b.East = -180, 180
	}
	return b
}

// Node is the position of node k, its longitude normalised. It panics when
// k is not from 0 to NX·NY-1, which is a bug of the caller.
func (g Grid) Node(k int) Point {
	if k < 0 || k >= g.NX*g.NY {
		panic(fmt.Sprintf("geo: node %d of a grid of %d", k, g.NX*g.NY))
	}
	lat := g.Lat0 + float64(k/g.NX)*g.DLat
	lon := g.Lon0 + float64(k%g.NX)*g.DLon
	return Point{Lat: min(max(lat, -90), 90), Lon: WrapLon(lon)}
}

// Cell is the grid cell around a point: the indices of its four nodes, and how
// far into the cell the point lies, X eastward and Y northward, both 0 to 1.
type Cell struct {
	SW, SE, NW, NE int
	X, Y           float64
}

// Cell finds the cell that holds p, for any finite longitude (fastest from -360
// to 360). It is false where p is outside the grid, and for NaN. The edges of
// the grid belong to it, and so does what lies outside them by less than 1e-9
// of a cell, which is rounding. In a grid that Wraps the points between the last
// column and the first belong to it too. On a line between two cells either may
// be given. Of a grid that fails its Check nothing is promised.
func (g Grid) Cell(p Point) (Cell, bool) {
	d := p.Lon - g.Lon0
	if d < 0 {
		d += fullCircle
	}
	x, y := d/g.DLon, (p.Lat-g.Lat0)/g.DLat
	i, j := int(x), int(y)
	// Unsigned, for what int makes of a number too large for it.
	if x >= 0 && y >= 0 && uint(i) < uint(g.NX-1) && uint(j) < uint(g.NY-1) {
		sw := j*g.NX + i
		return Cell{sw, sw + 1, sw + g.NX, sw + g.NX + 1, x - float64(i), y - float64(j)}, true
	}
	return g.edgeCell(p)
}

// edgeCell is Cell where p may lie on an edge, between the last column and the
// first, or outside.
func (g Grid) edgeCell(p Point) (Cell, bool) {
	y, top := (p.Lat-g.Lat0)/g.DLat, float64(g.NY-1)
	x, ok := g.column(p.Lon)
	if !(ok && y >= -edgeSlack && y <= top+edgeSlack) {
		return Cell{}, false
	}
	y = min(max(y, 0), top)
	j := min(int(y), g.NY-2)
	i := int(x)
	east := i + 1
	if east >= g.NX { // the last column, or beyond it
		i, east = g.NX-1, 0
		if !g.Wraps() {
			i, east = g.NX-2, g.NX-1
		}
	}
	south, north := j*g.NX, j*g.NX+g.NX
	return Cell{south + i, south + east, north + i, north + east, x - float64(i), y - float64(j)}, true
}

// column is the longitude counted in columns east of the first: 0 to NX-1, or
// to NX for a grid that wraps. False outside.
func (g Grid) column(lon float64) (float64, bool) {
	d := lon - g.Lon0
	if !(d >= -fullCircle && d < 2*fullCircle) {
		d = WrapLon(d)
	}
	if d < 0 {
		d += fullCircle
	}
	if d >= fullCircle-edgeSlack*g.DLon {
		d -= fullCircle
	}
	x, last := d/g.DLon, float64(g.NX-1)
	if x <= last {
		return max(x, 0), x >= -edgeSlack
	}
	if g.Wraps() {
		return min(x, last+1), x > last // false for NaN
	}
	return last, x <= last+edgeSlack
}
