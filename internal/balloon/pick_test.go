package balloon_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// The lightest of the envelopes that bursts high enough, whatever their order on
// the shelf; each by itself, through Fill, bursts where it must.
func TestPick(t *testing.T) {
	air := usAir(t, 0, 50000, 500)
	l := typical()
	want := balloon.Wanted{Quantity: balloon.AscentRate, Value: 5}
	var shelf []balloon.Envelope
	burst := map[float64]float64{}
	for _, mass := range []float64{1.5, 0.35, 1, 0.6} {
		e, err := balloon.RememberedEnvelope(mass)
		require.NoError(t, err)
		shelf = append(shelf, e)
		l.Envelope = e
		filled, err := l.Fill(air, want)
		require.NoError(t, err)
		burst[mass] = float64(filled.Ascend(air, nil).Last().Height)
	}
	for mass, height := range burst {
		got, err := l.Pick(air, shelf, want, atmos.Geometric(height-1))
		require.NoError(t, err)
		assert.Equal(t, mass, got.Envelope.Mass, "to %g m", height-1)
		c := got.Ascend(air, nil)
		assert.InDelta(t, height, float64(c.Last().Height), 0.01)
		assert.InEpsilon(t, 5, c.Mean(), 1e-8)
		next, err := l.Pick(air, shelf, want, atmos.Geometric(height+1))
		if mass < 1.5 {
			require.NoError(t, err)
			assert.Greater(t, next.Envelope.Mass, mass)
		}
	}

	_, err := l.Pick(air, shelf, want, 35000)
	var none *balloon.NoSolution
	require.ErrorAs(t, err, &none)
	t.Log(err)
	assert.Equal(t, 1.5, none.Nearest.Envelope.Mass)
	assert.InDelta(t, burst[1.5], none.Reached, 0.01)
	l.Load = none.Load
	_, err = l.Pick(air, shelf, want, 35000)
	require.NoError(t, err, "with the load that it names")

	l.Load = 150
	_, err = l.Pick(air, shelf[1:2], want, 30000)
	require.ErrorAs(t, err, &none)
	assert.Equal(t, "the one envelope at hand does not carry 150 kg to 30000 m at 5 m/s: each that is filled so stays on the ground, floats or bursts at once", none.Error())
}

func TestPickNamesEveryFault(t *testing.T) {
	air := usAir(t, 0, 50000, 500)
	l := typical()
	l.Load = -1
	_, err := l.Pick(air, []balloon.Envelope{{Mass: 0.6, Burst: 6}, {Mass: 0.6, Burst: -1}}, balloon.Wanted{Quantity: balloon.BurstHeight, Value: 30000}, atmos.Geometric(math.NaN()))
	assert.EqualError(t, err, "lifter: load -1 kg: want 0 to 200 kg\n"+
		"wanted: burst height NaN m: want 100 to 50000 m\n"+
		"wanted burst height twice: want two quantities\n"+
		"envelope 2: burst diameter -1 m: want 0.2 to 60 m")
	_, err = typical().Pick(air, nil, balloon.Wanted{Quantity: balloon.AscentRate, Value: 5}, 30000)
	assert.EqualError(t, err, "0 envelopes: want 1 to 1000")
}
