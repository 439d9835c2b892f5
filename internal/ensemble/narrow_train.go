package ensemble

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/mat"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/wind"
)

// What the logarithm of a vertical speed does along a flight, beside being off as a whole:
// it varies with height, by so much over so many metres (an exponential correlation), and
// by as much again over many more. Measured on the ascents of eight radiosondes to 6 to
// 36 km (ARM, Southern Great Plains and Tropical Western Pacific; Altenstadt): standard
// deviations of 0.09 to 0.28 over 500 m, of which a correlation of 0.5 to 0.7 is left
// 500 m higher in most, and thirds of a flight 0.06 off the whole. Of falls no such record
// was at hand: taken as of climbs.
var measuredRoughness = roughness{{0.13, 1e3}, {0.06, 15e3}}

// roughness is such processes: standard deviations and scales, m.
type roughness [2]struct{ sigma, scale float64 }

// between is the covariance of the means over two spans.
func (r roughness) between(a, b span) (sum float64) {
	for _, p := range r {
		if p.sigma == 0 {
			continue
		}
		sum += p.sigma * p.sigma * smoothed(a, b, p.scale)
	}
	return sum
}

// gauss is a normal law.
type gauss struct{ mean, variance float64 }

// span is a piece of a climb or a fall with the logarithm of how its speed compares with
// what was planned.
type span struct {
	low, high float64 // m
	log       float64
	noise     float64 // variance by the fixes' errors
}

// smoothed is the mean over two spans of the covariance of a process that is correlated
// over a scale, in units of its variance.
func smoothed(a, b span, scale float64) float64 {
	// The second integral of e^(-|x|/scale).
	f := func(x float64) float64 { x = math.Abs(x); return scale * (x + scale*math.Expm1(-x/scale)) }
	sum := f(a.high-b.low) + f(a.low-b.high) - f(a.high-b.high) - f(a.low-b.low)
	return sum / ((a.high - a.low) * (b.high - b.low))
}

// apart is the law of what is the same all over a span, where a law is given of the mean:
// what varies along it is a part of that.
func (r roughness) apart(of gauss, whole span) gauss {
	of.variance = max(of.variance-r.between(whole, whole), of.variance/4)
	return of
}

// conditioned is the law of the logarithm of the speed over a span ahead, and the
// logarithm of the density of what was seen, under a prior of the whole's.
func (r roughness) conditioned(seen []span, ahead span, prior gauss) (law gauss, evidence float64) {
	rough := r.between
	law = gauss{prior.mean, prior.variance + rough(ahead, ahead)}
	m := len(seen)
	if m == 0 {
		return law, 0
	}
	c := mat.NewSymDense(m, nil)
	to, off := mat.NewVecDense(m, nil), mat.NewVecDense(m, nil)
	for i := range seen {
		for j := range i + 1 {
			v := prior.variance + rough(seen[i], seen[j])
			if i == j {
				v += seen[i].noise + 1e-6
			}
			c.SetSym(i, j, v)
		}
		to.SetVec(i, prior.variance+rough(seen[i], ahead))
		off.SetVec(i, seen[i].log-prior.mean)
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return law, 0
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, off); err != nil {
		return law, 0
	}
	law.mean += mat.Dot(to, &x)
	evidence = -(mat.Dot(off, &x) + chol.LogDet()) / 2
	if err := chol.SolveVecTo(&x, to); err != nil {
		return law, evidence
	}
	law.variance = max(law.variance-mat.Dot(to, &x), 1e-8)
	return law, evidence
}

// priors are the laws of a train before it was seen, by the flights of a spec: of the
// logarithms of the rate of ascent and of the speed of fall, as shares of the planned, and
// of the height of the burst, m.
type priors struct {
	rate, fall, burst       gauss
	rateBurst               float64 // covariance
	planned                 flight.Profile
	ascent, landing, floats float64 // m/s, m/s, share of the trains
}

// priorFlights is how many trains are drawn for it.
const priorFlights = 256

func newPriors(s Spec, d *drawer) priors {
	as := *d
	as.chances, as.turn = Chances{}, nil
	h := newHand(priorFlights + lanes)
	middle := [dimensions]float64{}
	for k := range middle {
		middle[k] = 0.5
	}
	h.releases[0] = d.launch
	as.train(h, 0, &middle)
	first := &h.releases[0]
	p := priors{ascent: first.Train.Ascent, landing: first.Train.Landing}
	p.planned = flight.Profile{Spacing: first.Profile.Spacing, Rate: append([]float64(nil), first.Profile.Rate...)}
	var x [priorFlights][3]float64
	var mean [3]float64
	for i := range x {
		var u [dimensions]float64
		randomPoint(s.Seed, 1<<31, uint64(i), u[:])
		h.releases[1+i] = d.launch
		if as.train(h, 1+i, &u) == Float {
			p.floats += 1.0 / priorFlights
		}
		t := h.releases[1+i].Train
		x[i] = [3]float64{math.Log(t.Ascent / p.ascent), math.Log(t.Landing / p.landing), float64(t.Burst)}
		for k := range mean {
			mean[k] += x[i][k] / priorFlights
		}
	}
	var c [3][3]float64
	for i := range x {
		for k := range c {
			for l := range c {
				c[k][l] += (x[i][k] - mean[k]) * (x[i][l] - mean[l]) / (priorFlights - 1)
			}
		}
	}
	p.rate, p.fall, p.burst = gauss{mean[0], c[0][0]}, gauss{mean[1], c[1][1]}, gauss{mean[2], c[2][2]}
	p.rateBurst = c[0][2]
	return p
}

// rateAt is the planned rate of ascent at a height, m/s.
func (p *priors) rateAt(z float64) float64 {
	if len(p.planned.Rate) == 0 {
		return p.ascent
	}
	return p.planned.At(z)
}

// climbTime is how long the planned train takes between two heights, s.
func (p *priors) climbTime(low, high float64) float64 {
	n := max(int((high-low)/200)+1, 1)
	sum := 0.0
	for i := range n {
		sum += (high - low) / float64(n) / p.rateAt(low+(high-low)*(float64(i)+0.5)/float64(n))
	}
	return sum
}

// fates are the laws of a train after it was seen.
type fates struct {
	priors
	track  *track
	launch flight.Release
	until  [Courses]float64 // cumulative shares of the courses, from the second on and then the first, as Chances.draw
	rate   [Courses]gauss   // of what is left of the climb
	fall   [Courses]fallLaw
	most   float64 // m: the highest fix
	hangs  float64 // s that it was seen to hang
}

// fallLaw is the law of the logarithm of the speed of fall: at even steps from low on,
// the share below each, and the height of the burst that goes with it, m, NaN where
// nothing tells.
type fallLaw struct {
	low, step float64
	below     []float64
	burst     []float64
}

// fallSteps is how many steps a fallLaw has.
const fallSteps = 160

// leakFactor is the law of the logarithm of what a slow leak does to a climb.
func leakFactor() gauss {
	const n = 64
	var g gauss
	for i := range n {
		x := math.Log(within(LeastLeakFactor, MostLeakFactor, (float64(i)+0.5)/n))
		g.mean += x / n
		g.variance += x * x / n
	}
	g.variance -= g.mean * g.mean
	return g
}

// newFates conditions a train on a track.
func (n *narrowing) newFates(p priors, t *track) *fates {
	s, fallTime := n.spec, n.fallTime
	f := &fates{priors: p, track: t, launch: s.Launch}
	for i := range t.fixes {
		f.most = max(f.most, float64(t.fixes[i].Height))
	}
	up := spansOf(t.fixes[:min(t.hang+1, t.fall)], func(a, b *Fix) (float64, bool) {
		return p.climbTime(float64(a.Height), float64(b.Height)), b.Height > a.Height
	})
	down := spansOf(t.fixes[t.fall:], func(a, b *Fix) (float64, bool) {
		return fallTime(float64(a.Height), float64(b.Height)) / p.landing, a.Height > b.Height
	})
	now := float64(t.last().Height)
	ahead := span{low: now, high: max(p.burst.mean, now+1000)}
	top := now
	if t.fall == len(t.fixes) {
		top = ahead.high
	}
	below := span{low: top - max(top-float64(s.Launch.Height), 500), high: top}
	whole := span{low: float64(s.Launch.Height), high: max(p.burst.mean, float64(s.Launch.Height)+1000)}
	leak := leakFactor()
	var weight [Courses]float64
	most := math.Inf(-1)
	for c := range Courses {
		chance := s.OffNominal.of(Course(c))
		switch Course(c) {
		case Nominal:
			chance = 1 - s.OffNominal.Sum()
		case Float:
			chance += p.floats * (1 - s.OffNominal.Sum())
		}
		rate, fall := n.rough.apart(p.rate, whole), n.rough.apart(p.fall, whole)
		switch Course(c) {
		case SlowLeak:
			rate.mean, rate.variance = rate.mean+leak.mean, rate.variance+leak.variance
		case CanopyFails:
			fall.mean += math.Log(CanopyFailsFactor)
		case CanopyFouled:
			fall.mean -= math.Log(FouledShare) / 2
		}
		var seen float64
		f.rate[c], seen = n.rough.conditioned(up, ahead, rate)
		seen += f.reached(Course(c))
		if t.phase == Hanging != (Course(c) == Float) && (t.phase == Hanging || t.hang < t.fall) {
			seen = math.Inf(-1)
		}
		law, fell := n.rough.conditioned(down, below, fall)
		var burst float64
		f.fall[c], burst = f.falling(Course(c), law, fallTime)
		weight[c] = math.Log(chance) + seen + fell + burst
		most = max(most, weight[c])
	}
	f.share(weight, most)
	if t.hang < t.fall {
		f.hangs = t.fixes[t.fall-1].Time - t.fixes[t.hang].Time
	}
	return f
}

// share turns logarithms of weights into cumulative shares. Where nothing that was thought
// of explains the fixes it is flown on as planned, or as it hangs.
func (f *fates) share(weight [Courses]float64, most float64) {
	var shares [Courses]float64
	sum := 0.0
	for c, w := range weight {
		if !math.IsInf(most, 0) && !math.IsNaN(most) {
			shares[c] = math.Exp(w - most)
		}
		sum += shares[c]
	}
	if !(sum > 0) {
		only := Nominal
		if f.track.phase == Hanging {
			only = Float
		}
		shares[only], sum = 1, 1
	}
	at := 0.0
	for c := EarlyBurst; int(c) < Courses; c++ {
		at += shares[c] / sum
		f.until[c] = at
	}
	f.until[Nominal] = 1
}

// spansOf are the pieces between fixes, with the time that a planned train takes for each.
func spansOf(fixes []Fix, planned func(a, b *Fix) (seconds float64, ok bool)) []span {
	var spans []span
	for _, pair := range thinned(fixes) {
		a, b := &fixes[pair[0]], &fixes[pair[1]]
		seconds, ok := planned(a, b)
		metres := math.Abs(float64(b.Height - a.Height))
		sigma := math.Hypot(a.sigma(), b.sigma())
		if !ok || metres < 3*sigma || metres < 1 {
			continue
		}
		spans = append(spans, span{
			low: float64(min(a.Height, b.Height)), high: float64(max(a.Height, b.Height)),
			log: math.Log(seconds / (b.Time - a.Time)), noise: sigma * sigma / (metres * metres),
		})
	}
	return spans
}

// reached is the logarithm of the probability that a train of a course comes as high as
// the highest fix before anything happens.
func (f *fates) reached(c Course) float64 {
	way := f.burst.mean - float64(f.launch.Height)
	gone := (f.most - float64(f.launch.Height)) / way
	var p float64
	switch {
	case f.track.fall < len(f.track.fixes) || f.track.phase == Hanging:
		return 0 // where it burst, or hangs, says more
	case c == EarlyBurst:
		p = 1 - gone
	case c == Float:
		p = (MostFloatShare - gone) / (MostFloatShare - LeastFloatShare)
	default:
		p = normalShare((f.burst.mean - f.most) / math.Sqrt(f.burst.variance+1))
	}
	// What comes higher than it can has not come by this way, but one must have.
	return math.Log(min(max(p, 1e-9), 1))
}

// falling is the law of the speed of fall of a course, where law is what the falling fixes
// by themselves say, and the logarithm of the density of what the burst between the last
// fix of the climb and the first of the fall says.
func (f *fates) falling(c Course, law gauss, fallTime func(high, low float64) float64) (fallLaw, float64) {
	sigma := math.Sqrt(law.variance)
	out := fallLaw{low: law.mean - 5*sigma, step: 10 * sigma / fallSteps}
	t := f.track
	told := t.fall > 0 && t.fall < len(t.fixes) && t.hang == t.fall
	sum, last := 0.0, 0.0
	for k := range fallSteps + 1 {
		x := (float64(k)/fallSteps - 0.5) * 10
		density := math.Exp(-x * x / 2)
		burst := math.NaN()
		if told {
			speed := f.landing * math.Exp(out.low+float64(k)*out.step)
			burst = f.burstBetween(&t.fixes[t.fall-1], &t.fixes[t.fall], math.Exp(f.rate[c].mean), speed, fallTime)
			density *= f.burstDensity(c, burst)
		}
		if k > 0 {
			sum += (last + density) / 2 * 10 / fallSteps / math.Sqrt(2*math.Pi)
		}
		last = density
		out.below, out.burst = append(out.below, sum), append(out.burst, burst)
	}
	if !(sum > 0) {
		return out, math.Inf(-1)
	}
	for k := range out.below {
		out.below[k] /= sum
	}
	return out, math.Log(sum)
}

// burstDensity is the density of the burst's height for a course, 1/m.
func (f *fates) burstDensity(c Course, z float64) float64 {
	if math.IsNaN(z) {
		return 0
	}
	if c == EarlyBurst {
		low, high := float64(f.launch.Height), f.burst.mean
		sigma := math.Sqrt(f.burst.variance + 1)
		return normalShare((high-z)/sigma) / max(high-low, 1)
	}
	// The height between two fixes is known to some hundred metres only: the rate varies.
	sigma := math.Sqrt(f.burst.variance + 100*100)
	x := (z - f.burst.mean) / sigma
	return math.Exp(-x*x/2) / sigma / math.Sqrt(2*math.Pi)
}

// burstBetween is the height, m, at which a train that climbs by a factor faster than
// planned and falls at a speed bursts between two fixes; NaN where it cannot.
func (f *fates) burstBetween(a, b *Fix, factor, speed float64, fallTime func(high, low float64) float64) float64 {
	low := float64(max(a.Height, b.Height))
	takes := func(z float64) float64 {
		return f.climbTime(float64(a.Height), z)/factor + fallTime(z, float64(b.Height))/speed
	}
	seconds := b.Time - a.Time
	// Of fixes so near the burst the errors may say that there was no time for one.
	if takes(low) > seconds+2*math.Hypot(a.sigma(), b.sigma())/min(f.rateAt(low)*factor, speed) {
		return math.NaN()
	}
	high := low + seconds*f.rateAt(low)*factor + 1
	if high > balloon.MaxBurst {
		high = balloon.MaxBurst
	}
	for range 30 {
		if middle := (low + high) / 2; takes(middle) < seconds {
			low = middle
		} else {
			high = middle
		}
	}
	return low
}

// draw writes the rest of a flight that a point stands for into a release from the last
// fix. rates is room for its profile. burst is the height of the burst where it is past.
func (f *fates) draw(u *[dimensions]float64, r *flight.Release, rates []float64) (c Course, burst float64) {
	for c = EarlyBurst; int(c) < Courses && u[courseDimension] >= f.until[c]; c++ {
	}
	if int(c) == Courses {
		c = Nominal
	}
	var speed float64
	speed, burst = f.fall[c].quantile(u[landingDimension])
	r.Train.Landing = min(max(f.landing*math.Exp(speed), balloon.MinLanding), balloon.MaxLanding)
	r.Train.Ascent = min(max(f.ascent, balloon.MinAscent), balloon.MaxAscent)
	r.Profile, r.Hover = flight.Profile{}, 0
	now := float64(r.Height)
	if f.track.phase == Falling {
		r.Train.Burst = r.Height
		if math.IsNaN(burst) {
			burst = f.most
		}
		return c, burst
	}
	if f.track.phase == Hanging {
		r.Train.Burst = r.Height
		left := MostFloatTime - max(f.hangs, LeastFloatTime)
		r.Hover = max(LeastFloatTime-f.hangs, 0) + u[mannerDimension]*max(left, LeastFloatTime)
		return c, now
	}
	law := f.rate[c]
	x := law.mean + math.Sqrt(law.variance)*quickNormal(u[ascentDimension])
	factor := math.Exp(x)
	if len(f.planned.Rate) == 0 {
		r.Train.Ascent = min(max(f.ascent*factor, balloon.MinAscent), balloon.MaxAscent)
	} else {
		rates = rates[:0]
		for _, v := range f.planned.Rate {
			rates = append(rates, min(max(v*factor, balloon.MinAscent), balloon.MaxAscent))
		}
		r.Profile = flight.Profile{Spacing: f.planned.Spacing, Rate: rates}
	}
	burst = f.burstAbove(now, x, law, u[burstDimension])
	switch way := burst - float64(f.launch.Height); c {
	case EarlyBurst:
		burst = within(now, burst, u[mannerDimension])
	case Float:
		burst = max(within(LeastFloatShare, MostFloatShare, u[mannerDimension])*way+float64(f.launch.Height), now)
		r.Hover = within(LeastFloatTime, MostFloatTime, u[delayDimension])
	}
	r.Train.Burst = atmos.Geometric(min(max(burst, balloon.MinBurst), balloon.MaxBurst))
	return c, float64(r.Train.Burst)
}

// burstAbove is the height of the burst below which a share of those above a height lies,
// m, for a train whose rate is off by so much.
func (f *fates) burstAbove(now, x float64, law gauss, share float64) float64 {
	slope := f.rateBurst / max(law.variance, f.priors.rate.variance+1e-9)
	mean := f.burst.mean + slope*(x-f.priors.rate.mean)
	sigma := math.Sqrt(max(f.burst.variance-slope*f.rateBurst, 1))
	below := (now - mean) / sigma
	if below > 4 {
		// Higher than was thought possible: what is left of a normal law so far out falls
		// off at this rate.
		return now + -math.Log1p(-share)*sigma/below
	}
	return mean + sigma*normal(within(normalShare(below), 1, share))
}

// quantile is the logarithm of the speed below which a share lies, and the burst's height
// that goes with it.
func (l *fallLaw) quantile(share float64) (speed, burst float64) {
	i := sort.SearchFloat64s(l.below, share)
	i = min(max(i, 1), len(l.below)-1)
	w := 0.5
	if d := l.below[i] - l.below[i-1]; d > 0 {
		w = min(max((share-l.below[i-1])/d, 0), 1)
	}
	return l.low + (float64(i-1)+w)*l.step, l.burst[i-1] + w*(l.burst[i]-l.burst[i-1])
}

// newFallTime is how long a train that falls at 1 m/s in air of atmos.SeaLevelDensity takes
// from one height to another, s, in the air over a place at a time.
func (n *narrowing) newFallTime(at *Fix) func(high, low float64) float64 {
	// Of each 250 m the time from the top of them down to sea level.
	const step = 250.0
	var root [int(balloon.MaxBurst/step) + 2]float64
	last := 1.0
	for i := range root {
		z := float64(i) * step
		if air, in := n.scenes[0].Wind.At(at.At, atmos.Geometric(z), at.Time); in == wind.Inside {
			last = math.Sqrt(air.Density() / atmos.SeaLevelDensity)
		} else if air, ok := atmos.Standard(atmos.Geometric(z)); ok {
			last = math.Sqrt(air.Density / atmos.SeaLevelDensity)
		}
		root[i] = last
	}
	var sum [len(root)]float64
	for i := 1; i < len(sum); i++ {
		sum[i] = sum[i-1] + step*(root[i-1]+root[i])/2
	}
	until := func(z float64) float64 {
		x := min(max(z/step, 0), float64(len(sum)-2))
		i := int(x)
		return sum[i] + (x-float64(i))*(sum[i+1]-sum[i])
	}
	return func(high, low float64) float64 { return until(high) - until(low) }
}

// thinned are pairs of neighbouring fixes: all of them, or so few that each pair is at
// least 30 s apart and there are at most mostLegs.
func thinned(fixes []Fix) [][2]int {
	if len(fixes) < 2 {
		return nil
	}
	last := len(fixes) - 1
	apart := max((fixes[last].Time-fixes[0].Time)/mostLegs, shortestLeg)
	var pairs [][2]int
	for from := 0; from < last; {
		to := from + 1
		for to < last && fixes[to].Time-fixes[from].Time < apart {
			to++
		}
		// What is left at the end is not a leg of its own.
		if to < last && fixes[last].Time-fixes[to].Time < apart/2 {
			to = last
		}
		pairs = append(pairs, [2]int{from, to})
		from = to
	}
	return pairs
}

// The most legs, and the shortest, s.
const (
	mostLegs    = 64.0
	shortestLeg = 30.0
)
