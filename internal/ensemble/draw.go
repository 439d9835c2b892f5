package ensemble

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
)

// Normal is an uncertain quantity: a normal law with its centre and one
// standard deviation, both in the same SI unit. Where the quantity has limits
// the law is cut off there.
type Normal struct{ Centre, Spread float64 }

func (n Normal) check(name, unit string, low, high float64) error {
	if !(n.Centre >= low && n.Centre <= high) || !(n.Spread >= 0 && n.Spread <= high-low) {
		return fmt.Errorf("%s %g ± %g %s: want %g to %g %s, with a spread from 0 to %g %s",
			name, n.Centre, n.Spread, unit, low, high, unit, high-low, unit)
	}
	return nil
}

// The dimensions of a draw, in order: the first five, then the modes of the
// wind error toward east and north by turns, the broadest mode first. This is
// the order in which Sobol' dimensions are used, too: those before are spread
// the more evenly. Their direction numbers are Joe's and Kuo's of 2008, set
// D(6) ([JoeKuo2008]; see directions.go).
const (
	ascentDimension = iota
	burstDimension
	landingDimension
	delayDimension
	memberDimension
	firstModeDimension
	windModes  = 24
	dimensions = firstModeDimension + 2*windModes
)

// The heights between which the wind error is linear: from mean sea level up.
const (
	errorSpacing = 1000.0 // m
	errorHeights = 51
)

// maxDelay bounds a launch delay, either way, s.
const maxDelay = 48 * 3600.0

// The heights from which a flight may be released, m above mean sea level.
const (
	minRelease = -500.0 // the lowest land is at -430 m
	maxRelease = balloon.MaxBurst
)

// Spec is what is uncertain about one launch, and how many flights to draw.
type Spec struct {
	// Launch is the release as planned, from -500 m to balloon.MaxBurst; its
	// train and wind error are not used, since they are drawn.
	Launch flight.Release
	// Ascent, Burst and Landing are the train's; see balloon.Train.
	Ascent, Burst, Landing Normal
	// Delay is how late the launch is, s.
	Delay Normal
	// WindError is the standard deviation of the wind error on each axis, m/s,
	// 0 to 50. What is drawn has less at each single height, 0.84 of it for a
	// WindScale of 1 km, 0.94 for 3 km, 0.98 for 10 km: variations too fine to
	// shift a landing are left out.
	WindError float64
	// WindScale is the height, m, 1 km to 50 km, over which the wind error's
	// correlation falls to 1/e.
	WindScale float64
	// Scrambles and PerScramble say how many flights: 1 to MaxScrambles times a
	// power of two up to 65,536, MaxFlights at most.
	Scrambles, PerScramble int
	// First is the number of the first scramble, from 0. The flights of a run
	// with First a and those of one with First 0 and a more scrambles are the
	// same from scramble a on; First + Scrambles is at most MaxScrambles.
	First int
	// Draws is how points are drawn. With Random a scramble is a group of
	// independent points.
	Draws Draws
	// Seed: the same seed gives the same flights.
	Seed uint64
	// Workers is how many blocks of flights are flown at once; 0 is one for
	// each processor. The answer does not depend on it.
	Workers int
}

// Check reports every fault of a spec.
func (s Spec) Check() error {
	errs := []error{
		s.Launch.At.Check(),
		s.Ascent.check("ascent rate", "m/s", balloon.MinAscent, balloon.MaxAscent),
		s.Burst.check("burst height", "m", balloon.MinBurst, balloon.MaxBurst),
		s.Landing.check("landing speed", "m/s", balloon.MinLanding, balloon.MaxLanding),
		s.Delay.check("launch delay", "s", -maxDelay, maxDelay),
	}
	if h := float64(s.Launch.Height); !(h >= minRelease && h <= maxRelease) {
		errs = append(errs, fmt.Errorf("release height %g m: want %g to %g m", h, minRelease, maxRelease))
	}
	if t := s.Launch.Time; math.IsNaN(t) || math.IsInf(t, 0) {
		errs = append(errs, fmt.Errorf("release time %g s: want a finite number", t))
	}
	if !(s.WindError >= 0 && s.WindError <= 50) {
		errs = append(errs, fmt.Errorf("wind error %g m/s: want 0 to 50 m/s", s.WindError))
	}
	if !(s.WindScale >= 1000 && s.WindScale <= 50e3) {
		errs = append(errs, fmt.Errorf("height scale of the wind error %g m: want 1000 to 50000 m", s.WindScale))
	}
	return errors.Join(append(errs, s.checkSampling())...)
}

// The most scrambles, and the most flights of one run.
const (
	MaxScrambles = 32768
	MaxFlights   = 64 * 65536
)

func (s Spec) checkSampling() error {
	var errs []error
	if s.Scrambles < 1 || s.Scrambles > MaxScrambles {
		errs = append(errs, fmt.Errorf("%d scrambles: want 1 to %d", s.Scrambles, MaxScrambles))
	} else if s.First < 0 || s.First > MaxScrambles-s.Scrambles {
		errs = append(errs, fmt.Errorf("first scramble %d of %d: want 0 to %d", s.First, s.Scrambles, MaxScrambles-s.Scrambles))
	}
	if n := s.PerScramble; n < 1 || n > 65536 || n&(n-1) != 0 {
		errs = append(errs, fmt.Errorf("%d flights in each scramble: want a power of two up to 65536", n))
	} else if s.Scrambles > MaxFlights/n && s.Scrambles <= MaxScrambles {
		errs = append(errs, fmt.Errorf("%d scrambles of %d flights: want at most %d flights", s.Scrambles, n, MaxFlights))
	}
	if int(s.Draws) >= len(drawNames) {
		errs = append(errs, fmt.Errorf("%v: want sobol or random", s.Draws))
	}
	return errors.Join(errs...)
}

// law is a normal law between two limits, with what its quantiles need.
type law struct {
	Normal
	low, high float64
	from, to  float64 // the whole law's shares below the limits
}

func (n Normal) between(low, high float64) law {
	l := law{Normal: n, low: low, high: high}
	if n.Spread > 0 {
		l.from, l.to = normalShare((low-n.Centre)/n.Spread), normalShare((high-n.Centre)/n.Spread)
	}
	return l
}

// quantile is the value below which a share p of the law lies.
func (l law) quantile(p float64) float64 {
	if l.Spread == 0 {
		return l.Centre
	}
	return min(max(l.Centre+l.Spread*normal(l.from+p*(l.to-l.from)), l.low), l.high)
}

// drawer turns points of the unit cube into releases.
type drawer struct {
	launch                        flight.Release
	ascent, burst, landing, delay law
	modes                         *mat.Dense                       // [height][mode], m/s for a standard normal amplitude
	rows                          [errorHeights][windModes]float32 // the same
}

func newDrawer(s Spec) *drawer {
	d := &drawer{
		launch:  s.Launch,
		ascent:  s.Ascent.between(balloon.MinAscent, balloon.MaxAscent),
		burst:   s.Burst.between(balloon.MinBurst, balloon.MaxBurst),
		landing: s.Landing.between(balloon.MinLanding, balloon.MaxLanding),
		delay:   s.Delay.between(-maxDelay, maxDelay),
		modes:   windErrorModes(s.WindError, s.WindScale),
	}
	for h := range d.rows {
		for k := range d.rows[h] {
			d.rows[h][k] = float32(d.modes.At(h, k))
		}
	}
	return d
}

// lanes is how many releases are drawn together.
const lanes = 4

// hand is room for drawing releases, to be used again.
type hand struct {
	points      [lanes][dimensions]float64
	amplitude   [windModes][2 * lanes]float32 // of each release toward east and north
	east, north [][errorHeights]float64       // of each release, m/s
	releases    []flight.Release
}

// newHand is room for so many releases.
func newHand(n int) *hand {
	n = (n + lanes - 1) / lanes * lanes
	return &hand{east: make([][errorHeights]float64, n), north: make([][errorHeights]float64, n), releases: make([]flight.Release, n)}
}

// draw makes releases of the points in the hand, from one place in it on.
func (d *drawer) draw(h *hand, from int) {
	highest := 0
	for lane := range lanes {
		u, r := &h.points[lane], &h.releases[from+lane]
		*r = d.launch
		r.Time += d.delay.quantile(u[delayDimension])
		r.Train = balloon.Train{
			Ascent:  d.ascent.quantile(u[ascentDimension]),
			Burst:   atmos.Geometric(d.burst.quantile(u[burstDimension])),
			Landing: d.landing.quantile(u[landingDimension]),
		}
		for k := range windModes {
			h.amplitude[k][2*lane] = float32(quickNormal(u[firstModeDimension+2*k]))
			h.amplitude[k][2*lane+1] = float32(quickNormal(u[firstModeDimension+2*k+1]))
		}
		// Up to the first height that the flight does not come to.
		n := min(max(int(max(r.Train.Burst, r.Height)/errorSpacing)+2, 1), errorHeights)
		highest = max(highest, n)
		r.Error = flight.WindError{Spacing: errorSpacing, East: h.east[from+lane][:n], North: h.north[from+lane][:n]}
	}
	for z := range highest {
		var sum [2 * lanes]float32
		for k, m := range &d.rows[z] {
			a := &h.amplitude[k]
			sum[0] += m * a[0]
			sum[1] += m * a[1]
			sum[2] += m * a[2]
			sum[3] += m * a[3]
			sum[4] += m * a[4]
			sum[5] += m * a[5]
			sum[6] += m * a[6]
			sum[7] += m * a[7]
		}
		for lane := range lanes {
			h.east[from+lane][z], h.north[from+lane][z] = float64(sum[2*lane]), float64(sum[2*lane+1])
		}
	}
}

// windErrorModes are the leading eigenvectors of the wind error's covariance
// between heights, σ²·exp(−|z−z'|/scale), each times the root of its
// eigenvalue (the Karhunen–Loève expansion).
//
// The standard deviation of the drift of a passage at constant speed, up from
// sea level through 10 km or more, is within 1 % of the covariance's own for
// scales of 2 km and more; toward a scale of 1 km, as little as the heights are
// apart, it grows to 4 % too much. The modes left out have under 0.2 % of it.
// Up to 2.5 km only it is 1.1 % too small at most; see TestWindErrorDrift.
func windErrorModes(sigma, scale float64) *mat.Dense {
	covariance := mat.NewSymDense(errorHeights, nil)
	for i := range errorHeights {
		for j := i; j < errorHeights; j++ {
			covariance.SetSym(i, j, math.Exp(-errorSpacing*float64(j-i)/scale))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(covariance, true) {
		panic("ensemble: a covariance of constant size and positive scale did not factorise")
	}
	values := eigen.Values(nil) // increasing
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	modes := mat.NewDense(errorHeights, windModes, nil)
	for k := range windModes {
		from := errorHeights - 1 - k
		size := sigma * math.Sqrt(max(values[from], 0))
		if vectors.At(0, from) < 0 {
			size = -size // an eigenvector's sign is arbitrary: fix it
		}
		for h := range errorHeights {
			modes.Set(h, k, size*vectors.At(h, from))
		}
	}
	return modes
}

// leadErrors are root mean square vector errors of forecast wind against
// radiosondes at 500 hPa, northern mid-latitudes, m/s, by lead time in hours:
// from memory, ±30 %, no source seen. WindErrorAt makes axis errors of them.
var leadErrors = [...]struct{ hours, vector float64 }{
	{6, 2.75}, {24, 4}, {72, 6}, {120, 9}, {168, 11},
}

// WindErrorAt is the standard deviation of the forecast wind's error on each
// axis, m/s, at a lead time in seconds, for a forecast of which nothing better
// is known.
//
// The published kind of score is of the vector, and holds the radiosonde's own
// error too: what is taken as forecast error is the score's square less half
// that of the shortest lead, since at short range the two are of about one size
// ([HollingsworthLonnberg1986], abstract), shared between two axes. It is
// linear between the leads of the table, constant before the first, and goes
// on growing after the last as between the last two.
func WindErrorAt(lead float64) float64 {
	axis := func(i int) float64 {
		v, short := leadErrors[i].vector, leadErrors[0].vector
		return math.Sqrt((v*v - short*short/2) / 2)
	}
	hours := lead / 3600
	if !(hours > leadErrors[0].hours) {
		return axis(0)
	}
	i := 1
	for i < len(leadErrors)-1 && hours > leadErrors[i].hours {
		i++
	}
	a, b := leadErrors[i-1].hours, leadErrors[i].hours
	return axis(i-1) + (axis(i)-axis(i-1))*(hours-a)/(b-a)
}
