package synth

import "math"

// jet is a zonal flow: Φ = -height · profile(ζ) · (x·(always + seasonal·season·
// tanh(4 sin³φ)) - always/2) with x = (1 + tanh((sin²φ - at)/width))/2. It blows
// toward the east in both hemispheres where the inner bracket is positive, is
// finite at the equator and zero at the poles, and leaves the mean air as it is.
type jet struct {
	speed            float64 // at its latitude and level, with the inner bracket 1, m/s
	at, width        float64 // of sin²φ
	always, seasonal float64 // share the year round, and with the season of the hemisphere
	profile          func(zeta float64) shape
}

// jets are the subtropical jet, that of middle latitudes, and the stratosphere's
// vortex, westerly in winter and weakly easterly in summer. Speeds are set by
// hand after the GFS analyses that TestEnergy reads.
var jets = [...]jet{
	{24, 0.27, 0.11, 1, 0.3, tropopauseJet},
	{28, 0.53, 0.17, 1, 0.2, tropopauseJet},
	{50, 0.74, 0.20, 0.3, 0.7, vortex},
}

func tropopauseJet(zeta float64) shape { return bump(zeta, 1.6, 1.15) }

func vortex(zeta float64) shape { return ramp(zeta, 3.8, 1.3) }

// footprint is the jet at a place without profile: geopotential in m²/s² and
// eastward wind in m/s.
func (j jet) footprint(p place, season float64) (potential, east float64) {
	height := j.speed * beltSpeed * j.width / math.Sqrt(1-j.at)
	s := p.sin
	step := math.Tanh((s*s - j.at) / j.width)
	half := math.Tanh(4 * s * s * s) // the hemisphere
	x := (1 + step) / 2
	strength := j.always + j.seasonal*season*half
	slope := (1-step*step)/j.width*strength + x*j.seasonal*season*12*s*(1-half*half)
	return -height * (x*strength - j.always/2), height * p.cos / beltSpeed * slope
}
