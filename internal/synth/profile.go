package synth

import (
	"math"

	"example.org/thistledown/internal/atmos"
)

// The mean temperature, 252.64 - 48.85 tanh((ζ - 0.587)/0.8445) + 3.55
// exp(ζ/2.307) K, is fitted to the U.S. Standard Atmosphere 1976 from 0 to 48 km
// and differs from it by 4.9 K at most. It is smooth, and its integral is closed.
const (
	meanLevel = 252.64 // K
	meanDrop  = 48.85  // K
	dropAt    = 0.587
	dropWidth = 0.8445
	meanRise  = 3.55 // K
	riseScale = 2.307

	// baseHeight is that of 1000 hPa in the standard atmosphere, geopotential m.
	baseHeight = 110.9
)

// mean is the geopotential in m²/s² and the temperature in K of the air without
// jets and waves.
func mean(zeta float64) (potential, temperature float64) {
	x := (zeta - dropAt) / dropWidth
	rise := meanRise * math.Exp(zeta/riseScale)
	temperature = meanLevel - meanDrop*math.Tanh(x) + rise
	potential = meanLevel*zeta - meanDrop*dropWidth*(logCosh(x)-logCosh(dropAt/dropWidth)) + riseScale*(rise-meanRise)
	return atmos.StandardGravity*baseHeight + atmos.GasConstant*potential, temperature
}

func logCosh(x float64) float64 {
	x = math.Abs(x)
	return x + math.Log1p(math.Exp(-2*x)) - math.Ln2
}

// shape is a profile over ζ and its derivative there.
type shape struct{ value, slope float64 }

// bump is 1 at a level and falls to 0.42 a width away.
func bump(zeta, at, width float64) shape {
	t := math.Tanh((zeta - at) / width)
	return shape{1 - t*t, -2 * t * (1 - t*t) / width}
}

// ramp rises from 0 to 1 around a level.
func ramp(zeta, at, width float64) shape {
	t := math.Tanh((zeta - at) / width)
	return shape{(1 + t) / 2, (1 - t*t) / (2 * width)}
}

func (s shape) times(f float64) shape   { return shape{f * s.value, f * s.slope} }
func (s shape) plus(other shape) shape  { return shape{s.value + other.value, s.slope + other.slope} }
func (s shape) minus(other shape) shape { return s.plus(other.times(-1)) }
func constantShape(value float64) shape { return shape{value, 0} }
func zetaOf(pressure float64) float64   { return math.Log(reference / pressure) }
func pressureAt(zeta float64) float64   { return reference * math.Exp(-zeta) }

// The shapes that waves have: what is shorter than a few thousand kilometres
// ends in the lower stratosphere, what is longer goes on (Charney and Drazin
// 1961, from memory). The numbers are set by hand so that the kinetic energy of
// the eddies has the profile of the GFS analyses of 22 March 2017 and 12
// September 2015, which TestEnergy reads.
func synoptic(zeta float64) shape {
	low := constantShape(1).minus(ramp(zeta, 1.9, 0.8))
	return bump(zeta, 1.35, 1.05).times(0.8).plus(low.times(0.32))
}

func planetary(zeta float64) shape {
	return synoptic(zeta).plus(ramp(zeta, 2.9, 1.1).times(0.6))
}
