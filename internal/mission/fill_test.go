package mission_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
)

// remembered is a weighed train under an envelope of a mass with the burst
// diameter that is remembered for it.
func remembered(t *testing.T, mass float64) plan.Plan {
	t.Helper()
	p := weighedAt(t, geo.Point{Lat: 50, Lon: 10})
	p.Site.Elevation = 100
	var err error
	p.Train.Weighed.Envelope, err = plan.Remembered(mass)
	require.NoError(t, err)
	return p
}

// finds are the two halves of the question for an envelope, for each pair of
// quantities that settles one: the gas says one, and the other is found by.
func finds() []struct{ by, find plan.FillBy } {
	return []struct{ by, find plan.FillBy }{
		{plan.ByAscentRate, plan.ByBurst},
		{plan.ByVolume, plan.ByBurst},
		{plan.ByNeckLift, plan.ByBurst},
		{plan.ByFreeLift, plan.ByBurst},
		{plan.ByVolume, plan.ByFreeLift},
		{plan.ByVolume, plan.ByAscentRate},
		{plan.ByFreeLift, plan.ByAscentRate},
		{plan.ByAscentRate, plan.ByFreeLift},
		{plan.ByBurst, plan.ByAscentRate},
		{plan.ByBurst, plan.ByFreeLift},
	}
}

// Solving one way and back is the identity: what an envelope and its gas do, asked
// for two at a time, gives that envelope and that gas.
func TestFindingTheEnvelopeIsTheIdentity(t *testing.T) {
	for _, mass := range [...]float64{0.35, 1, 2.4} {
		p := remembered(t, mass)
		w := p.Train.Weighed
		w.Fill = plan.Fill{By: plan.ByAscentRate, Amount: quantity.Uncertain{Centre: 4.5, Spread: math.NaN()}, Spread: 0.03}
		want := sized(t, p)
		assert.Nil(t, want.Found)
		amounts := map[plan.FillBy]float64{
			plan.ByVolume: want.Gas.Volume, plan.ByNeckLift: want.Release.Pull, plan.ByFreeLift: want.Release.Free,
			plan.ByAscentRate: want.Ascent.Centre, plan.ByBurst: want.Burst.Centre,
		}
		w.Envelope = balloon.Envelope{}
		for _, q := range finds() {
			w.Fill.By, w.Fill.Amount.Centre = q.by, amounts[q.by]
			w.Find = &plan.Find{By: q.find, Amount: amounts[q.find]}
			got := sized(t, p)
			assert.InEpsilon(t, mass, got.Envelope.Mass, 1e-5, "%g kg by %d and %d", mass, q.by, q.find)
			assert.InEpsilon(t, want.Gas.Moles, got.Gas.Moles, 1e-5, "%g kg by %d and %d", mass, q.by, q.find)
			assert.InEpsilon(t, want.Up, got.Up, 1e-5, "%g kg by %d and %d", mass, q.by, q.find)
			assert.InEpsilon(t, want.Falling.Mass, got.Falling.Mass, 1e-5, "what hangs on of it comes down")
			assert.NotNil(t, got.Found)
		}
	}
}

// Of those at hand the lightest that does, and it goes as its own plan does.
func TestFindAmongThoseOwned(t *testing.T) {
	p := remembered(t, 1)
	w := p.Train.Weighed
	w.Fill.By, w.Fill.Amount.Centre = plan.ByAscentRate, 5
	want := sized(t, p)
	shelf := make([]balloon.Envelope, 3)
	for i, mass := range [...]float64{2, 0.35, 1} {
		shelf[i] = remembered(t, mass).Train.Weighed.Envelope
	}
	w.Envelope = balloon.Envelope{}
	w.Find = &plan.Find{By: plan.ByBurst, Amount: want.Burst.Centre - 1, Owned: shelf}
	got := sized(t, p)
	require.NotNil(t, got.Found)
	assert.Equal(t, report.FoundEnvelope{Owned: 3, Burst: want.Burst.Centre - 1, Rate: 5}, *got.Found)
	got.Found = nil
	assert.Equal(t, want, got)
	w.Find.Amount = want.Burst.Centre + 1
	assert.InDelta(t, 2, sized(t, p).Envelope.Mass, 0)
}

// What no envelope does says what comes nearest and what would do, in one line;
// and that does.
func TestNoEnvelopeDoes(t *testing.T) {
	p := remembered(t, 1)
	w := p.Train.Weighed
	w.Envelope = balloon.Envelope{}
	p.Train.Parts = []balloon.Part{{Name: "all", Mass: 2.5, Count: 1, Place: balloon.AtBottom}}
	w.Fill.By, w.Fill.Amount.Centre = plan.ByAscentRate, 5
	refused := func() plan.Fault {
		_, err := mission.Size(p, nil)
		var faults plan.Faults
		require.ErrorAs(t, err, &faults)
		require.Len(t, faults, 1)
		return faults[0]
	}
	w.Find = &plan.Find{By: plan.ByBurst, Amount: 38e3}
	f := refused()
	assert.Equal(t, "train.find_envelope.bursts_near", f.Field)
	assert.Regexp(t, `^no envelope from 100 g to 3000 g carries 2\.5 kg to 38000 m at 5 m/s: the nearest is one of 3000 g, to 3[0-7]\d\d\d m; this would do: a load of at most \d\.\d+ kg$`, f.Value)

	w.Find.Owned = []balloon.Envelope{remembered(t, 0.35).Train.Weighed.Envelope, remembered(t, 0.6).Train.Weighed.Envelope}
	w.Find.Amount = 28e3
	f = refused()
	assert.Regexp(t, `^none of the 2 envelopes at hand carries 2\.5 kg to 28000 m at 5 m/s: the nearest is one of 600 g, to 2[0-7]\d\d\d m; this would do: a load of at most \d`, f.Value)

	w.Find = &plan.Find{By: plan.ByBurst, Amount: 30e3}
	w.Fill.By, w.Fill.Amount.Centre = plan.ByNeckLift, 2
	f = refused()
	assert.Equal(t, plan.Fault{Field: "train.gas.neck_lift", Value: "2000 g of pull under 2500 g that hang on it: it will not leave the ground: add 501 g of lift or more"}, f)
	_, err := mission.Fly(t.Context(), world(t), p, mission.Options{})
	require.ErrorContains(t, err, "add 501 g of lift or more")
	w.Fill.Amount.Centre = 2.501
	w.Find.Amount = 100
	_, err = mission.Size(p, nil)
	assert.NotContains(t, err.Error(), "leave the ground", "the gram that it asked for does lift it")

	w.Fill.By, w.Fill.Amount.Centre = plan.ByVolume, 2
	w.Find.Amount = 30e3
	assert.Equal(t, "no envelope from 100 g to 3000 g carries 2.5 kg to 30000 m with 2 m³ of gas: each that is filled so stays on the ground, floats or bursts at once", refused().Value)
}

// A pull that just holds what hangs on it, or less, is refused with what lifts it,
// and that does, whatever the masses round to.
func TestNeckLiftBelowItsLoad(t *testing.T) {
	p := remembered(t, 0.6)
	w := p.Train.Weighed
	load := sized(t, p).Load.Mass
	for _, pull := range [...]float64{0.001, load / 2, load - 1e-9, load, load + 0.0009} {
		w.Fill.By, w.Fill.Amount.Centre = plan.ByNeckLift, pull
		_, err := mission.Size(p, nil)
		var faults plan.Faults
		require.ErrorAs(t, err, &faults, "%g kg", pull)
		require.Len(t, faults, 1, "%g kg", pull)
		assert.Equal(t, "train.gas.neck_lift", faults[0].Field)
		assert.Contains(t, faults[0].Value, "it will not leave the ground: add ")
	}
	w.Fill.Amount.Centre = load + 0.001
	assert.InDelta(t, 0.001, sized(t, p).Release.Free, 1e-9)
}

// An envelope that is looked for flies as the same one given.
func TestFoundEnvelopeFlies(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 58.2, Lon: 13})
	w := p.Train.Weighed
	w.Envelope = balloon.Envelope{}
	w.Fill.By, w.Fill.Amount.Centre = plan.ByAscentRate, 5
	w.Find = &plan.Find{By: plan.ByBurst, Amount: 27e3}
	found, err := mission.Fly(t.Context(), world(t), p, mission.Options{})
	require.NoError(t, err)
	require.NotNil(t, found.Train)
	assert.InDelta(t, 27e3, found.Train.Burst.Centre, 1)
	w.Envelope, w.Find = found.Train.Envelope, nil
	given, err := mission.Fly(t.Context(), world(t), p, mission.Options{})
	require.NoError(t, err)
	require.Len(t, found.Flown, len(given.Flown))
	for i, one := range given.Flown {
		assert.InDelta(t, one.At.Lat, found.Flown[i].At.Lat, 1e-4, "flight %d", i)
		assert.InDelta(t, one.At.Lon, found.Flown[i].At.Lon, 1e-4, "flight %d", i)
	}
	found.Train.Found = nil
	assert.Equal(t, given.Train, found.Train)
}
