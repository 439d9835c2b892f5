package quantity

import "math"

// The factors of units.go, gas.go and electric.go.
const (
	pound                      = 45359237 / 1e8                          // kg
	cubicFoot                  = foot * foot * foot                      // m³
	psi                        = 45359237.0 * 980665 / (254 * 254 * 1e5) // Pa
	footPound                  = 381.0 * 45359237 * 196133 / 25e14       // J
	bar                        = 1e5                                     // Pa
	freezing                   = 273.15                                  // K, the zero of °C
	fahrenheit, fahrenheitZero = 5.0 / 9, 459.67                         // K; °F, how far its zero is above absolute zero
)

// Mass prints kilograms: to whole grams below 10 kg, then to 0.1 kg, from 100
// on to whole ones; or in ounces to 0.1 below a pound, then as pounds to 0.01
// below 10, to 0.1 below 100 and to whole ones from there.
func (s System) Mass(kilograms float64) string {
	if s == US {
		if r := tenth(kilograms / pound * 16); math.Abs(r) < 16 {
			return number(r, 1, "oz")
		}
		return hundredths(kilograms/pound, "lb")
	}
	if r := math.Round(kilograms * 1000); math.Abs(r) < 10000 {
		return number(r, 0, "g")
	}
	return tenths(kilograms, 100, "kg")
}

// Volume prints cubic metres: as m³ to 0.01 below 10, to 0.1 below 100 and to
// whole ones from there, or as ft³ to 0.1 below 100 and to whole ones from there.
func (s System) Volume(cubicMetres float64) string {
	if s == US {
		return tenths(cubicMetres/cubicFoot, 100, "ft³")
	}
	return hundredths(cubicMetres, "m³")
}

// Pressure prints pascals: as bar to 0.01 below 10, to 0.1 below 100 and to
// whole ones from there, or as psi to 0.1 below 100, to whole ones below 1000
// and to 10 from there. Whether gauge or absolute is for the words around it.
func (s System) Pressure(pascals float64) string {
	if s == SI {
		return hundredths(pascals/bar, "bar")
	}
	if r := tenth(pascals / psi); math.Abs(r) < 100 {
		return number(r, 1, "psi")
	}
	return number(near(pascals/psi, 1000, 1, 10), 0, "psi")
}

// Temperature prints kelvins in whole °C or °F.
func (s System) Temperature(kelvins float64) string {
	if s == US {
		return number(step(kelvins/fahrenheit-fahrenheitZero, 1), 0, "°F")
	}
	return number(step(kelvins-freezing, 1), 0, "°C")
}

// TemperatureDifference prints a difference of kelvins in °C or °F, to 0.1
// below 10 and to whole ones from there.
func (s System) TemperatureDifference(kelvins float64) string {
	if s == US {
		return tenths(kelvins/fahrenheit, 10, "°F")
	}
	return tenths(kelvins, 10, "°C")
}

// Energy prints joules in J or ft·lbf: to 0.1 below 10, to whole ones below
// 1000 and to three significant digits from there.
func (s System) Energy(joules float64) string {
	if s == US {
		return threeDigits(joules/footPound, 1, "ft·lbf")
	}
	return threeDigits(joules, 1, "J")
}

// hundredths prints v to 0.01 below 10, to 0.1 below 100 and to whole ones from
// there.
func hundredths(v float64, unit string) string {
	if r := math.Round(v*100) / 100; math.Abs(r) < 10 {
		return number(r, 2, unit)
	}
	return tenths(v, 100, unit)
}
