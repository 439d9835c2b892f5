package atmos

import "math"

// Viscosity is the dynamic viscosity of air in Pa·s at a temperature in K above
// zero: Sutherland's formula with the two constants of [US76], equation 51,
// β·T^1.5/(T + S).
func Viscosity(temperature float64) float64 {
	const (
		beta       = 1.458e-6 // kg/(s m K^½)
		sutherland = 110.4    // K
	)
	return beta * temperature * math.Sqrt(temperature) / (temperature + sutherland)
}
