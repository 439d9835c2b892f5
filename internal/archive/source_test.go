package archive_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// fieldOf is the only member of the forecast in files.
func fieldOf(t *testing.T, files ...string) (*wind.Field, []string, error) {
	t.Helper()
	source, err := archive.Open(t.Context(), files, archive.Choice{})
	if err != nil {
		return nil, nil, err
	}
	defer func() { require.NoError(t, source.Close()) }()
	fields, warnings, err := source.Fields(t.Context(), wind.Part{Box: realwind.Globe()})
	if err != nil {
		return nil, nil, err
	}
	require.Len(t, fields, 1)
	return fields[0], warnings, nil
}

// link puts files into a folder under names that say nothing.
func link(t *testing.T, folder string, files map[string]string) {
	t.Helper()
	for name, file := range files {
		path := filepath.Join(folder, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		content, err := os.ReadFile(file)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path, content, 0o600))
	}
}

// The order of files does not matter, nor what they are called, nor whether a
// folder is named or what is in it, and a file twice is as good as once.
func TestForecastInAnyOrderAndNaming(t *testing.T) {
	files := realwind.Files(t)
	one, warnings, err := fieldOf(t, files...)
	require.NoError(t, err)
	assert.Empty(t, warnings)
	two, _, err := fieldOf(t, files[2], files[0], files[1], files[0])
	require.NoError(t, err)
	assert.Equal(t, one, two)
	assert.Equal(t, 3, one.Steps())
	// ecCodes (grib_ls) lists wind, height and temperature at these levels, hPa.
	assert.Equal(t, []float64{
		1000e2, 975e2, 950e2, 925e2, 900e2, 850e2, 800e2, 750e2, 700e2, 650e2, 600e2, 550e2, 500e2, 450e2, 400e2, 350e2,
		300e2, 250e2, 200e2, 150e2, 100e2, 70e2, 50e2, 30e2, 20e2, 10e2, 7e2, 5e2, 3e2, 2e2, 1e2,
	}, one.Levels())

	folder := t.TempDir()
	link(t, folder, map[string]string{"b": files[0], "deep/er/a.bin": files[1], "download (1)": files[2], ".hidden": filepath.Join(realwind.Folder(t), "gfs.t06z.pgrb2.1p00.f000")})
	three, warnings, err := fieldOf(t, folder)
	require.NoError(t, err)
	assert.Empty(t, warnings)
	assert.Equal(t, one, three)

	linked := t.TempDir()
	for i, f := range files {
		require.NoError(t, os.Symlink(f, filepath.Join(linked, string(rune('a'+i)))))
	}
	require.NoError(t, os.Symlink(linked, filepath.Join(linked, "loop")))
	byLink, _, err := fieldOf(t, filepath.Join(linked, "loop"))
	require.NoError(t, err)
	assert.Equal(t, one, byLink, "a link to a folder of links")

	require.NoError(t, os.WriteFile(filepath.Join(folder, "index.html"), []byte("<html>an index</html>"), 0o600))
	four, warnings, err := fieldOf(t, folder)
	require.NoError(t, err)
	assert.Equal(t, one, four)
	require.Len(t, warnings, 1)
	assert.Contains(t, warnings[0], "Files passed over that hold no GRIB2 message: 1, the first of them "+filepath.Join(folder, "index.html"))
}

func TestForecastErrors(t *testing.T) {
	files := realwind.Files(t)
	folder := filepath.Dir(files[0])
	other := filepath.Join(folder, "gfs.t06z.pgrb2.1p00.f000")
	_, _, err := fieldOf(t, files[0], other)
	require.NotErrorIs(t, err, wind.ErrNoWind)
	assert.ErrorContains(t, err, "2 forecasts: centre 7, cycle 2018-01-06T06:00:00Z; centre 7, cycle 2017-03-22T00:00:00Z: want the files of one")

	source, err := archive.Open(t.Context(), []string{files[0], other}, archive.Choice{Cycle: time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	require.NoError(t, source.Close())
	_, err = archive.Open(t.Context(), []string{files[0], other}, archive.Choice{Cycle: time.Date(2017, 3, 22, 6, 0, 0, 0, time.UTC)})
	assert.ErrorContains(t, err, "no forecast of cycle 2017-03-22T06:00:00Z: want one of those there: centre 7, cycle 2018-01-06T06:00:00Z; centre 7, cycle 2017-03-22T00:00:00Z")

	surface := filepath.Join(folder, "template5_3.grib2")
	_, _, err = fieldOf(t, surface)
	require.ErrorIs(t, err, wind.ErrNoWind)
	assert.ErrorContains(t, err, surface)
	_, _, err = fieldOf(t)
	require.ErrorIs(t, err, wind.ErrNoWind)
	_, _, err = fieldOf(t, filepath.Join(folder, "none"))
	assert.EqualError(t, err, filepath.Join(folder, "none")+": no such file or directory")
	empty := t.TempDir()
	_, _, err = fieldOf(t, empty)
	assert.EqualError(t, err, empty+": no file in it: want GRIB2 files or a cube")
}

// A file that broke off is refused by name, wherever it broke off; so is one
// that changes between the look at its headers and the reading of its values.
func TestDamagedFilesAreRefused(t *testing.T) {
	files := realwind.Files(t)
	content, err := os.ReadFile(files[0])
	require.NoError(t, err)
	folder := t.TempDir()
	name := filepath.Join(folder, "cut")
	for _, n := range []int{len(content) - 1, len(content) / 2, 200} {
		require.NoError(t, os.WriteFile(name, content[:n], 0o600))
		_, _, err := fieldOf(t, folder)
		require.Error(t, err)
		assert.ErrorContains(t, err, name+": ")
	}
	require.NoError(t, os.WriteFile(name, content, 0o600))
	source, err := archive.Open(t.Context(), []string{name}, archive.Choice{})
	require.NoError(t, err)
	require.NoError(t, os.Truncate(name, int64(len(content)/3)))
	_, _, err = source.Fields(t.Context(), wind.Part{Box: realwind.Globe()})
	require.Error(t, err)
	assert.ErrorContains(t, err, name+": ")
	require.NoError(t, source.Close())
}

// Files of real centres that cannot be used are refused by name of file and
// reason, and nothing of them is flown on.
func TestForecastRefusals(t *testing.T) {
	reference := os.Getenv("THISTLEDOWN_REFERENCE")
	if reference == "" {
		t.Skip("left out: files to refuse, as THISTLEDOWN_REFERENCE is not set")
	}
	files, err := filepath.Glob(filepath.Join(reference, "grib_refuse", "*"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		_, _, err := fieldOf(t, file)
		require.Error(t, err, file)
		assert.ErrorContains(t, err, file)
		t.Log(err)
	}
}

// Steps further apart than forecasts are published at are flown through with a
// warning: a file may be missing.
func TestForecastWithAStepMissing(t *testing.T) {
	files := realwind.Files(t)
	_, warnings, err := fieldOf(t, files[0], files[2])
	require.NoError(t, err)
	assert.Equal(t, []string{
		"Between 2017-03-22T00:00:00Z and 2017-03-22T12:00:00Z the forecast has no step: winds are interpolated over 12 h.",
	}, warnings)
}

func TestOpeningIsStopped(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	source, err := archive.Open(ctx, realwind.Files(t), archive.Choice{})
	require.NoError(t, err)
	cancel()
	_, _, err = source.Fields(ctx, wind.Part{Box: realwind.Globe()})
	require.ErrorIs(t, err, context.Canceled)
	require.NoError(t, source.Close())
	_, err = archive.Open(ctx, realwind.Files(t), archive.Choice{})
	assert.ErrorIs(t, err, context.Canceled)
}
