package archive_test

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// cpu is the processor time that this process has taken.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// BenchmarkPack packs wind, temperature and height of a file of 500 MB, and
// what it has at the ground, into a cube of 15° × 15°: processor seconds.
func BenchmarkPack(b *testing.B) {
	name := os.Getenv("THISTLEDOWN_BIGFILE")
	if name == "" {
		b.Skip("left out: the file of 0.25°, as THISTLEDOWN_BIGFILE is not set: make bench makes one")
	}
	for _, c := range []struct {
		name string
		box  geo.Box
	}{
		{"north", geo.Box{South: 45, North: 60, West: 0, East: 15}},
		{"equator", geo.Box{South: -7, North: 8, West: 0, East: 15}},
		{"south", geo.Box{South: -50, North: -35, West: 165, East: 180}},
	} {
		b.Run(c.name, func(b *testing.B) {
			out := filepath.Join(b.TempDir(), "cube")
			before := cpu(b)
			for b.Loop() {
				source, err := archive.Open(b.Context(), []string{name}, archive.Choice{})
				require.NoError(b, err)
				_, err = source.Pack(b.Context(), c.box, out, nil)
				require.NoError(b, err)
				require.NoError(b, source.Close())
			}
			b.ReportMetric((cpu(b)-before).Seconds()/float64(b.N), "cpu-s/op")
		})
	}
}

// week writes a cube of the size of a packed week: 61 × 61 columns, 41 levels,
// 57 steps, four surface quantities, 85 MB of the same few invented values.
func week(b *testing.B) string {
	b.Helper()
	a := cube.Axes{
		Centre: 7, Cycle: time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC), Terrain: true, Surface: []uint8{0, 1, 2, 3},
		Grid: geo.Grid{NX: 61, NY: 61, Lat0: 45, Lon0: 0, DLat: 0.25, DLon: 0.25}, Members: []cube.Member{{}},
	}
	for l := range 41 {
		a.Levels = append(a.Levels, 100000-2400*float64(l))
	}
	for s := range 57 {
		a.Steps = append(a.Steps, time.Duration(3*s)*time.Hour)
	}
	name := filepath.Join(b.TempDir(), "week.cube")
	file, err := os.Create(name)
	require.NoError(b, err)
	w, err := cube.NewWriter(file, a)
	require.NoError(b, err)
	planes := make([][]float32, a.Planes())
	for s := range a.Steps {
		for row := 0; row < a.Grid.NY; row += cube.Tile {
			n := min(cube.Tile, a.Grid.NY-row) * a.Grid.NX
			for l := range a.Levels {
				for q, v := range []float32{10, 5, float32(100 + 600*l), 280 - float32(l)} {
					plane := make([]float32, n)
					for k := range plane {
						plane[k] = v + float32((k*7+l*3+s)%11)/4
					}
					planes[a.Plane(cube.Quantity(q), l)] = plane
				}
			}
			for q := range a.Surface {
				planes[a.Plane(cube.Surface, q)] = planes[0]
			}
			require.NoError(b, w.Band(0, s, row, planes))
		}
	}
	require.NoError(b, w.Terrain(make([]float32, a.Grid.NX*a.Grid.NY)))
	require.NoError(b, w.Close())
	require.NoError(b, file.Close())
	return name
}

// BenchmarkOpen opens a packed week, and then takes from it what the flights of
// one launch need.
func BenchmarkOpen(b *testing.B) {
	name := week(b)
	info, err := os.Stat(name)
	require.NoError(b, err)
	b.Run(fmt.Sprintf("%dMB", info.Size()/1e6), func(b *testing.B) {
		for b.Loop() {
			source, err := archive.Open(b.Context(), []string{name}, archive.Choice{})
			require.NoError(b, err)
			require.NoError(b, source.Close())
		}
	})
	b.Run("launch", func(b *testing.B) {
		source, err := archive.Open(b.Context(), []string{name}, archive.Choice{})
		require.NoError(b, err)
		defer func() { require.NoError(b, source.Close()) }()
		start := time.Date(2026, 11, 27, 7, 0, 0, 0, time.UTC)
		part := wind.Part{Box: geo.Box{South: 49, North: 55, West: 4, East: 10}, From: start, To: start.Add(4 * time.Hour)}
		for b.Loop() {
			_, _, err := source.Fields(b.Context(), part)
			require.NoError(b, err)
		}
	})
}

// BenchmarkForecast reads what a flight needs straight from the three real
// files.
func BenchmarkForecast(b *testing.B) {
	files := realwind.Files(b)
	for b.Loop() {
		source, err := archive.Open(b.Context(), files, archive.Choice{})
		require.NoError(b, err)
		_, _, err = source.Fields(b.Context(), wind.Part{Box: geo.Box{South: 50, North: 65, West: 0, East: 25}})
		require.NoError(b, err)
		require.NoError(b, source.Close())
	}
}
