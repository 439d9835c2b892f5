// Package synth is an invented week of weather: winds, temperatures and heights
// that no one measured and no model forecast, but that obey the balances of real
// ones, for demonstrations, load tests and calibration.
//
// It hides how the weather is made up. A geopotential is built first, as a sum
// of zonal jets and travelling waves with a closed form, on pressure surfaces
// and over the whole Earth; the rest follows from it:
//
//   - Temperature is hydrostatic, T = (1/R) ∂Φ/∂ζ with ζ = ln(1000 hPa/p), exactly
//     and everywhere.
//   - Wind is geostrophic, u = -Φ_y/f and v = Φ_x/f on a sphere, exactly above
//     friction. All of Φ is flat toward the equator in such a way that no
//     wind is left there but some 2 m/s of the jets' far sides: the invented
//     tropics are calm, without trade winds.
//   - So thermal wind holds exactly above friction. Friction turns wind toward
//     low pressure and slows it near the ground; at a height z above the ground
//     it changes the wind by at most 0.6·exp(-z/600 m) of itself: under 0.5 %
//     above 3 km. No wind is accelerated, none rises or sinks.
//
// Weather may be drawn any number of times: a Sky is a member of an ensemble or
// a truth, all of them the same weather at the start but for small errors, which
// grow until they are weathers of their own; Error is the law of it.
//
// Units are SI; times are seconds since the week's start. The package does not
// know what real weather there is, and nothing of it must be flown on.
package synth

import (
	"math"
	"time"

	"example.org/thistledown/internal/atmos"
)

const (
	radius    = 6371229.0 // m, the sphere of GRIB2 code table 3.2, entry 6
	rotation  = 7.292e-5  // of the Earth, rad/s
	beltSpeed = 2 * rotation * radius
	degree    = math.Pi / 180
	day       = 86400.0 // s

	reference = 100000.0 // Pa, where ζ is zero
)

// Week is invented weather: what all its draws have in common.
type Week struct {
	seed   uint64
	season float64 // 1 in the middle of northern winter, -1 half a year later
	hour   float64 // UTC at the start
	jets   [len(jets)]jet
	waves  [waveCount]wave
	hills  [hillCount]hill
	common [waveCount]complex128 // what the waves are without any error
}

// New is the week that a seed stands for. start is its first instant: the
// season decides on jets and vortex, the hour on the time of day.
func New(seed uint64, start time.Time) *Week {
	start = start.UTC()
	w := &Week{
		seed:   seed,
		season: math.Cos(2 * math.Pi * (float64(start.YearDay()) - 15) / 365.25),
		hour:   start.Sub(start.Truncate(24 * time.Hour)).Hours(),
		jets:   jets,
	}
	r := w.stream(structureStream, 0)
	w.waves = newWaves(r)
	w.hills = newHills(r)
	w.common = amplitudes(w.stream(commonStream, 0))
	return w
}

// Air is the state of the air at a place, height and time.
type Air struct {
	East, North float64 // wind toward there, m/s
	Temperature float64 // K
	Pressure    float64 // Pa
	Height      atmos.Geopotential
}

// Surface is the weather at the ground.
type Surface struct {
	Terrain       atmos.Geometric // height of the ground, the same at all times
	East, North   float64         // wind 10 m above ground, toward there, m/s
	Gust          float64         // m/s
	Cloud         float64         // %
	Precipitation float64         // kg m⁻² s⁻¹
	Visibility    float64         // m
	CAPE          float64         // J/kg
}
