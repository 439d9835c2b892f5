package cube_test

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
)

// start is a made-up cycle.
var start = time.Date(2026, 3, 14, 6, 0, 0, 0, time.UTC)

// small is axes with something of everything: ragged tiles over the date line.
func small() cube.Axes {
	return cube.Axes{
		Centre:  7,
		Cycle:   start,
		Grid:    geo.Grid{NX: 11, NY: 9, Lat0: -4, Lon0: 178.5, DLat: 0.25, DLon: 0.25},
		Levels:  []float64{100000, 85000},
		Steps:   []time.Duration{0, 3 * time.Hour},
		Members: []cube.Member{{Kind: cube.Control}, {Kind: cube.Perturbed, Number: 1}},
		Surface: []uint8{2, 5},
		Terrain: true,
		Source:  "Invented, for tests.",
		Note:    "Nothing is missing.",
	}
}

// valueAt makes up the value of a node; member -1 is the terrain.
type valueAt func(member, step, plane, node int) float32

// wavy is a value that is different for each of its arguments.
func wavy(member, step, plane, node int) float32 {
	return float32(20*math.Sin(float64(plane)+0.1*float64(node)) + float64(member) + 0.3*float64(step))
}

// pack writes a cube of made-up values.
func pack(t require.TestingT, a cube.Axes, of valueAt) []byte {
	var out bytes.Buffer
	w, err := cube.NewWriter(&out, a)
	require.NoError(t, err)
	for m := range a.Members {
		for s := range a.Steps {
			for row := 0; row < a.Grid.NY; row += cube.Tile {
				require.NoError(t, w.Band(m, s, row, bandOf(a, of, m, s, row)))
			}
		}
	}
	if a.Terrain {
		terrain := make([]float32, a.Grid.NX*a.Grid.NY)
		for k := range terrain {
			terrain[k] = of(-1, 0, 0, k)
		}
		require.NoError(t, w.Terrain(terrain))
	}
	require.NoError(t, w.Close())
	return out.Bytes()
}

// bandOf is what Writer.Band takes.
func bandOf(a cube.Axes, of valueAt, m, s, row int) [][]float32 {
	planes := make([][]float32, a.Planes())
	for p := range planes {
		planes[p] = make([]float32, min(cube.Tile, a.Grid.NY-row)*a.Grid.NX)
		for i := range planes[p] {
			planes[p][i] = of(m, s, p, row*a.Grid.NX+i)
		}
	}
	return planes
}

// room is a part with room for every plane.
func room(a cube.Axes, w cube.Window) *cube.Part {
	part := &cube.Part{Window: w, Planes: make([][]float32, a.Planes())}
	for p := range part.Planes {
		part.Planes[p] = make([]float32, w.Rows*w.Cols)
	}
	return part
}

func whole(g geo.Grid) cube.Window { return cube.Window{Rows: g.NY, Cols: g.NX} }

func open(t require.TestingT, data []byte) *cube.Cube {
	c, err := cube.Open(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	return c
}

// tileBound is the error that the package comment states for a node, from the
// range of the values in its tile.
func tileBound(g geo.Grid, node int, value func(node int) float32) float64 {
	row, column := node/g.NX/cube.Tile*cube.Tile, node%g.NX/cube.Tile*cube.Tile
	low, high := math.Inf(1), math.Inf(-1)
	for r := row; r < min(row+cube.Tile, g.NY); r++ {
		for c := column; c < min(column+cube.Tile, g.NX); c++ {
			if v := float64(value(r*g.NX + c)); !math.IsNaN(v) {
				low, high = min(low, v), max(high, v)
			}
		}
	}
	// A scale is kept to 24 bits, or to a step of 2^-149.
	scale := (high-low)/65534*(1+1./(1<<23)) + math.SmallestNonzeroFloat32
	return scale*(1./2+1./256) + max(math.Abs(low), math.Abs(high))/(1<<24)
}

// requireNear holds what was read of a window against what was written.
func requireNear(t require.TestingT, g geo.Grid, w cube.Window, got []float32, value func(node int) float32) {
	for i, v := range got {
		node := (w.Row+i/w.Cols)*g.NX + (w.Col+i%w.Cols)%g.NX
		want := value(node)
		if want != want {
			require.True(t, v != v, "node %d: %g, want it missing", node, v)
			continue
		}
		require.LessOrEqual(t, math.Abs(float64(v)-float64(want)), tileBound(g, node, value), "node %d: %g, want %g", node, v, want)
	}
}

// drawAxes draws axes of up to some thousand nodes.
func drawAxes(t *rapid.T) cube.Axes {
	text := rapid.StringOfN(rapid.RuneFrom([]rune("\n .,0aZé漢\U0001F388")), 0, 40, -1)
	a := cube.Axes{
		Centre:  rapid.Uint16().Draw(t, "centre"),
		Cycle:   time.Unix(rapid.Int64Range(-2e9, 4e9).Draw(t, "cycle"), 0).UTC(),
		Terrain: rapid.Bool().Draw(t, "terrain"),
		Source:  text.Draw(t, "source"),
		Note:    text.Draw(t, "note"),
	}
	g := geo.Grid{NX: rapid.IntRange(2, 27).Draw(t, "NX"), NY: rapid.IntRange(2, 27).Draw(t, "NY"), DLat: 0.25, DLon: 0.5}
	g.Lat0 = rapid.Float64Range(-90, 80).Draw(t, "Lat0")
	g.Lon0 = rapid.Float64Range(-360, 360).Draw(t, "Lon0")
	if rapid.Bool().Draw(t, "round the Earth") {
		g.DLon = 360 / float64(g.NX)
	}
	a.Grid = g
	pressure, step := 110000.0, -time.Second
	for range rapid.IntRange(1, 4).Draw(t, "levels") {
		pressure *= rapid.Float64Range(0.1, 0.99).Draw(t, "pressure")
		a.Levels = append(a.Levels, pressure)
	}
	for range rapid.IntRange(1, 3).Draw(t, "steps") {
		step += time.Duration(rapid.IntRange(1, 1e6).Draw(t, "step")) * time.Second
		a.Steps = append(a.Steps, step)
	}
	a.Members = []cube.Member{{Kind: cube.Single, Number: rapid.Uint16().Draw(t, "number")}}
	if n := rapid.IntRange(1, 3).Draw(t, "members"); n > 1 {
		a.Members = nil
		for i := range n {
			a.Members = append(a.Members, cube.Member{Kind: cube.Kind(min(i, 1) + 1), Number: uint16(7 * i)})
		}
	}
	for code := range rapid.IntRange(0, 3).Draw(t, "surface") {
		a.Surface = append(a.Surface, uint8(3*code))
	}
	return a
}

// drawValues draws values of a kind for each plane and tile: missing as a
// whole or here and there, all the same, of a likely range, of the widest that
// is taken.
func drawValues(t *rapid.T, a cube.Axes) valueAt {
	seed := rapid.Uint64().Draw(t, "seed")
	return func(member, step, plane, node int) float32 {
		row, column := node/a.Grid.NX, node%a.Grid.NX
		hash := rand.New(rand.NewPCG(seed, uint64(member+1)<<40|uint64(step)<<30|uint64(plane)<<20|uint64(row/cube.Tile)<<10|uint64(column/cube.Tile)))
		kind, base := hash.IntN(6), 300*(hash.Float64()-0.5)
		x := rand.New(rand.NewPCG(seed+1, hash.Uint64()+uint64(node))).Float64() - 0.5
		surface := member >= 0 && plane >= a.Plane(cube.Surface, 0)
		switch {
		case kind == 0 || kind == 1 && x < 0:
			return float32(math.NaN())
		case kind == 2:
			return float32(base)
		case kind == 3 && surface:
			return float32(2e30 * x) // within ±1e30
		case kind == 4 && surface:
			return float32(1e-42 * x)
		case kind == 3:
			return float32(6000 * x)
		}
		return float32(base + 20*x)
	}
}

// TestRoundTrip: whatever is written is read back, by windows, to the stated
// error, and missing exactly where it was missing.
func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawAxes(t)
		values := drawValues(t, a)
		data := pack(t, a, values)
		require.Equal(t, a.Size(), int64(len(data)))
		c := open(t, data)
		require.Equal(t, a, c.Axes())
		require.NoError(t, c.Verify())
		g := a.Grid
		window := cube.Window{Row: rapid.IntRange(0, g.NY-1).Draw(t, "row"), Col: rapid.IntRange(0, g.NX-1).Draw(t, "column")}
		window.Rows = rapid.IntRange(1, g.NY-window.Row).Draw(t, "rows")
		most := g.NX - window.Col
		if g.Wraps() {
			most = g.NX
		}
		window.Cols = rapid.IntRange(1, most).Draw(t, "columns")
		for _, w := range []cube.Window{whole(g), window} {
			part := room(a, w)
			for m := range a.Members {
				for s := range a.Steps {
					require.NoError(t, c.Read(m, s, part))
					for p, got := range part.Planes {
						requireNear(t, g, w, got, func(node int) float32 { return values(m, s, p, node) })
					}
				}
			}
			heights := make([]float32, w.Rows*w.Cols)
			err := c.Terrain(w, heights)
			if !a.Terrain {
				require.EqualError(t, err, "cube: it has no terrain")
				continue
			}
			require.NoError(t, err)
			requireNear(t, g, w, heights, func(node int) float32 { return values(-1, 0, 0, node) })
		}
	})
}

// TestPlanesUnwanted: planes that are not asked for stay out, and a plane that
// was nil when written is missing.
func TestPlanesUnwanted(t *testing.T) {
	a := small()
	var out bytes.Buffer
	w, err := cube.NewWriter(&out, a)
	require.NoError(t, err)
	lost := a.Plane(cube.Temperature, 1)
	for m := range a.Members {
		for s := range a.Steps {
			for row := 0; row < a.Grid.NY; row += cube.Tile {
				band := bandOf(a, wavy, m, s, row)
				band[lost] = nil
				require.NoError(t, w.Band(m, s, row, band))
			}
		}
	}
	require.NoError(t, w.Terrain(make([]float32, a.Grid.NX*a.Grid.NY)))
	require.NoError(t, w.Close())
	c := open(t, out.Bytes())
	window := cube.Window{Row: 3, Col: 5, Rows: 6, Cols: 4}
	wanted := a.Plane(cube.North, 0)
	part := &cube.Part{Window: window, Planes: make([][]float32, a.Planes())}
	part.Planes[wanted], part.Planes[lost] = make([]float32, 24), make([]float32, 24)
	require.NoError(t, c.Read(1, 1, part))
	requireNear(t, a.Grid, window, part.Planes[wanted], func(node int) float32 { return wavy(1, 1, wanted, node) })
	for _, v := range part.Planes[lost] {
		require.True(t, v != v, "%g of a plane that was not written", v)
	}
	require.Nil(t, part.Planes[0])
}

// TestPlaneNumbers: the order of planes that the package comment draws.
func TestPlaneNumbers(t *testing.T) {
	a := small()
	next := 0
	for _, q := range []cube.Quantity{cube.East, cube.North, cube.Height, cube.Temperature} {
		for level := range a.Levels {
			require.Equal(t, next, a.Plane(q, level), "%v at level %d", q, level)
			next++
		}
	}
	for i := range a.Surface {
		require.Equal(t, next, a.Plane(cube.Surface, i))
		next++
	}
	require.Equal(t, next, a.Planes())
}

// TestReadArguments: what lies outside is refused by its numbers.
func TestReadArguments(t *testing.T) {
	a := small()
	c := open(t, pack(t, a, wavy))
	for _, ms := range [][2]int{{-1, 0}, {2, 0}, {0, -1}, {0, 2}} {
		want := fmt.Sprintf("cube: member %d, step %d: want less than 2 and 2, from 0", ms[0], ms[1])
		require.EqualError(t, c.Read(ms[0], ms[1], room(a, whole(a.Grid))), want)
	}
	for _, w := range []cube.Window{
		{},
		{Rows: 1},
		{Cols: 1},
		{Row: -1, Rows: 1, Cols: 1},
		{Col: -1, Rows: 1, Cols: 1},
		{Row: 9, Rows: 1, Cols: 1},
		{Row: 1, Rows: 9, Cols: 1},
		{Col: 1, Rows: 1, Cols: 11},
		{Col: 10, Rows: 1, Cols: 2},
		{Row: math.MaxInt, Rows: math.MaxInt, Cols: 1},
		{Col: math.MaxInt, Cols: math.MaxInt, Rows: 1},
	} {
		err := c.Read(0, 0, &cube.Part{Window: w, Planes: make([][]float32, a.Planes())})
		require.ErrorContains(t, err, "want it within 9 rows and 11 columns", "%+v", w)
		require.ErrorContains(t, c.Terrain(w, nil), "want it within 9 rows and 11 columns", "%+v", w)
	}
	round := small()
	round.Grid.DLon = 360. / 11
	d := open(t, pack(t, round, wavy))
	require.NoError(t, d.Read(0, 0, room(round, cube.Window{Col: 10, Rows: 1, Cols: 11})))
	for _, w := range []cube.Window{
		{Col: 11, Rows: 1, Cols: 1},
		{Col: 1, Rows: 1, Cols: 12},
		{Col: -1, Rows: 1, Cols: 2},
		{Col: math.MaxInt, Rows: 1, Cols: 11},
	} {
		require.ErrorContains(t, d.Read(0, 0, room(round, w)), "want it within 9 rows and 11 columns", "%+v", w)
	}
	require.EqualError(t, c.Read(0, 0, &cube.Part{Window: whole(a.Grid), Planes: make([][]float32, 3)}), "cube: part of 3 planes: want 10")
	require.EqualError(t, c.Terrain(whole(a.Grid), nil), "cube: part with room for 0 values in plane 0: want 99")
	part := room(a, cube.Window{Rows: 2, Cols: 3})
	part.Planes[4] = part.Planes[4][:5]
	require.EqualError(t, c.Read(0, 0, part), "cube: part with room for 5 values in plane 4: want 6")
}

// TestAllocations: what is read or written again and again is allocated once.
func TestAllocations(t *testing.T) {
	a := small()
	c := open(t, pack(t, a, wavy))
	part := room(a, whole(a.Grid))
	read := func() {
		if err := c.Read(1, 1, part); err != nil {
			t.Error(err)
		}
	}
	require.Zero(t, testing.AllocsPerRun(10, read), "allocations of a Read")

	a.Terrain, a.Grid.NY = false, cube.Tile
	a.Steps = make([]time.Duration, 100)
	for s := range a.Steps {
		a.Steps[s] = time.Duration(s) * time.Hour
	}
	w, err := cube.NewWriter(io.Discard, a)
	require.NoError(t, err)
	band, step := bandOf(a, wavy, 0, 0, 0), 0
	write := func() {
		if err := w.Band(0, step, 0, band); err != nil {
			t.Error(err)
		}
		step++
	}
	require.Zero(t, testing.AllocsPerRun(90, write), "allocations of a Band")
}
