package grib_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// BenchmarkPackings unpacks real fields in CCSDS (ECMWF, 0.4°) and PNG (GFS,
// 0.25°). scripts/grib/eccodes_bench.c measures ecCodes on the same files.
func BenchmarkPackings(b *testing.B) {
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		b.Skip("left out: CCSDS and PNG fields of other centres, as THISTLEDOWN_REFERENCE is not set")
	}
	for _, name := range []string{"ecmwf_ifs_oper_0p40_2024010100_f000_ccsds.grib2", "gfs_gh500_0p25_2022021000_f024_png.grib2"} {
		b.Run(name, func(b *testing.B) {
			data, err := os.ReadFile(filepath.Join(dir, "grib", name))
			require.NoError(b, err)
			fields, faults := scanAll(data)
			require.Empty(b, faults)
			var values []float32
			points := 0
			b.ReportAllocs()
			for b.Loop() {
				for _, f := range fields {
					values, err = f.Values(values)
					require.NoError(b, err)
					points += len(values)
				}
			}
			b.ReportMetric(float64(points)/1e6/b.Elapsed().Seconds(), "Mpoints/s")
		})
	}
}
