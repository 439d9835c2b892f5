package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// inventing is the command on a small box, with further flags.
func inventing(out string, more ...string) []string {
	return append([]string{
		"winds", "invent", "--out", out, "--box", "south=44,north=46,west=7,east=9", "--start", "2026-03-01T00:00:00Z", "--hours", "6",
	}, more...)
}

func TestWindsInvent(t *testing.T) {
	dir := t.TempDir()
	folder, file := filepath.Join(dir, "week"), filepath.Join(dir, "week.grib2")
	code, out, errs := thistledown(inventing(folder, "--members", "0..2", "--seed", "5")...)
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "INVENTED WEATHER")
	assert.Contains(t, out, "3 files")
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	var all []byte
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
		b, err := os.ReadFile(filepath.Join(folder, e.Name()))
		require.NoError(t, err)
		all = append(all, b...)
	}
	require.Equal(t, []string{
		"invented.20260301t00z.f000.grib2", "invented.20260301t00z.f003.grib2", "invented.20260301t00z.f006.grib2",
	}, names)

	code, _, errs = thistledown(inventing(file, "--members", "0..2", "--seed", "5")...)
	require.Equal(t, done, code, errs)
	one, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, all, one, "one file is the files of a folder joined")

	// The other commands take it as they take any forecast.
	code, out, errs = thistledown("winds", "list", folder)
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "33 from 1000 to 1 hPa")
	cube := filepath.Join(dir, "week.cube")
	code, out, errs = thistledown("winds", "pack", folder, "--out", cube, "--box", "south=44.5,north=45.5,west=7.5,east=8.5")
	require.Equal(t, done, code, errs)
	assert.NotEmpty(t, out)
	info, err := os.Stat(cube)
	require.NoError(t, err)
	assert.Positive(t, info.Size())
}

// TestWindsInventStops: an interrupt in the middle of a step leaves nothing.
func TestWindsInventStops(t *testing.T) {
	dir := t.TempDir()
	ctx, stop := context.WithCancel(t.Context())
	stop()
	w := windsInvent{
		Out: filepath.Join(dir, "week.grib2"), Box: "south=44,north=46,west=7,east=9", Start: "2026-03-01T00:00:00Z",
		Spacing: 0.5, Hours: 6, Every: 3, Members: "0", Seed: 1,
	}
	require.ErrorIs(t, w.Run(ctx, &streams{io.Discard, io.Discard}), context.Canceled)
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, entries)
}

func TestWindsInventRefuses(t *testing.T) {
	out := filepath.Join(t.TempDir(), "week")
	for _, c := range []struct {
		more []string
		want string
	}{
		{[]string{"--members", "a..b"}, "--members a..b: want such as 0..30"},
		{[]string{"--members", "3..1"}, "members 3 to 1"},
		{[]string{"--start", "today"}, "--start today: want a time"},
		{[]string{"--box", "north=5"}, "--box north=5"},
		{[]string{"--spacing", "7"}, "spacing 7 degrees"},
		{[]string{"--every", "4"}, "6 hours every 4"},
	} {
		code, _, errs := thistledown(inventing(out, c.more...)...)
		assert.Equal(t, badInput, code)
		assert.Contains(t, errs, c.want)
	}
	_, err := os.Stat(out)
	assert.ErrorIs(t, err, os.ErrNotExist)
	// A folder in the way of a file: nothing is left behind.
	dir := filepath.Join(t.TempDir(), "week.grib2")
	require.NoError(t, os.Mkdir(dir, 0o755))
	code, _, errs := thistledown(inventing(dir)...)
	assert.Equal(t, badInput, code)
	assert.Contains(t, errs, "is a folder")
	entries, err := os.ReadDir(filepath.Dir(dir))
	require.NoError(t, err)
	assert.Len(t, entries, 1)
}
