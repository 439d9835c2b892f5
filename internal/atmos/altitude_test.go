package atmos

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// It is Standard, turned round, whose height in geopotential metres is
// r0·z/(r0 + z) with the standard's own radius.
func TestPressureAltitudeTurnsStandardRound(t *testing.T) {
	for z := Geometric(standardBottom); z <= standardTop; z += 37 {
		s, ok := Standard(z)
		require.True(t, ok)
		h, ok := PressureAltitude(s.Pressure)
		require.True(t, ok, "at %g m", z)
		require.InDelta(t, earthRadius*float64(z)/(earthRadius+float64(z)), float64(h), 1e-6, "at %g m", z)
	}
}

// Heights of standard pressure levels in geopotential metres as weather services
// round them (ICAO standard atmosphere; from memory).
func TestPressureAltitudeOfLevels(t *testing.T) {
	for hPa, want := range map[float64]float64{1013.25: 0, 850: 1457, 700: 3012, 500: 5574, 300: 9164, 200: 11784, 100: 16180, 50: 20576} {
		h, ok := PressureAltitude(100 * hPa)
		require.True(t, ok)
		assert.InDelta(t, want, float64(h), 0.7, "%g hPa", hPa)
	}
	for _, p := range []float64{math.NaN(), 0, -1, 0.5, 200e3, math.Inf(1)} {
		_, ok := PressureAltitude(p)
		assert.False(t, ok, "%g Pa", p)
	}
}
