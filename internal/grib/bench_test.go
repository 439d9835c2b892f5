//go:build unix

package grib_test

import (
	"os"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/nilsmagnus/grib/griblib"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// benchFiles are files of the grib module, the 1° forecast at 3 h of 366 fields
// and two fields in three packings, and those that scripts/grib/bench names.
func benchFiles(b *testing.B) []string {
	b.Helper()
	var paths []string
	for _, name := range []string{"gfs.t18z.pgrb2.1p00.f003", "template5_0.grib2", "template5_2.grib2", "template5_3.grib2"} {
		paths = append(paths, filepath.Join(gridModule(b), name))
	}
	if more := os.Getenv("THISTLEDOWN_BENCHFILES"); more != "" {
		paths = append(paths, filepath.SplitList(more)...)
	}
	return paths
}

// bigFile is the load-test file that make bench makes, scripts/grib/bigfile.
func bigFile(b *testing.B) (*os.File, int64) {
	b.Helper()
	name := os.Getenv("THISTLEDOWN_BIGFILE")
	if name == "" {
		b.Skip("left out: the file of 0.25°, as THISTLEDOWN_BIGFILE is not set: make bench makes one")
	}
	return open(b, name)
}

func open(b *testing.B, name string) (*os.File, int64) {
	b.Helper()
	file, err := os.Open(name)
	require.NoError(b, err)
	b.Cleanup(func() { file.Close() })
	info, err := file.Stat()
	require.NoError(b, err)
	return file, info.Size()
}

// stopwatch measures processor time of this process, which other processes that
// are about disturb less than they do the clock.
type stopwatch struct{ begin time.Duration }

func start(b *testing.B) stopwatch {
	return stopwatch{processorTime(b)}
}

func processorTime(b *testing.B) time.Duration {
	b.Helper()
	var r syscall.Rusage
	require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &r))
	return time.Duration(r.Utime.Nano() + r.Stime.Nano())
}

// rate reports points a second.
func (s stopwatch) rate(b *testing.B, points int) {
	b.ReportMetric(float64(points)/1e6/(processorTime(b)-s.begin).Seconds(), "Mpoints/s")
}

// each reports seconds a round.
func (s stopwatch) each(b *testing.B) {
	b.ReportMetric((processorTime(b)-s.begin).Seconds()/float64(b.N), "s/file")
}

// BenchmarkValues unpacks all fields of a file, one after the other.
func BenchmarkValues(b *testing.B) {
	for _, name := range benchFiles(b) {
		b.Run(filepath.Base(name), func(b *testing.B) {
			file, size := open(b, name)
			var u grib.Unpacker
			var values []float32
			points := 0
			b.ReportAllocs()
			watch := start(b)
			for b.Loop() {
				for f, err := range grib.Scan(file, size) {
					require.NoError(b, err)
					if f.Supported() != nil {
						b.Skip(f.Supported())
					}
					values, err = u.Values(f, values)
					require.NoError(b, err)
					points += len(values)
				}
			}
			watch.rate(b, points)
		})
	}
}

// BenchmarkUnpacker is BenchmarkValues of the 1° forecast without the walk: no
// allocation.
func BenchmarkUnpacker(b *testing.B) {
	data, err := os.ReadFile(benchFiles(b)[0])
	require.NoError(b, err)
	fields, faults := scanAll(data)
	require.Empty(b, faults)
	var u grib.Unpacker
	values, k, points := make([]float32, 360*181), 0, 0
	b.ReportAllocs()
	watch := start(b)
	for b.Loop() {
		values, err = u.Values(fields[k%len(fields)], values)
		require.NoError(b, err)
		points += len(values)
		k++
	}
	watch.rate(b, points)
}

// BenchmarkGriblib reads the files of the grib module with the module itself,
// whole, as it offers no other way.
func BenchmarkGriblib(b *testing.B) {
	for _, name := range benchFiles(b)[:4] {
		b.Run(filepath.Base(name), func(b *testing.B) {
			file, _ := open(b, name)
			points := 0
			watch := start(b)
			for b.Loop() {
				_, err := file.Seek(0, 0)
				require.NoError(b, err)
				messages, err := griblib.ReadMessages(file)
				require.NoError(b, err)
				for _, m := range messages {
					points += int(m.Section3.DataPointCount) // the constant fields too, which it returns nothing for
				}
			}
			watch.rate(b, points)
		})
	}
}

// BenchmarkScan walks the headers of the 1° forecast at 3 h, and of the big file.
func BenchmarkScan(b *testing.B) {
	walk := func(b *testing.B, file *os.File, size int64) {
		fields := 0
		b.ReportAllocs()
		watch := start(b)
		for b.Loop() {
			for _, err := range grib.Scan(file, size) {
				require.NoError(b, err)
				fields++
			}
		}
		watch.each(b)
		b.ReportMetric(float64(fields)/float64(b.N), "fields")
	}
	b.Run("1p00", func(b *testing.B) {
		file, size := open(b, benchFiles(b)[0])
		walk(b, file, size)
	})
	b.Run("big", func(b *testing.B) {
		file, size := bigFile(b)
		walk(b, file, size)
	})
}

// BenchmarkWindow walks the big file and cuts out of it what a wind field needs: U,
// V, temperature and height of all isobaric levels, in a box of 15° × 15°
// around 45°N, once away from the seam of the grid and once over it.
func BenchmarkWindow(b *testing.B) {
	wanted := []grib.Parameter{grib.EastwardWind, grib.NorthwardWind, grib.Temperature, grib.GeopotentialHeight}
	for name, col := range map[string]int{"big": 1000, "seam": 1410} {
		b.Run(name, func(b *testing.B) {
			file, size := bigFile(b)
			w := grib.Window{Row: 510, Col: col, Rows: 61, Cols: 61}
			var u grib.Unpacker
			var part []float32
			windows := 0
			b.ReportAllocs()
			watch := start(b)
			for b.Loop() {
				for f, err := range grib.Scan(file, size) {
					require.NoError(b, err)
					if f.Level.Surface != grib.Isobaric || !slices.Contains(wanted, f.Parameter()) {
						continue
					}
					part, err = u.Window(f, w, part)
					require.NoError(b, err)
					windows++
				}
			}
			require.Equal(b, 4*41*b.N, windows)
			watch.each(b)
		})
	}
}
