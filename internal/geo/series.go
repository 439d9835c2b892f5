package geo

import "math"

// The series of C. F. F. Karney, "Algorithms for geodesics", J. Geodesy 87,
// 43-55 (2013), doi:10.1007/s00190-012-0578-z, to sixth order; equation
// numbers here and elsewhere are that paper's, from memory. Each series is tested
// against its integral. On the Earth the first term left out is
// worth less than 1e-9 m over half the globe.

// sines are the coefficients of sin 2σ, sin 4σ, ... sin 12σ.
type sines [6]float64

// sum adds up the sines at the angle whose sine and cosine are s and c
// (Clenshaw's recurrence).
func (k *sines) sum(s, c float64) float64 {
	twice := 2 * (c - s) * (c + s) // 2 cos 2σ
	y0, y1 := 0.0, 0.0
	for i := len(k) - 1; i >= 0; i-- {
		y0, y1 = twice*y0-y1+k[i], y0
	}
	return 2 * s * c * y0
}

// expansion is ε of equation (16) for k² = e′² cos²α0.
func expansion(cosA0 float64) float64 {
	k2 := secondEcc2 * cosA0 * cosA0
	r := math.Sqrt(1+k2) + 1
	return k2 / (r * r)
}

// distanceSeries gives A1 (17) and C1 (18): s/b = A1 (σ + Σ C1 sin 2lσ).
func distanceSeries(e float64) (float64, sines) {
	e2 := e * e
	a := (1 + e2*(1./4+e2*(1./64+e2/256))) / (1 - e)
	return a, sines{
		e * (-1./2 + e2*(3./16-e2/32)),
		e2 * (-1./16 + e2*(1./32-e2*9/2048)),
		e * e2 * (-1./48 + e2*3/256),
		e2 * e2 * (-5./512 + e2*3/512),
		e * e2 * e2 * -7 / 1280,
		e2 * e2 * e2 * -7 / 2048,
	}
}

// revertedSeries gives C1′ (21): σ = τ + Σ C1′ sin 2lτ, where τ = s/(b A1).
func revertedSeries(e float64) sines {
	e2 := e * e
	return sines{
		e * (1./2 + e2*(-9./32+e2*205/1536)),
		e2 * (5./16 + e2*(-37./96+e2*1335/4096)),
		e * e2 * (29./96 - e2*75/128),
		e2 * e2 * (539./1536 - e2*2391/2560),
		e * e2 * e2 * 3467 / 7680,
		e2 * e2 * e2 * 38081 / 61440,
	}
}

// reducedSeries gives A2 (42) and C2 (43) of the reduced length.
func reducedSeries(e float64) (float64, sines) {
	e2 := e * e
	a := (1 - e) * (1 + e2*(1./4+e2*(9./64+e2*25/256)))
	return a, sines{
		e * (1./2 + e2*(1./16+e2/32)),
		e2 * (3./16 + e2*(1./32+e2*35/2048)),
		e * e2 * (5./48 + e2*5/256),
		e2 * e2 * (35./512 + e2*7/512),
		e * e2 * e2 * 63 / 1280,
		e2 * e2 * e2 * 77 / 2048,
	}
}

// longitudeSeries gives A3 (24) and C3 (25), whose coefficients are
// polynomials in the third flattening: λ = ω - f sin α0 A3 (σ + Σ C3 sin 2lσ).
func longitudeSeries(e float64) (float64, sines) {
	const n, n2 = thirdFlat, thirdFlat * thirdFlat
	a := 1 - e*((1./2-n/2)+e*((1./4+n/8-n2*3/8)+
		e*((1./16+n*3/16+n2/16)+e*((3./64+n/32)+e*3/128))))
	e2 := e * e
	return a, sines{
		e * ((1./4 - n/4) + e*((1./8-n2/8)+
			e*((3./64+n*3/64-n2/64)+e*((5./128+n/64)+e*3/128)))),
		e2 * ((1./16 - n*3/32 + n2/32) + e*((3./64-n/32-n2*3/64)+
			e*((3./128+n/128)+e*5/256))),
		e2 * e * ((5./192 - n*3/64 + n2*5/192) + e*((3./128-n*5/192)+e*7/512)),
		e2 * e2 * ((7./512 - n*7/256) + e*7/512),
		e2 * e2 * e * 21 / 2560,
	}
}
