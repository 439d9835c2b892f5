package ground

import (
	"math"

	"example.org/thistledown/internal/geo"
)

// authalic is what the equal-area projections of an ellipsoid share: the
// quantity q of a latitude, to which the area below it is proportional (J. P.
// Snyder, Map Projections: A Working Manual, USGS Professional Paper 1395, 1987,
// equation 3-12; the paper's equations are meant below).
type authalic struct {
	a, ecc, pole float64 // m; e; q at the pole
}

func newAuthalic(e ellipsoid) authalic {
	q := authalic{a: e.a, ecc: math.Sqrt(e.f * (2 - e.f))}
	q.pole = q.of(1)
	return q
}

// of is q at the sine of a latitude.
func (q authalic) of(sin float64) float64 {
	e := q.ecc
	return (1 - e*e) * (sin/(1-e*e*sin*sin) + math.Atanh(e*sin)/e)
}

// latitude undoes of, in degrees (equation 3-16, to rounding); false where no
// latitude has such a q.
func (q authalic) latitude(v float64) (float64, bool) {
	const steps = 12
	if !(math.Abs(v) <= q.pole) {
		return 0, false
	}
	// Newton's method in the sine: dq/ds = 2(1−e²)/(1−e²s²)².
	sin := v / q.pole
	for range steps {
		w := 1 - q.ecc*q.ecc*sin*sin
		step := (v - q.of(sin)) * w * w / (2 * (1 - q.ecc*q.ecc))
		sin = min(max(sin+step, -1), 1)
		if math.Abs(step) < 1e-16 {
			break
		}
	}
	return math.Asin(sin) / degree, true
}

// narrowing is m = cos φ / sqrt(1 − e² sin² φ) (equation 14-15).
func (q authalic) narrowing(lat float64) float64 {
	s, c := math.Sincos(lat * degree)
	return c / math.Sqrt(1-q.ecc*q.ecc*s*s)
}

// equalAzimuthal is Lambert's azimuthal equal-area projection, oblique
// (equations 24-2 and 24-17 to 24-30).
type equalAzimuthal struct {
	authalic
	lat0, lon0, east0, nord0 float64
	sin, cos                 float64 // of the centre's authalic latitude
	radius, stretch          float64 // Rq, m, and D
}

// newEuropean is EPSG 3035, ETRS89-extended / LAEA Europe, which CORINE land
// cover comes in (parameters: EPSG registry).
func newEuropean() equalAzimuthal {
	l := equalAzimuthal{authalic: newAuthalic(ellipsoid{semiMajor, 1 / grs80Inv}), lat0: 52, lon0: 10, east0: 4321000, nord0: 3210000}
	l.sin = l.of(math.Sin(l.lat0*degree)) / l.pole
	l.cos = math.Sqrt(1 - l.sin*l.sin)
	l.radius = l.a * math.Sqrt(l.pole/2)
	l.stretch = l.a * l.narrowing(l.lat0) / (l.radius * l.cos)
	return l
}

func (l equalAzimuthal) middle() float64 { return l.lon0 }

// flat is used over the hemisphere around the centre.
func (l equalAzimuthal) flat(p geo.Point) (x, y float64, ok bool) {
	if !(math.Abs(p.Lat) <= 90) {
		return 0, 0, false
	}
	s, c := math.Sincos((p.Lon - l.lon0) * degree)
	sin := l.of(math.Sin(p.Lat*degree)) / l.pole
	cos := math.Sqrt(max(1-sin*sin, 0))
	near := l.sin*sin + l.cos*cos*c
	if !(near >= 0) {
		return 0, 0, false
	}
	b := l.radius * math.Sqrt(2/(1+near))
	return l.east0 + b*l.stretch*cos*s, l.nord0 + b/l.stretch*(l.cos*sin-l.sin*cos*c), true
}

func (l equalAzimuthal) round(x, y float64) (geo.Point, bool) {
	x, y = (x-l.east0)/l.stretch, (y-l.nord0)*l.stretch
	far := math.Hypot(x, y)
	if far == 0 {
		return geo.Point{Lat: l.lat0, Lon: l.lon0}, true
	}
	half := far / (2 * l.radius)
	if !(half <= math.Sqrt2/2) {
		return geo.Point{}, false
	}
	s, c := math.Sincos(2 * math.Asin(half))
	lat, ok := l.latitude(l.pole * (c*l.sin + y*s*l.cos/far))
	lon := math.Atan2(x*s, far*l.cos*c-y*l.sin*s) / degree
	return geo.Point{Lat: lat, Lon: geo.WrapLon(l.lon0 + lon)}, ok
}

// albers is the Albers equal-area conic projection (equations 14-1 to 14-21).
type albers struct {
	authalic
	lon0         float64
	cone, c, rho float64 // n, C, and ρ0 in m
}

// newConus is EPSG 5070, NAD83 / Conus Albers (parameters: EPSG registry).
func newConus() albers {
	b := albers{authalic: newAuthalic(ellipsoid{semiMajor, 1 / grs80Inv}), lon0: -96}
	q := func(lat float64) float64 { return b.of(math.Sin(lat * degree)) }
	m1, m2 := b.narrowing(29.5), b.narrowing(45.5)
	b.cone = (m1*m1 - m2*m2) / (q(45.5) - q(29.5))
	b.c = m1*m1 + b.cone*q(29.5)
	b.rho = b.a * math.Sqrt(b.c-b.cone*q(23)) / b.cone
	return b
}

func (b albers) middle() float64 { return b.lon0 }

// flat is used within 90 degrees of the central meridian.
func (b albers) flat(p geo.Point) (x, y float64, ok bool) {
	lon := geo.WrapLon(p.Lon - b.lon0)
	if !(math.Abs(lon) <= 90 && math.Abs(p.Lat) <= 90) {
		return 0, 0, false
	}
	rho := b.a * math.Sqrt(b.c-b.cone*b.of(math.Sin(p.Lat*degree))) / b.cone
	s, c := math.Sincos(b.cone * lon * degree)
	return rho * s, b.rho - rho*c, true
}

func (b albers) round(x, y float64) (geo.Point, bool) {
	rho := math.Hypot(x, b.rho-y) * b.cone / b.a
	lat, ok := b.latitude((b.c - rho*rho) / b.cone)
	lon := math.Atan2(x, b.rho-y) / b.cone / degree
	return geo.Point{Lat: lat, Lon: geo.WrapLon(b.lon0 + lon)}, ok && math.Abs(lon) <= 90
}
