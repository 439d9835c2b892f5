package mission_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
)

// What cannot be varied is a fault of one line.
func TestVariantsFaults(t *testing.T) {
	measured := planAt(shoreSite)
	_, err := mission.Variants(measured)
	require.EqualError(t, err, "train.measured: a train that was measured: want weighed parts, envelope, gas and canopies: there is nothing to work out otherwise")

	p := varied(t)
	p.Train.Weighed.Find = &plan.Find{By: plan.ByBurst, Amount: 30e3}
	_, err = mission.Variants(p)
	require.EqualError(t, err, "train.find_envelope: an envelope that is looked for: want one at hand, in train.envelope, and others in vary.envelopes: size says which is found")

	p = varied(t)
	p.Vary.LeaveBehind = []string{"camera", "anchor"}
	_, err = mission.Variants(p)
	require.EqualError(t, err, `vary.leave_behind[1]: "anchor": want the name of one of train.parts`)

	p = varied(t)
	p.Vary.Canopies[0].InsteadOf = "kite"
	_, err = mission.Variants(p)
	require.EqualError(t, err, `vary.canopies[0].instead_of: "kite": want the name of one of train.parts`)

	p = varied(t)
	for i := range 60 {
		p.Vary.Bursts = append(p.Vary.Bursts, 20e3+100*float64(i))
	}
	p.Vary.LeaveBehind = []string{"camera", "box"}
	_, err = mission.Variants(p)
	require.EqualError(t, err, "vary: 7728 plans: want at most 4096: now 69 fills × 2 envelopes × 2 canopies × 4 choices of what stays at home × 7 launch times × 1 sites")
}

// Each combination is there once, and each does what it says: the other canopy with
// its own mass where the train's hung, what stays at home, when, and how much gas.
func TestVariantsAreEveryCombination(t *testing.T) {
	p := varied(t)
	p.Vary.Volumes, p.Vary.Bursts, p.Vary.Delays = []float64{2.6}, []float64{25e3}, []time.Duration{time.Hour}
	p.Vary.LeaveBehind = []string{"camera", "canopy"}
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	require.Len(t, plans, 3*2*2*4*2)
	seen := map[string]bool{}
	for _, one := range plans {
		w := one.Train.Weighed
		var parts []string
		for _, part := range one.Train.Parts {
			if part.Name == "canopy" {
				want := 0.5 * 0.45359237 // kg, half a pound
				if w.Canopies[0].Size == 1.6 {
					want = 0.35
				}
				assert.InDelta(t, want, part.Mass, 1e-12)
				assert.Equal(t, balloon.OnTrain, part.Place)
			}
			parts = append(parts, part.Name)
		}
		require.Len(t, w.Canopies, 1)
		seen[fmt.Sprint(one.Launch.Sub(p.Launch), w.Envelope.Mass, w.Canopies[0].Size, parts, w.Fill.By, w.Fill.Amount.Centre)] = true
	}
	assert.Len(t, seen, len(plans), "different plans")
	for _, want := range []string{
		"0s 0.6 1.2 [box canopy camera] 4 4.5", "1h0m0s 0.8 1.6 [box] 5 25000", "0s 0.8 1.2 [box canopy] 1 2.6", "1h0m0s 0.6 1.6 [box camera] 4 4.5",
	} {
		assert.True(t, seen[want], "%s in %v", want, seen)
	}
	assert.Equal(t, p.Train.Parts, plans[0].Train.Parts, "the plan as it stands is the first")
	assert.Len(t, p.Train.Parts, 3, "and nothing of it changes")
}

// Without anything named the fill alone varies, about the plan's own.
func TestVariantsOfItself(t *testing.T) {
	p := varied(t)
	p.Vary = plan.Vary{}
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	require.Len(t, plans, 8)
	own, err := mission.Size(p, nil)
	require.NoError(t, err)
	assert.Equal(t, plan.ByAscentRate, plans[0].Train.Weighed.Fill.By)
	assert.InDelta(t, 4.5, plans[0].Train.Weighed.Fill.Amount.Centre, 0)
	for i, share := range []float64{0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4} {
		assert.InEpsilon(t, share*own.Gas.Volume, plans[1+i].Train.Weighed.Fill.Amount.Centre, 1e-9)
	}
	p.Vary.Sites, p.Schedule.Sites = true, []plan.Site{{Name: "East", At: geo.Point{Lat: 24, Lon: 14.5}}}
	plans, err = mission.Variants(p)
	require.NoError(t, err)
	require.Len(t, plans, 2)
	assert.Equal(t, "East", plans[1].Site.Name)
}
