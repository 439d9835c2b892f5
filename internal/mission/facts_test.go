package mission_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
)

// launched is how a plan's launch on the real forecast is judged.
func launched(t *testing.T, p plan.Plan) (launch.Verdict, []launch.Reason) {
	t.Helper()
	p.Scrambles, p.PerScramble = 4, 16
	l, err := mission.Fly(t.Context(), world(t), p, mission.Options{})
	require.NoError(t, err)
	require.NotNil(t, l.Landing)
	return l.Verdict, l.Reasons
}

// Cylinders that hold less than the fill takes make it no-go, with or without
// limits; enough of them do not stand in the way.
func TestCylindersThatLackGasAreNoGo(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 51, Lon: 10})
	p.Limits = launch.None()
	cylinder := plan.Cylinder{Count: 1}
	cylinder.Water, cylinder.Gauge, cylinder.Temperature = 0.010, 100e5, 288.15
	p.Train.Weighed.Cylinders = []plan.Cylinder{cylinder}
	verdict, reasons := launched(t, p)
	assert.Equal(t, launch.NoGo, verdict)
	require.NotEmpty(t, reasons)
	assert.Equal(t, "gas for the fill", reasons[0].What)

	p.Train.Weighed.Cylinders[0].Count = 9
	verdict, reasons = launched(t, p)
	assert.Equal(t, launch.Unlimited, verdict, "%v", reasons)
}

// An envelope that can stretch until nothing lifts it any more floats: no-go.
func TestATrainThatFloatsIsNoGo(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 51, Lon: 10})
	p.Limits = launch.None()
	p.Train.Weighed.Filling.Overpressure = 300
	p.Train.Weighed.Fill = plan.Fill{By: plan.ByVolume, Amount: quantity.Uncertain{Centre: 2.55, Spread: math.NaN()}, Spread: 0.005}
	verdict, reasons := launched(t, p)
	assert.Equal(t, launch.NoGo, verdict, "%v", reasons)
	require.NotEmpty(t, reasons)
	assert.Contains(t, reasons[0].String(), "it floats at")
}

// At 10 E on 22 March the sun is highest at 11:27 UTC (the equation of time is
// then seven minutes, from memory) and up for six hours and some minutes on either
// side; the landing lies a degree or so east of that.
func TestLandingInTheLight(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 51, Lon: 10})
	p.Limits = launch.None()
	p.Limits.Sunset, p.Limits.Dark = 3600, 0
	verdict, reasons := launched(t, p)
	assert.Equal(t, launch.Go, verdict, "%v", reasons)
	require.Len(t, reasons, 2)
	assert.Regexp(t, `^60 min before sunset at 17:[23]\d UTC$`, reasons[0].Limit)

	p.Limits.Sunset = 11 * 3600
	verdict, _ = launched(t, p)
	assert.Equal(t, launch.NoGo, verdict)

	p.Limits.Sunset, p.Limits.Driving = 3600, 3 // m/s: the car comes in the night
	verdict, reasons = launched(t, p)
	assert.Equal(t, launch.NoGo, verdict)
	assert.Contains(t, reasons[0].String(), "when it is dark")
}
