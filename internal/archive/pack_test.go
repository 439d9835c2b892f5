package archive_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// europe is a small box.
func europe() geo.Box { return geo.Box{South: 44, North: 56, West: 2, East: 16} }

// pack packs the real files into a cube.
func pack(t *testing.T, name string) archive.Packed {
	t.Helper()
	source, err := archive.Open(t.Context(), realwind.Files(t), archive.Choice{})
	require.NoError(t, err)
	defer func() { require.NoError(t, source.Close()) }()
	p, err := source.Pack(t.Context(), europe(), name, nil)
	require.NoError(t, err)
	return p
}

// only is all that lies in a folder.
func only(t *testing.T, folder string, want ...string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	assert.Equal(t, want, names)
}

func TestPackAndOpen(t *testing.T) {
	folder := t.TempDir()
	name := filepath.Join(folder, "europe.cube")
	p := pack(t, name)
	info, err := os.Stat(name)
	require.NoError(t, err)
	assert.Equal(t, info.Size(), p.Size)
	only(t, folder, "europe.cube")
	got, warnings, err := fieldOf(t, name)
	require.NoError(t, err)
	assert.Empty(t, warnings)
	assert.Equal(t, p.Axes.Grid, got.Grid())
	assert.Contains(t, p.Axes.Source, "National Centers for Environmental Prediction")
	before, err := os.ReadFile(name)
	require.NoError(t, err)
	pack(t, name) // over the one before
	only(t, folder, "europe.cube")
	after, err := os.ReadFile(name)
	require.NoError(t, err)
	assert.Equal(t, before, after)

	source, err := archive.Open(t.Context(), []string{name}, archive.Choice{})
	require.NoError(t, err)
	_, err = source.Contents()
	assert.EqualError(t, err, name+": a cube already: want GRIB2 files")
	require.NoError(t, source.Close())
}

// Whatever ends the packing leaves nothing behind and what was there before as
// it was.
func TestPackLeavesNothingHalfDone(t *testing.T) {
	folder := t.TempDir()
	name := filepath.Join(folder, "kept")
	pack(t, name)
	before, err := os.ReadFile(name)
	require.NoError(t, err)
	source, err := archive.Open(t.Context(), realwind.Files(t), archive.Choice{})
	require.NoError(t, err)
	defer func() { require.NoError(t, source.Close()) }()
	ctx, cancel := context.WithCancel(t.Context())
	_, err = source.Pack(ctx, europe(), name, func(share float64) {
		if share > 0.5 {
			cancel()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	_, err = source.Pack(t.Context(), geo.Box{South: 50, North: 40}, name, nil)
	require.Error(t, err)
	only(t, folder, "kept")
	content, err := os.ReadFile(name)
	require.NoError(t, err)
	assert.Equal(t, before, content)
	_, err = source.Pack(t.Context(), europe(), folder, nil)
	assert.EqualError(t, err, folder+": is a folder: want the name of a file")
	_, err = source.Pack(t.Context(), europe(), filepath.Join(folder, "no", "where"), nil)
	assert.ErrorContains(t, err, filepath.Join(folder, "no", "where")+": ")
	_, err = source.Pack(t.Context(), europe(), "", nil)
	assert.EqualError(t, err, "no name for the cube: want one")
	plan := filepath.Join(folder, "plan.yaml")
	require.NoError(t, os.WriteFile(plan, []byte("name: mine"), 0o600))
	_, err = source.Pack(t.Context(), europe(), plan, nil)
	assert.EqualError(t, err, plan+": is there already, and is no cube: want another name")
}

// A disk that fills up while a cube is written leaves the one before as it was, and
// nothing beside it.
func TestPackOnAFullDisk(t *testing.T) {
	folder := t.TempDir()
	name := filepath.Join(folder, "europe.cube")
	pack(t, name)
	before, err := os.ReadFile(name)
	require.NoError(t, err)
	small := t.TempDir()
	// Room for the cube that is there and half of another.
	room := fmt.Sprintf("size=%d", len(before)*3/2)
	if err := unix.Mount("tmpfs", small, "tmpfs", 0, room); err != nil {
		t.Skipf("left out: packing on a full disk, for which a small file system must be mounted: %v", err)
	}
	defer func() { require.NoError(t, unix.Unmount(small, 0)) }()
	name = filepath.Join(small, "europe.cube")
	require.NoError(t, os.WriteFile(name, before, 0o600))
	source, err := archive.Open(t.Context(), realwind.Files(t), archive.Choice{})
	require.NoError(t, err)
	defer func() { require.NoError(t, source.Close()) }()
	wider := europe()
	wider.West = -20
	_, err = source.Pack(t.Context(), wider, name, nil)
	require.ErrorIs(t, err, unix.ENOSPC)
	only(t, small, "europe.cube")
	after, err := os.ReadFile(name)
	require.NoError(t, err)
	assert.Equal(t, before, after)
}

// Every way in which a cube can be damaged on disk is an error that names it.
func TestDamagedCubes(t *testing.T) {
	name := filepath.Join(t.TempDir(), "cube")
	pack(t, name)
	content, err := os.ReadFile(name)
	require.NoError(t, err)
	for _, c := range []struct {
		name   string
		damage func([]byte) []byte
		text   string
	}{
		{"cut short", func(b []byte) []byte { return b[:len(b)-1] }, "cube cut short"},
		{"longer", func(b []byte) []byte { return append(b, 0) }, "cube too long"},
		{"its header", func(b []byte) []byte { b[30] ^= 4; return b }, "header"},
		{"a block", func(b []byte) []byte { b[len(b)/2] ^= 4; return b }, "checksum"},
	} {
		require.NoError(t, os.WriteFile(name, c.damage(append([]byte(nil), content...)), 0o600))
		_, _, err := fieldOf(t, name)
		require.Error(t, err, c.name)
		assert.ErrorContains(t, err, name+": ", c.name)
		assert.ErrorContains(t, err, c.text, c.name)
	}
}

// A file that is cut short while it is mapped is an error where its pages are
// gone, not the end of the program.
func TestCubeCutShortWhileMapped(t *testing.T) {
	name := filepath.Join(t.TempDir(), "cube")
	p := pack(t, name)
	source, err := archive.Open(t.Context(), []string{name}, archive.Choice{})
	require.NoError(t, err)
	_, _, err = source.Fields(t.Context(), wind.Part{Box: europe()})
	require.NoError(t, err)
	require.NoError(t, os.Truncate(name, 4096))
	require.Greater(t, p.Size, int64(50e3), "many pages are gone")
	_, _, err = source.Fields(t.Context(), wind.Part{Box: europe()})
	assert.ErrorContains(t, err, name+": ")
	assert.ErrorContains(t, err, "the file was cut short while in use")
	require.NoError(t, source.Close())
	_, _, err = source.Fields(t.Context(), wind.Part{Box: europe()})
	assert.ErrorIs(t, err, os.ErrClosed)
}

// Packing holds no more memory for many files than for few: 24 copies of the
// three real files, as members by content they are the same, take no more than
// one of each does, but for what is noted of each field.
func TestPackingTakesNoMoreMemoryForMoreInput(t *testing.T) {
	folder := t.TempDir()
	files := map[string]string{}
	for i, f := range realwind.Files(t) {
		for n := range 24 {
			files[string(rune('a'+n))+string(rune('0'+i))] = f
		}
	}
	link(t, folder, files)
	peak := func(names []string) uint64 {
		source, err := archive.Open(t.Context(), names, archive.Choice{})
		require.NoError(t, err)
		defer func() { require.NoError(t, source.Close()) }()
		most := uint64(0)
		_, err = source.Pack(t.Context(), europe(), filepath.Join(folder, ".out"), func(float64) {
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most = max(most, m.HeapAlloc)
		})
		require.NoError(t, err)
		return most
	}
	few, many := peak(realwind.Files(t)), peak([]string{folder})
	t.Logf("heap in use: %d MiB for 3 files, %d MiB for 72", few>>20, many>>20)
	assert.Less(t, many, few+8<<20)
}

// A cube holds one forecast: beside other files, or another cube, it is refused.
func TestACubeStandsAlone(t *testing.T) {
	folder := t.TempDir()
	pack(t, filepath.Join(folder, "a"))
	pack(t, filepath.Join(folder, "b"))
	_, _, err := fieldOf(t, folder)
	assert.EqualError(t, err, filepath.Join(folder, "a")+": a cube among other files: want one cube alone, or GRIB2 files")
	_, _, err = fieldOf(t, realwind.Files(t)[0], filepath.Join(folder, "b"))
	assert.EqualError(t, err, filepath.Join(folder, "b")+": a cube among other files: want one cube alone, or GRIB2 files")
}
