package wind_test

import (
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// scan calls yield with each field of a file, until it says no.
func scan(t testing.TB, name string, yield func(*grib.Field) bool) {
	t.Helper()
	file, err := os.Open(name)
	require.NoError(t, err)
	defer func() { require.NoError(t, file.Close()) }()
	info, err := file.Stat()
	require.NoError(t, err)
	for f, err := range grib.Scan(file, info.Size()) {
		require.NoError(t, err)
		if !yield(f) {
			return
		}
	}
}

// build adds all fields of the files that keep lets through.
func build(t testing.TB, box geo.Box, files []string, keep func(*grib.Field) bool) *wind.Builder {
	t.Helper()
	b := wind.NewBuilder(box)
	for _, name := range files {
		scan(t, name, func(f *grib.Field) bool {
			if keep(f) {
				require.NoError(t, b.Add(f))
			}
			return true
		})
	}
	return b
}

func fieldOf(t testing.TB, b *wind.Builder) (*wind.Field, []string) {
	t.Helper()
	f, warnings, err := b.Field()
	require.NoError(t, err)
	return f, warnings
}

func every(*grib.Field) bool { return true }

// europe is a small box, for tests that build often.
func europe() geo.Box { return geo.Box{South: 44, North: 56, West: 2, East: 16} }

func isobaric(f *grib.Field, p grib.Parameter, pascal float64) bool {
	return f.Parameter() == p && f.Level.At(grib.Isobaric, pascal)
}

func TestWantedIsWhatTheFieldUses(t *testing.T) {
	count := 0
	scan(t, realwind.Files(t)[1], func(f *grib.Field) bool {
		if wind.Wanted(f) {
			count++
		}
		return true
	})
	// u, v, T and height on 31 levels, 10 m wind, gust, cloud of the whole sky,
	// precipitation rate, CAPE, terrain. Source: listing by ecCodes 2.28.
	assert.Equal(t, 4*31+7, count)
}

func TestForecastsAreNotMixed(t *testing.T) {
	files := realwind.Files(t)
	b := build(t, europe(), files[:1], every)
	for _, c := range []struct{ file, cycle string }{
		{"gfs.t06z.pgrb2.1p00.f000", "cycle 2018-01-06T06:00:00Z: want 2017-03-22T00:00:00Z, as the fields before it"},
		{"gfs.t18z.pgrb2.1p00.f003", "cycle 2015-09-12T18:00:00Z: want 2017-03-22T00:00:00Z, as the fields before it"},
	} {
		tried := 0
		scan(t, filepath.Join(realwind.Folder(t), c.file), func(f *grib.Field) bool {
			if wind.Wanted(f) {
				tried++
				assert.EqualError(t, b.Add(f), f.String()+": "+c.cycle)
			}
			return tried < 3
		})
		assert.Equal(t, 3, tried)
	}
	scan(t, files[1], func(f *grib.Field) bool {
		if !wind.Wanted(f) {
			return true
		}
		other := *f
		other.Grid.NX, other.Grid.DLon = 72, 5
		assert.EqualError(t, b.Add(&other), f.String()+
			": grid of 72 × 73 from -90, 0 by 2.5, 5: want 144 × 73 from -90, 0 by 2.5, 2.5, as the fields before it")
		other = *f
		other.Centre = 98
		assert.EqualError(t, b.Add(&other), f.String()+": issuing centre 98: want 7, as the fields before it")
		other = *f
		other.Grid.AlongGrid = !other.Grid.AlongGrid
		assert.NoError(t, b.Add(&other), "components along a grid that runs east and north")
		return false
	})
	f, _ := fieldOf(t, b)
	assert.Equal(t, 1, f.Steps(), "nothing of the refused was kept")
}

// Fields relabelled as the 500 hPa eastward wind come after the real one and
// change nothing; a rate at an instant takes the place of a mean.
func TestOfTwoTheFirstIsKept(t *testing.T) {
	files := realwind.Files(t)[:2]
	want, warnings := fieldOf(t, build(t, europe(), files, every))
	require.Empty(t, warnings)
	b := build(t, europe(), files, every)
	scan(t, files[1], func(f *grib.Field) bool {
		other := *f
		switch {
		case isobaric(f, grib.NorthwardWind, 50000):
			other.Number = 2
			require.Equal(t, grib.EastwardWind, other.Parameter())
		case f.Parameter() == grib.Gust && f.Level.Surface == grib.Ground:
			other.Category, other.Number = 1, 7
			require.Equal(t, grib.PrecipitationRate, other.Parameter())
		case f.Parameter() == grib.Temperature && f.Level.Surface == grib.Ground:
			other.Category, other.Number = 3, 5
			require.Equal(t, grib.GeopotentialHeight, other.Parameter())
		default:
			return true
		}
		require.NoError(t, b.Add(&other))
		return true
	})
	got, warnings := fieldOf(t, b)
	require.Empty(t, warnings)
	at := geo.Point{Lat: 51.3, Lon: 7.7}
	for z := atmos.Geometric(0); z < 12000; z += 500 {
		g, _ := got.At(at, z, 20000)
		w, out := want.At(at, z, 20000)
		require.Equal(t, wind.Inside, out)
		assert.Equal(t, w, g, "At %g m", float64(z))
	}
	assert.Equal(t, want.Terrain(), got.Terrain())
	gust, out := want.Surface(wind.Gust, at, 21600)
	require.Equal(t, wind.Inside, out)
	rate, out := got.Surface(wind.Precipitation, at, 21600)
	require.Equal(t, wind.Inside, out)
	assert.Equal(t, gust, rate)
}

func TestLevelsThatAreMissing(t *testing.T) {
	files := realwind.Files(t)
	for _, c := range []struct {
		name    string
		drop    func(*grib.Field) bool
		warning string
		levels  int
	}{
		{"wind at one step", func(f *grib.Field) bool {
			return isobaric(f, grib.EastwardWind, 25000) && f.Step.Hours() == 6
		}, "Not used, for want of wind or height at some step: the levels 250 hPa.", 30},
		{"height at two levels", func(f *grib.Field) bool {
			return isobaric(f, grib.GeopotentialHeight, 1000) || isobaric(f, grib.GeopotentialHeight, 97500) && f.Step == 0
		}, "Not used, for want of wind or height at some step: the levels 975, 10 hPa.", 29},
		{"temperature at one step", func(f *grib.Field) bool {
			return isobaric(f, grib.Temperature, 50000) && f.Step.Hours() == 12
		}, "Temperature taken from the levels around, for want of it at some step: the levels 500 hPa.", 31},
		{
			"all temperature", func(f *grib.Field) bool { return f.Parameter() == grib.Temperature },
			"The forecast carries no temperature: the air's density is that of the U.S. Standard Atmosphere 1976.", 31,
		},
		{"terrain", func(f *grib.Field) bool {
			return f.Parameter() == grib.GeopotentialHeight && f.Level.Surface == grib.Ground
		}, "The forecast carries no terrain: the ground is taken at mean sea level.", 31},
	} {
		f, warnings := fieldOf(t, build(t, europe(), files, func(f *grib.Field) bool { return !c.drop(f) }))
		assert.Equal(t, []string{c.warning}, warnings, c.name)
		assert.Len(t, f.Levels(), c.levels, c.name)
		assert.Equal(t, c.name == "terrain", f.Terrain() == nil, c.name)
		levels := f.Levels()
		assert.True(t, slices.IsSortedFunc(levels, func(a, b float64) int { return int(b - a) }), "Levels() = %v, want them decreasing", levels)
		air, out := f.At(geo.Point{Lat: 50, Lon: 10}, 9000, 10000)
		require.Equal(t, wind.Inside, out, c.name)
		if c.name == "all temperature" {
			// Where the standard's lapse rate is one, linear in height is exact.
			for _, z := range []atmos.Geometric{2000, 5000, 15000} {
				air, _ = f.At(geo.Point{Lat: 50, Lon: 10}, z, 10000)
				standard, ok := atmos.Standard(z)
				require.True(t, ok)
				assert.InDelta(t, standard.Temperature, air.Temperature, 0.02, "temperature at %g m", float64(z))
			}
		}
	}
}

// Terrain counts even where its step has no winds.
func TestTerrainOfAStepWithoutWinds(t *testing.T) {
	terrain := func(f *grib.Field) bool {
		return f.Parameter() == grib.GeopotentialHeight && f.Level.Surface == grib.Ground
	}
	f, warnings := fieldOf(t, build(t, europe(), realwind.Files(t), func(f *grib.Field) bool { return terrain(f) == (f.Step == 0) }))
	assert.Empty(t, warnings)
	assert.Len(t, f.Terrain(), f.Grid().NX*f.Grid().NY)
	assert.Equal(t, 2, f.Steps())
	assert.Equal(t, "2017-03-22 06:00", f.Start().Format("2006-01-02 15:04"))
	assert.Equal(t, "2017-03-22 12:00", f.End().Format("2006-01-02 15:04"))
	assert.Equal(t, "2017-03-22 00:00", f.Cycle().Format("2006-01-02 15:04"))
	assert.Equal(t, uint16(7), f.Centre())
}

func TestNoUsableWind(t *testing.T) {
	files := realwind.Files(t)[:1]
	for _, c := range []struct {
		name string
		keep func(*grib.Field) bool
		text string
	}{
		{
			"nothing", func(*grib.Field) bool { return false },
			"no usable wind: want eastward wind, northward wind and geopotential height on isobaric levels",
		},
		{
			"surface fields", func(f *grib.Field) bool { return f.Level.Surface != grib.Isobaric },
			"no usable wind: want eastward wind, northward wind and geopotential height on isobaric levels",
		},
		{
			"no height", func(f *grib.Field) bool { return f.Parameter() != grib.GeopotentialHeight },
			"no usable wind: want eastward wind, northward wind and geopotential height on isobaric levels",
		},
		{
			"one level", func(f *grib.Field) bool { return f.Level.At(grib.Isobaric, 50000) },
			"no usable wind: 1 isobaric levels with wind and height at every step: want at least 2",
		},
	} {
		f, _, err := build(t, europe(), files, c.keep).Field()
		assert.Nil(t, f, c.name)
		assert.ErrorIs(t, err, wind.ErrNoWind, c.name)
		assert.EqualError(t, err, c.text, c.name)
	}
}

// A builder is used up by Field, and says so without a panic.
func TestBuilderIsUsedUp(t *testing.T) {
	file := realwind.Files(t)[0]
	b := build(t, europe(), []string{file}, every)
	fieldOf(t, b)
	_, _, err := b.Field()
	assert.ErrorIs(t, err, wind.ErrNoWind)
	scan(t, file, func(f *grib.Field) bool {
		require.NoError(t, b.Add(f))
		return true
	})
	f, _ := fieldOf(t, b)
	assert.Len(t, f.Levels(), 31)
}

func TestBoxesThatAreRefused(t *testing.T) {
	file := realwind.Files(t)[0]
	for _, c := range []struct {
		box  geo.Box
		text string
	}{
		{geo.Box{South: 50, North: 40}, "box from latitude 50 to 40: want -90 to 90, south first"},
		{geo.Box{South: 50, North: 60, West: -400, East: 10}, "box from longitude -400 to 10: want -360 to 360"},
	} {
		scan(t, file, func(f *grib.Field) bool {
			if !wind.Wanted(f) {
				return true
			}
			assert.EqualError(t, wind.NewBuilder(c.box).Add(f), f.String()+": "+c.text)
			return false
		})
	}
}
