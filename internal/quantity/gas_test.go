package quantity

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every name of every unit of gases and electricity. NIST SP 811 (2008),
// appendix B.8, as printed, to half of its last digit; SI units and the litre:
// BIPM, SI Brochure, 9th edition. Where the definition has few digits, half is
// the rounding of a float64.
func TestGasAndElectricUnits(t *testing.T) {
	const exact = 0x1p-52
	for _, c := range []struct {
		reader, names string
		si, half      float64
	}{
		{"Volume", "m³ m3", 1, exact},
		{"Volume", "L l litre litres liter liters", 0.001, exact},
		{"Volume", "ft³ ft3 cu_ft", 0.3048 * 0.3048 * 0.3048, 2 * exact}, // three roundings here
		{"Volume", "ft³ ft3 cu_ft", 2.831685e-2, 5e-9},                   // B.8
		{"Pressure", "bar", 1e5, exact},                                  // B.8
		{"Pressure", "mbar hPa", 100, exact},                             // B.8
		{"Pressure", "Pa", 1, exact},
		{"Pressure", "kPa", 1000, exact},
		{"Pressure", "MPa", 1e6, exact},
		{"Pressure", "psi", 6.894757e3, 5e-4},                                    // B.8
		{"Pressure", "psi", 0.45359237 * 9.80665 / (0.0254 * 0.0254), 4 * exact}, // its definition
		{"Pressure", "inHg", 3.386389e3, 5e-4},                                   // B.8, conventional
		{"Pressure", "inHg", 13595.1 * 9.80665 * 0.0254, 4 * exact},              // its definition
		{"TemperatureDifference", "K °C C", 1, exact},
		{"TemperatureDifference", "°F F", 5.555556e-1, 5e-8}, // B.8
		{"PercentPerHour", "%/h percent/h", 0.01, exact},
		{"PercentPerHour", "%/d percent/d", 0.01 / 24, exact},
		{"Energy", "J", 1, exact},
		{"Energy", "kJ", 1000, exact},
		{"Energy", "MJ", 1e6, exact},
		{"Energy", "Wh", 3.6e3, exact},                                        // B.8
		{"Energy", "kWh", 3.6e6, exact},                                       // B.8
		{"Energy", "ft·lbf ft_lbf", 1.355818, 5e-7},                           // B.8
		{"Energy", "ft·lbf ft_lbf", 0.3048 * 0.45359237 * 9.80665, 4 * exact}, // its definition
		{"Power", "W", 1, exact},
		{"Power", "mW", 0.001, exact},
		{"Power", "kW", 1000, exact},
		{"Charge", "Ah", 3.6e3, exact}, // B.8
		{"Charge", "mAh", 3.6, exact},
		{"Charge", "A_s As", 1, exact},
		{"Current", "A", 1, exact},
		{"Current", "mA", 0.001, exact},
		{"Voltage", "V", 1, exact},
		{"Voltage", "mV", 0.001, exact},
	} {
		delta := c.half
		if delta < 1e-12 {
			delta *= c.si
		}
		for _, name := range strings.Fields(c.names) {
			for _, text := range []string{"1 ", "1"} {
				text += strings.ReplaceAll(name, "_", " ")
				got, err := readers[c.reader](text)
				require.NoError(t, err)
				assert.InDelta(t, c.si, got, delta, "%s(%q)", c.reader, text)
			}
		}
	}
}

// Equal to the last bit: worked by hand with the exact factors. 15 °C = 59 °F
// and the pressure of 29.92 inHg are those of the standard atmosphere at mean
// sea level (ICAO Doc 7488: 288.15 K, 101 325 Pa).
func TestGasAndElectricExact(t *testing.T) {
	for _, c := range []struct {
		reader, text string
		want         float64
	}{
		{"Volume", "2.6 m3", 2.6},
		{"Volume", "2.6m³", 2.6},
		{"Volume", "1 800 L", 1.8},
		{"Volume", "1000 cu ft", 28.316846592},
		{"Volume", "0 m³", 0},
		{"Pressure", "200 bar", 2e7},
		{"Pressure", "1013.25 hPa", 101325},
		{"Pressure", "101.325kPa", 101325},
		{"Pressure", "1 psi", 6894.7572931683613367},
		{"Pressure", "1 inHg", 3386.388640341},
		{"Temperature", "15 °C", 288.15},
		{"Temperature", "15 C", 288.15},
		{"Temperature", "59 °F", 288.15},
		{"Temperature", "59F", 288.15},
		{"Temperature", "288 K", 288},
		{"Temperature", "-40 °C", 233.15},
		{"Temperature", "\u221240 °F", 233.15},
		{"Temperature", "+0 °C", 273.15},
		{"Temperature", "-273.15 °C", 0},
		{"Temperature", "-459.67 °F", 0},
		{"Temperature", "0 K", 0},
		{"TemperatureDifference", "5 K", 5},
		{"TemperatureDifference", "5 °C", 5},
		{"TemperatureDifference", "9 °F", 5},
		{"TemperatureDifference", "-9 °F", -5},
		{"PercentPerHour", "1 %/h", 0.01},
		{"PercentPerHour", "12 %/d", 0.005},
		{"Energy", "10 Wh", 36000},
		{"Energy", "36 kJ", 36000},
		{"Energy", "1 ft·lbf", 1.3558179483314004},
		{"Charge", "3000 mAh", 10800},
		{"Charge", "3 Ah", 10800},
		{"Voltage", "3.7 V", 3.7},
		{"Power", "300 mW", 0.3},
		{"Current", "120 mA", 0.12},
	} {
		got, err := readers[c.reader](c.text)
		require.NoError(t, err)
		assert.Equal(t, c.want, got, "%s(%q)", c.reader, c.text)
	}
	// Every hundredth of a degree above absolute zero is read, to two bits of
	// the number or the sum.
	for i := -45967; i < 20000; i++ {
		kelvins, err := Temperature(fmt.Sprintf("%.2f °F", float64(i)/100))
		require.NoError(t, err)
		assert.InDelta(t, float64(i+45967)/180, kelvins, 1.2e-13)
		if i < -27315 {
			continue
		}
		kelvins, err = Temperature(fmt.Sprintf("%.2f °C", float64(i)/100))
		require.NoError(t, err)
		assert.InDelta(t, float64(i+27315)/100, kelvins, 1.2e-13)
	}
	got, err := Pressure("29.92 inHg")
	require.NoError(t, err)
	assert.InDelta(t, 101325, got, 0.005*3386.389, "to half of its last digit")
}

func TestGasAndElectricRefused(t *testing.T) {
	const wantVolume = `want a volume with its unit, such as "2.6 m³" or "92 ft³"`
	const wantPressure = `want a pressure with its unit, such as "200 bar" or "2900 psi"`
	const listPressure = `is not a unit of pressure here: want bar, mbar, Pa, hPa, kPa, MPa, psi or inHg`
	const gauge = `: whether a pressure is gauge or absolute is said by what it is given for, not by its unit: write `
	const cold = `nothing is colder than absolute zero, -273.15 °C`
	for _, c := range []struct{ reader, text, want string }{
		{"Volume", "2.6", `"2.6": ` + wantVolume},
		{"Volume", "-2 m3", `"-2 m3": volume is never negative`},
		{"Volume", "2 m", `"2 m": m is a unit of length, ` + wantVolume},
		{"Volume", "2 m2", `"2 m2": m2 is a unit of area, ` + wantVolume},
		{"Volume", "2 m33", `"2 m33": m is a unit of length, ` + wantVolume},
		{"Volume", "2 m3.5", `"2 m3.5": m is a unit of length, ` + wantVolume},
		{"Volume", "2 m 3", `"2 m 3": m is a unit of length, ` + wantVolume},
		{"Volume", "2 m3 500 L", `"2 m3 500 L": want one number and unit, such as "2.6 m³" or "92 ft³"`},
		{"Volume", "2,6 m3", `"2,6 m3": the decimal mark is a point: write "2.6 m3"`},
		{"Volume", "2,600 L", `"2,600 L": a comma could mean thousands or decimals: write "2600 L" or "2.600 L"`},
		{"Volume", "2 gal", `"2 gal": "gal" is not a unit of volume here: want m³, L or ft³`},
		{"Length", "2 m3", `"2 m3": m3 is a unit of volume, want a length with its unit, such as "30 km" or "92000 ft"`},
		{"Length", "2 m³", `"2 m³": m³ is a unit of volume, want a length with its unit, such as "30 km" or "92000 ft"`},
		{"Pressure", "200", `"200": ` + wantPressure},
		{"Pressure", "-1 bar", `"-1 bar": pressure is never negative`},
		{"Pressure", "200 kg", `"200 kg": kg is a unit of mass, ` + wantPressure},
		{"Pressure", "2,900 psi", `"2,900 psi": a comma could mean thousands or decimals: write "2900 psi" or "2.900 psi"`},
		{"Pressure", "2900 psig", `"2900 psig": "psig"` + gauge + `psi`},
		{"Pressure", "2900 psia", `"2900 psia": "psia"` + gauge + `psi`},
		{"Pressure", "200 barg", `"200 barg": "barg"` + gauge + `bar`},
		{"Pressure", "200 bar(g)", `"200 bar(g)": "bar(g)"` + gauge + `bar`},
		{"Pressure", "200 bara", `"200 bara": "bara"` + gauge + `bar`},
		{"Pressure", "200 bar gauge", `"200 bar gauge": "bar gauge"` + gauge + `bar`},
		{"Pressure", "200 mpa", `"200 mpa": "mpa" ` + listPressure},
		{"Length", "200 psig", `"200 psig": "psig" is not a unit of length here: want m, km, cm, mm, ft, in, yd, mi or nmi`},
		{"Temperature", "15", `"15": want a temperature with its unit, such as "15 °C" or "59 °F"`},
		{"Temperature", "-273.16 °C", `"-273.16 °C": ` + cold},
		{"Temperature", "-459.68 F", `"-459.68 F": ` + cold},
		{"Temperature", "-1 K", `"-1 K": ` + cold},
		{"Temperature", "15,5 °C", `"15,5 °C": the decimal mark is a point: write "15.5 °C"`},
		{"Temperature", "15 c", `"15 c": "c" is not a unit of temperature here: want °C, °F or K`},
		{"Temperature", "15 °C 5 K", `"15 °C 5 K": want one number and unit, such as "15 °C" or "59 °F"`},
		{"TemperatureDifference", "5", `"5": want a temperature difference with its unit, such as "5 K" or "9 °F"`},
		{"TemperatureDifference", "5 R", `"5 R": "R" is not a unit of temperature difference here: want K, °C or °F`},
		{"Length", "5 K", `"5 K": K is a unit of temperature, want a length with its unit, such as "30 km" or "92000 ft"`},
		{"PercentPerHour", "1", `"1": want a rate with its unit, such as "1 %/h"`},
		{"PercentPerHour", "1 %", `"1 %": % is a unit of percentage, want a rate with its unit, such as "1 %/h"`},
		{"PercentPerHour", "-1 %/h", `"-1 %/h": rate is never negative`},
		{"Percent", "1 %/h", `"1 %/h": %/h is a unit of rate, want a percentage with its unit, such as "8 %"`},
		{"Energy", "10", `"10": want an energy with its unit, such as "10 Wh" or "36 kJ"`},
		{"Energy", "10 W", `"10 W": W is a unit of power, want an energy with its unit, such as "10 Wh" or "36 kJ"`},
		{"Energy", "-10 J", `"-10 J": energy is never negative`},
		{"Power", "10 Wh", `"10 Wh": Wh is a unit of energy, want a power with its unit, such as "0.5 W" or "300 mW"`},
		{"Charge", "3000", `"3000": want a charge with its unit, such as "3 Ah" or "3000 mAh"`},
		{"Charge", "3,000 mAh", `"3,000 mAh": a comma could mean thousands or decimals: write "3000 mAh" or "3.000 mAh"`},
		{"Charge", "3 C", `"3 C": C is a unit of temperature, want a charge with its unit, such as "3 Ah" or "3000 mAh"`},
		{"Charge", "3 A", `"3 A": A is a unit of current, want a charge with its unit, such as "3 Ah" or "3000 mAh"`},
		{"Current", "120 mAh", `"120 mAh": mAh is a unit of charge, want a current with its unit, such as "0.12 A" or "120 mA"`},
		{"Current", "-1 A", `"-1 A": current is never negative`},
		{"Voltage", "3.7", `"3.7": want a voltage with its unit, such as "3.7 V"`},
		{"Voltage", "-3.7 V", `"-3.7 V": voltage is never negative`},
	} {
		_, err := readers[c.reader](c.text)
		assert.EqualError(t, err, c.want, "%s(%q)", c.reader, c.text)
	}
	// The digit of a cubic unit does not take a sum of lengths apart.
	got, err := Length("1 m3 mm")
	require.NoError(t, err)
	assert.Equal(t, 1.003, got)
}

// A name belongs to one dimension, so that a misplaced unit is named rightly;
// degrees and the kelvin alone serve two.
func TestNamesAreOfOneDimension(t *testing.T) {
	owner := map[string]*dimension{}
	for _, d := range dimensions {
		for _, u := range d.units {
			for _, name := range u.names {
				if other := owner[name]; other != nil && d != &difference {
					t.Errorf("%q is a unit of %s and of %s", name, other.noun(), d.noun())
				}
				owner[name] = d
			}
		}
	}
}

func TestMoreUncertain(t *testing.T) {
	for _, c := range []struct {
		read           func(string) (Uncertain, error)
		text           string
		centre, spread float64
	}{
		{UncertainMass, "640 g ± 2 g", 0.64, 0.002},
		{UncertainMass, "600 g ± 3 %", 0.6, 0.018},
		{UncertainMass, "3 lb 9.6 oz +- 16 oz", 3.6 * 0.45359237, 0.45359237},
		{UncertainMass, "600 g", 0.6, math.NaN()},
		{UncertainVolume, "2.6 m3 ± 5 %", 2.6, 0.13},
		{UncertainVolume, "2.6 m3 ± 50 L", 2.6, 0.05},
		{UncertainVolume, "100 cu ft+/-10 ft3", 2.8316846592, 0.28316846592},
		{UncertainPercent, "30 % ± 20 %", 0.3, 0.2}, // points, not a fifth of 30 %
		{UncertainPercent, "30 %±20 percent", 0.3, 0.2},
		{UncertainPercent, "0 % ± 5 %", 0, 0.05},
		{UncertainPercent, "30 %", 0.3, math.NaN()},
		{UncertainNumber, "0.78 ± 5 %", 0.78, 0.039},
		{UncertainNumber, "0.78 ± 0.03", 0.78, 0.03},
		{UncertainNumber, "0.78+-0.03", 0.78, 0.03},
		{UncertainNumber, "0.78", 0.78, math.NaN()},
		{UncertainNumber, "0 ± 0.1", 0, 0.1},
		{UncertainNumber, "12 000", 12000, math.NaN()},
	} {
		got, err := c.read(c.text)
		require.NoError(t, err, c.text)
		assert.InDelta(t, c.centre, got.Centre, 0x1p-51*c.centre, "centre of %q", c.text)
		if math.IsNaN(c.spread) {
			assert.True(t, math.IsNaN(got.Spread), "spread of %q = %g, want NaN", c.text, got.Spread)
			continue
		}
		assert.InDelta(t, c.spread, got.Spread, 1e-15*c.spread, "spread of %q", c.text)
	}
}

func TestMoreUncertainRefused(t *testing.T) {
	const wantNumber = `want a coefficient without a unit, such as "0.78"`
	for _, c := range []struct {
		read       func(string) (Uncertain, error)
		text, want string
	}{
		{UncertainMass, "640 ± 2 g", `centre "640": want a mass with its unit, such as "1640 g" or "3.6 lb"`},
		{UncertainMass, "-640 g ± 2 g", `centre "-640 g": mass is never negative`},
		{UncertainMass, "640 g ± 2 mm", `spread "2 mm": mm is a unit of length, want a mass with its unit, such as "1640 g" or "3.6 lb"`},
		{UncertainVolume, "2.6 m3 ± 3 m", `spread "3 m": m is a unit of length, want a volume with its unit, such as "2.6 m³" or "92 ft³"`},
		{UncertainPercent, "30 % ± 0.2", `spread "0.2": want a percentage with its unit, such as "8 %"`},
		{UncertainPercent, "30 ± 20 %", `centre "30": want a percentage with its unit, such as "8 %"`},
		{UncertainPercent, "30 % ± -20 %", `spread "-20 %": want a size without a sign, such as "8 %"`},
		{UncertainNumber, "", `"": ` + wantNumber},
		{UncertainNumber, "high", `"high": ` + wantNumber},
		{UncertainNumber, "78 %", `"78 %": % is a unit of percentage, ` + wantNumber},
		{UncertainNumber, "0.78 m", `"0.78 m": m is a unit of length, ` + wantNumber},
		{UncertainNumber, "0.78 x", `"0.78 x": "x" is not read here: ` + wantNumber},
		{UncertainNumber, "0.78 0.03", `"0.78 0.03": "0.78 0.03" is not one number: want digits with a decimal point, spaces only between groups of three`},
		{UncertainNumber, "0,78", `"0,78": the decimal mark is a point: write "0.78"`},
		{UncertainNumber, "-0.78", `"-0.78": coefficient is never negative`},
		{UncertainNumber, "0.78 ± 3 kg", `spread "3 kg": kg is a unit of mass, ` + wantNumber},
		{UncertainNumber, "0 ± 5 %", `spread "5 %": a share of a centre of zero says nothing: ` + wantNumber},
	} {
		_, err := c.read(c.text)
		assert.EqualError(t, err, c.want, "%q", c.text)
	}
}

// Values by hand from the factors of NIST SP 811 (2008), B.8.
func TestPrintGas(t *testing.T) {
	type method = func(System, float64) string
	mass, volume, pressure := System.Mass, System.Volume, System.Pressure
	temperature, difference, energy := System.Temperature, System.TemperatureDifference, System.Energy
	for _, c := range []struct {
		print  method
		value  float64
		si, us string
	}{
		{mass, 0, "0 g", "0.0 oz"},
		{mass, 0.0424, "42 g", "1.5 oz"},
		{mass, 0.45359237, "454 g", "1.00 lb"}, // avoirdupois
		{mass, 1.64, "1640 g", "3.62 lb"},
		{mass, 9.9996, "10.0 kg", "22.0 lb"},
		{mass, 123.4, "123 kg", "272 lb"},
		{volume, 0, "0.00 m³", "0.0 ft³"},
		{volume, 0.028316846592, "0.03 m³", "1.0 ft³"}, // the cubic foot
		{volume, 2.637, "2.64 m³", "93.1 ft³"},
		{volume, 9.996, "10.0 m³", "353 ft³"},
		{volume, 345.6, "346 m³", "12 205 ft³"},
		{pressure, 101325, "1.01 bar", "14.7 psi"},
		{pressure, 686500, "6.87 bar", "99.6 psi"},
		{pressure, 3.45e6, "34.5 bar", "500 psi"},
		{pressure, 2e7, "200 bar", "2900 psi"},
		{temperature, 288.15, "15 °C", "59 °F"},
		{temperature, 233.15, "-40 °C", "-40 °F"},
		{temperature, 272.85, "0 °C", "31 °F"},
		{temperature, 0, "-273 °C", "-460 °F"},
		{difference, 5, "5.0 °C", "9.0 °F"},
		{difference, -5, "-5.0 °C", "-9.0 °F"},
		{difference, 12.3, "12 °C", "22 °F"},
		{energy, 0, "0.0 J", "0.0 ft·lbf"},
		{energy, 9.4, "9.4 J", "6.9 ft·lbf"},
		{energy, 27.1, "27 J", "20 ft·lbf"},
		{energy, 1355.8179483314, "1360 J", "1000 ft·lbf"}, // a thousand foot pounds-force
		{energy, 45678, "45 700 J", "33 700 ft·lbf"},
	} {
		assert.Equal(t, c.si, c.print(SI, c.value), "SI, %g", c.value)
		assert.Equal(t, c.us, c.print(US, c.value), "US, %g", c.value)
	}
	for _, print := range []method{mass, volume, pressure, temperature, difference, energy} {
		for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			assert.Equal(t, "unknown", print(SI, v))
			assert.Equal(t, "unknown", print(US, v))
		}
	}
}
