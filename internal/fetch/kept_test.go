package fetch

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
)

// keep writes a small cube as a pull would have left it.
func keep(t *testing.T, folder, source string, cycle time.Time, newest bool) string {
	t.Helper()
	name := filepath.Join(folder, source+"-"+stamp(cycle)+".cube")
	file, err := os.Create(name)
	require.NoError(t, err)
	a := cube.Axes{
		Centre: 7, Cycle: cycle, Grid: geo.Grid{NX: 9, NY: 9, Lat0: 50, Lon0: 10, DLat: 1, DLon: 1},
		Levels: []float64{85000, 50000}, Steps: []time.Duration{0, 6 * time.Hour}, Members: []cube.Member{{}},
	}
	w, err := cube.NewWriter(file, a)
	require.NoError(t, err)
	for step := range a.Steps {
		for row := 0; row < a.Grid.NY; row += cube.Tile {
			require.NoError(t, w.Band(0, step, row, make([][]float32, a.Planes()))) // all of it missing
		}
	}
	require.NoError(t, w.Close())
	require.NoError(t, file.Close())
	if newest {
		link := linkOf(folder, source)
		_ = os.Remove(link)
		require.NoError(t, os.Symlink(filepath.Base(name), link))
	}
	return name
}

// The oldest go first, the newest of each source stays, and so does what is read.
func TestEvict(t *testing.T) {
	folder := t.TempDir()
	day := func(n int) time.Time { return time.Date(2017, 3, n, 0, 0, 0, 0, time.UTC) }
	first := keep(t, folder, "gefs", day(20), true)
	second := keep(t, folder, "gfs", day(21), false)
	third := keep(t, folder, "gfs", day(22), false)
	fourth := keep(t, folder, "gfs", day(23), true)
	mine := filepath.Join(folder, "mine.cube")
	require.NoError(t, os.WriteFile(mine, []byte("not a pull's"), 0o600))
	kept, err := Kept(folder)
	require.NoError(t, err)
	require.Len(t, kept, 4)
	size := kept[0].Size
	assert.Equal(t, []string{first, fourth, third, second}, []string{kept[0].File, kept[1].File, kept[2].File, kept[3].File})
	assert.Equal(t, []bool{true, true, false, false}, []bool{kept[0].Newest, kept[1].Newest, kept[2].Newest, kept[3].Newest})

	gone, err := Evict(folder, 4*size)
	require.NoError(t, err)
	assert.Empty(t, gone)

	// A run reads the oldest that might go.
	run, err := archive.Open(t.Context(), []string{second}, archive.Choice{})
	require.NoError(t, err)
	kept, err = Kept(folder)
	require.NoError(t, err)
	assert.True(t, kept[3].InUse)
	gone, err = Evict(folder, 3*size)
	require.NoError(t, err)
	assert.Equal(t, []string{third}, gone)
	gone, err = Evict(folder, 0)
	require.NoError(t, err)
	assert.Empty(t, gone)
	require.NoError(t, run.Close())
	gone, err = Evict(folder, 0)
	require.NoError(t, err)
	assert.Equal(t, []string{second}, gone)
	for _, stays := range []string{first, fourth, mine} {
		assert.FileExists(t, stays)
	}
}

// An older cycle that is pulled for its own sake does not take the name that leads
// to the newest.
func TestTheNameStaysAtTheNewest(t *testing.T) {
	s := realSite(t)
	folder := t.TempDir()
	newer := keep(t, folder, "gfs", time.Date(2017, 3, 23, 0, 0, 0, 0, time.UTC), true)
	c, _ := still(march)
	got, err := c.Pull(t.Context(), sourcesOf(t, small), orderOf(s, folder), nil)
	require.NoError(t, err)
	assert.FileExists(t, got.File)
	require.Len(t, got.Notes, 1)
	assert.Contains(t, got.Notes[0], "still leads to the newer cycle of 23 Mar 2017 00:00 UTC")
	to, err := os.Readlink(filepath.Join(folder, "gfs.cube"))
	require.NoError(t, err)
	assert.Equal(t, filepath.Base(newer), to)
}

// Two pulls of one source do not work in one folder at once.
func TestOnePullAtATime(t *testing.T) {
	folder := t.TempDir()
	unlock, err := lock(folder, "gfs")
	require.NoError(t, err)
	_, err = lock(folder, "gfs")
	require.ErrorContains(t, err, "another pull of gfs is under way")
	other, err := lock(folder, "gefs")
	require.NoError(t, err)
	other()
	unlock()
	again, err := lock(folder, "gfs")
	require.NoError(t, err)
	again()
}

// Whether a cube holds a box is a matter of its grid, across the date line too.
func TestCovers(t *testing.T) {
	k := Cube{Axes: cube.Axes{
		Grid: geo.Grid{NX: 11, NY: 11, Lat0: 50, Lon0: 175, DLat: 1, DLon: 1}, Steps: []time.Duration{0, 6 * time.Hour}, Members: []cube.Member{{}},
	}}
	for _, test := range []struct {
		box     geo.Box
		steps   []int
		members int
		want    bool
	}{
		{geo.Box{South: 50, North: 60, West: 175, East: -175}, []int{0, 6}, 1, true},
		{geo.Box{South: 50, North: 60, West: 176, East: 179}, []int{6}, 1, true},
		{geo.Box{South: 50, North: 60, West: -179, East: -175}, []int{6}, 1, true},
		{geo.Box{South: 50, North: 60, West: -179, East: -174}, []int{6}, 1, false},
		{geo.Box{South: 50, North: 60, West: 174, East: 179}, []int{6}, 1, false},
		{geo.Box{South: 49, North: 60, West: 176, East: 179}, []int{6}, 1, false},
		{geo.Box{South: 50, North: 61, West: 176, East: 179}, []int{6}, 1, false},
		{geo.Box{South: 50, North: 60, West: 176, East: 179}, []int{12}, 1, false},
		{geo.Box{South: 50, North: 60, West: 176, East: 179}, []int{6}, 2, false},
	} {
		assert.Equal(t, test.want, k.covers(test.box, test.steps, test.members), "covers(%v, %v, %d)", test.box, test.steps, test.members)
	}
}
