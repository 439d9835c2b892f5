package grib_test

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestCCSDSAgainstWgrib2 decodes a field of ECMWF, every value against what wgrib2
// makes of it: little-endian float32, rows from north to south.
func TestCCSDSAgainstWgrib2(t *testing.T) {
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		t.Skip("left out: a CCSDS field of ECMWF as wgrib2 decodes it, as THISTLEDOWN_REFERENCE is not set")
	}
	data, err := os.ReadFile(filepath.Join(dir, "grib", "ecmwf_ifs_oper_0p40_2024010100_f000_ccsds.grib2"))
	require.NoError(t, err)
	want, err := os.ReadFile(filepath.Join(dir, "grib", "ecmwf_ifs_oper_0p40_2024010100_msg1_wgrib2_le_float32.bin"))
	require.NoError(t, err)
	fields, faults := scanAll(data)
	require.Empty(t, faults)
	values, err := fields[0].Values(nil)
	require.NoError(t, err)
	require.Len(t, want, 4*len(values))
	nx, ny := fields[0].Grid.NX, fields[0].Grid.NY
	for i, v := range values {
		k := (ny-1-i/nx)*nx + i%nx
		require.Equal(t, math.Float32frombits(binary.LittleEndian.Uint32(want[4*k:])), v, "value %d", i)
	}
}

// TestPNGAgainstJPEG decodes a field of NCEP in PNG against what ecCodes makes of
// the same field in JPEG 2000.
func TestPNGAgainstJPEG(t *testing.T) {
	dir := os.Getenv("THISTLEDOWN_REFERENCE")
	if dir == "" {
		t.Skip("left out: a PNG field of NCEP against its copy in JPEG 2000, as THISTLEDOWN_REFERENCE is not set")
	}
	data, err := os.ReadFile(filepath.Join(dir, "grib", "gfs_gh500_0p25_2022021000_f024_png.grib2"))
	require.NoError(t, err)
	want := readListed(t, filepath.Join(dir, "ref", "gfs_gh500_0p25_2022021000_f024_jpeg2000.grib2.jsonl"))
	require.Len(t, want, 1)
	require.Equal(t, "grid_jpeg", want[0].Packing)
	checkListed(t, only(t, data), want[0])
}
