package cube_test

import (
	"bytes"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
)

// TestWriterOrder: what comes out of order, twice or not at all is an error,
// and stays one.
func TestWriterOrder(t *testing.T) {
	a := small()
	begin := func(bands int) *cube.Writer {
		w, err := cube.NewWriter(io.Discard, a)
		require.NoError(t, err)
		for n := range bands {
			row := n % 2 * 8
			require.NoError(t, w.Band(n/4, n/2%2, row, bandOf(a, wavy, 0, 0, row)))
		}
		return w
	}
	band := func(member, step, row int) func(w *cube.Writer) error {
		return func(w *cube.Writer) error { return w.Band(member, step, row, bandOf(a, wavy, 0, 0, 0)) }
	}
	terrain := func(n int) func(w *cube.Writer) error {
		return func(w *cube.Writer) error { return w.Terrain(make([]float32, n)) }
	}
	for _, c := range []struct {
		bands int
		do    func(w *cube.Writer) error
		want  string
	}{
		{0, band(0, 0, 8), "cube: band of member 0, step 0, row 8: want member 0, step 0, row 0, counted from 0"},
		{1, band(0, 0, 0), "cube: band of member 0, step 0, row 0: want member 0, step 0, row 8, counted from 0"},
		{2, band(1, 0, 0), "cube: band of member 1, step 0, row 0: want member 0, step 1, row 0, counted from 0"},
		{2, band(0, 0, 0), "cube: band of member 0, step 0, row 0: want member 0, step 1, row 0, counted from 0"},
		{4, band(0, 0, 0), "cube: band of member 0, step 0, row 0: want member 1, step 0, row 0, counted from 0"},
		{8, band(2, 0, 0), "cube: a band after the last one"},
		{1, band(0, 0, 8), "cube: band with 88 values in plane 0: want 11"},
		{3, terrain(99), "cube: terrain before member control 0, step 3h0m0s, rows 8 to 8, columns 0 to 7, octets 8342 to 9705"},
		{8, terrain(98), "cube: terrain of 98 values: want 99"},
		{0, (*cube.Writer).Close, "cube: ends before member control 0, step 0s, rows 0 to 7, columns 0 to 7, octets 158 to 1521"},
		{7, (*cube.Writer).Close, "cube: ends before member perturbed 1, step 3h0m0s, rows 8 to 8, columns 0 to 7, octets 19254 to 20617"},
		{8, (*cube.Writer).Close, "cube: ends before its terrain"},
		{0, func(w *cube.Writer) error { return w.Band(0, 0, 0, nil) }, "cube: band of 0 planes: want 10"},
		{8, func(w *cube.Writer) error {
			require.NoError(t, w.Terrain(make([]float32, 99)))
			return w.Terrain(make([]float32, 99))
		}, "cube: terrain twice"},
		{8, func(w *cube.Writer) error {
			require.NoError(t, w.Terrain(make([]float32, 99)))
			require.NoError(t, w.Close())
			return w.Close()
		}, "cube: written to after its end"},
	} {
		w := begin(c.bands)
		require.EqualError(t, c.do(w), c.want)
		// Nothing puts it right again, not even what would have been wanted.
		require.Error(t, w.Band(c.bands/4, c.bands/2%2, c.bands%2*8, bandOf(a, wavy, 0, 0, c.bands%2*8)), c.want)
		require.Error(t, w.Close(), c.want)
	}
	a.Terrain = false
	require.EqualError(t, terrain(99)(begin(8)), "cube: terrain for axes without it")
	require.NoError(t, begin(8).Close())
}

// full is a writer with room for so many octets.
type full int

var errFull = errors.New("no room left")

func (f *full) Write(b []byte) (int, error) {
	n := min(len(b), int(*f))
	*f -= full(n)
	if n < len(b) {
		return n, errFull
	}
	return n, nil
}

// TestWriterFull: a write that fails is told, wherever it fails.
func TestWriterFull(t *testing.T) {
	a := small()
	for room := 0; room < int(a.Size()); room += 131 {
		f := full(room)
		w, err := cube.NewWriter(&f, a)
		for n := 0; err == nil && n < 8; n++ {
			err = w.Band(n/4, n/2%2, n%2*8, bandOf(a, wavy, 0, 0, n%2*8))
		}
		if err == nil {
			err = w.Terrain(make([]float32, 99))
		}
		require.ErrorIs(t, err, errFull, "room for %d octets", room)
		if w != nil {
			require.ErrorIs(t, w.Close(), errFull)
		}
	}
}

// TestValuesRefused: values that cannot be kept to the stated error.
func TestValuesRefused(t *testing.T) {
	inf, nan := float32(math.Inf(1)), float32(math.NaN())
	a := small()
	east, height, temperature, surface := a.Plane(cube.East, 1), a.Plane(cube.Height, 0), a.Plane(cube.Temperature, 1), a.Plane(cube.Surface, 1)
	for _, c := range []struct {
		plane     int
		low, high float32
		want      string // none: it is taken
	}{
		{surface, 0, inf, "surface quantity from 0 to +Inf: want within ±1e+30"},
		{surface, -inf, inf, "surface quantity from -Inf to -Inf: want within ±1e+30"},
		{surface, inf, inf, "surface quantity from +Inf to +Inf: want within ±1e+30"},
		{surface, -inf, nan, "surface quantity from -Inf to -Inf: want within ±1e+30"},
		{surface, 0, 1.1e30, "surface quantity from 0 to 1.1e+30: want within ±1e+30"},
		{surface, -1e30, 1e30, ""},
		{east, inf, nan, "wind toward east from +Inf to +Inf: want within ±1e+30"},
		{east, 0, 6460, "wind toward east from 0 over 6460: error of packing 0.05"},
		{east, -3200, 3200, ""},
		{height, -500, 129000, "height from -500 over 129500: error of packing 1.0"},
		{height, -500, 128000, ""},
		{temperature, 0, 6460, "temperature from 0 over 6460: error of packing 0.05"},
		{temperature, 0, 6440, ""},
	} {
		band := bandOf(a, func(int, int, int, int) float32 { return 1 }, 0, 0, 0)
		for i := range band[c.plane] {
			band[c.plane][i] = c.low
		}
		band[c.plane][9] = c.high // in the second tile
		if math.IsNaN(float64(c.high)) {
			band[c.plane][10] = c.high
		}
		w, err := cube.NewWriter(io.Discard, a)
		require.NoError(t, err)
		err = w.Band(0, 0, 0, band)
		if c.want == "" {
			require.NoError(t, err, "%g to %g", c.low, c.high)
			continue
		}
		require.ErrorContains(t, err, c.want)
		require.ErrorContains(t, err, "cube: member control 0, step 0s, rows 0 to 7, columns ")
		require.ErrorIs(t, w.Close(), err)
	}
	a.Terrain, a.Members, a.Steps, a.Surface = true, a.Members[:1], a.Steps[:1], nil
	w, err := cube.NewWriter(io.Discard, a)
	require.NoError(t, err)
	require.NoError(t, w.Band(0, 0, 0, make([][]float32, 8)))
	require.NoError(t, w.Band(0, 0, 8, make([][]float32, 8)))
	require.ErrorContains(t, w.Terrain(slices.Repeat([]float32{inf}, 99)), "terrain, rows 0 to 7, columns 0 to 7, octets")
}

// TestBoundReached: the bounds of the package comment are met by the widest
// planes that are taken, and not by far.
func TestBoundReached(t *testing.T) {
	a := small()
	for _, c := range []struct {
		q            cube.Quantity
		widest, most float64 // range that is still taken, and the error stated, in the unit
	}{
		{cube.East, 6420, 0.05},
		{cube.North, 6420, 0.05},
		{cube.Height, 128900, 1},
		{cube.Temperature, 6420, 0.05},
	} {
		values := func(_, _, plane, node int) float32 {
			if plane != a.Plane(c.q, 0) {
				return 0
			}
			// Ends of the range, and places between two codes.
			return float32(c.widest * (math.Floor(float64(node)*661.37) + 0.5*float64(node%7%2)) / 65534)
		}
		ends := func(m, s, plane, node int) float32 {
			if plane == a.Plane(c.q, 0) && node%11%8 == 0 && node < 22 {
				return float32(float64(node/11) * c.widest)
			}
			return values(m, s, plane, node)
		}
		part := room(a, whole(a.Grid))
		require.NoError(t, open(t, pack(t, a, ends)).Read(0, 0, part))
		worst := 0.0
		for node, got := range part.Planes[a.Plane(c.q, 0)] {
			worst = max(worst, math.Abs(float64(got)-float64(ends(0, 0, a.Plane(c.q, 0), node))))
		}
		require.LessOrEqual(t, worst, c.most, "%v", c.q)
		require.GreaterOrEqual(t, worst, 0.95*c.most, "%v: the bound is slack", c.q)
	}
}

// TestAxesCheck: every limit, by name, and all at once.
func TestAxesCheck(t *testing.T) {
	require.NoError(t, small().Check())
	for _, c := range []struct {
		change func(a *cube.Axes)
		want   string
	}{
		{func(a *cube.Axes) { a.Cycle = time.Time{}.AddDate(-1, 0, 0) }, "cycle 0000-01-01 00:00:00 +0000 UTC: want whole seconds in the years 1 to 9999"},
		{func(a *cube.Axes) { a.Cycle = start.Add(1) }, "cycle 2026-03-14 06:00:00.000000001 +0000 UTC: want whole seconds in the years 1 to 9999"},
		{func(a *cube.Axes) { a.Grid.NX = 1 }, "grid of 1 columns and 9 rows: want at least 2 of each"},
		{func(a *cube.Axes) { a.Grid = geo.Grid{NX: 1 << 15, NY: 33, DLat: 1, DLon: 0.01} }, "grid of 32768 columns and 33 rows: want at most 1048576 nodes"},
		{func(a *cube.Axes) { a.Levels = nil }, "0 levels: want 1 to 200"},
		{func(a *cube.Axes) { a.Levels = make([]float64, 201) }, "201 levels: want 1 to 200"},
		{func(a *cube.Axes) { a.Levels[1] = 0 }, "level 0 Pa: want over 0 to 200000, each less than the one before"},
		{func(a *cube.Axes) { a.Levels[0] = math.NaN() }, "level NaN Pa: want over 0 to 200000, each less than the one before"},
		{func(a *cube.Axes) { a.Levels[1] = 100000 }, "level 100000 Pa: want over 0 to 200000, each less than the one before"},
		{func(a *cube.Axes) { a.Steps = nil }, "0 steps: want 1 to 1000"},
		{func(a *cube.Axes) { a.Steps = make([]time.Duration, 1001) }, "1001 steps: want 1 to 1000"},
		{func(a *cube.Axes) { a.Steps[0] = -time.Second }, "step -1s: want whole seconds from 0 to 4294967295, each more than the one before"},
		{func(a *cube.Axes) { a.Steps[1] = 1500 * time.Millisecond }, "step 1.5s: want whole seconds from 0 to 4294967295, each more than the one before"},
		{func(a *cube.Axes) { a.Steps[1] = 1 << 32 * time.Second }, "step 1193046h28m16s: want whole seconds from 0 to 4294967295, each more than the one before"},
		{func(a *cube.Axes) { a.Members = nil }, "0 members: want 1 to 128"},
		{func(a *cube.Axes) { a.Members = make([]cube.Member, 129) }, "129 members: want 1 to 128"},
		{func(a *cube.Axes) { a.Members[0].Kind = 4 }, "member of kind 4: want less than 4"},
		{func(a *cube.Axes) { a.Members[1].Kind = cube.Single }, "2 members, one of them a single run: want it alone"},
		{func(a *cube.Axes) { a.Members[1] = a.Members[0] }, "member control 0 twice: want each once"},
		{func(a *cube.Axes) { a.Surface = make([]uint8, 33) }, "33 surface quantities: want at most 32"},
		{func(a *cube.Axes) { a.Surface[1] = 2 }, "surface quantity 2 after 2: want each more than the one before"},
		{func(a *cube.Axes) { a.Source = strings.Repeat("a", 1<<16+1) }, "source of 65537 octets: want at most 65536"},
		{func(a *cube.Axes) { a.Note = "\xff" }, `note "\xff": want UTF-8 without control characters but line feeds`},
		{func(a *cube.Axes) { a.Source = "\x1b[2J" }, `source "\x1b[2J": want UTF-8 without control characters but line feeds`},
		{func(a *cube.Axes) { a.Levels, a.Steps = nil, nil }, "0 levels: want 1 to 200\n0 steps: want 1 to 1000"},
		{func(a *cube.Axes) {
			// 2 members · 185 steps · 180·91 tiles of 166 planes, 16,380 of terrain, 1201 octets of header.
			a.Grid = geo.Grid{NX: 1440, NY: 721, Lat0: -90, DLat: 0.25, DLon: 0.25}
			a.Levels = downward(41)
			for s := time.Duration(2); len(a.Steps) < 185; s++ {
				a.Steps = append(a.Steps, s*3*time.Hour)
			}
		}, "cube of 136850642401 octets: want at most 68719476736: a smaller area, or fewer steps or members"},
	} {
		a := small()
		c.change(&a)
		assert.EqualError(t, a.Check(), c.want)
		w, err := cube.NewWriter(new(bytes.Buffer), a)
		assert.Nil(t, w)
		assert.EqualError(t, err, "cube: "+c.want)
	}
}

// downward is n pressures, decreasing.
func downward(n int) []float64 {
	all := make([]float64, n)
	for i := range all {
		all[i] = 100e3 - 1e3*float64(i)
	}
	return all
}
