package ground

import (
	"fmt"
	"io"
	"math"

	"example.org/thistledown/internal/geo"
)

// Terrain is the height of the ground at the nodes of a grid, in metres above
// mean sea level, in the grid's own order. NaN is a height that is not known.
type Terrain struct {
	Grid   geo.Grid
	Height []float32
	// Finer is terrain that is asked first, in its order: the first that knows
	// the height has it. Where it ends there is a step in the ground, as high as
	// the two differ.
	Finer  []Terrain
	blocks []bounds // of Height, where it was read
}

// At is the height at p, bilinear between the four nodes around it, so its
// error is that of the grid: terrain finer than the grid is not in it. It is
// false outside the grid, where one of the four nodes has no height, and where
// Height has fewer values than the grid has nodes; unless one of Finer knows.
func (t Terrain) At(p geo.Point) (metres float64, ok bool) {
	s, ok := t.patch(p)
	return s.south + s.y*(s.north-s.south), ok
}

// Slope is how steep the ground is at p, degrees from level, of the bilinear
// surface that At is on: over one cell of the grid, so that banks and ditches
// narrower than a cell are not in it, and the slope is the least that is there.
// It is false where At is.
func (t Terrain) Slope(p geo.Point) (degrees float64, ok bool) {
	s, ok := t.patch(p)
	if !ok {
		return 0, false
	}
	meridian, normal := geo.Radii(p.Lat)
	perNorth := meridian * degree                       // m per degree
	perEast := normal * degree * math.Cos(p.Lat*degree) // m per degree
	up := math.Hypot((s.north-s.south)/(s.dLat*perNorth), s.rise/(s.dLon*perEast))
	return math.Atan(up) / degree, true
}

// patch is the ground around a position: the heights south and north of it on
// the cell's edges, how far north in the cell it is, and the rise eastward over
// the cell.
type patch struct{ south, north, y, rise, dLat, dLon float64 }

// patch is false where the height is not known.
func (t *Terrain) patch(p geo.Point) (patch, bool) {
	for i := range t.Finer {
		if !t.Finer[i].misses(p) {
			if s, ok := t.Finer[i].patch(p); ok {
				return s, true
			}
		}
	}
	if len(t.Height) == 0 {
		return patch{}, false
	}
	c, ok := t.Grid.Cell(p)
	if !ok || c.NE >= len(t.Height) || c.NW >= len(t.Height) {
		return patch{}, false
	}
	sw, se := float64(t.Height[c.SW]), float64(t.Height[c.SE])
	nw, ne := float64(t.Height[c.NW]), float64(t.Height[c.NE])
	s := patch{south: sw + c.X*(se-sw), north: nw + c.X*(ne-nw), y: c.Y, dLat: t.Grid.DLat, dLon: t.Grid.DLon}
	s.rise = se - sw + c.Y*(ne-nw-(se-sw))
	sum := s.south + s.north
	return s, sum == sum
}

// misses is true where a position is a whole cell or more off a terrain without
// any finer: the quick answer for most of many squares.
func (t *Terrain) misses(p geo.Point) bool {
	g := &t.Grid
	y, x := p.Lat-g.Lat0, p.Lon-g.Lon0
	if x < -g.DLon {
		x += 360
	}
	off := y < -g.DLat || y > float64(g.NY)*g.DLat || x > float64(g.NX)*g.DLon && x < 360-g.DLon
	return off && len(t.Finer) == 0
}

// ReadTerrain reads the heights of a box from a file: GeoTIFF (see ReadCover for
// what is read of it), a square of the Shuttle Radar Topography Mission whose
// name gives its corner (N44W072.hgt, of 1201 or 3601 rows), or a zip with one
// such square. Heights are taken as metres above mean sea level: the height above
// a geoid, as most elevation data have it; one above the ellipsoid would be off
// by up to 100 m. Where box and file do not meet, the terrain has no heights.
//
// The outermost heights of a GeoTIFF file hold for a pixel further out, so that
// files whose pixels lie side by side leave no gap between them.
//
// A geographic file's pixels become the nodes. A projected file's heights are
// drawn over bilinearly to nodes as far apart as its pixels, so that they are
// rounded off twice, once here and once in At: over ground whose second
// derivative is at most c, the height is off by up to d²c/2 for pixels d wide,
// and half of that is At's own.
func ReadTerrain(name string, r io.ReaderAt, size int64, box geo.Box) (Terrain, error) {
	t, err := readTerrain(name, r, size, box)
	if err != nil {
		return Terrain{}, fmt.Errorf("terrain %q: %w", name, err)
	}
	if len(t.Height) > 0 {
		t.blocks = blocks(t.Grid, t.Height)
	}
	return t, nil
}

func readTerrain(name string, r io.ReaderAt, size int64, box geo.Box) (Terrain, error) {
	head := make([]byte, min(size, 4))
	if _, err := r.ReadAt(head, 0); err != nil && err != io.EOF {
		return Terrain{}, err
	}
	var heights *raster
	var err error
	switch {
	case isTIFF(head):
		heights, err = openRaster(r, size)
	case string(head) == "PK\x03\x04":
		heights, err = openZip(r, size)
	default:
		heights, err = openHGT(name, r, size)
	}
	if err != nil {
		return Terrain{}, err
	}
	w, err := heights.window(box)
	if err != nil || w.nx < 2 || w.ny < 2 {
		return Terrain{}, err
	}
	if heights.flat != nil {
		return heights.drawn(w, box)
	}
	return heights.nodes(w)
}

// nodes takes the pixels of a geographic raster as nodes. Where the pane ends
// with the raster its outermost heights are given once more, a pixel further out.
func (r *raster) nodes(w pane) (Terrain, error) {
	g := geo.Grid{NX: w.nx, NY: w.ny, DLat: math.Abs(r.dy), DLon: r.dx, Lat0: r.y0 + float64(w.row)*r.dy}
	if r.dy < 0 {
		g.Lat0 = r.y0 + float64(w.row+w.ny-1)*r.dy
	}
	west, east, first, last := 0, 0, 0, 0 // columns and rows more
	if !r.lone {
		west, east = more(r.around == 0 && w.col == 0), more(r.around == 0 && w.col+w.nx == r.width)
		first, last = more(w.row == 0), more(w.row+w.ny == r.height)
	}
	south, north := first, last
	if r.dy < 0 {
		south, north = last, first
	}
	if g.Lat0-float64(south)*g.DLat < -90 {
		south = 0
	}
	if g.Lat0+float64(w.ny-1+north)*g.DLat > 90 {
		north = 0
	}
	g.NX, g.NY = g.NX+west+east, g.NY+south+north
	g.Lat0 -= float64(south) * g.DLat
	g.Lon0 = geo.WrapLon(r.x0 + float64(w.col-west)*r.dx)
	if err := g.Check(); err != nil {
		return Terrain{}, err
	}
	if err := r.promised(w); err != nil {
		return Terrain{}, err
	}
	h := make([]float32, g.NX*g.NY)
	line := func(j int) []float32 { return h[j*g.NX : (j+1)*g.NX] }
	err := r.read(w, func(col, row int, values []float64) {
		j := row + south
		if r.dy < 0 {
			j = w.ny - 1 - row + south
		}
		to := line(j)[west+col:]
		for i, v := range values {
			to[i] = float32(v)
		}
	})
	if err != nil {
		return Terrain{}, err
	}
	for j := range g.NY {
		l := line(j)
		l[0], l[g.NX-1] = l[west], l[g.NX-1-east]
	}
	copy(line(0), line(south))
	copy(line(g.NY-1), line(g.NY-1-north))
	return Terrain{Grid: g, Height: h}, nil
}

// more is 1 where something is so.
func more(so bool) int {
	if so {
		return 1
	}
	return 0
}

// heights reads a pane, in the file's own order of rows.
func (r *raster) heights(w pane) ([]float32, error) {
	if err := r.promised(w); err != nil {
		return nil, err
	}
	h := make([]float32, w.pixels())
	err := r.read(w, func(col, row int, values []float64) {
		to := h[row*w.nx+col:]
		for i, v := range values {
			to[i] = float32(v)
		}
	})
	return h, err
}

// drawn draws the pixels of a projected raster over to a grid of latitude and
// longitude over what box and raster share.
func (r *raster) drawn(w pane, box geo.Box) (Terrain, error) {
	h, err := r.heights(w)
	if err != nil {
		return Terrain{}, err
	}
	share := r.shared(box)
	lat := (share.South + share.North) / 2
	meridian, normal := geo.Radii(lat)
	g := geo.Grid{
		Lat0: share.South, Lon0: share.West, DLat: math.Abs(r.dy) / (meridian * degree),
		DLon: r.dx / (normal * degree * max(math.Cos(lat*degree), 0.01)),
	}
	g.NY = max(int(math.Ceil((share.North-share.South)/g.DLat))+1, 2)
	g.NX = max(int(math.Ceil((share.East-share.West)/g.DLon))+1, 2)
	g.DLat, g.DLon = max(share.North-share.South, 1e-9)/float64(g.NY-1), max(share.East-share.West, 1e-9)/float64(g.NX-1)
	if g.NX > maxPixels/g.NY {
		return Terrain{}, fmt.Errorf("%d by %d nodes: want at most %d: a smaller area, or coarser data", g.NX, g.NY, maxPixels)
	}
	t := Terrain{Grid: g, Height: make([]float32, g.NX*g.NY)}
	if err := g.Check(); err != nil {
		return Terrain{}, err
	}
	for k := range t.Height {
		x, y, ok := r.flat.flat(g.Node(k))
		t.Height[k] = float32(math.NaN())
		if ok {
			t.Height[k] = bilinear(h, w, (x-r.x0)/r.dx-float64(w.col), (y-r.y0)/r.dy-float64(w.row))
		}
	}
	return t, nil
}

// bilinear is the height between the four pixels around a column and row of a
// pane, and up to a pixel outside its outermost ones the height on their line;
// NaN further out.
func bilinear(h []float32, w pane, col, row float64) float32 {
	right, last := float64(w.nx-1), float64(w.ny-1)
	if !(col >= -1 && row >= -1 && col <= right+1 && row <= last+1) {
		return float32(math.NaN())
	}
	col, row = min(max(col, 0), right), min(max(row, 0), last)
	i, j := min(int(col), w.nx-2), min(int(row), w.ny-2)
	x, y := col-float64(i), row-float64(j)
	k := j*w.nx + i
	a, b := float64(h[k]), float64(h[k+1])
	c, d := float64(h[k+w.nx]), float64(h[k+w.nx+1])
	above, below := a+x*(b-a), c+x*(d-c)
	return float32(above + y*(below-above))
}
