package ensemble

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/ground"
)

// weighed is a train of 1.8 kg under an envelope of 600 g: masses as in common
// practice, its burst diameter that of a remembered table.
func weighed(t *testing.T) *Weighed {
	t.Helper()
	air, err := balloon.StandardAir(0, 50e3, 1000)
	require.NoError(t, err)
	l := balloon.Lifter{
		Envelope: balloon.Envelope{Mass: 0.6, MassSpread: 0.018, Burst: 6, BurstSpread: 0.42, Remains: 0.3, RemainsSpread: 0.2},
		Filling:  balloon.Filling{Gas: balloon.LiftingGas{Helium: 0.99}},
		Load:     1.8, Drag: balloon.SoundingDrag(),
	}
	l, err = l.Fill(air, balloon.Wanted{Quantity: balloon.AscentRate, Value: 5})
	require.NoError(t, err)
	return &Weighed{
		Lifter: l, Air: air, Gas: 0.03, Drag: 0.1, LoadSpread: 0.02, Falling: balloon.Weighed{Mass: 1.8, Spread: 0.02},
		DragArea: 1.1, CanopySpread: 0.2,
	}
}

func draws(t *testing.T, w *Weighed) (release func(d int, share float64) flight.Release) {
	t.Helper()
	s := spec()
	s.OffNominal = Chances{}
	s.Weighed = w
	require.NoError(t, s.Check())
	d := newDrawer(s, frozen(s.heights()))
	return func(dimension int, share float64) flight.Release {
		u := middle()
		if dimension >= 0 {
			u[dimension] = share
		}
		return d.release(u, 0)
	}
}

// In the middle of every law the draw is the train as planned: the climb that
// balloon gives, and the fall by the law v² = 2·m·g/(ρ·Cd·S) ([Knacke1991], §5).
func TestWeighedMiddleIsThePlan(t *testing.T) {
	w := weighed(t)
	w.Lifter.Envelope.Remains = 0.5 // in the middle of its law, which is cut off at 0 and 1
	r := draws(t, w)(-1, 0)
	up := w.Lifter.Ascend(w.Air, nil)
	assert.InDelta(t, float64(up.Last().Height), float64(r.Train.Burst), 1e-6)
	assert.InEpsilon(t, up.Mean(), r.Train.Ascent, balloon.TableError, "draws take the drag from a table")
	for z := 0.0; z < float64(up.Last().Height); z += 1000 {
		speed, _, ok := up.At(atmos.Geometric(z))
		require.True(t, ok)
		assert.InEpsilon(t, speed, r.Profile.At(z), balloon.TableError, "rate at %g m", z)
	}
	assert.InDelta(t, math.Sqrt(2*2.1*9.80665/(1.225*1.1)), r.Train.Landing, 1e-5, "the inverse normal is good to some 1e-6")
}

// More of each cause moves the flight the way that physics says, and nothing that
// the cause has no part in.
func TestWeighedCausesMoveTheFlight(t *testing.T) {
	release := draws(t, weighed(t))
	tests := []struct {
		name                  string
		dimension             int
		ascent, burst, landed float64 // the sign of the change for more of it
	}{
		{"drag of the envelope", dragDimension, -1, 0, 0},
		{"burst diameter", burstDimension, -1, 1, 0}, // aloft the fitted law has more drag, and so a lower mean
		{"drag of the canopy", canopyDimension, 0, 0, -1},
		{"gas", gasDimension, 1, -1, 0},
		{"mass", massDimension, -1, 0, 1},
		{"what hangs on", remainsDimension, 0, 0, 1},
	}
	sign := func(x float64) float64 {
		if math.Abs(x) < 1e-9 {
			return 0
		}
		return math.Copysign(1, x)
	}
	for _, test := range tests {
		less, more := release(test.dimension, 0.2), release(test.dimension, 0.8)
		assert.InDelta(t, test.ascent, sign(more.Train.Ascent-less.Train.Ascent), 0, "%s: rate of ascent", test.name)
		assert.InDelta(t, test.burst, sign(float64(more.Train.Burst-less.Train.Burst)), 0, "%s: burst height", test.name)
		assert.InDelta(t, test.landed, sign(more.Train.Landing-less.Train.Landing), 0, "%s: speed of fall", test.name)
	}
}

// A train filled with too little hangs where it floats, tagged; one that would
// not leave the ground rises as slowly as any; and a leak slows the whole climb.
func TestWeighedFloatsAndLeaks(t *testing.T) {
	w := weighed(t)
	w.Lifter.Filling.Overpressure = 300 // Pa: enough to float a slow one
	least, err := w.Lifter.Fill(w.Air, balloon.Wanted{Quantity: balloon.FreeLift, Value: 0.05})
	require.NoError(t, err)
	w.Lifter = least
	up := least.Ascend(w.Air, nil)
	require.Equal(t, balloon.Floats, up.Ending)
	s := spec()
	s.OffNominal, s.Weighed = Chances{}, w
	d := newDrawer(s, frozen(s.heights()))
	h := newHand(lanes)
	for lane := range h.points {
		copy(h.points[lane][:], middle())
	}
	h.points[1][gasDimension] = 0.001 // nothing left over
	d.draw(h, 0)
	assert.Equal(t, Float, h.courses[0])
	assert.InDelta(t, float64(up.Last().Height), float64(h.releases[0].Train.Burst), 1e-6)
	assert.InDelta(t, (LeastFloatTime+MostFloatTime)/2, h.releases[0].Hover, 1e-6)
	assert.InDelta(t, balloon.MinAscent, h.releases[1].Train.Ascent, 1e-9)
	assert.InDelta(t, balloon.MinAscent, h.releases[1].Profile.At(10e3), 1e-9)

	s.Weighed = weighed(t)
	s.OffNominal = Chances{SlowLeak: 1}
	slow := newDrawer(s, frozen(s.heights())).release(middle(), 0)
	s.OffNominal = Chances{}
	full := newDrawer(s, frozen(s.heights())).release(middle(), 0)
	factor := slow.Train.Ascent / full.Train.Ascent
	assert.True(t, factor >= LeastLeakFactor && factor <= MostLeakFactor, "slowed by %g", factor)
	assert.InDelta(t, factor, slow.Profile.At(15e3)/full.Profile.At(15e3), 1e-9)
}

// The result does not depend on the workers, and its causes are those of a
// weighed train.
func TestWeighedRuns(t *testing.T) {
	s := spec()
	s.Weighed = weighed(t)
	scenes := []flight.Scene{calm(t, 45e3)}
	s.Workers = 1
	one, err := Run(context.Background(), scenes, &ground.Map{}, s, nil)
	require.NoError(t, err)
	s.Workers = 5
	five, err := Run(context.Background(), scenes, &ground.Map{}, s, nil)
	require.NoError(t, err)
	assert.Equal(t, one, five)
	causes := s.causes(1)
	assert.Contains(t, causes, GasCause)
	assert.NotContains(t, causes, AscentCause)
	for _, bad := range []func(w *Weighed){
		func(w *Weighed) { w.Gas = 0.6 },
		func(w *Weighed) { w.Drag = math.NaN() },
		func(w *Weighed) { w.LoadSpread = -1 },
		func(w *Weighed) { w.Air = w.Air[:1] },
		func(w *Weighed) { w.DragArea = 0 },
	} {
		broken := *s.Weighed
		bad(&broken)
		b := s
		b.Weighed = &broken
		require.Error(t, b.Check())
	}
}

func BenchmarkDrawWeighed(b *testing.B) {
	s := spec()
	air, err := balloon.StandardAir(0, 50e3, 1000)
	require.NoError(b, err)
	w := weighed(&testing.T{})
	w.Air, s.Weighed = air, w
	d := newDrawer(s, frozen(s.heights()))
	h := newHand(lanes)
	for lane := range h.points {
		copy(h.points[lane][:], middle())
	}
	b.ReportAllocs()
	for b.Loop() {
		d.draw(h, 0)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*lanes), "ns/flight")
}
