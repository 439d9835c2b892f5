package synth

import "math"

// How errors of the wave of number 6 begin and grow: the share of the saturated
// variance at the start, and the exponential rate while it is small. Set by hand
// so that winds of two members at 250 hPa differ as forecasts and radiosondes
// do, 3 to 4 m/s at the start, 5 after a day, 8 after three and 15 after seven
// (root-mean-square vectors, from memory).
const (
	initialError = 0.01
	errorGrowth  = 0.5 / day // 1/s

	// Shorter waves begin with more and grow faster.
	initialPower = 1.5
	growthPower  = 1.0 / 3
	greatest     = 0.3 // of initial shares
)

// Error is the law by which draws drift apart: how much of the variance of a
// wave of this zonal number is error at a time in seconds since the start, 0 to
// 1. It is logistic, E' = αE(1 - E) (Lorenz 1982, from memory) with E(0) = 0.01
// (m/6)^1.5, 0.3 at most, and α = 0.5 (m/6)^⅓ per day.
//
// The amplitude of that wave in a draw is √(1-E)·common + √E·its own; each has
// the same variance, so that weather is as strong at any lead time, and two
// members' winds differ by twice E of the wave's variance.
func Error(number, t float64) float64 { return newGrowth(number).at(t) }

// growth is the law for one wave.
type growth struct {
	odds float64 // E/(1-E) at the start
	rate float64 // of these, 1/s
}

func newGrowth(number float64) growth {
	first := min(initialError*math.Pow(number/6, initialPower), greatest)
	return growth{first / (1 - first), errorGrowth * math.Pow(number/6, growthPower)}
}

func (g growth) at(t float64) float64 {
	odds := g.odds * math.Exp(g.rate*t)
	return odds / (1 + odds)
}

// Sky is one draw of a week's weather.
type Sky struct {
	week  *Week
	own   [waveCount]complex128
	scale float64
}

// Member is the draw of an ensemble's member, whose numbers start at 0. All of
// them are equals: none is nearer to the common weather than the others.
func (w *Week) Member(n int) *Sky {
	return &Sky{week: w, own: amplitudes(w.stream(memberStream, n)), scale: 1}
}

// Truth is a draw of what really happens, independent of the members and of
// other truths, with errors of its own size: scale times those of a member, 0
// or more, until they saturate.
func (w *Week) Truth(n int, scale float64) *Sky {
	return &Sky{week: w, own: amplitudes(w.stream(truthStream, n)), scale: scale}
}

// amplitude is that of wave i at a time.
func (s *Sky) amplitude(i int, t float64) complex128 {
	e := min(s.scale*s.scale*s.week.waves[i].growth.at(t), 1)
	return complex(math.Sqrt(1-e), 0)*s.week.common[i] + complex(math.Sqrt(e), 0)*s.own[i]
}

// Spread is the root-mean-square difference of two members' wind vectors at a
// place given by its latitude in degrees, on a pressure in Pa, above friction:
// what Error makes of it, in closed form, m/s.
func (w *Week) Spread(lat, pressure, t float64) float64 {
	p := placeAt(lat, 0)
	level := w.level(pressure)
	sum := 0.0
	for i, v := range w.waves {
		_, east, north := v.footprint(p, 0)
		sum += v.growth.at(t) * square(level.waves[i].value) * (square(east) + square(north))
	}
	return math.Sqrt(sum)
}

func square(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
