package cube

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"
)

// Writer writes a cube from front to back. It keeps one band of one step and
// member in memory: 8 rows of the grid, 2 octets a value and some.
type Writer struct {
	w     io.Writer
	axes  Axes
	seed  uint32 // the checksum of the header, from which those of blocks start
	block int64  // number of the next block
	band  []byte // the blocks of a band
	err   error  // what ended the writing; every later call returns it
}

// errClosed is what a call after Close returns.
var errClosed = errors.New("cube: written to after its end")

// NewWriter begins a cube: it checks the axes, which must not be changed
// later, and writes the header. Writes are of whole bands, so that w needs no
// buffer.
func NewWriter(w io.Writer, a Axes) (*Writer, error) {
	if err := a.Check(); err != nil {
		return nil, fmt.Errorf("cube: %w", err)
	}
	header := a.header()
	if _, err := w.Write(header); err != nil {
		return nil, fmt.Errorf("cube: header: %w", err)
	}
	return &Writer{w: w, axes: a, seed: headerSeed(header)}, nil
}

// Band packs and writes the band of 8 rows (fewer at the north edge) that
// begins at a row, counted from 0 in the south, of the step and the member of
// these numbers in the axes. Bands are wanted in the order of the file: rows
// from the south, then steps, then members; another order is an error.
//
// planes are numbered as Axes.Plane says. Each has the values of the band's
// rows from the south, each from west to east, in the units of the package
// comment, NaN where one is missing; a plane that is nil is missing as a whole.
// Values within ±1e30 that the error of packing allows are taken (see the
// package comment), others are an error. After an error the cube is lost, and
// every later call returns the error.
func (w *Writer) Band(member, step, row int, planes [][]float32) error {
	if w.err == nil {
		w.err = w.writeBand(member, step, row, planes)
	}
	return w.err
}

// Terrain packs and writes the height of the ground, geopotential metres above
// mean sea level, NaN where it is missing, for all nodes of the grid in their
// order. It is wanted once, after the last band, of axes that say so.
func (w *Writer) Terrain(heights []float32) error {
	if w.err == nil {
		w.err = w.writeTerrain(heights)
	}
	return w.err
}

// Close checks that all bands and the terrain have come. It leaves the
// underlying writer open.
func (w *Writer) Close() error {
	if w.err != nil {
		return w.err
	}
	w.err = errClosed
	if w.block < w.axes.blocks() {
		return fmt.Errorf("cube: ends before %s", w.axes.name(w.block))
	}
	if w.axes.Terrain && w.block == w.axes.blocks() {
		return errors.New("cube: ends before its terrain")
	}
	return nil
}

func (w *Writer) writeBand(member, step, row int, planes [][]float32) error {
	a := w.axes
	if w.block == a.blocks() {
		return errors.New("cube: a band after the last one")
	}
	next := a.place(w.block)
	if member != next.member || step != next.step || row != next.row {
		return fmt.Errorf("cube: band of member %d, step %d, row %d: want member %d, step %d, row %d, counted from 0",
			member, step, row, next.member, next.step, next.row)
	}
	if len(planes) != a.Planes() {
		return fmt.Errorf("cube: band of %d planes: want %d", len(planes), a.Planes())
	}
	nodes := min(Tile, a.Grid.NY-row) * a.Grid.NX
	for i, plane := range planes {
		if plane != nil && len(plane) != nodes {
			return fmt.Errorf("cube: band with %d values in plane %d: want %d", len(plane), i, nodes)
		}
	}
	return w.tiles(planes)
}

func (w *Writer) writeTerrain(heights []float32) error {
	g := w.axes.Grid
	switch {
	case !w.axes.Terrain:
		return errors.New("cube: terrain for axes without it")
	case w.block < w.axes.blocks():
		return fmt.Errorf("cube: terrain before %s", w.axes.name(w.block))
	case w.block > w.axes.blocks():
		return errors.New("cube: terrain twice")
	case len(heights) != g.NX*g.NY:
		return fmt.Errorf("cube: terrain of %d values: want %d", len(heights), g.NX*g.NY)
	}
	for row := 0; row < g.NY; row += Tile {
		band := heights[row*g.NX : min(row+Tile, g.NY)*g.NX]
		if err := w.tiles([][]float32{band}); err != nil {
			return err
		}
	}
	return nil
}

// tiles packs and writes the blocks of a band whose planes have been checked.
func (w *Writer) tiles(planes [][]float32) error {
	size, across := blockSize(len(planes)), w.axes.tilesX()
	if cap(w.band) < across*size {
		w.band = make([]byte, across*size)
	}
	w.band = w.band[:across*size]
	var tile [tileNodes]float32
	at := w.axes.place(w.block)
	for p, plane := range planes {
		for i := range across {
			gather(&tile, plane, w.axes.Grid.NX, i*Tile)
			to := w.band[i*size+p*planeSize:]
			if err := putPlane(to, &tile, at.quantity(p, len(w.axes.Levels))); err != nil {
				return fmt.Errorf("cube: %s, plane %d: %w", w.axes.name(w.block+int64(i)), p, err)
			}
		}
	}
	for i := range across {
		block := w.band[i*size : (i+1)*size]
		body := block[:size-crcSize]
		binary.LittleEndian.PutUint32(block[len(body):], checksum(w.seed, w.block+int64(i), body))
	}
	if _, err := w.w.Write(w.band); err != nil {
		return fmt.Errorf("cube: %s: %w", w.axes.name(w.block), err)
	}
	w.block += int64(across)
	return nil
}

// gather takes the values of a tile from a plane of a band, NaN outside it.
func gather(tile *[tileNodes]float32, plane []float32, nx, column int) {
	wide := min(Tile, nx-column)
	rows := len(plane) / nx
	if wide < Tile || rows < Tile {
		for i := range tile {
			tile[i] = float32(math.NaN())
		}
	}
	for j := range rows {
		copy(tile[j*Tile:], plane[j*nx+column:][:wide])
	}
}

// headerSeed is the checksum of a header.
func headerSeed(header []byte) uint32 {
	return binary.LittleEndian.Uint32(header[len(header)-crcSize:])
}

// checksum is that of a block: over the header, whose checksum is gone on
// from, the block's number and its planes.
func checksum(seed uint32, block int64, body []byte) uint32 {
	table, crc := castagnoli(), ^seed
	for i := range 8 { // by hand, as crc32.Update would have the number allocated
		crc = table[byte(crc)^byte(block>>(8*i))] ^ crc>>8
	}
	return crc32.Update(^crc, table, body)
}
