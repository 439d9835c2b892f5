package wind

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// maxBand bounds the values of the rows that Pack holds at a time.
const maxBand = 8 << 20

// Pack writes a part of the forecast, all its members, as a cube, and returns
// what the cube holds. source says whose the forecast is and on what terms it
// may be used. progress, which may be nil, is told which share is done. It
// holds some rows of one step at a time.
func (c *Forecast) Pack(w io.Writer, p Part, source string, fetch Fetch, progress func(share float64)) (cube.Axes, error) {
	what, err := c.Contents()
	if err != nil {
		return cube.Axes{}, err
	}
	whole, err := newFrame(what.Grid, p.Box)
	if err != nil {
		return cube.Axes{}, err
	}
	axes := what.axes(c, whole.grid, p.steps(c.Cycle, what.Steps), source)
	out, err := cube.NewWriter(w, axes)
	if err != nil {
		return cube.Axes{}, err
	}
	bands := whole.bands(cmp.Or(c.room, maxBand) / axes.Planes())
	done, all := 0, len(axes.Members)*len(axes.Steps)*len(bands)
	u := unpacking{from: c, what: what, fetch: fetch}
	planes := make([][]float32, axes.Planes())
	for m, member := range what.Members {
		for s, step := range axes.Steps {
			for _, b := range bands {
				u.frame = b.frame
				slab, err := u.slab(member, step)
				if err != nil {
					return cube.Axes{}, fmt.Errorf("%v: %w", member, err)
				}
				rows := b.frame.grid.NY
				for row := 0; row < rows; row += cube.Tile {
					from, to := row*whole.grid.NX, min(row+cube.Tile, rows)*whole.grid.NX
					slab.planes(axes, planes, from, to)
					if err := out.Band(m, s, b.row+row, planes); err != nil {
						return cube.Axes{}, err
					}
				}
				if done++; progress != nil {
					progress(float64(done) / float64(all))
				}
			}
		}
	}
	if axes.Terrain {
		u.frame = whole
		terrain, err := u.ground()
		if err != nil {
			return cube.Axes{}, err
		}
		if err := out.Terrain(terrain); err != nil {
			return cube.Axes{}, err
		}
	}
	return axes, out.Close()
}

// axes are those of a cube with these contents.
func (t Contents) axes(c *Forecast, grid geo.Grid, steps []time.Duration, source string) cube.Axes {
	a := cube.Axes{
		Centre: c.Centre, Cycle: c.Cycle, Grid: grid, Levels: t.Levels, Steps: steps,
		Terrain: t.Terrain, Source: source, Note: strings.Join(t.Lacks, "\n"),
	}
	for _, m := range t.Members {
		a.Members = append(a.Members, cube.Member{Kind: cube.Kind(m.Kind), Number: uint16(m.Number)})
	}
	for _, q := range t.Surface {
		a.Surface = append(a.Surface, uint8(q))
	}
	return a
}

// band is some rows of a frame.
type band struct {
	row   int // of the whole frame, the band's first
	frame *frame
}

// bands cuts a frame into bands of whole tiles that each have at most so many
// columns, or one row of tiles.
func (f *frame) bands(columns int) []band {
	rows := max(columns/f.grid.NX/cube.Tile, 1) * cube.Tile
	var all []band
	for row := 0; row < f.grid.NY; row += rows {
		all = append(all, band{row, f.band(row, min(rows, f.grid.NY-row))})
	}
	return all
}

// planes are the maps of a slab in the order of a cube, each from one value to
// another; nil where there is none.
func (s *slab) planes(a cube.Axes, to [][]float32, from, until int) {
	cut := func(values []float32) []float32 {
		if values == nil {
			return nil
		}
		return values[from:until]
	}
	for l, p := range a.Levels {
		level := s.levels[pressureOf(p)]
		for u := range uppers {
			to[a.Plane(cube.Quantity(u), l)] = cut(level[u])
		}
	}
	for i, q := range a.Surface {
		to[a.Plane(cube.Surface, i)] = cut(s.surface[q])
	}
}

// pressureOf is a level in hundredths of a pascal.
func pressureOf(pascal float64) int32 { return int32(math.Round(pascal * 100)) }

// FromCube unpacks a part of a cube, a field for each member, and says in
// whole sentences what the forecast lacks. stopped, asked now and then, ends
// it with its error.
func FromCube(c *cube.Cube, p Part, stopped func() error) ([]*Field, []string, error) {
	return FromCubeShared(c, p, stopped, func(n int, do func(from, to int) error) error { return do(0, n) })
}

// FromCubeShared is FromCube by whoever shares out the work: share has do called
// for each of n pieces of it, in runs of any length, and at once from as many
// goroutines as it likes. Its error is that of the earliest run that has one. What
// is unpacked does not depend on it. stopped is asked from all of them.
func FromCubeShared(c *cube.Cube, p Part, stopped func() error, share func(n int, do func(from, to int) error) error) ([]*Field, []string, error) {
	a := c.Axes()
	if len(a.Surface) > 0 && a.Surface[len(a.Surface)-1] >= uint8(quantities) {
		return nil, nil, fmt.Errorf("surface quantity %d: want less than %d: it was packed by a later version", a.Surface[len(a.Surface)-1], quantities)
	}
	crop, err := newCrop(a.Grid, p.Box)
	if err != nil {
		return nil, nil, err
	}
	window := cube.Window(crop.window())
	b := build{
		centre: a.Centre, cycle: a.Cycle, grid: crop.grid, all: a.Steps, steps: p.steps(a.Cycle, a.Steps),
	}
	for _, level := range a.Levels {
		b.pressures = append(b.pressures, pressureOf(level))
	}
	if err := b.check(len(a.Members)); err != nil {
		return nil, nil, err
	}
	if a.Terrain {
		heights := make([]float32, crop.grid.NX*crop.grid.NY)
		if err := c.Terrain(window, heights); err != nil {
			return nil, nil, err
		}
		b.terrain = geometric(crop.grid, heights)
	}
	var warnings []string
	if a.Note != "" {
		warnings = strings.Split(a.Note, "\n")
	}
	steps := len(b.steps)
	moments, stack := make([]moment, len(a.Members)*steps), newStack(b.grid, b.pressures)
	err = share(len(moments), func(from, to int) error {
		r := newUnpackedCube(c, window, stack)
		for i := from; i < to; i++ {
			if err := stopped(); err != nil {
				return err
			}
			var err error
			if moments[i], err = r.moment(i/steps, b.steps[i%steps]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	var fields []*Field
	for m, member := range a.Members {
		f, more := b.join(moments[m*steps : (m+1)*steps])
		f.member = Member{Kind: MemberKind(member.Kind), Number: int(member.Number)}
		fields = append(fields, f)
		warnings = addNew(warnings, more)
	}
	return fields, warnings, nil
}

// unpackedCube reads steps of a cube, tile by tile, so that what is unpacked goes on
// into columns while it is at hand.
type unpackedCube struct {
	cube   *cube.Cube
	axes   cube.Axes
	window cube.Window
	stack  stack
	part   cube.Part   // of one tile
	room   [][]float32 // what its planes are cut from
}

func newUnpackedCube(c *cube.Cube, window cube.Window, s stack) *unpackedCube {
	r := &unpackedCube{cube: c, axes: c.Axes(), window: window, stack: s}
	r.room = make([][]float32, r.axes.Planes())
	for p := range r.room {
		r.room[p] = make([]float32, cube.Tile*cube.Tile)
	}
	r.part.Planes = make([][]float32, r.axes.Planes())
	return r
}

// moment is one member at one step.
func (r *unpackedCube) moment(member int, step time.Duration) (moment, error) {
	at, w := slices.Index(r.axes.Steps, step), r.window
	m := moment{columns: r.stack.empty()}
	for _, q := range r.axes.Surface {
		m.surface[q] = make([]float32, w.Rows*w.Cols)
	}
	for row := 0; row < w.Rows; row += r.part.Rows {
		r.part.Row = w.Row + row
		r.part.Rows = min(cube.Tile-r.part.Row%cube.Tile, w.Rows-row)
		for col := 0; col < w.Cols; col += r.part.Cols {
			r.part.Col = (w.Col + col) % r.axes.Grid.NX
			r.part.Cols = min(cube.Tile-r.part.Col%cube.Tile, r.axes.Grid.NX-r.part.Col, w.Cols-col)
			if err := r.tile(member, at); err != nil {
				return moment{}, err
			}
			r.put(&m, row, col)
		}
		if err := r.stack.settle(&m.columns, row, row+r.part.Rows); err != nil {
			return moment{}, fmt.Errorf("forecast step %v: %w", step, err)
		}
	}
	r.stack.warm(&m.columns)
	return m, nil
}

// tile unpacks the part.
func (r *unpackedCube) tile(member, step int) error {
	for p, room := range r.room {
		r.part.Planes[p] = room[:r.part.Rows*r.part.Cols]
	}
	return r.cube.Read(member, step, &r.part)
}

// put puts the part where it belongs in the window.
func (r *unpackedCube) put(m *moment, row, col int) {
	a, rows, cols := r.axes, r.part.Rows, r.part.Cols
	for l := range a.Levels {
		var level [uppers][]float32
		for u := range uppers {
			level[u] = r.part.Planes[a.Plane(cube.Quantity(u), l)]
		}
		m.warm[l] = m.warm[l] || !absent(level[temperature])
		for i := range rows {
			r.stack.put(m.nodes, spread{row + i, col, l}, stretchOf(&level, i*cols, cols))
		}
	}
	for i, q := range a.Surface {
		values := r.part.Planes[a.Plane(cube.Surface, i)]
		for i := range rows {
			copy(m.surface[q][(row+i)*r.window.Cols+col:], values[i*cols:(i+1)*cols])
		}
	}
}

// absent reports whether a map has no value at all.
func absent(values []float32) bool {
	for _, v := range values {
		if v == v { // is a number
			return false
		}
	}
	return true
}

// CubeMap is one map that a cube holds.
type CubeMap struct {
	Centre    uint16
	Cycle     time.Time
	Parameter grib.Parameter
	Surface   grib.Surface
	Level     float64 // Pa, or m above ground; NaN if it has none
	Step      time.Duration
	Member    Member
	Grid      string
	Points    int

	read func() ([]float32, error)
}

// Values unpacks the map, in rows from south to north, each from west to east;
// NaN where missing.
func (m CubeMap) Values() ([]float32, error) { return m.read() }

// CubeMaps goes through the maps of a cube in their order. The error is
// yield's.
func CubeMaps(c *cube.Cube, yield func(CubeMap) error) error {
	a := c.Axes()
	whole := cube.Window{Rows: a.Grid.NY, Cols: a.Grid.NX}
	m := CubeMap{
		Centre: a.Centre, Cycle: a.Cycle, Points: a.Grid.NX * a.Grid.NY,
		Grid: fmt.Sprintf("latitude-longitude %d × %d, %.4g° × %.4g°", a.Grid.NX, a.Grid.NY, a.Grid.DLon, a.Grid.DLat),
	}
	for i, member := range a.Members {
		for j, step := range a.Steps {
			for p := range a.Planes() {
				m.Member, m.Step = Member{Kind: MemberKind(member.Kind), Number: int(member.Number)}, step
				m.describe(a, p)
				m.read = func() ([]float32, error) {
					part := cube.Part{Window: whole, Planes: make([][]float32, a.Planes())}
					part.Planes[p] = make([]float32, m.Points)
					return part.Planes[p], c.Read(i, j, &part)
				}
				if err := yield(m); err != nil {
					return err
				}
			}
		}
	}
	if !a.Terrain {
		return nil
	}
	m.Member, m.Step, m.Parameter, m.Surface, m.Level = Member{}, 0, grib.GeopotentialHeight, grib.Ground, math.NaN()
	m.read = func() ([]float32, error) {
		heights := make([]float32, m.Points)
		return heights, c.Terrain(whole, heights)
	}
	return yield(m)
}

// describe says what a plane of a cube shows.
func (m *CubeMap) describe(a cube.Axes, p int) {
	if u := p / len(a.Levels); u < int(uppers) {
		m.Parameter = [uppers]grib.Parameter{grib.EastwardWind, grib.NorthwardWind, grib.GeopotentialHeight, grib.Temperature}[u]
		m.Surface, m.Level = grib.Isobaric, a.Levels[p%len(a.Levels)]
		return
	}
	m.Parameter, m.Surface, m.Level = Quantity(a.Surface[p-int(uppers)*len(a.Levels)]).field()
}
