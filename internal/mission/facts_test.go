package mission_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/rules"
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

// A limit of the rules that binds and is not met is no-go, one that cannot be told
// marginal, and a plan that names no rules is held to none: 14 CFR 101.33(a), more
// than five tenths of cloud, on a morning with 94 % of it.
func TestRulesInTheVerdict(t *testing.T) {
	p := planAt(lakeland)
	p.Limits = launch.None()
	p.Rules = ruled(rules.UnitedStates).Rules // a package of 5 kg: part 101 binds it
	l, err := mission.Fly(t.Context(), world(t), p, mission.Options{})
	require.NoError(t, err)
	binds := false
	for _, r := range l.Rules.Limits {
		binds = binds || strings.HasPrefix(r.What, "sky covered") && r.Binds == rules.Yes
	}
	cloud, open := false, false
	for _, r := range l.Reasons {
		cloud = cloud || strings.HasPrefix(r.What, "rules, sky covered") && r.Verdict == launch.NoGo
		open = open || r.What == "rules" && r.Verdict == launch.Marginal
	}
	require.True(t, binds, "else the check below says nothing")
	assert.True(t, cloud)
	assert.True(t, open, "much of the flight is not stated")
	assert.GreaterOrEqual(t, l.Verdict, launch.Marginal)
	p.Rules = nil
	l, err = mission.Fly(t.Context(), world(t), p, mission.Options{})
	require.NoError(t, err)
	assert.Equal(t, launch.Unlimited, l.Verdict)
}
