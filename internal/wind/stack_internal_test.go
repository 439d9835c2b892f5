package wind

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
)

// oneStep is a forecast of a single step.
type oneStep struct {
	build
	slab    slab
	terrain []float32 // geopotential metres
}

func (o *oneStep) Field() (*Field, []string, error) {
	o.build.terrain = geometric(o.grid, o.terrain)
	return o.field(func(time.Duration) (*slab, error) { return &o.slab, nil })
}

// forecast is one step of four columns, at 50 and 60° north, on levels of
// 1000, 850, 700, 500 and 300 hPa at 100, 1500, 3000, 5500 and 9000
// geopotential metres. The eastward wind is a tenth of the hectopascals, the
// northward one 1, the temperature falls by 10 K a level from 280 K. change may
// spoil the values of a level, the first of which is number 0.
func forecast(change func(level int, fields *[uppers][]float32)) *oneStep {
	const columns = 4
	o := &oneStep{slab: slab{levels: map[int32]*[uppers][]float32{}}, terrain: make([]float32, columns)}
	o.grid = geo.Grid{NX: 2, NY: 2, Lat0: 50, Lon0: 10, DLat: 10, DLon: 10}
	o.all = []time.Duration{0}
	o.steps = o.all
	heights := []float32{100, 1500, 3000, 5500, 9000}
	for l, hpa := range []float32{1000, 850, 700, 500, 300} {
		fields := new([uppers][]float32)
		for range columns {
			fields[east] = append(fields[east], hpa/10)
			fields[north] = append(fields[north], 1)
			fields[height] = append(fields[height], heights[l])
			fields[temperature] = append(fields[temperature], 280-10*float32(l))
		}
		change(l, fields)
		o.slab.levels[int32(hpa)*1e4] = fields
		o.pressures = append(o.pressures, int32(hpa)*1e4)
	}
	return o
}

func at(t *testing.T, o *oneStep, z float64) (Sample, Outcome) {
	t.Helper()
	f, _, err := o.Field()
	require.NoError(t, err)
	return f.At(geo.Point{Lat: 52, Lon: 13}, atmos.Geometric(z), 0)
}

var none = float32(math.NaN())

// What lacks a value, in the column at (50, 10) alone or in all, and what comes
// of it at 50 m, 2200 m, 4200 m and 8000 m above mean sea level.
func TestMissingValues(t *testing.T) {
	const column = 0
	spoil := func(level int, quantity upper) func(int, *[uppers][]float32) {
		return func(l int, fields *[uppers][]float32) {
			if l == level {
				fields[quantity][column] = none
			}
		}
	}
	for _, c := range []struct {
		name   string
		change func(int, *[uppers][]float32)
		want   [4]Outcome
	}{
		{"nothing", func(int, *[uppers][]float32) {}, [4]Outcome{}},
		{"lowest wind: the next is held below it", spoil(0, east), [4]Outcome{}},
		{"lowest height", spoil(0, height), [4]Outcome{}},
		{"lowest temperature", spoil(0, temperature), [4]Outcome{Missing}},
		{"wind in the middle", spoil(2, north), [4]Outcome{Inside, Missing, Missing, Inside}},
		{"temperature in the middle", spoil(2, temperature), [4]Outcome{Inside, Missing, Missing, Inside}},
		{"top wind", spoil(4, east), [4]Outcome{Inside, Inside, Inside, Missing}},
		{"top height", spoil(4, height), [4]Outcome{Inside, Inside, Inside, AboveTop}},
		{"the lowest three", func(l int, fields *[uppers][]float32) {
			if l < 3 {
				fields[east][column], fields[height][column] = none, none
			}
		}, [4]Outcome{}},
		{
			"the column", func(_ int, fields *[uppers][]float32) { fields[east][column] = none },
			[4]Outcome{Missing, Missing, Missing, Missing},
		},
		{
			"all heights of the column", func(_ int, fields *[uppers][]float32) { fields[height][column] = none },
			[4]Outcome{Missing, Missing, Missing, Missing},
		},
		{"everything", func(_ int, fields *[uppers][]float32) {
			for q := range fields {
				for k := range fields[q] {
					fields[q][k] = none
				}
			}
		}, [4]Outcome{Missing, Missing, Missing, Missing}},
		{"all but the top", func(l int, fields *[uppers][]float32) {
			if l < 4 {
				fields[east][column] = none
			}
		}, [4]Outcome{}},
		{"a temperature of 0 K", func(l int, fields *[uppers][]float32) {
			if l <= 1 {
				clear(fields[temperature])
			}
		}, [4]Outcome{Missing}},
		{"a wind that is infinite", func(l int, fields *[uppers][]float32) {
			if l == 2 {
				fields[east][column] = float32(math.Inf(1))
			}
		}, [4]Outcome{Inside, Missing, Missing, Inside}},
	} {
		for i, z := range []float64{50, 2200, 4200, 8000} {
			got, out := at(t, forecast(c.change), z)
			assert.Equal(t, c.want[i], out, "%s: At %g m", c.name, z)
			if out == Inside {
				assert.Positive(t, got.Density(), "%s: density at %g m", c.name, z)
			}
		}
	}
}

// A column that lacks its lowest level has the wind of the next one below it;
// the three columns around keep theirs. The weight of the column at (50, 10)
// is 0.7·0.8 at 52° north, 13° east.
func TestColumnThatBeginsHigher(t *testing.T) {
	got, out := at(t, forecast(func(l int, fields *[uppers][]float32) {
		if l == 0 {
			fields[east][0] = none
		}
	}), 50)
	require.Equal(t, Inside, out)
	assert.InDelta(t, 0.56*85+0.44*100, got.East, 1e-4)
}

// A level with no height in one column lies somewhere between its neighbours,
// and the others are found by their own heights.
func TestLevelWithoutAHeight(t *testing.T) {
	change := func(l int, fields *[uppers][]float32) {
		if l == 2 {
			fields[height][0] = none
		}
	}
	whole, out := at(t, forecast(func(int, *[uppers][]float32) {}), 1000)
	require.Equal(t, Inside, out)
	got, out := at(t, forecast(change), 1000)
	require.Equal(t, Inside, out)
	assert.Equal(t, whole, got, "below it")
	whole, _ = at(t, forecast(func(int, *[uppers][]float32) {}), 8000)
	got, out = at(t, forecast(change), 8000)
	require.Equal(t, Inside, out)
	assert.Equal(t, whole, got, "above it")
	_, out = at(t, forecast(change), 3000)
	assert.Equal(t, Missing, out, "near it")
}

func TestHeightsThatDoNotIncrease(t *testing.T) {
	b := forecast(func(l int, fields *[uppers][]float32) {
		if l == 3 {
			fields[height][3] = 2900
		}
	})
	b.all = []time.Duration{6 * time.Hour}
	b.steps = b.all
	_, _, err := b.Field()
	// The geometric heights of 2900 and 3000 gpm at 60° north: WGS84 normal
	// gravity, computed apart in Python, double precision.
	assert.EqualError(t, err, "forecast step 6h0m0s: at latitude 60, longitude 20 the level of 500 hPa lies at 2897.6184 m, not above that of 700 hPa at 2997.5833 m")
}

// Temperature that is not carried is linear in height between the levels that
// carry it, and that of the last one beyond them.
func TestTemperatureOfTheLevelsAround(t *testing.T) {
	drop := func(levels ...int) func(int, *[uppers][]float32) {
		return func(l int, fields *[uppers][]float32) {
			for _, d := range levels {
				if l == d {
					fields[temperature] = nil
				}
			}
		}
	}
	z := func(gpm float64) float64 {
		// At 52° north between columns at 50° and 60°: 0.8 and 0.2 of it.
		return 0.8*float64(atmos.Geopotential(gpm).Geometric(50)) + 0.2*float64(atmos.Geopotential(gpm).Geometric(60))
	}
	for _, c := range []struct {
		name string
		drop []int
		z    float64
		want float64
	}{
		{"one between", []int{2}, 3000, 270 + (250-270)*(3000-1500)/(5500-1500.0)},
		{"two between", []int{1, 2}, 3000, 280 + (250-280)*(3000-100)/(5500-100.0)},
		{"the lowest", []int{0}, 100, 270},
		{"the top two", []int{3, 4}, 7000, 260},
		{"no loss elsewhere", []int{2}, 8000, 250 - 10*2500/3500.0},
	} {
		// 2 m of height between the two columns' levels are worth 0.02 K.
		got, out := at(t, forecast(drop(c.drop...)), z(c.z)-1)
		require.Equal(t, Inside, out, c.name)
		assert.InDelta(t, c.want, got.Temperature, 0.03, c.name)
	}
	f, warnings, err := forecast(drop(0, 1, 2, 3, 4)).Field()
	require.NoError(t, err)
	assert.Equal(t, []string{"The forecast carries no temperature: the air's density is that of the U.S. Standard Atmosphere 1976."}, warnings)
	got, out := f.At(geo.Point{Lat: 52, Lon: 13}, atmos.Geometric(z(5500)), 0)
	require.Equal(t, Inside, out)
	// 288.15 K − 6.5 K/km · 5.5 km of geopotential height; standard gravity and
	// that of 52° north differ by some 0.1 % of it.
	assert.InDelta(t, 288.15-6.5*5.5, got.Temperature, 0.1)
}

// 30,000 geopotential metres lie at 30,224 m on the equator and 30,063 m at a
// pole: each column counts with its own latitude. Source: exact normal
// potential of WGS84, as in package atmos.
func TestHeightsUseTheColumnsLatitude(t *testing.T) {
	b := forecast(func(l int, fields *[uppers][]float32) {
		if l == 4 {
			for k := range fields[height] {
				fields[height][k] = 30000
			}
		}
	})
	b.grid.Lat0, b.grid.DLat = 0, 90
	b.terrain = []float32{30000, 30000, 30000, 30000}
	f, _, err := b.Field()
	require.NoError(t, err)
	for k, want := range []float64{30224, 30224, 30063, 30063} {
		assert.InDelta(t, want, float64(f.nodes[0][k*5+4].z), 1, "top of column %d", k)
		assert.InDelta(t, want, float64(f.terrain[k]), 1, "terrain of column %d", k)
	}
}
