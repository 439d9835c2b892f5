package archive_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// Rows come in file order and say what ecCodes says; the values are from
// grib_ls and grib_get -p min,max,average of ecCodes 2.28.
func TestListAgainstEcCodes(t *testing.T) {
	file := realwind.Files(t)[1]
	var rows []archive.Row
	require.NoError(t, archive.List(t.Context(), []string{file}, true, func(r archive.Row) error {
		require.NoError(t, r.Broken)
		rows = append(rows, r)
		return nil
	}))
	require.Len(t, rows, 415) // grib_count
	for _, c := range []struct {
		message        int
		surface        grib.Surface
		level          float64
		min, max, mean float64
	}{
		{1, 220, 0, -28.3, 38.3, 0.628805175},
		{23, grib.Isobaric, 500, 33859.575, 36034.135, 35325.6743},
		{100, grib.Isobaric, 25000, 9351.64625, 11036.7262, 10278.7895},
		{414, grib.MeanSeaLevel, 0, 95135.45, 104078.49, 100987.513},
		{415, grib.Isobaric, 50000, 4789.92, 5937.44, 5479.20554},
	} {
		r := rows[c.message-1]
		assert.Equal(t, c.message, r.Message)
		assert.Equal(t, c.surface, r.Surface)
		assert.Equal(t, c.level, r.Level)
		assert.Equal(t, 0, r.Stats.Missing)
		assert.InEpsilon(t, c.min, r.Stats.Min, 1e-7)
		assert.InEpsilon(t, c.max, r.Stats.Max, 1e-7)
		assert.InEpsilon(t, c.mean, r.Stats.Mean, 1e-6)
	}
	for i, r := range rows {
		assert.Equal(t, file, r.File)
		assert.Equal(t, 6*time.Hour, r.Step, "row %d", i)
		assert.Equal(t, 10512, r.Points)
	}
}

// What is broken is a row, and listing goes on behind it.
func TestListGoesOnBehindDamage(t *testing.T) {
	content, err := os.ReadFile(realwind.Files(t)[0])
	require.NoError(t, err)
	folder := t.TempDir()
	content[20000] ^= 0xff // somewhere in the values of a message
	copy(content[100000:], make([]byte, 3000))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "a"), content, 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(folder, "b"), []byte("no forecast"), 0o600))
	broken, fine := 0, 0
	require.NoError(t, archive.List(t.Context(), []string{folder}, true, func(r archive.Row) error {
		if r.Broken != nil {
			broken++
		} else {
			fine++
		}
		return nil
	}))
	assert.GreaterOrEqual(t, broken, 2)
	assert.Greater(t, fine, 300)
	stop := errors.New("stop")
	assert.ErrorIs(t, archive.List(t.Context(), []string{folder}, false, func(archive.Row) error { return stop }), stop)
}

// A cube is listed plane by plane, with the values that its forecast has.
func TestListOfACube(t *testing.T) {
	name := filepath.Join(t.TempDir(), "cube")
	p := pack(t, name)
	n, temperatures := 0, 0
	require.NoError(t, archive.List(t.Context(), []string{name}, true, func(r archive.Row) error {
		require.NoError(t, r.Broken)
		n++
		assert.Equal(t, n, r.Field)
		assert.Equal(t, "cube", r.Packing)
		if r.Parameter == "TMP" && r.Surface == grib.Isobaric {
			temperatures++
			assert.True(t, r.Stats.Min > 180 && r.Stats.Max < 320, "temperatures from %g to %g K", r.Stats.Min, r.Stats.Max)
		}
		return nil
	}))
	assert.Equal(t, 3*p.Axes.Planes()+1, n, "and the terrain")
	assert.Equal(t, 3*31, temperatures)
}

// Check says of each file in grib_refuse, by name, why nothing of it is used.
func TestCheckRefusesByName(t *testing.T) {
	reference := os.Getenv("THISTLEDOWN_REFERENCE")
	if reference == "" {
		t.Skip("left out: files to refuse, as THISTLEDOWN_REFERENCE is not set")
	}
	files, err := filepath.Glob(filepath.Join(reference, "grib_refuse", "*"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		var lines []string
		c, err := archive.Check(t.Context(), []string{file}, func(line string) error {
			lines = append(lines, line)
			return nil
		})
		require.NoError(t, err)
		if filepath.Base(file) == "gfs_truncated_mid_message.grib2" {
			// What lies before the cut is whole, but nobody flies on it: TestForecastRefusals.
			assert.NoError(t, c.Unusable)
		} else {
			assert.ErrorIs(t, c.Unusable, wind.ErrNoWind, file)
		}
		assert.NotZero(t, len(lines)+c.Fields, file)
		for _, l := range lines {
			assert.True(t, strings.HasPrefix(l, file+": "), l)
			assert.NotContains(t, l, "\n")
		}
		t.Logf("%+v %s", c, strings.Join(lines, "\n\t"))
	}
}

// A pipe is refused at once, and not waited at.
func TestPipesAreRefused(t *testing.T) {
	name := filepath.Join(t.TempDir(), "pipe")
	require.NoError(t, syscall.Mkfifo(name, 0o600))
	_, err := archive.Open(t.Context(), []string{name}, archive.Choice{})
	assert.EqualError(t, err, name+": is a device or pipe: want a file")
	err = archive.List(t.Context(), []string{name}, false, func(archive.Row) error { return nil })
	assert.EqualError(t, err, name+": is a device or pipe: want a file")
}
