// Package balloon is how a flight train moves in still air, and what that
// takes: from weighed parts, an envelope and its gas to the ascent, the burst,
// the fall under a canopy and the landing, the cylinders that the gas comes out
// of, and the batteries and radio that last as long as it is up.
//
// It hides the laws of lift, drag, burst, fall, opening and real gases, and each
// of them can be asked backward: what gas, envelope or canopy gives what is
// wanted. Train is the short form that three measured numbers make.
//
// Everything is SI: kg, m, s, Pa, K, mol; lift is in kg, as a scale shows it.
// Speeds are in m/s, positive in the direction of the leg that they belong to;
// heights are geometric metres above mean sea level; densities are kg/m³. It
// knows nothing of wind, and of the air, the terrain and the temperatures aloft
// only what it is given.
package balloon

import (
	"errors"
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
)

// Limits of a train. They are wider than any sounding balloon flies, and keep
// every loop that follows a flight bounded.
const (
	MinAscent  = 0.5   // m/s
	MaxAscent  = 15    // m/s
	MinBurst   = 100   // m above mean sea level
	MaxBurst   = 50e3  // m above mean sea level
	MinLanding = 0.5   // m/s
	MaxLanding = 100.0 // m/s
)

// Train is one flight's train, by how it was measured to move.
type Train struct {
	// Ascent is the rate of ascent, m/s, MinAscent to MaxAscent, the same at
	// every height.
	Ascent float64
	// Burst is the geometric height above mean sea level at which the envelope
	// bursts, MinBurst to MaxBurst.
	Burst atmos.Geometric
	// Landing is the speed of fall in air of atmos.SeaLevelDensity, m/s,
	// MinLanding to MaxLanding.
	Landing float64
}

// Check reports every quantity of the train that is outside its limits.
func (t Train) Check() error {
	var errs []error
	check := func(name string, value, low, high float64, unit string) {
		if !(value >= low && value <= high) {
			errs = append(errs, fmt.Errorf("%s %g %s: want %g to %g %s", name, value, unit, low, high, unit))
		}
	}
	check("ascent rate", t.Ascent, MinAscent, MaxAscent, "m/s")
	check("burst height", float64(t.Burst), MinBurst, MaxBurst, "m")
	check("landing speed", t.Landing, MinLanding, MaxLanding, "m/s")
	return errors.Join(errs...)
}

// Fall is the speed of fall under the canopy, m/s downward, in air of the
// given density in kg/m³, which must be positive.
//
// Weight balances drag, m·g = ½·ρ·Cd·S·v², so that v ∝ ρ^−½ for a canopy whose
// drag coefficient does not change with speed ([Knacke1991], §5).
func (t Train) Fall(density float64) float64 {
	return t.Landing * math.Sqrt(atmos.SeaLevelDensity/density)
}
