package geo

import "math"

// shortArc is the angle at the Earth's centre, in radians, below which a line
// is solved on the sphere that fits the ellipsoid there: 6 m.
const shortArc = 1e-6

// Inverse is the shortest line on the ellipsoid from a to b: its length in
// metres and its bearing in degrees, 0 <= bearing < 360, where it leaves a and
// where it arrives at b (the direction onward, not back). The length's error
// is below 30 nm for any two points, and the bearings are right to 30 nm
// sideways at the other end. For one and the same point all three are 0; at a
// pole a bearing counts from the meridian that the point's Lon names; of several
// lines between opposite points that are equally short, one is chosen. A
// coordinate that is not a finite number, or a latitude beyond a pole, gives
// NaN.
func Inverse(a, b Point) (metres, bearing, final float64) {
	lon := eastOf(a.Lon, b.Lon)
	if !(math.Abs(a.Lat) <= 90 && math.Abs(b.Lat) <= 90 && lon >= -180) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	// Reflect and swap until the first point is the southern and the farther
	// from the equator, and the second lies east of it (paper, section 4).
	mirror, swap, flip := 1.0, 1.0, 1.0
	if lon < 0 {
		lon = -lon
		if lon < 180 {
			mirror = -1
		}
	}
	lat1, lat2 := a.Lat, b.Lat
	if math.Abs(lat1) < math.Abs(lat2) {
		lat1, lat2, swap = lat2, lat1, -1
	}
	if lat1 >= 0 { // of two equal ways over the poles, the northern
		lat1, lat2, flip = -lat1, -lat2, -1
	}
	l := solve(newProblem(lat1, lat2, lon))
	if l.metres < semiMinor*tiny*4 { // one point, or one pole under two names
		return 0, 0, 0
	}
	start, end := l.alpha1, l.alpha2
	if swap < 0 {
		start, end = end, start
	}
	return l.metres,
		compass(mirror*start.sin, swap*flip*start.cos),
		compass(mirror*end.sin, swap*flip*end.cos)
}

// problem is an inverse problem in the paper's standard order: β1 <= 0,
// β1 <= β2 <= -β1, 0 <= λ12 <= π.
type problem struct {
	beta1, beta2, lambda sincos
	lambda12             float64 // rad
	gap                  float64 // cos²β2 - cos²β1
	dn1, dn2             float64 // √(1 + e′² sin²β)
}

func newProblem(lat1, lat2, lon float64) problem {
	p := problem{beta1: reduced(lat1), beta2: reduced(lat2), lambda12: lon * degree}
	p.lambda.sin, p.lambda.cos = sincosDeg(lon)
	if lat1 == -lat2 {
		p.beta2 = sincos{-p.beta1.sin, p.beta1.cos}
	}
	s1, s2, c1, c2 := p.beta1.sin, p.beta2.sin, p.beta1.cos, p.beta2.cos
	p.gap = (s1 - s2) * (s1 + s2)
	if c1 < -s1 {
		p.gap = (c2 - c1) * (c2 + c1)
	}
	p.dn1 = math.Sqrt(1 + secondEcc2*s1*s1)
	p.dn2 = math.Sqrt(1 + secondEcc2*s2*s2)
	return p
}

// line is a solved problem.
type line struct {
	metres         float64
	alpha1, alpha2 sincos // azimuths
}

// solve picks the simple cases (a meridian, the equator, a line so short that
// the Earth is a sphere) and leaves the rest to search.
func solve(p problem) line {
	if p.lambda.sin == 0 || p.beta1.cos == tiny { // on an oblate Earth no line is shorter
		return line{p.follow(p.lambda, sincos{0, 1}).length(), p.lambda, sincos{0, 1}}
	}
	if p.beta1.sin == 0 && p.lambda12 <= axesRatio*math.Pi {
		return line{semiMajor * p.lambda12, sincos{1, 0}, sincos{1, 0}}
	}
	mean := (p.beta1.cos + p.beta2.cos) / 2
	w := math.Sqrt(1 - eccentric2*mean*mean) // equation (48)
	alpha1, alpha2, chord := p.sphere(p.lambda12 / w)
	if chord < shortArc && p.near() {
		return line{semiMajor * w * math.Asin(chord), alpha1, alpha2}
	}
	if p.lambda12 > 1 {
		alpha1, _, _ = p.sphere(p.lambda12)
	}
	return p.search(alpha1)
}

// near reports whether the points are less than a quarter of the globe apart.
func (p problem) near() bool {
	return p.beta1.sin*p.beta2.sin+p.beta1.cos*p.beta2.cos*p.lambda.cos > 0
}

// sphere solves the problem on the auxiliary sphere for a difference of
// longitude omega in radians: both azimuths and the sine of the angle between
// the points (equations 49-51, written for no cancellation in short lines).
func (p problem) sphere(omega float64) (alpha1, alpha2 sincos, chord float64) {
	s1, s2, c1, c2 := p.beta1.sin, p.beta2.sin, p.beta1.cos, p.beta2.cos
	half := math.Sin(omega / 2)
	sinOmega, hav := math.Sin(omega), 2*half*half
	rise := s2*c1 - c2*s1 // sin(β2-β1)
	alpha1 = sincos{c2 * sinOmega, rise + c2*s1*hav}
	alpha2 = sincos{c1 * sinOmega, rise - c1*s2*hav}
	chord = math.Hypot(alpha1.sin, alpha1.cos)
	if chord == 0 {
		return sincos{1, 0}, sincos{1, 0}, 0
	}
	return alpha1.unit(), alpha2.unit(), chord
}

// arc is a geodesic through both latitudes of a problem, on the auxiliary
// sphere.
type arc struct {
	sigma1, sigma2 sincos
	sigma12        float64 // rad
	epsilon        float64
	a1, sum1       float64 // A1 and the difference of its sines
	reduced        float64 // m12/b
	missed         float64 // longitude reached less longitude wanted, rad
	alpha2         sincos
}

func (a arc) length() float64 { return semiMinor * a.a1 * (a.sigma12 + a.sum1) }

// follow runs from the first point with azimuth alpha1 to the second latitude,
// arriving with alpha2, and measures the line.
func (p problem) follow(alpha1, alpha2 sincos) arc {
	l := arc{alpha2: alpha2}
	cosA0 := math.Hypot(alpha1.cos, alpha1.sin*p.beta1.sin)
	l.sigma1 = sincos{p.beta1.sin, alpha1.cos * p.beta1.cos}.unit()
	l.sigma2 = sincos{p.beta2.sin, alpha2.cos * p.beta2.cos}.unit()
	s1, s2 := l.sigma1, l.sigma2
	l.sigma12 = math.Atan2(max(s1.cos*s2.sin-s1.sin*s2.cos, 0), s1.cos*s2.cos+s1.sin*s2.sin)
	l.epsilon = expansion(cosA0)
	a1, c1 := distanceSeries(l.epsilon)
	a2, c2 := reducedSeries(l.epsilon)
	l.a1, l.sum1 = a1, c1.sum(s2.sin, s2.cos)-c1.sum(s1.sin, s1.cos)
	sum2 := c2.sum(s2.sin, s2.cos) - c2.sum(s1.sin, s1.cos)
	j := (a1-a2)*l.sigma12 + a1*l.sum1 - a2*sum2 // equation (39)
	l.reduced = p.dn2*s1.cos*s2.sin - p.dn1*s1.sin*s2.cos - s1.cos*s2.cos*j
	return l
}

// aim follows the geodesic that leaves the first point with azimuth alpha1 and
// finds by how much longitude it misses the second point, and how fast that
// changes with the azimuth (equations 5, 45, 46).
func (p problem) aim(alpha1 sincos) (l arc, slope float64) {
	c1, c2 := p.beta1.cos, p.beta2.cos
	sinA0 := alpha1.sin * c1
	northward := alpha1.cos * c1
	alpha2 := sincos{sinA0 / c2, math.Sqrt(northward*northward+p.gap) / c2}
	l = p.follow(alpha1, alpha2)

	omega1 := sincos{sinA0 * p.beta1.sin, northward}
	omega2 := sincos{sinA0 * p.beta2.sin, alpha2.cos * c2}
	omega12 := sincos{
		max(omega1.cos*omega2.sin-omega1.sin*omega2.cos, 0),
		omega1.cos*omega2.cos + omega1.sin*omega2.sin,
	}
	a3, c3 := longitudeSeries(l.epsilon)
	s1, s2 := l.sigma1, l.sigma2
	bend := l.sigma12 + c3.sum(s2.sin, s2.cos) - c3.sum(s1.sin, s1.cos)
	l.missed = p.lambda.to(omega12) - flattening*sinA0*a3*bend

	if alpha2.cos == 0 {
		return l, -2 * axesRatio * p.dn1 / p.beta1.sin
	}
	return l, axesRatio * l.reduced / (alpha2.cos * c2)
}

// search finds the azimuth that misses nothing: Newton's method inside a
// bracket that each try narrows, and halving where Newton would leave it.
func (p problem) search(alpha1 sincos) line {
	const (
		newtons = 20    // tries before only halving is left
		tries   = 90    // 53 halvings exhaust the bracket
		settled = 1e-12 // step and miss, rad: after one more both are rounding
		nothing = 5e-16 // miss, rad: rounding, 3e-9 m
	)
	west, east := sincos{tiny, 1}, sincos{tiny, -1}
	var l arc
	for i, last := 0, false; i < tries; i++ {
		if alpha1.cos == 0 && p.beta1.sin == 0 {
			alpha1.cos = -tiny // off the equator, which has no σ1
		}
		var slope float64
		l, slope = p.aim(alpha1)
		if last || math.Abs(l.missed) < nothing {
			break
		}
		if l.missed > 0 {
			east = alpha1
		} else {
			west = alpha1
		}
		step := -l.missed / slope
		next := alpha1.turned(step)
		if i < newtons && slope > 0 && math.Abs(step) < math.Pi && west.before(next) && next.before(east) {
			alpha1, last = next.unit(), math.Abs(step) < settled && math.Abs(l.missed) < settled
			continue
		}
		alpha1 = sincos{west.sin + east.sin, west.cos + east.cos}.unit()
		last = !(west.before(alpha1) && alpha1.before(east))
	}
	return line{l.length(), alpha1, l.alpha2}
}

// before reports whether t is less than half a turn on from s.
func (s sincos) before(t sincos) bool { return s.cos*t.sin-s.sin*t.cos > 0 }
