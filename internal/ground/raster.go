package ground

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"example.org/thistledown/internal/geo"
)

// ErrTooFine is within the error of a raster that has too many pixels in the box
// that is asked for.
var ErrTooFine = errors.New("too fine")

// frame is where the pixels of a raster lie: the middle of the first, which is
// the north-west one as a rule, and the steps to the next column and row, in
// degrees, or in metres of a projection.
type frame struct {
	nx, ny         int
	x0, y0, dx, dy float64
	flat           projection // nil: degrees of longitude and latitude
	around         float64    // columns in a whole turn, if the raster goes once round the Earth; else 0
	box            geo.Box    // of a projected raster
}

// edgePoints is how many pieces an edge is cut into to find how far it reaches.
const edgePoints = 64

// outline finds the box around a projected raster. The middle of its edges is
// followed closely enough that what is missed is a thousandth of its width,
// which is added.
func (g *frame) outline() error {
	west, east := g.x0-g.dx/2, g.x0+(float64(g.nx)-0.5)*g.dx
	first, last := g.y0-g.dy/2, g.y0+(float64(g.ny)-0.5)*g.dy
	b := geo.Box{South: 90, North: -90, West: 360, East: -360}
	middle := g.flat.middle()
	ok := alongEdges(west, east, first, last, func(x, y float64) bool {
		p, ok := g.flat.round(x, y)
		lon := geo.WrapLon(p.Lon - middle)
		b.South, b.North = min(b.South, p.Lat), max(b.North, p.Lat)
		b.West, b.East = min(b.West, lon), max(b.East, lon)
		return ok
	})
	if !ok {
		return fmt.Errorf("pixels from %g, %g to %g, %g: want them where the projection is used", west, first, east, last)
	}
	for _, lat := range []float64{-90, 90} {
		x, y, ok := g.flat.flat(geo.Point{Lat: lat, Lon: middle})
		if ok && x >= west && x <= east && y >= min(first, last) && y <= max(first, last) {
			return errors.New("a projected raster with a pole in it: want one without")
		}
	}
	padY, padX := (b.North-b.South)/1000, (b.East-b.West)/1000
	g.box = geo.Box{
		South: max(b.South-padY, -90), North: min(b.North+padY, 90),
		West: middle + b.West - padX, East: middle + b.East + padX,
	}
	return nil
}

// alongEdges goes round a rectangle as long as see is true.
func alongEdges(west, east, first, last float64, see func(x, y float64) bool) bool {
	for i := range edgePoints + 1 {
		part := float64(i) / edgePoints
		x, y := west+part*(east-west), first+part*(last-first)
		if !see(x, first) || !see(x, last) || !see(west, y) || !see(east, y) {
			return false
		}
	}
	return true
}

// at is the column and row of a position, whole in the middle of a pixel: the
// raster reaches from -0.5 to nx-0.5 and to ny-0.5. False outside, on the east
// and the last edge, and for what is no position.
func (g *frame) at(p geo.Point) (col, row float64, ok bool) {
	x, y := p.Lon, p.Lat
	if g.flat != nil {
		if x, y, ok = g.flat.flat(p); !ok {
			return 0, 0, false
		}
		col = (x - g.x0) / g.dx
	} else {
		col = g.column(x)
	}
	row = (y - g.y0) / g.dy
	ok = col >= -0.5 && col < float64(g.nx)-0.5 && row >= -0.5 && row < float64(g.ny)-0.5
	return col, row, ok
}

// column is the column of a longitude, from the west edge on eastward.
func (g *frame) column(lon float64) float64 {
	west := g.x0 - g.dx/2
	d := geo.WrapLon(lon - west)
	if d < -1e-9*g.dx { // not the rounding of the edge itself
		d += 360
	}
	return max(d, 0)/g.dx - 0.5
}

// pane is a piece of a raster. In one that goes round the Earth it may run on
// from the last column to the first.
type pane struct{ col, row, nx, ny int }

func (w pane) pixels() int { return w.nx * w.ny }

// window is the pixels of a box and one more on each side, so that heights
// between pixels are known up to the box's edge; empty where they do not meet.
func (g *frame) window(b geo.Box) (pane, error) {
	if err := b.Check(); err != nil {
		return pane{}, err
	}
	var w pane
	if g.flat != nil {
		w = g.flatWindow(b)
	} else {
		w = g.roundWindow(b)
	}
	if w.nx <= 0 || w.ny <= 0 {
		return pane{}, nil
	}
	if w.nx > maxPixels/w.ny {
		return pane{}, fmt.Errorf("%d by %d pixels: %w: want at most %d: a smaller area, or coarser data", w.nx, w.ny, ErrTooFine, maxPixels)
	}
	return w, nil
}

// boxWidth is how far a box reaches eastward, degrees.
func boxWidth(b geo.Box) float64 {
	w := b.East - b.West
	if w < 0 {
		w += 360
	}
	return min(w, 360)
}

// stretch is the pixels of an interval of columns or rows, clamped to n of them.
func stretch(low, high float64, n int) (from, count int) {
	low, high = max(math.Floor(low)-1, 0), min(math.Ceil(high)+1, float64(n-1))
	if !(low <= high) {
		return 0, 0
	}
	return int(low), int(high-low) + 1
}

func (g *frame) roundWindow(b geo.Box) pane {
	var w pane
	r1, r2 := (b.North-g.y0)/g.dy, (b.South-g.y0)/g.dy
	w.row, w.ny = stretch(min(r1, r2), max(r1, r2), g.ny)
	first, turn := g.column(b.West), 360/g.dx
	last := first + boxWidth(b)/g.dx
	if g.around != 0 {
		w.col, w.nx = int(math.Floor(first))-1, int(math.Ceil(last)-math.Floor(first))+3
		if w.col < 0 {
			w.col += int(g.around)
		}
		if w.nx >= int(g.around) {
			w.col, w.nx = 0, int(g.around)
		}
		return w
	}
	// The box may meet the raster's west end again after a turn.
	w.col, w.nx = stretch(first, last, g.nx)
	if again, n := stretch(first-turn, last-turn, g.nx); n > 0 && w.nx > 0 {
		w.col, w.nx = again, w.col+w.nx-again
	} else if n > 0 {
		w.col, w.nx = again, n
	}
	return w
}

// shared is what a box and a projected raster's box share; East below West where
// they do not meet.
func (g *frame) shared(b geo.Box) geo.Box {
	share := geo.Box{South: max(b.South, g.box.South), North: min(b.North, g.box.North), West: 1, East: -1}
	if share.South > share.North {
		return share
	}
	share.West, share.East = math.Inf(1), math.Inf(-1)
	from, wide := geo.WrapLon(b.West-g.box.West), boxWidth(b)
	for _, start := range []float64{from - 360, from, from + 360} {
		low, high := max(start, 0), min(start+wide, g.box.East-g.box.West)
		if low <= high {
			share.West, share.East = min(share.West, g.box.West+low), max(share.East, g.box.West+high)
		}
	}
	return share
}

// flatWindow follows the edges of what box and raster share.
func (g *frame) flatWindow(b geo.Box) pane {
	share := g.shared(b)
	if share.West > share.East {
		return pane{}
	}
	low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	ok := alongEdges(share.West, share.East, share.South, share.North, func(lon, lat float64) bool {
		x, y, ok := g.flat.flat(geo.Point{Lat: lat, Lon: lon})
		for i, v := range [2]float64{(x - g.x0) / g.dx, (y - g.y0) / g.dy} {
			low[i], high[i] = min(low[i], v), max(high[i], v)
		}
		return ok
	})
	if !ok { // a corner lies outside the projection though the raster does not
		return pane{nx: g.nx, ny: g.ny}
	}
	var w pane
	padX, padY := (high[0]-low[0])/1000, (high[1]-low[1])/1000
	w.col, w.nx = stretch(low[0]-padX, high[0]+padX, g.nx)
	w.row, w.ny = stretch(low[1]-padY, high[1]+padY, g.ny)
	return w
}

// raster is one band of values on a frame. It reads them from its file when it
// is asked to, strip by strip or tile by tile, and keeps none.
type raster struct {
	frame
	unpacker
}

// openRaster reads the head of a GeoTIFF file.
func openRaster(r io.ReaderAt, size int64) (*raster, error) {
	f, err := openTIFF(r, size)
	if err != nil {
		return nil, err
	}
	l, err := f.layout()
	if err != nil {
		return nil, err
	}
	g, err := f.frame(l)
	if err != nil {
		return nil, err
	}
	return &raster{frame: g, unpacker: unpacker{file: f, layout: l}}, nil
}

// packedAtMost is more pixels than an octet of any compression can hold: LZW
// packs best, 3838 octets in a code of 12 bits.
const packedAtMost = 4096

// promised checks that the file has the octets for a window, before room is made
// for it.
func (r *raster) promised(w pane) error {
	var octets, left uint64
	err := r.chunks(w, func(k int, part, _ pane) error {
		_, count, err := r.chunk(k)
		octets += count
		if count == 0 {
			left += uint64(part.pixels())
		}
		return err
	})
	if err != nil {
		return err
	}
	if need := uint64(w.pixels()) - left; need/packedAtMost > octets {
		return fmt.Errorf("%d pixels in %d octets: want a file that is whole", need, octets)
	}
	return nil
}

// chunks runs over the strips or tiles of a window: which, which part of the
// window (from its own corner) they fill, and which part of the chunk that is.
func (r *raster) chunks(w pane, see func(k int, part, piece pane) error) error {
	for col := 0; col < w.nx; {
		at := w.col + col
		if r.around != 0 {
			at %= int(r.around)
		}
		piece := pane{col: at % r.chunkW}
		piece.nx = min(r.chunkW-piece.col, w.nx-col, r.width-at)
		if r.around != 0 {
			piece.nx = min(piece.nx, int(r.around)-at)
		}
		for row := 0; row < w.ny; {
			y := w.row + row
			piece.row = y % r.chunkH
			piece.ny = min(r.chunkH-piece.row, w.ny-row)
			k := y/r.chunkH*r.across + at/r.chunkW
			if err := see(k, pane{col, row, piece.nx, piece.ny}, piece); err != nil {
				return err
			}
			row += piece.ny
		}
		col += piece.nx
	}
	return nil
}

// read hands out a window in runs of pixels, each with its place from the
// window's own corner: NaN for no data. The values hold until the next run.
func (r *raster) read(w pane, put func(col, row int, values []float64)) error {
	if err := r.promised(w); err != nil {
		return err
	}
	var values []float64
	return r.chunks(w, func(k int, part, piece pane) error {
		step := piece.ny
		if r.packed == packedNot {
			step = 1 // rows that are not packed are read where they lie
		}
		for row := 0; row < piece.ny; row += step {
			from := piece.row + row
			rows, err := r.rows(k, from, from+step)
			if err != nil {
				return err
			}
			for i := range step {
				if values = values[:0]; rows == nil {
					values = append(values, slices.Repeat([]float64{math.NaN()}, piece.nx)...)
				} else {
					n := r.rowOctets()
					values = r.values(values, rows[i*n:(i+1)*n], piece.col, piece.col+piece.nx)
				}
				put(part.col, part.row+row+i, values)
			}
		}
		return nil
	})
}

// within is a column of the raster counted from a pane's first.
func (g *frame) within(col int, w pane) int {
	if col -= w.col; col < 0 {
		col += int(g.around)
	}
	return col
}
