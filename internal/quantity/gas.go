package quantity

import "strings"

// Volume reads a volume and returns cubic metres. Units: m³ (also m3), L (also
// l, litre), ft³ (also ft3, cu ft; of international feet). Never negative. At
// which pressure and temperature a gas fills it is the caller's to say.
func Volume(s string) (float64, error) { return read(s, &volume) }

// Pressure reads a pressure and returns pascals. Units: bar, mbar, Pa, hPa,
// kPa, MPa, psi, inHg (the conventional one of 3386.388 640 341 Pa). Never
// negative. Whether it is absolute or above the air's (gauge) is the caller's
// to say: units that say it themselves, as psig, are refused.
func Pressure(s string) (float64, error) { return read(s, &pressure) }

// Temperature reads a temperature and returns kelvins, 0 or more. Units: °C
// (also C), °F (also F), K. Numbers of °C and °F may be negative.
func Temperature(s string) (float64, error) { return read(s, &temperature) }

// TemperatureDifference reads how much warmer one thing is than another and
// returns kelvins, negative where it is colder. Units: K, °C (also C) and °F
// (also F), none with an offset: "9 °F" is 5 K.
func TemperatureDifference(s string) (float64, error) { return read(s, &difference) }

// PercentPerHour reads what share is lost in time and returns it per hour, as a
// fraction of one: "1 %/h" is 0.01. Units: %/h, %/d (of 24 hours). Never
// negative.
func PercentPerHour(s string) (float64, error) { return read(s, &rate) }

// PerArea reads how many there are on an area and returns them per square metre:
// "20 /km2" is 2e-5. Units: /km² (also /km2) and /mi² (also /mi2), of the
// international mile. Never negative.
func PerArea(s string) (float64, error) { return read(s, &perArea) }

// The factors are exact by definition. Litre: BIPM, SI Brochure, 9th edition,
// table 8. Cubic foot: the cube of 0.3048 m. Bar 10⁵ Pa and millibar: NIST SP
// 811 (2008), B.8. Pound-force per square inch: 0.453 592 37 kg of
// 9.806 65 m/s² (standard gravity, SP 811, B.8) on 0.0254² m², which B.8 rounds
// to 6.894 757 E+03 Pa. Conventional inch of mercury: 0.0254 m of 13 595.1
// kg/m³ (the conventional density, from memory) at standard gravity, which B.8
// rounds to 3.386 389 E+03 Pa. Celsius and Fahrenheit: SP 811, B.8, T/K =
// t/°C + 273.15 and T/K = (t/°F + 459.67)/1.8.
var (
	volume = dimension{
		name: "a volume", example: `"2.6 m³" or "92 ft³"`,
		units: []unit{
			{[]string{"m³", "m3"}, 1, 1},
			{[]string{"L", "l", "litre", "litres", "liter", "liters"}, 1, 1000},
			{[]string{"ft³", "ft3", "cu ft"}, 28316846592, 1e12},
		},
	}
	pressure = dimension{
		name: "a pressure", example: `"200 bar" or "2900 psi"`,
		units: []unit{
			{[]string{"bar"}, 1e5, 1},
			{[]string{"mbar"}, 100, 1},
			{[]string{"Pa"}, 1, 1},
			{[]string{"hPa"}, 100, 1},
			{[]string{"kPa"}, 1000, 1},
			{[]string{"MPa"}, 1e6, 1},
			{[]string{"psi"}, 45359237 * 980665, 254 * 254 * 1e5},
			{[]string{"inHg"}, 135951 * 980665 * 254, 1e10},
		},
	}
	temperature = dimension{
		name: "a temperature", example: `"15 °C" or "59 °F"`, signed: true,
		units: []unit{
			{[]string{"°C", "C"}, 20, 20},
			{[]string{"°F", "F"}, 500, 900},
			{[]string{"K"}, 1, 1},
		},
		zeros: map[string]float64{"°C": 5463, "°F": 45967 * 5},
	}
	difference = dimension{
		name: "a temperature difference", example: `"5 K" or "9 °F"`, signed: true,
		units: []unit{
			{[]string{"K"}, 1, 1},
			{[]string{"°C", "C"}, 1, 1},
			{[]string{"°F", "F"}, 5, 9},
		},
	}
	perArea = dimension{
		name: "a number on an area", example: `"20 /km²" or "50 /mi²"`,
		units: []unit{
			{[]string{"/km²", "/km2"}, 1, 1e6},
			{[]string{"/mi²", "/mi2"}, 1, 1609.344 * 1609.344},
		},
	}
	rate = dimension{
		name: "a rate", example: `"1 %/h"`,
		units: []unit{
			{[]string{"%/h", "percent/h"}, 1, 100}, // per hour
			{[]string{"%/d", "percent/d"}, 1, 2400},
		},
	}
)

// ungauged is the unit of pressure that a name speaks of when it says gauge or
// absolute too, as "psig" does.
func ungauged(name string) (bare string, ok bool) {
	for _, tail := range [...]string{"(g)", "(a)", "gauge", "absolute", "abs", "g", "a"} {
		if head, cut := strings.CutSuffix(name, tail); cut {
			head = strings.TrimRight(head, " ")
			if _, ok := pressure.unit(head); ok {
				return head, true
			}
		}
	}
	return "", false
}
