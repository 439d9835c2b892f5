package cube_test

import (
	"bytes"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
)

// week is a box of 15 by 15 degrees at a quarter of a degree, 41 levels and a
// step every 3 h for a week.
func week() cube.Axes {
	a := cube.Axes{
		Cycle:   start,
		Grid:    geo.Grid{NX: 61, NY: 61, Lat0: 40, Lon0: 5, DLat: 0.25, DLon: 0.25},
		Members: []cube.Member{{Kind: cube.Single}},
		Surface: []uint8{0, 1, 2, 3, 4, 5, 6},
		Terrain: true,
	}
	a.Levels = downward(41)
	for s := range 57 {
		a.Steps = append(a.Steps, time.Duration(s)*3*time.Hour)
	}
	return a
}

// packWeek writes a cube of week, all steps alike.
func packWeek(b *testing.B, out io.Writer, bands [][][]float32) {
	a := week()
	w, err := cube.NewWriter(out, a)
	require.NoError(b, err)
	for s := range a.Steps {
		for i, band := range bands {
			require.NoError(b, w.Band(0, s, i*cube.Tile, band))
		}
	}
	require.NoError(b, w.Terrain(make([]float32, a.Grid.NX*a.Grid.NY)))
	require.NoError(b, w.Close())
}

func weekBands() [][][]float32 {
	a := week()
	var bands [][][]float32
	for row := 0; row < a.Grid.NY; row += cube.Tile {
		bands = append(bands, bandOf(a, wavy, 0, 0, row))
	}
	return bands
}

func weekCube(b *testing.B) []byte {
	var out bytes.Buffer
	packWeek(b, &out, weekBands())
	return out.Bytes()
}

// BenchmarkOpen opens a cube of 84 MB.
func BenchmarkOpen(b *testing.B) {
	data := weekCube(b)
	b.ReportAllocs()
	for b.Loop() {
		_, err := cube.Open(bytes.NewReader(data), int64(len(data)))
		require.NoError(b, err)
	}
	b.ReportMetric(float64(len(data))/1e6, "MB")
}

// BenchmarkRead unpacks wind, height and temperature at 41 levels of 24 by 24
// columns and 3 steps, 283,392 values.
func BenchmarkRead(b *testing.B) {
	data := weekCube(b)
	c := open(b, data)
	part := room(c.Axes(), cube.Window{Row: 19, Col: 21, Rows: 24, Cols: 24})
	for i := range c.Axes().Surface {
		part.Planes[c.Axes().Plane(cube.Surface, i)] = nil
	}
	require.NoError(b, c.Read(0, 0, part))
	b.ReportAllocs()
	for b.Loop() {
		for s := 20; s < 23; s++ {
			require.NoError(b, c.Read(0, s, part))
		}
	}
	b.ReportMetric(3*164*24*24*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mvalues/s")
}

// BenchmarkVerify checks every block of that cube.
func BenchmarkVerify(b *testing.B) {
	data := weekCube(b)
	c := open(b, data)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		require.NoError(b, c.Verify())
	}
}

// BenchmarkWriter packs that cube; MB/s are of the cube.
func BenchmarkWriter(b *testing.B) {
	bands := weekBands()
	size := week().Size()
	b.SetBytes(size)
	b.ReportAllocs()
	for b.Loop() {
		packWeek(b, io.Discard, bands)
	}
	b.ReportMetric(float64(size)/1e6, "MB")
}
