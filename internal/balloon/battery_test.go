package balloon_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/balloon"
)

// 3000 mAh at 1.5 V are 4.5 Wh, 16200 J; 50 mA at 3.3 V are 0.165 W: by the
// definitions of the units.
func TestElectricalUnits(t *testing.T) {
	assert.InDelta(t, 16200, balloon.MilliampHours(3000, 1.5), 1e-9)
	assert.InDelta(t, 16200, balloon.WattHours(4.5), 1e-9)
	assert.InDelta(t, 0.165, balloon.Milliamps(50, 3.3), 1e-12)
}

var chemistries = []balloon.Chemistry{balloon.LithiumPrimary, balloon.LithiumIon, balloon.NickelMetalHydride, balloon.Alkaline}

// The colder the less, never below nothing nor above what it is rated for; and
// lithium cells that are not recharged stand the cold best (common practice).
func TestColdTakesFromABattery(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		temperature := rapid.Float64Range(173, 333).Draw(t, "temperature")
		warmer := temperature + rapid.Float64Range(0, 50).Draw(t, "warmer")
		for _, c := range chemistries {
			share := c.Share(temperature)
			assert.GreaterOrEqual(t, share, 0.0)
			assert.LessOrEqual(t, share, c.Share(warmer), "%s at %g and %g K", c, temperature, warmer)
			assert.LessOrEqual(t, c.Share(warmer), 1.0)
			assert.GreaterOrEqual(t, balloon.LithiumPrimary.Share(temperature), share, "lithium primary over %s", c)
		}
	})
	for _, c := range chemistries {
		assert.InDelta(t, 1, c.Share(293.15), 1e-12, "%s at 20 °C", c)
		assert.InDelta(t, 0, c.Share(213.15), 1e-12, "%s at −60 °C", c)
		assert.Zero(t, c.Share(203.15), "%s at −70 °C", c)
	}
	// Halfway between the rows for −20 and −10 °C.
	assert.InDelta(t, 0.55, balloon.LithiumIon.Share(273.15-15), 1e-12)
	assert.True(t, math.IsNaN(balloon.Chemistry(9).Share(290)))
	assert.True(t, math.IsNaN(balloon.Alkaline.Share(math.NaN())))
}

// Four cells of 4.5 Wh feed 0.5 W for 36 h warm; at −20 °C, where lithium
// primary gives 0.70 by the table, for 25.2 h. An hour warm, two at −20 °C and
// three hours warm again use 1/36 + 2/25.2 + 3/36. Worked by hand.
func TestEndurance(t *testing.T) {
	b := balloon.Battery{Chemistry: balloon.LithiumPrimary, Energy: balloon.WattHours(4.5), Count: 4, Draw: 0.5}
	assert.InDelta(t, 36*3600, b.Life(293.15), 1e-6)
	stays := []balloon.Stay{{3600, 293.15}, {7200, 253.15}, {3 * 3600, 293.15}}
	e, err := b.Over(stays)
	require.NoError(t, err)
	assert.InDelta(t, 6*3600, e.Wanted, 1e-9)
	assert.InDelta(t, 253.15, e.Coldest, 1e-12)
	assert.InDelta(t, 293.15-40./3, e.Mean, 1e-9)
	assert.InDelta(t, 25.2*3600, e.LifeColdest, 1e-6)
	assert.InDelta(t, 19.2*3600, e.Margin, 1e-6)
	assert.InDelta(t, 1./36+2/25.2+3./36, e.Used, 1e-12)
	assert.True(t, e.Lasts)
	assert.InDelta(t, e.Wanted, e.Dies, 1e-9)

	// Twenty times the draw: 1.8 h warm, 1.26 h cold. After the hour warm
	// 0.4444 is left, which lasts 0.56 h in the cold.
	b.Draw = 10
	e, err = b.Over(stays)
	require.NoError(t, err)
	assert.False(t, e.Lasts)
	assert.InDelta(t, 1.56*3600, e.Dies, 1e-6)
	assert.InDelta(t, (1.26-6)*3600, e.Margin, 1e-6)

	// Too cold to give anything.
	e, err = b.Over([]balloon.Stay{{600, 293.15}, {60, 203.15}})
	require.NoError(t, err)
	assert.False(t, e.Lasts)
	assert.True(t, math.IsInf(e.Used, 1))
	assert.InDelta(t, 600, e.Dies, 1e-9)
	assert.Zero(t, e.LifeColdest)
}

func TestEnduranceIsMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := balloon.Battery{
			Chemistry: rapid.SampledFrom(chemistries).Draw(t, "chemistry"),
			Energy:    rapid.Float64Range(1e3, 1e5).Draw(t, "energy"), Count: rapid.IntRange(1, 8).Draw(t, "count"),
			Draw: rapid.Float64Range(0.01, 5).Draw(t, "draw"),
		}
		var stays []balloon.Stay
		for range rapid.IntRange(1, 6).Draw(t, "stays") {
			stays = append(stays, balloon.Stay{Time: rapid.Float64Range(10, 20000).Draw(t, "time"), Temperature: rapid.Float64Range(220, 300).Draw(t, "temperature")})
		}
		e, err := b.Over(stays)
		require.NoError(t, err)
		assert.LessOrEqual(t, e.LifeColdest, e.LifeMean)
		assert.Equal(t, e.Used <= 1, e.Lasts)
		assert.LessOrEqual(t, e.Dies, e.Wanted*(1+1e-12))
		if e.Margin >= 0 {
			assert.True(t, e.Lasts, "lasts at the coldest, so it lasts")
		}
		b.Count++
		more, err := b.Over(stays)
		require.NoError(t, err)
		assert.GreaterOrEqual(t, more.Dies, e.Dies, "one more battery")
		assert.LessOrEqual(t, more.Used, e.Used)
	})
}

func TestBatteryRefuses(t *testing.T) {
	_, err := balloon.Battery{Energy: -1, Draw: math.NaN()}.Over(nil)
	for _, want := range []string{
		"battery: battery of chemistry 0: want lithium primary, lithium-ion", "battery energy -1 J", "draw NaN W", "batteries 0: want 1 to 1000", "stays 0: want 1",
	} {
		assert.ErrorContains(t, err, want)
	}
	b := balloon.Battery{Chemistry: balloon.Alkaline, Energy: 1e4, Count: 1, Draw: 1}
	_, err = b.Over([]balloon.Stay{{-5, 280}, {10, 20}})
	assert.ErrorContains(t, err, "stay 1: time -5 s")
	assert.ErrorContains(t, err, "stay 2: temperature 20 K")
	_, err = b.Over([]balloon.Stay{{0, 280}})
	assert.ErrorContains(t, err, "time of all stays 0 s")
}
