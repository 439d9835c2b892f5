package balloon

import (
	"fmt"
	"math"
)

// Limits of an envelope.
const (
	MinEnvelope = 0.005 // kg
	MaxEnvelope = 50    // kg
	MinBurstAt  = 0.2   // m across
	MaxBurstAt  = 60    // m across
)

// Envelope is a balloon without its gas.
type Envelope struct {
	// Mass is what the scale says and MassSpread one standard deviation of it, kg,
	// MinEnvelope to MaxEnvelope.
	Mass, MassSpread float64
	// Burst is the diameter at which it bursts, m, MinBurstAt to MaxBurstAt, as
	// its own papers give it, and BurstSpread one standard deviation of it, m.
	Burst, BurstSpread float64
	// FromMemory says that Burst is RememberedBurst's, which Warnings repeats.
	FromMemory bool
	// Fullest is the greatest volume at release that is held to be prudent, m³; 0
	// where none is given.
	Fullest float64
	// Remains is the share of the envelope that hangs on after the burst, 0 to 1,
	// and RemainsSpread one standard deviation of it.
	Remains, RemainsSpread float64
}

// Check reports every fault of the envelope.
func (e Envelope) Check() error {
	var w wants
	w.between("mass", e.Mass, MinEnvelope, MaxEnvelope, "kg")
	w.between("spread of the mass", e.MassSpread, 0, max(e.Mass, 0), "kg")
	w.between("burst diameter", e.Burst, MinBurstAt, MaxBurstAt, "m")
	w.between("spread of the burst diameter", e.BurstSpread, 0, max(e.Burst, 0)/2, "m")
	w.between("fullest volume at release", e.Fullest, 0, sphereVolume(MaxBurstAt), "m³")
	w.between("share that hangs on after the burst", e.Remains, 0, 1, "(share)")
	w.between("spread of the share that hangs on", e.RemainsSpread, 0, 0.5, "(share)")
	return w.err()
}

// Lightest and heaviest envelope that RememberedBurst speaks of, kg.
const (
	RememberedFrom = 0.100
	RememberedTo   = 3.000
)

// RememberedBurst is a burst diameter in m and one standard deviation of it for
// an envelope of a mass in kg: for want of the diameter that the envelope's own
// papers give. The error names the range for a mass outside it.
//
// FROM MEMORY, NOT SEEN: the root of the mass, as a skin that bursts at one
// thickness has it, with a factor that meets to 11 % the seven burst diameters
// that follow from a remembered meteorological table of envelopes of 100 g to
// 3000 g, their loads and greatest heights. (Those of 10 g and 30 g in it stretch
// a third less, and have no part.) The spread, 15 % of the diameter and so about
// 3 km of height, is a guess on the wide side.
func RememberedBurst(mass float64) (diameter, spread float64, err error) {
	if !(mass >= RememberedFrom && mass <= RememberedTo) {
		return 0, 0, fmt.Errorf("envelope %g kg: no burst diameter is remembered outside %g to %g kg; give the one of its papers",
			mass, RememberedFrom, RememberedTo)
	}
	diameter = rememberedAtKilogram * math.Sqrt(mass)
	return diameter, rememberedSpread * diameter, nil
}

// The fit behind RememberedBurst.
const (
	rememberedAtKilogram = 7.5  // m
	rememberedSpread     = 0.15 // of the diameter
)

// sphereVolume is that of a sphere of a diameter in m, m³.
func sphereVolume(diameter float64) float64 { return math.Pi / 6 * diameter * diameter * diameter }

// sphereDiameter is the inverse of sphereVolume.
func sphereDiameter(volume float64) float64 { return math.Cbrt(6 / math.Pi * volume) }
