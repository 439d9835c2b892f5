package balloon

import (
	"fmt"

	"example.org/thistledown/internal/atmos"
)

// Limits of a fill.
const (
	MaxMoles        = 1e6 // mol, about 24,000 m³ at the ground
	MinSuperheat    = -60 // K
	MaxSuperheat    = 80  // K
	MaxOverpressure = 5e3 // Pa
	MaxLeak         = 1.0 // of the gas, per hour
)

// airR is the molar gas constant of the standard atmosphere, 8.31432 J/(mol K).
// The gas aloft takes it and not the universalR of cylinders, so that air in air
// weighs nothing.
const airR = atmos.GasConstant * restMolar

// LiftingGas is what fills an envelope: helium, hydrogen or both, by shares of
// the amount of substance. What is missing from 1 is air.
type LiftingGas struct{ Helium, Hydrogen float64 }

// Check reports every fault of the gas; at least MinPurity of it must be light.
func (g LiftingGas) Check() error {
	var w wants
	w.between("share of helium", g.Helium, 0, 1, "(of the amount)")
	w.between("share of hydrogen", g.Hydrogen, 0, 1, "(of the amount)")
	if g.Helium >= 0 && g.Hydrogen >= 0 && !(g.Helium+g.Hydrogen >= MinPurity && g.Helium+g.Hydrogen <= 1+1e-12) {
		w = append(w, fmt.Errorf("helium and hydrogen together %.4g of the gas: want %g to 1, the rest is air", g.Helium+g.Hydrogen, MinPurity))
	}
	return w.err()
}

// MolarMass is that of the mixture, kg/mol.
func (g LiftingGas) MolarMass() float64 {
	return g.Helium*heliumMolar + g.Hydrogen*hydrogenMolar + (1-g.Helium-g.Hydrogen)*restMolar
}

// Density is that of the gas in kg/m³, ideal, at a pressure in Pa and a
// temperature in K. The real gas at the ground is 5e-4 thinner or less, on which
// the lift depends by less than 1e-4.
func (g LiftingGas) Density(pressure, temperature float64) float64 {
	return pressure * g.MolarMass() / (airR * temperature)
}

// Lift is what a cubic metre of the gas lifts besides itself, kg/m³, in air of
// the same pressure in Pa and temperature in K.
func (g LiftingGas) Lift(pressure, temperature float64) float64 {
	return atmos.Density(pressure, temperature) - g.Density(pressure, temperature)
}

// Filling is the gas in an envelope and how it differs from the air around.
type Filling struct {
	Gas LiftingGas
	// Moles is the amount at release, mol, impurities included, above 0 to
	// MaxMoles.
	Moles float64
	// Superheat is by how much the gas is warmer than the air, K, MinSuperheat to
	// MaxSuperheat: above zero in the sun, below it at night and where the gas
	// cools by its own expansion.
	Superheat float64
	// Overpressure is that of the stretched skin, Pa, 0 to MaxOverpressure, taken
	// as the same at every height.
	Overpressure float64
	// Leak is the rate at which gas is lost, as a share of what is left per hour,
	// 0 to MaxLeak.
	Leak float64
}

// Check reports every fault of the filling.
func (f Filling) Check() error {
	var w wants
	w.add("gas", f.Gas.Check())
	if !(f.Moles > 0 && f.Moles <= MaxMoles) {
		w = append(w, fmt.Errorf("gas %g mol: want above 0 to %g mol", f.Moles, MaxMoles))
	}
	w.between("superheat", f.Superheat, MinSuperheat, MaxSuperheat, "K")
	w.between("overpressure of the skin", f.Overpressure, 0, MaxOverpressure, "Pa")
	w.between("leak", f.Leak, 0, MaxLeak, "of the gas per hour")
	return w.err()
}

// Filled is the filling with the amount that a meter shows as a volume in m³ at
// its conditions, ideal.
func (f Filling) Filled(volume float64, at Conditions) Filling {
	f.Moles = volume * float64(at.Pressure) / (airR * at.Temperature)
	return f
}

// Volume is what a meter at its conditions shows for the gas, m³: the inverse of
// Filled. In the envelope it is less by the overpressure; see Lifter.At.
func (f Filling) Volume(at Conditions) float64 {
	return f.Moles * airR * at.Temperature / float64(at.Pressure)
}

// Mass is that of the gas at release, kg.
func (f Filling) Mass() float64 { return f.Moles * f.Gas.MolarMass() }

// molarVolume is what a mole of the gas takes in the air given, m³.
func (f Filling) molarVolume(air atmos.State) float64 {
	return airR * (air.Temperature + f.Superheat) / (air.Pressure + f.Overpressure)
}

// molarLift is what a mole of the gas lifts in the air given, kg.
func (f Filling) molarLift(air atmos.State) float64 {
	return air.Density*f.molarVolume(air) - f.Gas.MolarMass()
}
