package grib_test

import (
	"compress/gzip"
	"encoding/binary"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestRepacked decodes GFS fields that ecCodes has packed anew in every packing
// and scanning mode, and holds every value against what ecCodes decodes; see
// scripts/grib/repack.py.
func TestRepacked(t *testing.T) {
	fields, faults := scanAll(unzipped(t, "repacked.grib2.gz"))
	require.Empty(t, faults)
	values := unzipped(t, "repacked.f32.gz")
	packings := map[uint16]int{}
	for _, f := range fields {
		packings[f.Packing]++
		got, err := f.Values(nil)
		require.NoError(t, err)
		require.Len(t, got, f.Points)
		for i, v := range got {
			want := math.Float32frombits(binary.LittleEndian.Uint32(values[4*i:]))
			if v != want && (v == v || want == want) {
				require.Failf(t, "value differs", "message %d, packing 5.%d: value %d = %g, want %g", f.Message, f.Packing, i, v, want)
			}
		}
		values = values[4*f.Points:]
	}
	require.Empty(t, values, "values of no field")
	assert.Equal(t, map[uint16]int{0: 43, 2: 22, 3: 22, 4: 22, 41: 27, 42: 88}, packings)
}

// unzipped is the content of a file of testdata.
func unzipped(t testing.TB, name string) []byte {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", name))
	require.NoError(t, err)
	defer file.Close()
	r, err := gzip.NewReader(file)
	require.NoError(t, err)
	content, err := io.ReadAll(r)
	require.NoError(t, err)
	return content
}
