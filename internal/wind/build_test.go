package wind_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
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
	content, err := os.ReadFile(name)
	require.NoError(t, err)
	for f, err := range grib.Scan(bytes.NewReader(content), int64(len(content))) {
		require.NoError(t, err)
		if !yield(f) {
			return
		}
	}
}

// fields are those that a forecast is made of.
type fields struct {
	box  geo.Box
	kept []*grib.Field
}

func (b *fields) Add(f *grib.Field) { b.kept = append(b.kept, f) }

// index sorts the fields, and finds each again by its number here.
func (b *fields) index() ([]*wind.Forecast, wind.Fetch, error) {
	var x wind.Index
	for i, f := range b.kept {
		if err := x.Add(f, wind.Ref{Offset: int64(i)}); err != nil {
			return nil, nil, err
		}
	}
	return x.Forecasts(), func(at wind.Ref) (*grib.Field, error) { return b.kept[at.Offset], nil }, nil
}

// Members are the fields' only forecast, a wind.Field for each member.
func (b *fields) Members() ([]*wind.Field, []string, error) {
	forecasts, fetch, err := b.index()
	if err != nil {
		return nil, nil, err
	}
	if len(forecasts) != 1 {
		return nil, nil, fmt.Errorf("%d forecasts, want one", len(forecasts))
	}
	return forecasts[0].Fields(wind.Part{Box: b.box}, fetch)
}

// build keeps all fields of the files that keep lets through.
func build(t testing.TB, box geo.Box, files []string, keep func(*grib.Field) bool) *fields {
	t.Helper()
	b := &fields{box: box}
	for _, name := range files {
		scan(t, name, func(f *grib.Field) bool {
			if keep(f) {
				b.Add(f)
			}
			return true
		})
	}
	return b
}

func fieldOf(t testing.TB, b *fields) (*wind.Field, []string) {
	t.Helper()
	f, warnings, err := b.Members()
	require.NoError(t, err)
	require.Len(t, f, 1)
	return f[0], warnings
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

// What differs in centre or cycle is another forecast; winds on two grids in
// one forecast are refused.
func TestForecastsAreNotMixed(t *testing.T) {
	files := realwind.Files(t)
	folder := realwind.Folder(t)
	b := build(t, europe(), []string{files[0], filepath.Join(folder, "gfs.t06z.pgrb2.1p00.f000"), files[1], filepath.Join(folder, "gfs.t18z.pgrb2.1p00.f003")}, every)
	found, _, err := b.index()
	require.NoError(t, err)
	var cycles []string
	for _, f := range found {
		assert.Equal(t, uint16(7), f.Centre)
		cycles = append(cycles, f.Cycle.Format("2006-01-02 15"))
	}
	assert.Equal(t, []string{"2018-01-06 06", "2017-03-22 00", "2015-09-12 18"}, cycles, "newest first")

	b = build(t, europe(), files[:1], every)
	other := *b.kept[slices.IndexFunc(b.kept, func(f *grib.Field) bool { return isobaric(f, grib.EastwardWind, 50000) })]
	other.Centre = 98
	b.Add(&other)
	found, _, err = b.index()
	require.NoError(t, err)
	require.Len(t, found, 2)
	assert.Equal(t, uint16(98), found[1].Centre)

	other.Centre = 7
	other.Grid.NX++
	_, _, err = b.Members()
	assert.ErrorContains(t, err, "winds on two grids, ")
	other.Grid.NX--
	other.Grid.AlongGrid = !other.Grid.AlongGrid
	_, warnings := fieldOf(t, b)
	assert.Empty(t, warnings, "components along a grid that runs east and north")
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
		b.Add(&other)
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
		}, "Not used, for want of eastward wind at some step: the levels 250 hPa.", 30},
		{"height at two levels", func(f *grib.Field) bool {
			return isobaric(f, grib.GeopotentialHeight, 1000) || isobaric(f, grib.GeopotentialHeight, 97500) && f.Step == 0
		}, "Not used, for want of geopotential height at some step: the levels 975, 10 hPa.\n" +
			"Between 20 and 7 hPa, some 7 km, the forecast has no level: winds are interpolated across.", 29},
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
		assert.Equal(t, c.warning, strings.Join(warnings, "\n"), c.name)
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
		f, _, err := build(t, europe(), files, c.keep).Members()
		assert.Nil(t, f, c.name)
		assert.ErrorIs(t, err, wind.ErrNoWind, c.name)
		assert.EqualError(t, err, c.text, c.name)
	}
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
		_, _, err := build(t, c.box, []string{file}, every).Members()
		assert.EqualError(t, err, c.text)
	}
}
