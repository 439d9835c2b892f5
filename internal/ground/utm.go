package ground

import (
	"math"

	"example.org/thistledown/internal/geo"
)

// projection lays a part of the ellipsoid flat: metres east and north, as the
// named system counts them.
type projection interface {
	// flat is false where the projection is not used: far from its middle, and
	// for what is no position.
	flat(p geo.Point) (x, y float64, ok bool)
	// round undoes flat.
	round(x, y float64) (geo.Point, bool)
	// middle is the longitude that the projection is centred on, degrees.
	middle() float64
}

// ellipsoid is its semi-major axis in metres and its flattening.
type ellipsoid struct{ a, f float64 }

// The ellipsoids of WGS84 (NIMA TR8350.2, 3rd edition, table 3.1) and of GRS80,
// on which NAD83 and ETRS89 are (H. Moritz, Geodetic Reference System 1980,
// Journal of Geodesy 74, 2000): a tenth of a millimetre apart at the pole.
const (
	semiMajor   = 6378137.0
	wgs84Inv    = 298.257223563
	grs80Inv    = 298.257222101
	degree      = math.Pi / 180
	mercatorFar = 30.0 // degrees from the central meridian: beyond, UTM is not used
)

// transverse is the transverse Mercator projection of an ellipsoid by Krüger's
// series in the third flattening n to n⁶, with the coefficients of C. F. F.
// Karney, Transverse Mercator with an accuracy of a few nanometers, Journal of
// Geodesy 85 (2011), equations 35 and 36. Within 30 degrees of the central
// meridian the error is under 0.1 µm; a UTM zone reaches 3.
type transverse struct {
	ecc                float64 // e
	scaled             float64 // k0·A, m
	lon0, east0, nord0 float64
	alpha, beta        [6]float64
}

// newUTM is a zone of UTM (1 to 60), in the north or in the south.
func newUTM(e ellipsoid, zone int, south bool) transverse {
	n := e.f / (2 - e.f)
	n2, n3, n4, n5, n6 := n*n, n*n*n, n*n*n*n, n*n*n*n*n, n*n*n*n*n*n
	t := transverse{
		ecc:    math.Sqrt(e.f * (2 - e.f)),
		scaled: 0.9996 * e.a / (1 + n) * (1 + n2/4 + n4/64 + n6/256),
		lon0:   float64(6*zone - 183), east0: 500000,
		alpha: [6]float64{
			n/2 - 2*n2/3 + 5*n3/16 + 41*n4/180 - 127*n5/288 + 7891*n6/37800,
			13*n2/48 - 3*n3/5 + 557*n4/1440 + 281*n5/630 - 1983433*n6/1935360,
			61*n3/240 - 103*n4/140 + 15061*n5/26880 + 167603*n6/181440,
			49561*n4/161280 - 179*n5/168 + 6601661*n6/7257600,
			34729*n5/80640 - 3418889*n6/1995840,
			212378941 * n6 / 319334400,
		},
		beta: [6]float64{
			n/2 - 2*n2/3 + 37*n3/96 - n4/360 - 81*n5/512 + 96199*n6/604800,
			n2/48 + n3/15 - 437*n4/1440 + 46*n5/105 - 1118711*n6/3870720,
			17*n3/480 - 37*n4/840 - 209*n5/4480 + 5569*n6/90720,
			4397*n4/161280 - 11*n5/504 - 830251*n6/7257600,
			4583*n5/161280 - 108847*n6/3991680,
			20648693 * n6 / 638668800,
		},
	}
	if south {
		t.nord0 = 10000000
	}
	return t
}

func (t transverse) middle() float64 { return t.lon0 }

func (t transverse) flat(p geo.Point) (x, y float64, ok bool) {
	lon := geo.WrapLon(p.Lon - t.lon0)
	if !(math.Abs(lon) <= mercatorFar && math.Abs(p.Lat) <= 90) {
		return 0, 0, false
	}
	tau := math.Tan(p.Lat * degree)
	if math.Abs(p.Lat) == 90 {
		tau = math.Copysign(1e17, p.Lat)
	}
	tau = t.conformal(tau)
	s, c := math.Sincos(lon * degree)
	xi, eta := math.Atan2(tau, c), math.Asinh(s/math.Hypot(tau, c))
	dXi, dEta := series(&t.alpha, xi, eta)
	return t.east0 + t.scaled*(eta+dEta), t.nord0 + t.scaled*(xi+dXi), true
}

func (t transverse) round(x, y float64) (geo.Point, bool) {
	eta, xi := (x-t.east0)/t.scaled, (y-t.nord0)/t.scaled
	if !(math.Abs(eta) < 1 && math.Abs(xi) <= math.Pi/2) {
		return geo.Point{}, false
	}
	dXi, dEta := series(&t.beta, xi, eta)
	xi, eta = xi-dXi, eta-dEta
	sinh, c := math.Sinh(eta), math.Cos(xi)
	lon := math.Atan2(sinh, c) / degree
	if math.Abs(lon) > mercatorFar {
		return geo.Point{}, false
	}
	tau := t.geodetic(math.Sin(xi) / math.Hypot(sinh, c))
	return geo.Point{Lat: math.Atan(tau) / degree, Lon: geo.WrapLon(t.lon0 + lon)}, true
}

// conformal turns the tangent of a latitude into that of the conformal latitude
// (Karney 2011, equations 7 to 9).
func (t transverse) conformal(tau float64) float64 {
	sec := math.Hypot(1, tau)
	sigma := math.Sinh(t.ecc * math.Atanh(t.ecc*tau/sec))
	return math.Hypot(1, sigma)*tau - sigma*sec
}

// geodetic undoes conformal by Newton's method (Karney 2011, equations 19 to
// 21), which three steps bring to rounding.
func (t transverse) geodetic(conformal float64) float64 {
	rest := 1 - t.ecc*t.ecc
	tau := conformal / rest
	for range 5 {
		now := t.conformal(tau)
		step := (conformal - now) / math.Hypot(1, now) * (1 + rest*tau*tau) / (rest * math.Hypot(1, tau))
		tau += step
		if !(math.Abs(step) > 1e-16*math.Hypot(1, tau)) {
			break
		}
	}
	return tau
}

// series is Σ k_j sin 2jξ cosh 2jη and Σ k_j cos 2jξ sinh 2jη: the parts of
// Σ k_j sin 2jζ with ζ = ξ + iη, by the sines' recurrence.
func series(k *[6]float64, xi, eta float64) (dXi, dEta float64) {
	s, c := math.Sincos(2 * xi)
	grown := math.Exp(2 * eta)
	cosh, sinh := (grown+1/grown)/2, (grown-1/grown)/2
	if math.Abs(eta) < 0.1 {
		sinh = math.Sinh(2 * eta) // where the difference would lose digits
	}
	turn := complex(2*c*cosh, -2*s*sinh) // 2 cos 2ζ
	before, now, sum := 0i, complex(s*cosh, c*sinh), 0i
	for j := range k {
		sum += complex(k[j], 0) * now
		before, now = now, turn*now-before
	}
	return real(sum), imag(sum)
}
