package cube

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Cube is a cube that is read. It does not change, and may be read by many at
// once if what it is read from allows that, as io.ReaderAt demands.
type Cube struct {
	r    io.ReaderAt
	axes Axes
	seed uint32 // the checksum of the header
}

// Window is a part of a grid: Rows rows north from Row, Cols columns east from
// Col, both counted from 0. In a grid that goes once round the Earth it may go
// on past the last column with the first, but not round more than once.
type Window struct{ Row, Col, Rows, Cols int }

// Part is where Read puts the values of a window. Kept from one Read to the
// next, it is not allocated anew; a Part serves one Read at a time.
type Part struct {
	Window
	// Planes has a slice for each plane, numbered as Axes.Plane says, or nil
	// where it is not wanted. Each is Rows·Cols values long and is filled in
	// rows from the south, each from west to east, NaN where one is missing.
	Planes [][]float32

	block []byte // the block that is being read
}

// Open reads the header of a cube that is size octets long. It is an error if
// the octets are no cube, of another version, damaged in the header, or not of
// the size that the header gives: so there is no more to allocate for a cube
// than is there to read. Blocks are checked when they are read. Open itself
// allocates less than 1 MiB, whatever the octets are.
func Open(r io.ReaderAt, size int64) (*Cube, error) {
	if size < fixedSize+crcSize {
		return nil, fmt.Errorf("cube cut short: %d octets: want %d and more", size, fixedSize+crcSize)
	}
	fixed := make([]byte, fixedSize)
	if err := readFull(r, fixed, 0); err != nil {
		return nil, fmt.Errorf("cube header: %w", err)
	}
	c, length, err := headerCounts(fixed)
	if err != nil {
		return nil, err
	}
	if int64(length) > size {
		return nil, fmt.Errorf("cube cut short: %d octets: want a header of %d", size, length)
	}
	header := make([]byte, length)
	if err := readFull(r, header, 0); err != nil {
		return nil, fmt.Errorf("cube header: %w", err)
	}
	a, err := parseHeader(header, c)
	if err != nil {
		return nil, err
	}
	switch want := a.Size(); {
	case size < want:
		return nil, fmt.Errorf("cube cut short: %d octets: want %d", size, want)
	case size > want:
		return nil, fmt.Errorf("cube too long: %d octets: want %d", size, want)
	}
	return &Cube{r: r, axes: a, seed: headerSeed(header)}, nil
}

// Axes is what the cube holds. Its lists are the cube's own, not to be changed.
func (c *Cube) Axes() Axes { return c.axes }

// Read unpacks what a part wants of one member and step, by their numbers in
// the axes. It reads and checks the blocks that the window touches and no
// others; a damaged one is an error that names it. What it has put into the
// part before an error is not to be used.
func (c *Cube) Read(member, step int, to *Part) error {
	a := c.axes
	if member < 0 || member >= len(a.Members) || step < 0 || step >= len(a.Steps) {
		return fmt.Errorf("cube: member %d, step %d: want less than %d and %d, from 0", member, step, len(a.Members), len(a.Steps))
	}
	if len(to.Planes) != a.Planes() {
		return fmt.Errorf("cube: part of %d planes: want %d", len(to.Planes), a.Planes())
	}
	first := (int64(member)*int64(len(a.Steps)) + int64(step)) * int64(a.tilesX()*a.tilesY())
	return c.window(first, to)
}

// Terrain unpacks the height of the ground in a window, geopotential metres
// above mean sea level, in rows from the south, each from west to east, NaN
// where it is missing. heights is Rows·Cols values long. It is an error if the
// cube has no terrain.
func (c *Cube) Terrain(w Window, heights []float32) error {
	if !c.axes.Terrain {
		return errors.New("cube: it has no terrain")
	}
	if heights == nil {
		heights = []float32{} // which is wanted, and too short
	}
	return c.window(c.axes.blocks(), &Part{Window: w, Planes: [][]float32{heights}})
}

// Verify reads every block and reports the first that is damaged.
func (c *Cube) Verify() error {
	a := c.axes
	all := a.blocks()
	if a.Terrain {
		all += int64(a.tilesX() * a.tilesY())
	}
	var block []byte
	for n := range all {
		var err error
		if block, err = c.block(n, block); err != nil {
			return err
		}
		at := a.place(n)
		for p := range at.planes {
			if _, _, err := planePacking(block[p*planeSize:], at.quantity(p, len(a.Levels))); err != nil {
				return fmt.Errorf("cube: %s, plane %d: %w", c.axes.name(n), p, err)
			}
		}
	}
	return nil
}

// window unpacks a window of the blocks that begin with the given one.
func (c *Cube) window(first int64, to *Part) error {
	g := c.axes.Grid
	w := to.Window
	past := w.Col < g.NX && g.Wraps() // may the window go on past the last column
	if !(w.Rows >= 1 && w.Row >= 0 && w.Rows <= g.NY && w.Row <= g.NY-w.Rows) ||
		!(w.Cols >= 1 && w.Col >= 0 && w.Cols <= g.NX && (w.Col <= g.NX-w.Cols || past)) {
		return fmt.Errorf("cube: window of %d rows from %d and %d columns from %d: want it within %d rows and %d columns",
			w.Rows, w.Row, w.Cols, w.Col, g.NY, g.NX)
	}
	for p, plane := range to.Planes {
		if plane != nil && len(plane) != w.Rows*w.Cols {
			return fmt.Errorf("cube: part with room for %d values in plane %d: want %d", len(plane), p, w.Rows*w.Cols)
		}
	}
	for row := w.Row / Tile; row*Tile < w.Row+w.Rows; row++ {
		for done := 0; done < w.Cols; {
			column := (w.Col + done) % g.NX
			run := min(Tile-column%Tile, g.NX-column, w.Cols-done)
			n := first + int64(row*c.axes.tilesX()+column/Tile)
			if err := c.tile(n, to, piece{column: column % Tile, wide: run, to: done}); err != nil {
				return err
			}
			done += run
		}
	}
	return nil
}

// piece is the columns of a tile that a window wants, and the column of the
// window that the first of them becomes.
type piece struct{ column, wide, to int }

// tile unpacks what a part wants of a block.
func (c *Cube) tile(n int64, to *Part, of piece) error {
	var err error
	if to.block, err = c.block(n, to.block); err != nil {
		return err
	}
	at := c.axes.place(n)
	south, north := max(at.row, to.Row), min(at.row+Tile, to.Row+to.Rows)
	for p, plane := range to.Planes {
		if plane == nil {
			continue
		}
		octets := to.block[p*planeSize : (p+1)*planeSize]
		packed, some, err := planePacking(octets, at.quantity(p, len(c.axes.Levels)))
		if err != nil {
			return fmt.Errorf("cube: %s, plane %d: %w", c.axes.name(n), p, err)
		}
		for row := south; row < north; row++ {
			out := plane[(row-to.Row)*to.Cols+of.to:][:of.wide]
			if !some {
				for i := range out {
					out[i] = float32(math.NaN())
				}
				continue
			}
			takeRow(out, octets[planeHead+2*((row-at.row)*Tile+of.column):], packed)
		}
	}
	return nil
}

// block reads block n and checks it. It uses buffer if that is large enough.
func (c *Cube) block(n int64, buffer []byte) ([]byte, error) {
	at := c.axes.place(n)
	size := blockSize(at.planes)
	if cap(buffer) < size {
		buffer = make([]byte, size)
	}
	buffer = buffer[:size]
	if err := readFull(c.r, buffer, at.offset); err != nil {
		return buffer, fmt.Errorf("cube: %s: %w", c.axes.name(n), err)
	}
	body := buffer[:size-crcSize]
	got, want := checksum(c.seed, n, body), binary.LittleEndian.Uint32(buffer[len(body):])
	if got != want {
		return buffer, fmt.Errorf("cube: %s: checksum %08x: want %08x", c.axes.name(n), got, want)
	}
	return buffer, nil
}

// readFull fills b from the octets at an offset.
func readFull(r io.ReaderAt, b []byte, offset int64) error {
	n, err := r.ReadAt(b, offset)
	switch {
	case n == len(b):
		return nil // io.ReaderAt may say io.EOF with the last octets
	case err == nil || errors.Is(err, io.EOF):
		return fmt.Errorf("%d octets from %d: want %d: %w", n, offset+1, len(b), io.ErrUnexpectedEOF)
	}
	return err
}
