package ensemble

import (
	"errors"
	"fmt"
	"math"

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
// wind error toward east and north by turns, the broadest mode first, then the
// course and what is particular to it, which shift the whole least and need
// nothing but even shares, then how far the wind error's own size is mistaken, then
// what little else is uncertain of a weighed train, and last what lies between the
// members of a forecast. Of a weighed train the
// first three are the drag of the envelope, its burst diameter and the drag of the
// canopies. This is the order in which Sobol' dimensions are used, too, but that
// normal values are turned (see turn): those before are spread the more evenly.
// Their direction numbers are Joe's and Kuo's of 2008, set D(6) ([JoeKuo2008];
// see directions.go).
const (
	ascentDimension = iota
	burstDimension
	landingDimension
	delayDimension
	memberDimension
	firstModeDimension
	windModes       = 24
	courseDimension = firstModeDimension + 2*windModes
	mannerDimension = courseDimension + 1
	// The size of the wind error toward east, and toward north.
	eastSizeDimension  = mannerDimension + 1
	northSizeDimension = eastSizeDimension + 1
	// Of a weighed train alone.
	gasDimension     = northSizeDimension + 1
	massDimension    = gasDimension + 1
	remainsDimension = massDimension + 1
	// Of a forecast with members alone: how much their scatter is mistaken, and
	// what lies between them; see dressing.
	scatterDimension = remainsDimension + 1
	dressDimension   = scatterDimension + 1
	dimensions       = dressDimension + dressModes

	dragDimension   = ascentDimension
	canopyDimension = landingDimension
)

// The heights between which the wind error is linear: from mean sea level up.
const (
	errorSpacing = 1000.0 // m
	errorHeights = 51
)

// maxDelay bounds a launch delay, either way, s.
const maxDelay = 48 * 3600.0

// maxLead bounds the age of a forecast, either way, s.
const maxLead = 60 * 24 * 3600.0

// DefaultWindDoubt is the doubt of WindErrorAt, whose scores are remembered within
// ±30 %: as the standard deviation of an even law of that width.
const DefaultWindDoubt = 0.3 / 1.7320508075688772

// MaxWindDoubt bounds the doubt of a wind error's size: one standard deviation is a
// factor of 1.65.
const MaxWindDoubt = 0.5

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
	// Weighed, if there is one, is what the train is drawn from; Ascent, Burst and
	// Landing are what that amounts to, by which no flight is drawn.
	Weighed *Weighed
	// Delay is how late the launch is, s.
	Delay Normal
	// OffNominal are the chances that a flight does not go as planned.
	OffNominal Chances
	// WindError is the standard deviation of the wind error on each axis, m/s,
	// 0 to 50, at every height; NaN: what WindErrorAt says of Lead and height.
	// What is drawn has less at each single height, 0.92 of it where WindScale
	// is NaN, 0.84 where it is 1 km: variations too fine to shift a landing are
	// left out.
	WindError float64
	// WindDoubt is how far that size is itself in doubt: the standard deviation of
	// its logarithm on each axis, 0 to MaxWindDoubt. Each flight has a size of its
	// own toward east and one toward north, log-normal, with the stated size as
	// their root mean square: what all flights scatter is the same, but more of
	// them come down in the middle and far out.
	WindDoubt float64
	// WindScale is the height, m, 1 km to 50 km, over which the wind error's
	// correlation falls to 1/e; NaN: 2 km up to 10 km, growing to 4.5 km at 20 km
	// (from memory, low confidence).
	WindScale float64
	// Lead is the age of the forecast at launch, s: how far the error has grown,
	// and how long and how far along the ground it stays correlated between the
	// way up and the way down. Up to 6 h, and before its start, it is taken as
	// 6 h old.
	Lead float64
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
		s.Weighed.check(),
	}
	if h := float64(s.Launch.Height); !(h >= minRelease && h <= maxRelease) {
		errs = append(errs, fmt.Errorf("release height %g m: want %g to %g m", h, minRelease, maxRelease))
	}
	if t := s.Launch.Time; math.IsNaN(t) || math.IsInf(t, 0) {
		errs = append(errs, fmt.Errorf("release time %g s: want a finite number", t))
	}
	if s.WindError < 0 || s.WindError > 50 {
		errs = append(errs, fmt.Errorf("wind error %g m/s: want 0 to 50 m/s, or NaN", s.WindError))
	}
	if !(s.WindDoubt >= 0 && s.WindDoubt <= MaxWindDoubt) {
		errs = append(errs, fmt.Errorf("doubt of the wind error's size %g: want 0 to %g", s.WindDoubt, MaxWindDoubt))
	}
	if s.WindScale < 1000 || s.WindScale > 50e3 {
		errs = append(errs, fmt.Errorf("height scale of the wind error %g m: want 1000 to 50000 m, or NaN", s.WindScale))
	}
	if !(math.Abs(s.Lead) <= maxLead) {
		errs = append(errs, fmt.Errorf("age of the forecast %g s: want %g to %g s", s.Lead, -maxLead, maxLead))
	}
	errs = append(errs, s.OffNominal.check()...)
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
	weigher                       *weigher // nil for a train that was measured
	chances                       Chances
	// up and down are the modes at each height of either way, m/s for a standard
	// normal amplitude.
	up, down [][windModes]float32
	law      errorLaw
	doubt    float64 // of its size
	used     int     // dimensions: scatterDimension, or all where members are dressed
	turn     *turn   // nil: each dimension is its own quantity's
}

// newDrawer makes a drawer for flights along a way.
func newDrawer(s Spec, w way) *drawer {
	d := &drawer{
		launch:  s.Launch,
		ascent:  s.Ascent.between(balloon.MinAscent, balloon.MaxAscent),
		burst:   s.Burst.between(balloon.MinBurst, balloon.MaxBurst),
		landing: s.Landing.between(balloon.MinLanding, balloon.MaxLanding),
		delay:   s.Delay.between(-maxDelay, maxDelay),
		chances: s.OffNominal,
		law:     s.errorLaw(),
		doubt:   s.WindDoubt,
		used:    scatterDimension,
	}
	if s.Weighed != nil {
		d.weigher = newWeigher(s.Weighed)
	}
	modes := windErrorModes(d.law, w)
	rows := make([][windModes]float32, len(w))
	for h := range rows {
		for k := range rows[h] {
			rows[h][k] = float32(modes.At(h, k))
		}
	}
	d.up, d.down = rows[:len(w)/2], rows[len(w)/2:]
	return d
}

// lanes is how many releases are drawn together.
const lanes = 4

// hand is room for drawing releases, to be used again.
type hand struct {
	points    [lanes][dimensions]float64
	normals   [lanes][dimensions]float64    // of points, turned
	amplitude [windModes][2 * lanes]float32 // of each release toward east and north
	errors    []tables                      // of each release
	releases  []flight.Release
	courses   []Course
	climbs    []climb // of weighed trains
	values    [lanes][mostValues]float64
	rates     [][errorHeights + 1]float64  // of flights on from a fix
	bursts    []float64                    // of them, m
	moves     [][2]float64                 // of where they end, m east and north
	dress     [rows * errorHeights]float32 // a sum under way
}

// tables are a release's wind error at each height, m/s.
type tables struct{ east, north, downEast, downNorth [errorHeights]float64 }

// newHand is room for so many releases.
func newHand(n int) *hand {
	n = (n + lanes - 1) / lanes * lanes
	return &hand{errors: make([]tables, n), releases: make([]flight.Release, n), courses: make([]Course, n)}
}

// normals writes the standard normal values of a point's normal dimensions. Where
// they are turned, the point's coordinates of the train and the launch are then
// those of what came out.
func (d *drawer) normals(u, z *[dimensions]float64) {
	first := firstModeDimension
	if d.turn != nil {
		first = 0
	}
	for k := first; k < d.used; k++ {
		if turned(k) {
			z[k] = quickNormal(u[k])
		}
	}
	if d.turn == nil {
		return
	}
	d.turn.apply(z)
	for k := range d.used {
		if ofLaunch(k) {
			u[k] = normalShare(z[k])
		}
	}
}

// draw makes releases of the points in the hand, from one place in it on.
func (d *drawer) draw(h *hand, from int) {
	highest := 0
	for lane := range lanes {
		u, z, r := &h.points[lane], &h.normals[lane], &h.releases[from+lane]
		d.normals(u, z)
		*r = d.launch
		r.Time += d.delay.quantile(u[delayDimension])
		h.courses[from+lane] = d.train(h, from+lane, u)
		east, north := d.sizes(u)
		for k := range windModes {
			h.amplitude[k][2*lane] = float32(east * z[firstModeDimension+2*k])
			h.amplitude[k][2*lane+1] = float32(north * z[firstModeDimension+2*k+1])
		}
		highest = max(highest, d.reach(h, from+lane))
	}
	d.errors(h, from, highest)
}

// reach gives a release in the hand room for its wind error, and says up to which height:
// the first that the flight does not come to.
func (d *drawer) reach(h *hand, i int) int {
	r, e := &h.releases[i], &h.errors[i]
	n := min(max(int(max(r.Train.Burst, r.Height)/errorSpacing)+2, 1), len(d.up))
	r.Error = flight.WindError{
		Spacing: errorSpacing, East: e.east[:n], North: e.north[:n], DownEast: e.downEast[:n], DownNorth: e.downNorth[:n],
	}
	return n
}

// errors writes the wind errors of releases in the hand up to a height, by their
// amplitudes.
func (d *drawer) errors(h *hand, from, highest int) {
	for z := 0; z < highest || d.law.skips(z-1); z++ {
		if d.law.skips(z) {
			continue
		}
		up, down := h.sum(&d.up[z]), h.sum(&d.down[z])
		for lane := range lanes {
			e := &h.errors[from+lane]
			e.east[z], e.north[z] = float64(up[2*lane]), float64(up[2*lane+1])
			e.downEast[z], e.downNorth[z] = float64(down[2*lane]), float64(down[2*lane+1])
			if d.law.skips(z - 1) {
				e.between(z - 1)
			}
		}
	}
}

// sizes are those of a point's wind error on each axis, in units of what the spec
// says: e^(σz - σ²) with z normal has a mean square of 1.
func (d *drawer) sizes(u *[dimensions]float64) (east, north float64) {
	if d.doubt == 0 {
		return 1, 1
	}
	of := func(u float64) float64 { return math.Exp(d.doubt * (quickNormal(u) - d.doubt)) }
	return of(u[eastSizeDimension]), of(u[northSizeDimension])
}

// train writes the train that a point stands for into a release in the hand, and
// the course that it takes.
func (d *drawer) train(h *hand, i int, u *[dimensions]float64) Course {
	r := &h.releases[i]
	course, rest := d.chances.draw(u[courseDimension])
	if d.weigher == nil {
		r.Train = balloon.Train{
			Ascent:  d.ascent.quantile(u[ascentDimension]),
			Burst:   atmos.Geometric(d.burst.quantile(u[burstDimension])),
			Landing: d.landing.quantile(u[landingDimension]),
		}
	} else {
		if h.climbs == nil {
			h.climbs = make([]climb, len(h.releases))
		}
		if floats := d.weigher.draw(u, r, &h.climbs[i]); floats && course != Float {
			// It hangs where it floats, and not lower down.
			r.Hover = within(LeastFloatTime, MostFloatTime, u[mannerDimension])
			return Float
		}
	}
	course.take(r, rest, u[mannerDimension])
	return course
}

// between writes the values at a height as half-way between those beside it.
func (e *tables) between(z int) {
	for _, v := range [...]*[errorHeights]float64{&e.east, &e.north, &e.downEast, &e.downNorth} {
		v[z] = (v[z-1] + v[z+1]) / 2
	}
}

// sum is each release's wind error where the modes are as given, toward east and
// north by turns, m/s.
func (h *hand) sum(modes *[windModes]float32) [2 * lanes]float32 {
	var s0, s1, s2, s3, s4, s5, s6, s7 float32 // not an array, which would not be kept in registers
	for k, m := range modes {
		a := &h.amplitude[k]
		s0 += m * a[0]
		s1 += m * a[1]
		s2 += m * a[2]
		s3 += m * a[3]
		s4 += m * a[4]
		s5 += m * a[5]
		s6 += m * a[6]
		s7 += m * a[7]
	}
	return [2 * lanes]float32{s0, s1, s2, s3, s4, s5, s6, s7}
}
