package balloon_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/balloon"
)

func drawOpening(t *rapid.T) balloon.Opening {
	c := balloon.Canopy{
		Shape:   shapeNamed(t, rapid.SampledFrom([]string{"flat circular", "extended skirt 10 % flat", "extended skirt 14.3 % full"}).Draw(t, "shape")),
		Outline: balloon.Circle, Size: rapid.Float64Range(0.4, 4).Draw(t, "size"), Count: rapid.IntRange(1, 2).Draw(t, "count"),
	}
	c.Cd = c.Shape.MiddleCd()
	return balloon.Opening{
		Mass: rapid.Float64Range(0.1, 10).Draw(t, "mass"), Canopy: c,
		Density: rapid.Float64Range(0.01, 1.3).Draw(t, "density"), Speed: rapid.Float64Range(5, 150).Draw(t, "speed"),
	}
}

func TestOpeningIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := drawOpening(t)
		l, err := o.Load()
		require.NoError(t, err)
		assert.GreaterOrEqual(t, l.Greatest, l.Steady)
		denser := o
		denser.Density *= 1.1
		d, err := denser.Load()
		require.NoError(t, err)
		assert.GreaterOrEqual(t, d.Greatest, l.Greatest*(1-1e-3), "denser air")
		heavy := o
		heavy.Mass *= 1.5
		h, err := heavy.Load()
		require.NoError(t, err)
		assert.GreaterOrEqual(t, h.Greatest, l.Greatest*(1-1e-3), "heavier")
	})
}

// A canopy that opens at the burst in thin air, from the slow start of the
// fall, pulls no more than the weight; one that opens late pulls many times as
// much. There is no outside value: what is asked is the order of the three.
func TestOpeningLateIsHarder(t *testing.T) {
	canopy := round(t, 1.2, 0.775)
	r := balloon.Recovery{Mass: 1.5, Canopies: []balloon.Canopy{canopy}, Body: 0.05}
	air := standardAir(t)
	var loads []float64
	for _, delay := range []float64{0.5, 5, 20} {
		v, z, err := r.Failed().After(air, 30e3, 0, delay)
		require.NoError(t, err)
		density, _ := air.At(z)
		l, err := balloon.Opening{Mass: r.Mass, Canopy: canopy, Density: density, Speed: v}.Load()
		require.NoError(t, err)
		loads = append(loads, l.Greatest/l.Steady)
		t.Logf("opened %g s after the burst at %.1f m/s: %.1f times the weight", delay, v, l.Greatest/l.Steady)
	}
	assert.InDelta(t, 1, loads[0], 1e-12)
	assert.Greater(t, loads[1], loads[0])
	assert.Greater(t, loads[2], 3*loads[1])
}

// Of a load that does not slow: q·CdS·Cx, with q = ½·1.225·60² = 2205 Pa, CdS
// 0.876504 m² and Cx 1.7 (Knacke, NWC TP 6575, Table 5-1): 3285.6 N; the canopy
// fills in 8·1.2/60 = 0.16 s. Worked by hand.
func TestOpeningUnslowed(t *testing.T) {
	o := balloon.Opening{Mass: 1.5, Canopy: round(t, 1.2, 0.775), Density: 1.225, Speed: 60}
	l, err := o.Load()
	require.NoError(t, err)
	assert.InDelta(t, 3285.6, l.Unslowed, 0.05)
	assert.InDelta(t, 0.16, l.Fill, 1e-12)
	assert.InDelta(t, 14.709975, l.Steady, 1e-9)
	// A square fills by the diameter of a circle of its area, √(4·1.44/π) m.
	o.Canopy.Outline = balloon.Square
	l, err = o.Load()
	require.NoError(t, err)
	assert.InDelta(t, 8*1.354055/60, l.Fill, 1e-7)
	o.Canopy.Outline = balloon.Circle
	// No published fill constant: the unslowed force stands.
	o.Canopy.Shape = shapeNamed(t, "hemispherical")
	l, err = o.Load()
	require.NoError(t, err)
	assert.Zero(t, l.Fill)
	assert.InDelta(t, l.Unslowed, l.Greatest, 1e-9)
	// A load so heavy that it does not slow comes to it as well.
	o.Canopy.Shape = shapeNamed(t, "flat circular")
	o.Mass = 900
	o.Speed = 200
	l, err = o.Load()
	require.NoError(t, err)
	assert.InEpsilon(t, l.Unslowed, l.Greatest, 0.02)
}

func TestFailedAndFouled(t *testing.T) {
	r := balloon.Recovery{Mass: 1.5, Canopies: []balloon.Canopy{round(t, 1.2, 0.775)}, Body: 0.05}
	require.NoError(t, r.Check())
	open, fouled, failed := r.Open(), r.Fouled(0.25), r.Failed()
	assert.InDelta(t, 0.876504+0.05, open.DragArea, 1e-6)
	assert.InDelta(t, 0.876504/4+0.05, fouled.DragArea, 1e-6)
	assert.InDelta(t, 0.05, failed.DragArea, 1e-12)
	// √(2·1.5·9.80665/(1.225·0.05)) = 21.91633 m/s and 360.244 J, by hand.
	assert.InDelta(t, 21.91633, failed.Speed(1.225), 1e-5)
	assert.InDelta(t, 360.244, failed.Energy(failed.Speed(1.225), 0), 0.001)
	assert.Less(t, open.Speed(1.225), fouled.Speed(1.225))
	assert.Less(t, fouled.Speed(1.225), failed.Speed(1.225))
	second := r
	second.Canopies = append(second.Canopies, round(t, 0.6, 0.75))
	assert.InDelta(t, 0.876504+0.212058+0.05, second.Open().DragArea, 1e-6)
}

func TestRecoveryAndOpeningRefuse(t *testing.T) {
	r := balloon.Recovery{Mass: math.NaN(), Canopies: []balloon.Canopy{{}}, Body: 0}
	err := r.Check()
	for _, want := range []string{
		"falling mass NaN kg", "drag area of the load without a canopy 0 m²", `canopy 1: canopy shape ""`,
		"canopy 1: canopy size 0 m", "canopy 1: canopies 0",
	} {
		assert.ErrorContains(t, err, want)
	}
	_, err = balloon.Opening{Canopy: round(t, 1, 0.75), Density: -1, Speed: 900}.Load()
	for _, want := range []string{"falling mass 0 kg", "air density -1 kg/m³", "opening speed 900 m/s"} {
		assert.ErrorContains(t, err, want)
	}
}
