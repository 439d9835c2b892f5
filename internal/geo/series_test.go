package geo

import (
	"math"
	"testing"
)

// TestSeriesOrder holds each series to the integral that it expands (equations
// 15, 40 and 23 of the paper): halving the expansion parameter must divide the
// error by two to the order of the first term left out. One wrong coefficient
// of a lower order spoils the ratio.
func TestSeriesOrder(t *testing.T) {
	along := func(scale float64, s sines) func(float64) float64 {
		return func(sigma float64) float64 { return scale * (sigma + s.sum(math.Sin(sigma), math.Cos(sigma))) }
	}
	root := func(e, sigma float64) float64 { // √(1 + k² sin²σ), k² = 4ε/(1-ε)²
		s := math.Sin(sigma)
		return math.Sqrt(1 + 4*e/((1-e)*(1-e))*s*s)
	}
	for _, c := range []struct {
		name      string
		order, e  float64
		series    func(e float64) func(sigma float64) float64
		integrand func(e, sigma float64) float64
	}{
		{"I1", 7, 0.05, func(e float64) func(float64) float64 { return along(distanceSeries(e)) }, root},
		{
			"I2", 7, 0.05, func(e float64) func(float64) float64 { return along(reducedSeries(e)) },
			func(e, sigma float64) float64 { return 1 / root(e, sigma) },
		},
		{
			"I3", 6, 0.08, func(e float64) func(float64) float64 { return along(longitudeSeries(e)) },
			func(e, sigma float64) float64 { return (2 - flattening) / (1 + axesRatio*root(e, sigma)) },
		},
	} {
		miss := func(e float64) (worst float64) {
			f := c.series(e)
			for sigma := 0.1; sigma < 1.6; sigma += 0.1 {
				exact := quadrature(func(x float64) float64 { return c.integrand(e, x) }, sigma)
				worst = max(worst, math.Abs(f(sigma)-exact))
			}
			return worst
		}
		atOrder(t, c.name, c.order, c.e, miss)
	}
	atOrder(t, "reverted I1", 7, 0.02, func(e float64) (worst float64) {
		_, c1 := distanceSeries(e)
		back := along(1, revertedSeries(e))
		for sigma := 0.1; sigma < 1.6; sigma += 0.1 {
			worst = max(worst, math.Abs(back(along(1, c1)(sigma))-sigma))
		}
		return worst
	})
}

func atOrder(t *testing.T, name string, order, e float64, miss func(e float64) float64) {
	t.Helper()
	if got := math.Log2(miss(e) / miss(e/2)); math.Abs(got-order) > 0.1 {
		t.Errorf("%s: error %.3g at %g and %.3g at %g, order %.2f, want %g", name, miss(e), e, miss(e/2), e/2, got, order)
	}
	t.Logf("%s: order %.2f", name, math.Log2(miss(e)/miss(e/2)))
}

// quadrature integrates f from 0 to x with Simpson's rule, to about 1e-15.
func quadrature(f func(float64) float64, x float64) float64 {
	const n = 2000
	h := x / n
	sum := f(0) + f(x)
	for i := 1; i < n; i++ {
		sum += f(float64(i)*h) * float64(2+2*(i%2))
	}
	return sum * h / 3
}

// TestSum adds the sines up one by one.
func TestSum(t *testing.T) {
	k := sines{0.3, -0.2, 0.5, 0.7, -0.4, 0.1}
	for sigma := -7.0; sigma < 7; sigma += 0.37 {
		want := 0.0
		for i, c := range k {
			want += c * math.Sin(float64(2*i+2)*sigma)
		}
		if got := k.sum(math.Sin(sigma), math.Cos(sigma)); math.Abs(got-want) > 1e-13 {
			t.Errorf("sum at %g = %g, want %g", sigma, got, want)
		}
	}
}
