package fetch

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// fieldOf reads what a cube or files hold around the box of the tests.
func fieldOf(t testing.TB, names ...string) *wind.Field {
	t.Helper()
	s, err := archive.Open(t.Context(), names, archive.Choice{})
	require.NoError(t, err)
	defer s.Close()
	fields, _, err := s.Fields(t.Context(), wind.Part{Box: southSweden})
	require.NoError(t, err)
	require.Len(t, fields, 1)
	return fields[0]
}

// A pull brings what packing the whole files brings, of which it fetches a part.
func TestPull(t *testing.T) {
	s := realSite(t)
	c, _ := still(march)
	folder := filepath.Join(t.TempDir(), "winds")
	// A pull that was killed while it packed has left half a cube.
	require.NoError(t, os.MkdirAll(folder, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(folder, ".gfs-20170321T1800Z.cube.12345"), []byte("tdcube"), 0o600))
	var last Progress
	got, err := c.Pull(t.Context(), sourcesOf(t, small), orderOf(s, folder), func(p Progress) { last = p })
	require.NoError(t, err)
	assert.Empty(t, got.Notes)
	assert.False(t, got.Already)
	assert.Equal(t, filepath.Join(folder, "gfs-20170322T0000Z.cube"), got.File)
	assert.Equal(t, filepath.Join(folder, "gfs.cube"), got.Link)
	assert.Equal(t, []time.Duration{0, 6 * time.Hour, 12 * time.Hour}, got.Holding.Steps)
	assert.Empty(t, got.Holding.Warnings)
	assert.True(t, got.Holding.Terrain)
	// What a flight takes from the cube is what it takes from the whole files.
	var names []string
	whole := int64(0)
	for step, content := range realFiles(t) {
		name := filepath.Join(t.TempDir(), "f"+strings.Repeat("x", step))
		require.NoError(t, os.WriteFile(name, content, 0o600))
		names = append(names, name)
		whole += int64(len(content))
	}
	want, have := fieldOf(t, names...), fieldOf(t, got.Link)
	for _, p := range []geo.Point{{Lat: 58.2, Lon: 12.8}, {Lat: 55.1, Lon: 8.1}, {Lat: 61.9, Lon: 19.9}} {
		for _, z := range []atmos.Geometric{500, 9000, 31000} {
			for _, at := range []float64{0, 4 * 3600, 11 * 3600} {
				a, out := want.At(p, z, at)
				b, out2 := have.At(p, z, at)
				require.Equal(t, wind.Inside, out)
				require.Equal(t, out, out2)
				// The cube's own rounding is stated as 0.05 m/s and 0.05 K at most.
				assert.InDelta(t, a.East, b.East, 0.05)
				assert.InDelta(t, a.North, b.North, 0.05)
				assert.InDelta(t, a.Temperature, b.Temperature, 0.05)
			}
		}
	}
	assert.Less(t, s.octets(), whole/2, "octets fetched, of %d", whole)
	assert.Equal(t, got.Octets, last.Done)
	assert.Equal(t, last.Total, last.Done)
	assert.Equal(t, 1.0, last.Packing)
	left, err := os.ReadDir(folder)
	require.NoError(t, err)
	var there []string
	for _, e := range left {
		there = append(there, e.Name())
	}
	assert.Equal(t, []string{".pull-gfs.lock", "gfs-20170322T0000Z.cube", "gfs.cube"}, there)

	// Once more: nothing newer, and nothing is fetched.
	before := s.asked("")
	again, err := c.Pull(t.Context(), sourcesOf(t, small), orderOf(s, folder), nil)
	require.NoError(t, err)
	assert.True(t, again.Already)
	assert.Equal(t, got.File, again.File)
	assert.Equal(t, before, s.asked(""))
	// Another box is another matter.
	wider := orderOf(s, folder)
	wider.Box.West = 0
	again, err = c.Pull(t.Context(), sourcesOf(t, small), wider, nil)
	require.NoError(t, err)
	assert.False(t, again.Already)
}
