package atmos_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
)

// Dynamic viscosity by geometric altitude. Source: computed apart from this
// code in Python from the formulas of the U.S. Standard Atmosphere 1976; they
// agree with its tables I and III, from memory, to the digits printed here.
func TestViscosityOfTheStandardAtmosphere(t *testing.T) {
	for _, c := range []struct {
		height    atmos.Geometric
		viscosity float64 // Pa·s
		digit     float64 // half a unit of the last digit
	}{
		{5000, 1.62825e-5, 0.5e-10},
		{10000, 1.4577e-5, 0.5e-9},
		{15000, 1.4216e-5, 0.5e-9},
		{20000, 1.4216e-5, 0.5e-9},
		{25000, 1.4484e-5, 0.5e-9},
		{30000, 1.4753e-5, 0.5e-9},
		{35000, 1.5287e-5, 0.5e-9},
		{40000, 1.6009e-5, 0.5e-9},
	} {
		air, ok := atmos.Standard(c.height)
		require.True(t, ok)
		assert.InDelta(t, c.viscosity, atmos.Viscosity(air.Temperature), c.digit, "Viscosity(%g K), %g m", air.Temperature, float64(c.height))
	}
	// Kinematic viscosity in 1e-5 m²/s below sea level, from a table of the
	// standard's properties on a web page that agrees with the formula.
	for _, c := range []struct {
		height    atmos.Geometric
		kinematic float64
	}{{-2000, 1.253}, {-1000, 1.352}, {-500, 1.405}} {
		air, ok := atmos.Standard(c.height)
		require.True(t, ok)
		got := atmos.Viscosity(air.Temperature) / air.Density * 1e5
		assert.InDelta(t, c.kinematic, got, 0.6e-3, "kinematic viscosity at %g m", float64(c.height))
	}
}
