package archive_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// The order of files does not matter, and a file twice is as good as once.
func TestForecastInAnyOrder(t *testing.T) {
	files := realwind.Files(t)
	one, _, err := archive.Forecast(files, realwind.Globe())
	require.NoError(t, err)
	two, _, err := archive.Forecast([]string{files[2], files[0], files[1], files[0]}, realwind.Globe())
	require.NoError(t, err)
	assert.Equal(t, one, two)
	assert.Equal(t, 3, one.Steps())
	// ecCodes (grib_ls) lists wind, height and temperature at these levels, hPa.
	assert.Equal(t, []float64{
		1000e2, 975e2, 950e2, 925e2, 900e2, 850e2, 800e2, 750e2, 700e2, 650e2, 600e2, 550e2, 500e2, 450e2, 400e2, 350e2,
		300e2, 250e2, 200e2, 150e2, 100e2, 70e2, 50e2, 30e2, 20e2, 10e2, 7e2, 5e2, 3e2, 2e2, 1e2,
	}, one.Levels())
}

func TestForecastErrors(t *testing.T) {
	files := realwind.Files(t)
	folder := filepath.Dir(files[0])
	_, _, err := archive.Forecast([]string{files[0], filepath.Join(folder, "gfs.t06z.pgrb2.1p00.f000")}, realwind.Globe())
	require.NotErrorIs(t, err, wind.ErrNoWind)
	assert.ErrorContains(t, err, "gfs.t06z.pgrb2.1p00.f000: ")
	assert.ErrorContains(t, err, "cycle 2018-01-06T06:00:00Z: want 2017-03-22T00:00:00Z")

	surface := filepath.Join(folder, "template5_3.grib2")
	_, _, err = archive.Forecast([]string{surface}, realwind.Globe())
	require.ErrorIs(t, err, wind.ErrNoWind)
	assert.ErrorContains(t, err, surface)

	_, _, err = archive.Forecast([]string{folder}, realwind.Globe())
	require.EqualError(t, err, folder+": is a folder: want a file")
	_, _, err = archive.Forecast(nil, realwind.Globe())
	require.ErrorIs(t, err, wind.ErrNoWind)
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
		_, _, err := archive.Forecast([]string{file}, realwind.Globe())
		require.Error(t, err, file)
		assert.ErrorContains(t, err, file)
	}
}

// Steps further apart than forecasts are published at are flown through with a
// warning: a file may be missing.
func TestForecastWithAStepMissing(t *testing.T) {
	files := realwind.Files(t)
	_, warnings, err := archive.Forecast([]string{files[0], files[2]}, realwind.Globe())
	require.NoError(t, err)
	assert.Equal(t, []string{
		"Between 2017-03-22T00:00:00Z and 2017-03-22T12:00:00Z the forecast has no step: winds are interpolated over 12 h.",
	}, warnings)
}
