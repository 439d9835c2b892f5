package balloon_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// Densities and lift at a pressure of 1013.25 hPa. Source: computed apart from
// this code in Python from the molar masses 4.002602 (helium), 2.01588
// (hydrogen) and 28.9644 g/mol (air of the U.S. Standard Atmosphere 1976).
func TestLiftOfACubicMetre(t *testing.T) {
	for _, c := range []struct {
		name          string
		gas           balloon.LiftingGas
		celsius       float64
		density, lift float64 // kg/m³, density 0 where none is at hand
	}{
		{"helium", balloon.LiftingGas{Helium: 1}, 15, 0.16928, 1.0557},
		{"hydrogen", balloon.LiftingGas{Hydrogen: 1}, 15, 0.08526, 1.1397},
		{"helium", balloon.LiftingGas{Helium: 1}, 0, 0, 1.1137},
		{"hydrogen", balloon.LiftingGas{Hydrogen: 1}, 0, 0, 1.2023},
		{"helium", balloon.LiftingGas{Helium: 1}, 20, 0, 1.0377},
		{"hydrogen", balloon.LiftingGas{Hydrogen: 1}, 20, 0, 1.1203},
		{"helium 99 %", balloon.LiftingGas{Helium: 0.99}, 15, 0, 1.0452},
		{"helium 98 %", balloon.LiftingGas{Helium: 0.98}, 15, 0, 1.0346},
		{"helium 95 %", balloon.LiftingGas{Helium: 0.95}, 15, 0, 1.0029},
		// Half of each is the mean of the two.
		{"half and half", balloon.LiftingGas{Helium: 0.5, Hydrogen: 0.5}, 15, 0.12727, 1.0977},
	} {
		require.NoError(t, c.gas.Check())
		temp := c.celsius + 273.15
		assert.InDelta(t, c.lift, c.gas.Lift(101325, temp), 0.5e-4+1e-9, "Lift of %s at %g °C", c.name, c.celsius)
		if c.density > 0 {
			assert.InDelta(t, c.density, c.gas.Density(101325, temp), 0.6e-5, "Density of %s at %g °C", c.name, c.celsius)
		}
	}
}

// The ideal gas aloft against the real one of the cylinders at the ground: the
// bound that the comment of Density gives.
func TestIdealAgainstRealGasAtTheGround(t *testing.T) {
	at := balloon.Conditions{Pressure: 101325, Temperature: 288.15}
	for cyl, gas := range map[balloon.CylinderGas]balloon.LiftingGas{
		balloon.CylinderHelium:   {Helium: 1},
		balloon.CylinderHydrogen: {Hydrogen: 1},
	} {
		f := balloon.Filling{Gas: gas}.Filled(1.7, at)
		off := f.Moles/at.Moles(cyl, 1.7) - 1
		assert.Less(t, off, 7e-4, "%s", cyl)
		assert.Greater(t, off, 3e-4, "%s", cyl)
		assert.InDelta(t, 1.7, f.Volume(at), 1e-12)
	}
}

// Archimedes with superheat and overpressure: the volume is n·R·T/p of the gas,
// the lift the air displaced less the gas. At 12 hPa an overpressure of 2 hPa
// takes a seventh of the volume.
func TestSuperheatAndOverpressure(t *testing.T) {
	air := atmos.State{Temperature: 226.5, Pressure: 1200, Density: atmos.Density(1200, 226.5)}
	l := typical()
	plain := l.At(air)
	assert.InDelta(t, 135*8.31432*226.5/1200, plain.Volume, 1e-9*plain.Volume)
	gas := 135 * (0.99*4.002602e-3 + 0.01*28.9644e-3)
	assert.InDelta(t, gas, l.Filling.Mass(), 1e-12)
	assert.InDelta(t, plain.Volume*air.Density-gas, plain.Gross, 1e-12)
	assert.InDelta(t, plain.Gross-0.6, plain.Pull, 1e-12)
	assert.InDelta(t, plain.Gross-2.4, plain.Free, 1e-12)
	// A sphere of 4 m across holds 4/3·π·2³ = 33.510 m³.
	l.Filling.Moles *= 33.510322 / plain.Volume
	assert.InDelta(t, 4, l.At(air).Diameter, 1e-7)
	l.Filling.Moles = 135

	l.Filling.Overpressure = 200
	tight := l.At(air)
	assert.InDelta(t, 6.0/7, tight.Volume/plain.Volume, 1e-12, "a seventh of the volume")
	assert.InDelta(t, (plain.Volume-tight.Volume)*air.Density, plain.Gross-tight.Gross, 1e-12)

	l.Filling.Overpressure, l.Filling.Superheat = 0, 20
	warm := l.At(air)
	assert.InDelta(t, 246.5/226.5, warm.Volume/plain.Volume, 1e-12, "warm gas takes more room")
	assert.Greater(t, warm.Free, plain.Free, "and lifts more")
	l.Filling.Superheat = -20
	assert.Less(t, l.At(air).Free, plain.Free, "cold gas lifts less")
}

// Air in air weighs nothing: the gas aloft and the air have one gas constant.
func TestAirLiftsNothing(t *testing.T) {
	air := balloon.LiftingGas{}
	assert.InDelta(t, 0, air.Lift(101325, 288.15), 1e-12)
	require.Error(t, air.Check(), "and so is no lifting gas")
}

func TestFillingNamesEveryFault(t *testing.T) {
	f := balloon.Filling{Gas: balloon.LiftingGas{Helium: 0.8, Hydrogen: 0.4}, Moles: -1, Superheat: 500, Overpressure: -1, Leak: 2}
	err := f.Check()
	require.Error(t, err)
	assert.Equal(t, `gas: helium and hydrogen together 1.2 of the gas: want 0.5 to 1, the rest is air
gas -1 mol: want above 0 to 1e+06 mol
superheat 500 K: want -60 to 80 K
overpressure of the skin -1 Pa: want 0 to 5000 Pa
leak 2 of the gas per hour: want 0 to 1 of the gas per hour`, err.Error())
}
