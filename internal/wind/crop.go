package wind

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// crop is the part of a forecast's grid that is kept.
type crop struct {
	grid geo.Grid // what is kept
	row  int      // first row kept
	col  int      // first column kept; columns go on round the Earth from there
}

// newCrop finds the rows and columns in and around a box. It is an error if
// the grid is not usable or has no part in the box.
func newCrop(whole geo.Grid, box geo.Box) (crop, error) {
	if err := whole.Check(); err != nil {
		return crop{}, err
	}
	if err := box.Check(); err != nil {
		return crop{}, err
	}
	south := clamp(int(math.Floor((box.South-whole.Lat0)/whole.DLat)), 0, whole.NY-2)
	north := clamp(int(math.Ceil((box.North-whole.Lat0)/whole.DLat)), south+1, whole.NY-1)
	if box.North < whole.Lat0 || box.South > whole.Lat0+float64(whole.NY-1)*whole.DLat {
		return crop{}, outside(whole, box)
	}
	kept := whole
	kept.Lat0, kept.NY = whole.Lat0+float64(south)*whole.DLat, north-south+1
	c := crop{grid: kept, row: south}
	width := box.East - box.West
	if width < 360 {
		width = mod(width, 360.0)
	}
	west := geo.WrapLon(box.West-whole.Lon0) / whole.DLon // columns east of the first, −NX/2 to NX/2
	columns := max(int(math.Ceil(west+width/whole.DLon))-int(math.Floor(west))+1, 2)
	if whole.Wraps() {
		if columns < whole.NX {
			c.col = int(mod(math.Floor(west), float64(whole.NX)))
			c.grid.Lon0 = geo.WrapLon(whole.Lon0 + math.Floor(west)*whole.DLon)
			c.grid.NX = columns
		}
		return c, nil
	}
	// A grid that does not go round may overlap the box read from a turn
	// farther west or east, or overlap it twice, at both of its ends: then what
	// lies between is kept too.
	first, last := whole.NX, -1
	for turn := -1.0; turn <= 1; turn++ {
		from := west + turn*360/whole.DLon
		to := from + width/whole.DLon
		if to >= 0 && from <= float64(whole.NX-1) {
			first = min(first, clamp(int(math.Floor(from)), 0, whole.NX-2))
			last = max(last, clamp(int(math.Ceil(to)), 1, whole.NX-1))
		}
	}
	if last < 0 {
		return crop{}, outside(whole, box)
	}
	last = max(last, first+1)
	c.col, c.grid.NX = first, last-first+1
	c.grid.Lon0 = geo.WrapLon(whole.Lon0 + float64(first)*whole.DLon)
	return c, nil
}

// window is what of the whole grid is kept.
func (c crop) window() grib.Window {
	return grib.Window{Row: c.row, Col: c.col, Rows: c.grid.NY, Cols: c.grid.NX}
}

func outside(g geo.Grid, box geo.Box) error {
	return fmt.Errorf("%w: the forecast covers latitudes %g to %g and longitudes %g to %g: want some part of %.4g to %.4g, %.4g to %.4g",
		ErrNoWind, g.Lat0, g.Lat0+float64(g.NY-1)*g.DLat, g.Lon0, geo.WrapLon(g.Lon0+float64(g.NX-1)*g.DLon),
		box.South, box.North, box.West, box.East)
}

func clamp(i, low, high int) int { return min(max(i, low), high) }

// mod is the remainder of a over n, 0 to n.
func mod(a, n float64) float64 { return a - n*math.Floor(a/n) }
