package hazard

import (
	"math"

	"example.org/thistledown/internal/ground"
)

// People is how many people there are, out of doors, and how wide what falls on
// them is.
type People struct {
	Open, BuiltUp float64 // for each m², where nothing is built up and where it is
	Width         float64 // m, of the payload
}

// personRadius is that of the circle that a standing person takes up, m: of the
// size that launch safety analyses use, some 0.3 m (from memory).
const personRadius = 0.3

// Hit is the expected number of people that one flight's payload hits as it comes
// down, over the flights that landed: the mean of
//
//	E = density · π·(width/2 + 0.3 m)²
//
// with the density of the ground under each landing: the payload falls straight
// down, whoever stands closer to its middle than its half-width and their own is
// hit, and nobody steps aside. How hard they are hit is not in it: see the energy
// at the landing. Nor are the canopy's lines, cars, animals, and what breaks on
// the way. It is a yardstick for comparing launches, and no limit. 0 where no
// flight landed.
func (p People) Hit(flights []Met) float64 {
	sum, landed := 0.0, 0
	for _, f := range flights {
		if !f.Landed {
			continue
		}
		landed++
		if f.Under.Has(ground.BuiltUp) {
			sum += p.BuiltUp
		} else if !f.Under.Has(ground.Water) {
			sum += p.Open
		}
	}
	if landed == 0 {
		return 0
	}
	r := p.Width/2 + personRadius
	return sum / float64(landed) * math.Pi * r * r
}
