package balloon

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The Reynolds number of a lift is found from any guess, near or absurd, under
// any law that Check lets pass: Cd·Re² is the number that was asked for.
func TestReynoldsFromAnyGuess(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	laws := 0
	for laws < 2000 {
		d := Drag{
			Below: MinSphereDrag + 2.9*r.Float64()*r.Float64(), Above: MinSphereDrag + 0.5*r.Float64()*r.Float64(),
			Critical: MinCritical + 9e5*r.Float64(), Power: 1 + r.IntN(MaxPower),
		}
		if d.Check() != nil {
			continue
		}
		laws++
		k := math.Pow(10, 20*r.Float64()-4)
		guess := math.Pow(10, 16*r.Float64()-6)
		re := d.reynolds(k, guess)
		require.InEpsilon(t, k, d.Cd(re)*re*re, 1e-8, "%+v: Cd·Re² %g from a guess of %g gives Re %g", d, k, guess, re)
	}
	// From where Cd·Re² rises slowest, hardly at all, to lifts far from there.
	d := Drag{Below: 0.524, Above: 0.2, Critical: 3e5, Power: 8}
	require.NoError(t, d.Check())
	require.Greater(t, d.steepest(), 1.88)
	for k := 1e-8; k < 1e24; k *= 7 {
		re := d.reynolds(k, 3e5*math.Pow(d.Below/d.Above, 0.5/8))
		require.InEpsilon(t, k, d.Cd(re)*re*re, 1e-8, "Cd·Re² %g gives Re %g", k, re)
	}
	assert.Zero(t, SoundingDrag().reynolds(0, 1e5))
	assert.Zero(t, SoundingDrag().reynolds(math.NaN(), 1e5))
}
