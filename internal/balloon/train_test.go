package balloon_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// The ratio of fall speeds at a geometric height and at sea level in the U.S.
// Standard Atmosphere 1976, √(ρ₀/ρ). Source: computed apart from this code in
// Python, double precision, from the standard's own formulas.
func TestFallGrowsAsInverseRootOfDensity(t *testing.T) {
	for _, c := range []struct {
		height atmos.Geometric
		ratio  float64
	}{
		{5000, 1.28974},
		{10000, 1.72117},
		{20000, 3.71187},
		{30000, 8.15716},
		{35000, 12.03085},
	} {
		air, ok := atmos.Standard(c.height)
		require.True(t, ok)
		train := balloon.Train{Ascent: 5, Burst: 30000, Landing: 4}
		got := train.Fall(air.Density) / 4
		assert.InDelta(t, c.ratio, got, 0.6e-5*c.ratio, "Fall at %g m over Fall at sea level", float64(c.height))
	}
}

// A 1.5 kg load under a canopy of 1.2 m with Cd 0.775 falls at 5.234508 m/s at
// 1.225 kg/m³, 19.430 m/s at 20 km and 42.699 m/s at 30 km. Source: worked from
// v = √(2mg/(ρ·CdS)), CdS = 0.876504 m², g = 9.80665 m/s²; Cd within the range
// that Knacke 1991, Table 5-1, gives for flat circular canopies.
func TestFallOfAWorkedCanopy(t *testing.T) {
	train := balloon.Train{Ascent: 5, Burst: 30000, Landing: 5.234508}
	for _, c := range []struct {
		height atmos.Geometric
		speed  float64
	}{
		{0, 5.234508},
		{20000, 19.430},
		{30000, 42.699},
	} {
		air, ok := atmos.Standard(c.height)
		require.True(t, ok)
		got := train.Fall(air.Density)
		assert.InDelta(t, c.speed, got, 0.0006, "Fall at %g m", float64(c.height))
	}
}

func TestCheckReportsEveryFault(t *testing.T) {
	good := balloon.Train{Ascent: 5, Burst: 30000, Landing: 5}
	require.NoError(t, good.Check())
	bad := balloon.Train{Ascent: math.NaN(), Burst: 60e3, Landing: -1}
	err := bad.Check()
	require.Error(t, err)
	assert.Equal(t, "ascent rate NaN m/s: want 0.5 to 15 m/s\n"+
		"burst height 60000 m: want 100 to 50000 m\n"+
		"landing speed -1 m/s: want 0.5 to 100 m/s", err.Error())
}

func ExampleTrain_Fall() {
	train := balloon.Train{Ascent: 5, Burst: 30000, Landing: 5}
	air, _ := atmos.Standard(30000)
	fmt.Printf("at the ground %.1f m/s, at 30 km %.1f m/s\n", train.Fall(atmos.SeaLevelDensity), train.Fall(air.Density))
	// Output: at the ground 5.0 m/s, at 30 km 40.8 m/s
}
