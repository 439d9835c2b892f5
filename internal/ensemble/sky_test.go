package ensemble

import (
	"context"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/wind"
)

// coldDay is a forecast without wind of 250 K at all heights under a pressure at
// sea level of 990 hPa in the west and 1,030 hPa in the east.
func coldDay(t *testing.T) *wind.Field {
	t.Helper()
	axes := wind.Axes{
		Grid:  geo.Grid{NX: 3, NY: 3, Lat0: 50, Lon0: 8, DLat: 1, DLon: 1},
		Start: time.Date(2024, 1, 8, 6, 0, 0, 0, time.UTC), Times: []float64{0, 6 * 3600, 12 * 3600},
	}
	for z := 0.0; z <= 36000; z += 500 {
		axes.Heights = append(axes.Heights, z)
	}
	f, err := wind.New(axes, func(p geo.Point, z, _ float64) wind.Sample {
		sea := 99000 + 2000*(p.Lon-8)
		return wind.Sample{Temperature: 250, Pressure: sea * math.Exp(-atmos.StandardGravity*z/(atmos.GasConstant*250))}
	})
	require.NoError(t, err)
	return f
}

// Flight level 100, 696.82 hPa, lies at R·T/g·ln(p0/696.82) in an isothermal
// column: 2,569.6 m where p0 is 990 hPa, 2,859.6 m where it is 1,030 hPa, against
// 3,048 m in the standard. In between the logarithm of pressure is interpolated.
func TestFlightLevelsThroughTheForecast(t *testing.T) {
	f := coldDay(t)
	sky := skyOf(flight.Scene{Wind: f, Terrain: ground.Terrain{Grid: f.Grid(), Height: f.Terrain()}})
	assert.Equal(t, f.Start(), sky.Start)
	scale := atmos.GasConstant * 250 / atmos.StandardGravity
	for lon, sea := range map[float64]float64{8: 990, 9: 1010, 10: 1030, 8.5: math.Sqrt(990 * 1010)} {
		z := scale * math.Log(sea/696.82)
		got, ok := sky.PressureAltitude(geo.Point{Lat: 51, Lon: lon}, atmos.Geometric(z), 3600)
		require.True(t, ok)
		assert.InDelta(t, 3048, float64(got), 0.3, "at %g E, %.1f m", lon, z)
	}
	_, ok := sky.PressureAltitude(geo.Point{Lat: 51, Lon: 30}, 1000, 3600)
	assert.False(t, ok, "off the grid")

	// Flights straight up to a burst: those that burst under the level do not
	// cross it, and that is where this day has it.
	volumes, err := ground.ReadOpenAir("air", []byte("AC D\nAN Upper\nAL FL 300\nAH UNL\n"+
		"DP 50:00 N 8:00 E\nDP 50:00 N 10:00 E\nDP 52:00 N 10:00 E\nDP 52:00 N 8:00 E\n"))
	require.NoError(t, err)
	level := scale * math.Log(1010/(1013.25*math.Pow(1-0.0065*9144/288.15, 5.25588))) // the standard's troposphere, 30,000 ft
	s := spec()
	s.Launch.At, s.Launch.Height, s.Launch.Time = geo.Point{Lat: 51, Lon: 9}, 0, 3600
	s.Burst, s.WindError = Normal{level, 300}, 0
	outcomes, err := Run(context.Background(), []flight.Scene{{Wind: f, Terrain: ground.Terrain{Grid: f.Grid(), Height: make([]float32, 9)}}},
		&ground.Map{Volumes: volumes}, s, nil)
	require.NoError(t, err)
	over := 0
	for i, o := range outcomes {
		if math.Abs(o.Burst-level) < 2 {
			continue // within the error of hazard.Meet
		}
		crossed := o.Met.Crossed != hazard.Crossed{}
		require.Equal(t, o.Burst > level, crossed, "flight %d bursts at %.0f m, the level at %.0f m", i, o.Burst, level)
		if crossed {
			over++
		}
	}
	assert.True(t, over > 100 && over < len(outcomes)-100, "%d of %d flights cross: a case that tells nothing", over, len(outcomes))
}
