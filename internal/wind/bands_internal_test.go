package wind

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// However little room there is, the cube is the same: a wide area is packed in
// bands of rows.
func TestBandsMakeTheSameCube(t *testing.T) {
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/nilsmagnus/grib").Output()
	require.NoError(t, err)
	content, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(dir)), "griblib", "integrationtestdata", "gfs.t00z.pgrb2.2p50.f006"))
	require.NoError(t, err)
	var x Index
	var kept []*grib.Field
	for f, err := range grib.Scan(bytes.NewReader(content), int64(len(content))) {
		require.NoError(t, err)
		require.NoError(t, x.Add(f, Ref{Offset: int64(len(kept))}))
		kept = append(kept, f)
	}
	c := x.Forecasts()[0]
	var cubes [3]bytes.Buffer
	for i, room := range []int{0, 1, 2 << 20} {
		c.room = room
		_, err := c.Pack(&cubes[i], Part{Box: geo.Box{South: -90, North: 90, West: -180, East: 180}}, "",
			func(at Ref) (*grib.Field, error) { return kept[at.Offset], nil }, nil)
		require.NoError(t, err)
	}
	assert.Equal(t, cubes[0].Bytes(), cubes[1].Bytes())
	assert.Equal(t, cubes[0].Bytes(), cubes[2].Bytes())
	what, err := c.Contents()
	require.NoError(t, err)
	f, err := newFrame(what.Grid, geo.Box{South: -90, North: 90, West: -180, East: 180})
	require.NoError(t, err)
	assert.Len(t, f.bands(1), 10, "73 rows in bands of 8")
	assert.Len(t, f.bands(144*24), 4)
}
