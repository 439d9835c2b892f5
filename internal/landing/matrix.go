package landing

import "math"

// cov is a symmetric two-by-two matrix, as a rule a covariance in m².
type cov struct{ xx, xy, yy float64 }

// outer is the product of (x, y) with itself.
func outer(x, y float64) cov { return cov{x * x, x * y, y * y} }

// round is k times the unit matrix.
func round(k float64) cov { return cov{k, 0, k} }

func (c cov) plus(k float64, d cov) cov {
	return cov{c.xx + k*d.xx, c.xy + k*d.xy, c.yy + k*d.yy}
}

func (c cov) times(k float64) cov { return cov{k * c.xx, k * c.xy, k * c.yy} }

func (c cov) det() float64 { return c.xx*c.yy - c.xy*c.xy }

// inverse of a positive definite matrix.
func (c cov) inverse() cov {
	k := 1 / c.det()
	return cov{k * c.yy, -k * c.xy, k * c.xx}
}

// form is (x, y) c (x, y).
func (c cov) form(x, y float64) float64 { return c.xx*x*x + 2*c.xy*x*y + c.yy*y*y }

// eigen is the two eigenvalues, the smaller first, and the unit vector of the larger.
func (c cov) eigen() (small, large, x, y float64) {
	mean, half := (c.xx+c.yy)/2, (c.xx-c.yy)/2
	r := math.Hypot(half, c.xy)
	sin, cos := math.Sincos(math.Atan2(c.xy, half) / 2)
	return mean - r, mean + r, cos, sin
}

// clamp moves eigenvalues that lie outside low to high to the nearer of them.
func (c cov) clamp(low, high float64) cov {
	small, large, x, y := c.eigen()
	if small >= low && large <= high {
		return c
	}
	small, large = min(max(small, low), high), min(max(large, low), high)
	return round(small).plus(large-small, outer(x, y))
}

// affine is a linear map of the plane that keeps areas and orientation:
// (x, y) goes to (a x, b x + y / a).
type affine struct{ a, b float64 }

// whitening is the map under which c becomes a multiple of the unit matrix.
func whitening(c cov) affine {
	// c = k L Lᵀ with det L = 1, L = ((p, 0), (q, 1/p)); the map is the inverse of L.
	k := math.Sqrt(c.det())
	p := math.Sqrt(c.xx / k)
	q := c.xy / (k * p)
	return affine{1 / p, -q}
}

func (m affine) apply(x, y float64) (u, v float64) { return m.a * x, m.b*x + y/m.a }

func (m affine) undo(u, v float64) (x, y float64) {
	x = u / m.a
	return x, m.a * (v - m.b*x)
}

// of is what a covariance becomes under the map.
func (m affine) of(c cov) cov {
	a, b, d := m.a, m.b, 1/m.a
	return cov{
		a * a * c.xx,
		a * (b*c.xx + d*c.xy),
		b*b*c.xx + 2*b*d*c.xy + d*d*c.yy,
	}
}

// back is what a covariance was before the map.
func (m affine) back(c cov) cov { return affine{1 / m.a, -m.b}.of(c) }
