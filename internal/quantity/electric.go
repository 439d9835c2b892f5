package quantity

// Energy reads an energy and returns joules. Units: J, kJ, MJ, Wh, kWh, ft·lbf
// (also ft lbf). Never negative.
func Energy(s string) (float64, error) { return read(s, &energy) }

// Power reads a power and returns watts. Units: W, mW, kW. Never negative.
func Power(s string) (float64, error) { return read(s, &power) }

// Charge reads an electric charge and returns coulombs (ampere seconds). Units:
// Ah, mAh, A s. Never negative; C is not read, as it is written for °C.
func Charge(s string) (float64, error) { return read(s, &charge) }

// Current reads an electric current and returns amperes. Units: A, mA. Never
// negative.
func Current(s string) (float64, error) { return read(s, &current) }

// Voltage reads a voltage and returns volts. Units: V, mV. It is a size: never
// negative.
func Voltage(s string) (float64, error) { return read(s, &voltage) }

// The factors are exact by definition. SI units and prefixes, and the hour of
// 3600 s: BIPM, SI Brochure, 9th edition, tables 4, 7 and 8. Foot pound-force:
// 0.3048 m × 0.453 592 37 kg × 9.806 65 m/s², which NIST SP 811 (2008), B.8,
// rounds to 1.355 818 E+00 J. Its digits are 3048 × 45359237 × 980665 by 10¹⁷,
// here both over 40, so that a float64 holds them.
var (
	energy = dimension{
		name: "an energy", example: `"10 Wh" or "36 kJ"`,
		units: []unit{
			{[]string{"J"}, 1, 1},
			{[]string{"kJ"}, 1000, 1},
			{[]string{"MJ"}, 1e6, 1},
			{[]string{"Wh"}, 3600, 1},
			{[]string{"kWh"}, 3600e3, 1},
			{[]string{"ft·lbf", "ft lbf"}, 381 * 45359237 * 196133, 25e14},
		},
	}
	power = dimension{
		name: "a power", example: `"0.5 W" or "300 mW"`,
		units: []unit{
			{[]string{"W"}, 1, 1},
			{[]string{"mW"}, 1, 1000},
			{[]string{"kW"}, 1000, 1},
		},
	}
	charge = dimension{
		name: "a charge", example: `"3 Ah" or "3000 mAh"`,
		units: []unit{
			{[]string{"Ah"}, 3600, 1},
			{[]string{"mAh"}, 3600, 1000},
			{[]string{"A s", "As"}, 1, 1},
		},
	}
	current = dimension{
		name: "a current", example: `"0.12 A" or "120 mA"`,
		units: []unit{
			{[]string{"A"}, 1, 1},
			{[]string{"mA"}, 1, 1000},
		},
	}
	voltage = dimension{
		name: "a voltage", example: `"3.7 V"`,
		units: []unit{
			{[]string{"V"}, 1, 1},
			{[]string{"mV"}, 1, 1000},
		},
	}
)
