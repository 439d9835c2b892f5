package grib

import (
	"fmt"
	"slices"
)

// Window is a part of a grid: Rows rows from Row on, counted from the south, and
// Cols columns from Col on, counted from the west. On a grid that goes round the
// Earth the columns after the last go on at 0.
type Window struct{ Row, Col, Rows, Cols int }

// check returns an error unless the window lies in the grid.
func (w Window) check(g Grid) error {
	around := g.DLon == 360/float64(g.NX)
	switch {
	case w.Rows < 1 || w.Cols < 1:
		return fmt.Errorf("window of %d rows and %d columns: want at least one of each", w.Rows, w.Cols)
	case w.Row < 0 || w.Row > g.NY-w.Rows:
		return fmt.Errorf("window of %d rows from row %d on: want it within %d rows", w.Rows, w.Row, g.NY)
	case w.Col < 0 || w.Col >= g.NX || w.Cols > g.NX || w.Col > g.NX-w.Cols && !around:
		return fmt.Errorf("window of %d columns from column %d on: want it within %d columns", w.Cols, w.Col, g.NX)
	}
	return nil
}

// cut says which values of the stream, which is the points of a field in the
// order of its message, make up a window. The stream consists of lines of
// adjacent points, which are rows or columns of the grid.
type cut struct {
	lines, points side // the wanted lines; the wanted points of an even line
	boustro       bool // odd lines go the other way
	columns       bool // lines are columns
}

// side is what a cut wants along one direction of the stream: n of size
// positions, from the position from on and after the last going on at 0.
type side struct {
	size, from, n int
	reversed      bool // whether the stream goes north to south or east to west here
}

// stretch is n adjacent positions of a side, from position at on, of which the
// first is the one that is wanted in place to.
type stretch struct{ at, n, to int }

// cut finds the window in the stream by the scanning mode, flag table 3.4.
func (f *Field) cut(w Window) cut {
	rows := side{size: f.Grid.NY, from: w.Row, n: w.Rows}
	columns := side{size: f.Grid.NX, from: w.Col, n: w.Cols}
	if f.scanning&jPositive == 0 {
		rows = rows.turn()
	}
	if f.scanning&iNegative != 0 {
		columns = columns.turn()
	}
	c := cut{lines: rows, points: columns, boustro: f.scanning&boustro != 0}
	if f.scanning&jAdjacent != 0 {
		c.columns = true
		c.lines, c.points = columns, rows
	}
	return c
}

// turn is the same side seen from the other end.
func (s side) turn() side {
	s.from = s.size - s.from - s.n
	if s.from < 0 {
		s.from += s.size
	}
	s.reversed = !s.reversed
	return s
}

// stretches are the positions of the side in rising order; one may be empty.
func (s side) stretches() [2]stretch {
	if over := s.from + s.n - s.size; over > 0 {
		return [2]stretch{{0, over, s.size - s.from}, {s.from, s.size - s.from, 0}}
	}
	return [2]stretch{{s.from, s.n, 0}}
}

// bounds are the least position of the side and the one after the greatest.
func (s side) bounds() (from, to int) {
	if s.from+s.n > s.size {
		return 0, s.size
	}
	return s.from, s.from + s.n
}

// turned reports whether a line goes against the order of the grid.
func (c cut) turned(line int) bool {
	return c.points.reversed != (c.boustro && line%2 == 1)
}

// piece is a run of wanted values: n from position at of the stream on, which
// belong to place to of the result on.
type piece stretch

// pieces yields the pieces of a cut in the order of the stream. The result has the
// lines in the order of the grid, but the points of each in that of the stream:
// see settle.
type pieces struct {
	lines, points int           // in the result; of a line of the stream
	wide          int           // points of a line of the result
	reversed      bool          // lines of the stream come last first
	along         [2]stretch    // lines
	across        [2][2]stretch // points, of even and of odd lines
	stretch, k    int           // next of along, and line of it
	part          int           // next of across
}

func (c cut) pieces() pieces {
	even, odd := c.points, c.points
	if c.boustro {
		odd = odd.turn()
	}
	return pieces{
		lines: c.lines.n, points: c.points.size, wide: c.points.n,
		reversed: c.lines.reversed,
		along:    c.lines.stretches(),
		across:   [2][2]stretch{even.stretches(), odd.stretches()},
	}
}

// run is the one piece from..to-1 of the stream.
func run(from, to int) pieces {
	return pieces{lines: 1, along: [2]stretch{{n: 1}}, across: [2][2]stretch{{{at: from, n: to - from}}}}
}

// next returns the next piece, and one of no values if there is none.
func (p *pieces) next() piece {
	for p.stretch < len(p.along) {
		s := p.along[p.stretch]
		if p.k == s.n {
			p.stretch, p.k = p.stretch+1, 0
			continue
		}
		line, row := s.at+p.k, s.to+p.k
		part := p.across[line%2][p.part]
		if p.part++; p.part == len(p.across[0]) {
			p.part = 0
			p.k++
		}
		if p.reversed {
			row = p.lines - 1 - row
		}
		if part.n > 0 {
			return piece{line*p.points + part.at, part.n, row*p.wide + part.to}
		}
	}
	return piece{}
}

// copy puts the pieces of a stream, of which values begins at position from, into
// their places in dst.
func (p pieces) copy(dst, values []float32, from int) {
	for s := p.next(); s.n > 0; s = p.next() {
		copy(dst[s.to:][:s.n], values[s.at-from:])
	}
}

// bounds are the least position of the stream that may be wanted, and the one
// after the greatest.
func (c cut) bounds() (from, to int) {
	first, end := c.lines.bounds()
	if c.boustro {
		return first * c.points.size, end * c.points.size
	}
	low, high := c.points.bounds()
	return first*c.points.size + low, (end-1)*c.points.size + high
}

// settle brings lines, which have their points in the order of the stream, into
// dst in rows from south to north, each from west to east. They are one slice
// unless lines are columns.
func (c cut) settle(dst, lines []float32) {
	n := c.points.n
	for place := range c.lines.n {
		line := place
		if c.lines.reversed {
			line = c.lines.n - 1 - place
		}
		if line += c.lines.from; line >= c.lines.size {
			line -= c.lines.size
		}
		if c.turned(line) {
			slices.Reverse(lines[place*n:][:n])
		}
	}
	if !c.columns {
		return
	}
	for i := range c.lines.n {
		for j, v := range lines[i*n:][:n] {
			dst[j*c.lines.n+i] = v
		}
	}
}
