package synth

import (
	"math"
	"math/rand/v2"
)

// numbers are the zonal wavenumbers of the waves: 1 goes once round the Earth,
// 45 is 630 km long at 45 degrees. With two of a number, whose shapes differ, no
// weather comes round again within the week.
var numbers = [...]int{
	1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 10, 11, 12, 13, 14, 16, 18, 20, 23, 26, 30, 34, 39, 45,
}

const (
	waveCount = len(numbers)

	// trapped is the least of the wavenumbers that do not reach the stratosphere.
	trapped = 6

	// peak scales the waves' envelope |sin³φ|·cos²φ to 1 where it is greatest, at
	// sin²φ = 3/5, 50.8 degrees: (5/3)^1.5 · 5/2.
	peak    = 5.379143536399187
	peakSin = 0.6 // squared
	peakCos = 0.6324555320336759

	// eddySpeed is the root-mean-square northward wind of all waves there, at 260
	// hPa but for the profile, which is 1.06 there, m/s.
	eddySpeed = 16.5

	// steering is the speed of the flow that carries the waves, and retrograde
	// the slowest, m/s; beta is the change of the Coriolis parameter northward at
	// 45 degrees, 1/(m s).
	steering   = 17.0
	retrograde = -4.0
	beta       = 2 * rotation * math.Sqrt2 / 2 / radius

	// slope is N/f, how much longer a weather system is than high (Charney 1971,
	// from memory), and scaleHeight what ζ = 1 is worth, m.
	slope       = 100.0
	scaleHeight = 7000.0
)

// wave is one travelling wave: Φ = size · profile(ζ) · peak·|sin³φ|·cos²φ · Re[amplitude ·
// exp(i(number·λ + along·φ + tilt·ζ - rate·t))].
type wave struct {
	number float64
	along  float64 // rad per rad of latitude
	tilt   float64 // rad per ζ
	rate   float64 // rad/s
	size   float64 // m²/s²
	high   bool    // reaches the stratosphere
	growth growth  // of errors
}

// newWaves draws what of the waves is not fixed. Speeds are Rossby's, the
// steering flow less β/(k² + l²) (Rossby 1939, from memory). The northward
// wind's variance is shared out with a maximum around wavenumber 6 and the
// inverse third power of the number beyond (Nastrom and Gage 1985, from memory).
func newWaves(r *rand.Rand) [waveCount]wave {
	var waves [waveCount]wave
	var share [waveCount]float64
	total := 0.0
	for i, n := range numbers {
		m := float64(n)
		below, above := max(i-1, 0), min(i+1, waveCount-1)
		width := float64(numbers[above]-numbers[below]) / float64(above-below)
		share[i] = width * (m / 6) / (1 + math.Pow(m/6, 4))
		total += share[i]
	}
	for i, n := range numbers {
		m := float64(n)
		k := m / (radius * math.Sqrt2 / 2) // 1/m at 45 degrees
		l := k * 1.3 * (2*r.Float64() - 1)
		speed := max(steering-beta/(k*k+l*l), retrograde)
		tilt := k * slope * scaleHeight * (0.3 + 0.7*r.Float64())
		if r.Float64() < 0.5 {
			tilt = -tilt
		}
		waves[i] = wave{
			number: m, along: l * radius, tilt: tilt, rate: k * speed, high: n < trapped, growth: newGrowth(m),
			// Northward wind as footprint has it, where the envelope is greatest.
			size: beltSpeed / (peak * peakSin * peakCos * m) * eddySpeed * math.Sqrt(2*share[i]/total),
		}
	}
	return waves
}

// amplitudes draws a weather: an amplitude for each wave with a mean square of
// one and no preferred phase.
func amplitudes(r *rand.Rand) [waveCount]complex128 {
	var a [waveCount]complex128
	for i := range a {
		size := math.Sqrt(0.5 + r.Float64())
		sin, cos := math.Sincos(2 * math.Pi * r.Float64())
		a[i] = complex(size*cos, size*sin)
	}
	return a
}

// Streams of random numbers: one for each thing that is drawn.
const (
	structureStream = iota // of waves and hills
	commonStream           // the weather without errors
	memberStream
	truthStream
)

// stream is the random numbers of one draw, which depend on seed, stream and
// index alone.
func (w *Week) stream(stream, index int) *rand.Rand {
	return rand.New(rand.NewPCG(w.seed, uint64(stream)<<32|uint64(uint32(index))))
}

// footprint is what a wave of amplitude 1 is at a place, with size but without
// profile: geopotential, and the winds that balance it. All three vanish at the
// equator and at the poles.
func (w wave) footprint(p place, t float64) (potential, east, north complex128) {
	sin, cos := math.Sincos(w.number*p.lon + w.along*p.lat - w.rate*t)
	turn := complex(peak*w.size*cos, peak*w.size*sin)
	s, c := p.sin, p.cos
	a := math.Abs(s)
	potential = complex(a*a*a*c*c, 0) * turn
	east = complex(-a*c*(3*c*c-2*s*s)/beltSpeed, -w.along*s*a*c*c/beltSpeed) * turn
	north = complex(0, w.number*s*a*c/beltSpeed) * turn
	return potential, east, north
}

// profile is by what footprint is to be multiplied on a level, and the
// derivative of that by ζ.
func (w wave) profile(zeta float64, high, low shape) (value, slope complex128) {
	s := low
	if w.high {
		s = high
	}
	sin, cos := math.Sincos(w.tilt * zeta)
	turn := complex(cos, sin)
	return complex(s.value, 0) * turn, complex(s.slope, w.tilt*s.value) * turn
}
