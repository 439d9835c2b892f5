package balloon_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
)

func budget() balloon.Budget {
	return balloon.Budget{
		Parts: []balloon.Part{
			{Name: "camera", Mass: 0.5, Count: 2, Spread: 0.002, Place: balloon.AtBottom},
			{Name: "canopy", Mass: 0.25, Count: 1, Spread: 0.001, Place: balloon.OnTrain},
			{Name: "plug", Mass: 0.04, Count: 1, Place: balloon.AtNeck, Fate: balloon.LeavesAtBurst},
			{Name: "ballast", Mass: 0.3, Count: 1, Place: balloon.AtBottom, Fate: balloon.LeavesFalling},
		},
		Envelope: balloon.Envelope{Mass: 0.6, MassSpread: 0.01, Burst: 6, Remains: 0.3, RemainsSpread: 0.2},
	}
}

func TestBudgetByLeg(t *testing.T) {
	b := budget()
	require.NoError(t, b.Check())
	// Added by hand.
	assert.InDelta(t, 1.59, b.Load().Mass, 1e-12)
	assert.InDelta(t, 2.19, b.Lifted().Mass, 1e-12)
	assert.InDelta(t, 1.59-0.04+0.18, b.Falling().Mass, 1e-12)
	assert.InDelta(t, 1.59-0.04-0.3+0.18, b.Landing().Mass, 1e-12)
	// One scale error for both cameras, 4 g, one of 1 g for the canopy.
	assert.InDelta(t, math.Hypot(0.004, 0.001), b.Load().Spread, 1e-12)
	assert.InDelta(t, math.Sqrt(17e-6+9e-6+0.0144), b.Falling().Spread, 1e-12)
}

// What is lifted is what lands, what left and what of the envelope did not hang
// on, whatever the parts are.
func TestMassIsConserved(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 500 {
		b := budget()
		b.Envelope.Remains = r.Float64()
		left := map[balloon.Fate]float64{}
		for i := range b.Parts {
			p := &b.Parts[i]
			p.Mass, p.Count, p.Fate = 1e-3+r.Float64(), 1+r.IntN(5), balloon.Fate(r.IntN(3))
			left[p.Fate] += p.Mass * float64(p.Count)
		}
		require.NoError(t, b.Check())
		gone := b.Envelope.Mass * (1 - b.Envelope.Remains)
		require.InDelta(t, b.Lifted().Mass, b.Falling().Mass+left[balloon.LeavesAtBurst]+gone, 1e-12, "%+v", b)
		require.InDelta(t, b.Falling().Mass, b.Landing().Mass+left[balloon.LeavesFalling], 1e-12, "%+v", b)
	}
}

func TestBudgetNamesEveryFault(t *testing.T) {
	b := budget()
	b.Parts[0].Mass = -0.5
	b.Parts[0].Count = 0
	b.Parts[1].Place = 7
	b.Parts[2].Name = ""
	b.Parts[3].Name = "camera"
	b.Parts[3].Fate = 9
	b.Envelope.Burst = 0
	b.Envelope.Remains = math.NaN()
	err := b.Check()
	require.Error(t, err)
	assert.Equal(t, `part 1 "camera": mass -0.5 kg: want above 0 to 50 kg
part 1 "camera": count 0: want 1 to 1000
part 1 "camera": spread 0.002 kg: want 0 to its mass
part 2 "canopy": place 7: want at the neck, on the train or at the bottom
part 3 "": name "": want 1 to 240 octets
part 4 "camera": fate 9: want returns, leaves at burst or leaves falling
part 4 "camera": has the name of part 1
envelope: burst diameter 0 m: want 0.2 to 60 m
envelope: share that hangs on after the burst NaN (share): want 0 to 1 (share)`, err.Error())
}
