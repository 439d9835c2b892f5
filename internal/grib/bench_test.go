package grib_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// BenchmarkScan walks the headers of the 1° forecast at 3 h, 366 fields.
func BenchmarkScan(b *testing.B) {
	data, err := os.ReadFile(filepath.Join(gridModule(b), "gfs.t18z.pgrb2.1p00.f003"))
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		n := 0
		for _, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
			require.NoError(b, err)
			n++
		}
		require.Equal(b, 366, n)
	}
	b.ReportMetric(366*float64(b.N)/b.Elapsed().Seconds(), "fields/s")
}

// BenchmarkValues unpacks all fields of that file, 23.8 million points.
func BenchmarkValues(b *testing.B) {
	data, err := os.ReadFile(filepath.Join(gridModule(b), "gfs.t18z.pgrb2.1p00.f003"))
	require.NoError(b, err)
	var values []float32
	points := 0
	var u grib.Unpacker
	b.ReportAllocs()
	for b.Loop() {
		for f, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
			require.NoError(b, err)
			values, err = u.Values(f, values)
			require.NoError(b, err)
			points += len(values)
		}
	}
	b.ReportMetric(float64(points)/1e6/b.Elapsed().Seconds(), "Mpoints/s")
}
