package balloon_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// The standard cut off at 24 km and continued is the standard again. Air 12 K
// warmer goes on as dp/dz = −g·p/(R·T) has it, walked apart from this code in
// steps of 1 m with the standard's g and a temperature that fades to the
// standard's at 34 km.
func TestAirContinued(t *testing.T) {
	cut := func(off float64) balloon.Air {
		a := usAir(t, 0, 24000, 500)
		for i := range a {
			a[i].Temperature += off
			a[i].Density = atmos.Density(a[i].Pressure, a[i].Temperature)
		}
		out, err := a.Continued(45000)
		require.NoError(t, err)
		require.NoError(t, out.Check())
		assert.Equal(t, a, out[:len(a)], "what was there stays")
		assert.Equal(t, atmos.Geometric(45000), out[len(out)-1].Height)
		return out
	}
	for _, z := range []atmos.Geometric{24000, 30000, 38000, 45000} {
		got, ok := cut(0).At(z)
		require.True(t, ok)
		want, _ := atmos.Standard(z)
		assert.InEpsilon(t, want.Pressure, got.Pressure, 1e-9, "At(%g)", float64(z))
		assert.InEpsilon(t, want.Density, got.Density, 1e-9, "At(%g)", float64(z))
	}
	p, _ := atmos.Standard(24000)
	pressure := p.Pressure
	for z := 24000.5; z < 45000; z++ {
		s, _ := atmos.Standard(atmos.Geometric(z))
		k := s.Temperature + 12*max(1-(z-24000)/10000, 0)
		g := 9.80665 * math.Pow(6356766/(6356766+z), 2)
		pressure *= math.Exp(-g / (atmos.GasConstant * k))
	}
	got := cut(12)
	assert.InEpsilon(t, pressure, got[len(got)-1].Pressure, 5e-5)
}

// A burst above a forecast's last level, 31 km as at 10 hPa, is found where the
// standard has it.
func TestBurstAboveTheForecast(t *testing.T) {
	l := typical()
	l.Envelope.Burst = 9
	low := usAir(t, 0, 31000, 500)
	require.Equal(t, balloon.AirEnds, l.Ascend(low, nil).Ending)
	all, err := low.Continued(45000)
	require.NoError(t, err)
	got, want := l.Ascend(all, nil), l.Ascend(usAir(t, 0, 45000, 100), nil)
	require.Equal(t, balloon.Bursts, got.Ending)
	require.Greater(t, float64(got.Last().Height), 31000.0)
	assert.InDelta(t, float64(want.Last().Height), float64(got.Last().Height), 1)
	assert.InEpsilon(t, want.Last().Time, got.Last().Time, 1e-4)
}

func TestAirContinuedRefuses(t *testing.T) {
	low := usAir(t, 0, 31000, 500)
	same, err := low.Continued(20000)
	require.NoError(t, err)
	assert.Equal(t, low, same)
	_, err = low.Continued(81000)
	assert.EqualError(t, err, "air continued from 31000 to 81000 m: want both within −5000 to 80000 m")
	_, err = balloon.Air{}.Continued(20000)
	assert.EqualError(t, err, "air of 0 levels: want 2 to 10000")
	_, err = low.Continued(atmos.Geometric(math.NaN()))
	assert.Error(t, err)
}
