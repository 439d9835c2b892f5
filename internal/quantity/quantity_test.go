package quantity

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// readers are the readers by the name of their function.
var readers = map[string]func(string) (float64, error){
	"Length": Length, "Mass": Mass, "Speed": Speed, "Duration": Duration, "Percent": Percent,
	"Volume": Volume, "Pressure": Pressure, "PercentPerHour": PercentPerHour,
	"Temperature": Temperature, "TemperatureDifference": TemperatureDifference,
	"Energy": Energy, "Power": Power, "Charge": Charge, "Current": Current, "Voltage": Voltage,
}

// Every name of every unit. The values are those of NIST SP 811 (2008),
// appendix B.8, by the quotient that defines them where the table rounds; SI
// units: BIPM, SI Brochure, 9th edition.
func TestUnits(t *testing.T) {
	for reader, units := range map[string]map[string]float64{
		"Length": {
			"m metre metres meter meters": 1, "km": 1000, "cm": 0.01, "mm": 0.001,
			"ft foot feet":   0.3048,   // international foot, exact
			"in inch inches": 0.0254,   // exact
			"yd yard yards":  0.9144,   // exact
			"mi mile miles":  1609.344, // statute, exact
			"nmi NM nm":      1852,     // nautical, exact
		},
		"Mass": {
			"kg": 1, "g": 0.001,
			"lb lbs": 0.45359237,      // avoirdupois, exact
			"oz":     0.45359237 / 16, // avoirdupois, 2.834 952 E-02
		},
		"Speed": {
			"m/s": 1, "km/h": 1 / 3.6, "m/min": 1.0 / 60,
			"kn kt kts knot knots": 1852.0 / 3600, // 5.144 444 E-01
			"mph mi/h":             0.44704,       // exact
			"ft/s":                 0.3048,        // exact
			"ft/min fpm":           0.00508,       // exact
		},
		"Duration": {
			"s sec second seconds": 1, "min minute minutes": 60, "h hr hour hours": 3600, "d day days": 86400,
		},
		"Percent": {"% percent": 0.01},
	} {
		for names, si := range units {
			for _, name := range strings.Fields(names) {
				for _, text := range []string{"1 " + name, "1" + name} {
					got, err := readers[reader](text)
					require.NoError(t, err)
					// The nearest float64 of a quotient may differ in its last bit
					// from that of the decimal.
					assert.InEpsilon(t, si, got, 0x1p-52, "%s(%q)", reader, text)
				}
			}
		}
	}
}

// Worked by hand with the exact factors; equal to the last bit.
func TestExact(t *testing.T) {
	for _, c := range []struct {
		reader, text string
		want         float64
	}{
		{"Length", "92000 ft", 28041.6}, // survey feet would give 28041.656
		{"Length", "30 km", 30000},
		{"Length", "7 nmi", 12964}, // statute miles would give 11265.408
		{"Length", "-430 m", -430},
		{"Mass", "1640 g", 1.64},
		{"Mass", "3.6 lb", 1.632932532},
		{"Speed", "1000 ft/min", 5.08},
		{"Speed", "36 km/h", 10},
		{"Speed", "18 kn", 9.26},
		{"Duration", "+45 min", 2700},
		{"Duration", "1.5 h", 5400},
		{"Duration", "1 h 30 min", 5400},
		{"Duration", "-1 h 30 min", -5400},
		{"Duration", "2 d", 172800},
		{"Percent", "8 %", 0.08},
		{"Percent", "150%", 1.5},
	} {
		got, err := readers[c.reader](c.text)
		require.NoError(t, err)
		assert.Equal(t, c.want, got, "%s(%q)", c.reader, c.text)
	}
}

// A sum rounds once more: equal to two bits.
func TestPoundsAndOunces(t *testing.T) {
	got, err := Mass("3 lb 9.6 oz")
	require.NoError(t, err)
	assert.InEpsilon(t, 3.6*0.45359237, got, 0x1p-51)
}

func TestForms(t *testing.T) {
	for text, want := range map[string]float64{
		"  30 km ":          30000,
		"30\u00a0km":        30000, // no-break space
		"30\u2009km":        30000, // thin space
		"27 000 m":          27000,
		"27\u202f000 m":     27000, // narrow no-break space
		"27\u2009000.5 m":   27000.5,
		"1 234 567 mm":      1234.567,
		".5 km":             500,
		"0 m":               0,
		"0.000 m":           0,
		"3e4 m":             30000,
		"3E+4m":             30000,
		"\u2212430 m":       -430, // minus sign
		"- 430 m":           -430,
		"+430 m":            430,
		"1 km 300 m":        1300,
		"5 ft 6 in":         1.6764,
		"1e-12 m":           1e-12,
		"1 000 000 000 km":  1e12,
		"1000000000000 km":  1e15,
		"000000000030.0 km": 30000,
	} {
		got, err := Length(text)
		require.NoError(t, err)
		assert.InDelta(t, want, got, 1e-15*math.Abs(want), "Length(%q)", text)
	}
}

func TestRefused(t *testing.T) {
	const wantLength = `want a length with its unit, such as "30 km" or "92000 ft"`
	const listLength = `want m, km, cm, mm, ft, in, yd, mi or nmi`
	const notOne = ` is not one number: want digits with a decimal point, spaces only between groups of three`
	for _, c := range []struct{ reader, text, want string }{
		{"Length", "30", `"30": ` + wantLength},
		{"Length", "", `"": ` + wantLength},
		{"Length", "km", `"km": ` + wantLength},
		{"Length", "NaN", `"NaN": ` + wantLength},
		{"Length", "NaN m", `"NaN m": ` + wantLength},
		{"Length", "Inf m", `"Inf m": ` + wantLength},
		{"Length", "+-5 m", `"+-5 m": ` + wantLength},
		{"Length", "--5 m", `"--5 m": ` + wantLength},
		{"Length", "5. m", `"5. m": "5. m"` + notOne},
		{"Length", "1.2.3 m", `"1.2.3 m": "1.2.3 m"` + notOne},
		{"Length", "27 00 m", `"27 00 m": "27 00 m"` + notOne},
		{"Length", "27 0000 m", `"27 0000 m": "27 0000 m"` + notOne},
		{"Length", "0x1F m", `"0x1F m": "x" is not a unit of length here: ` + listLength},
		{"Length", "1_000 m", `"1_000 m": "_" is not a unit of length here: ` + listLength},
		{"Length", "30 KM", `"30 KM": "KM" is not a unit of length here: ` + listLength},
		{"Length", "30 km high", `"30 km high": "km high" is not a unit of length here: ` + listLength},
		{"Length", "30 min", `"30 min": min is a unit of duration, want a length with its unit, such as "30 km" or "92000 ft"`},
		{"Length", "30 m 1 km", `"30 m 1 km": want one number and unit, or parts from the largest unit to the smallest`},
		{"Length", "30 m 30 m", `"30 m 30 m": want one number and unit, or parts from the largest unit to the smallest`},
		{"Length", "30 km 5", `"30 km 5": ` + wantLength},
		{"Length", "1e13 m", `"1e13 m": the number "1e13": want 0 or 1e-12 to 1e+12`},
		{"Length", "1e400 m", `"1e400 m": the number "1e400": want 0 or 1e-12 to 1e+12`},
		{"Length", "1e-400 m", `"1e-400 m": the number "1e-400": want 0 or 1e-12 to 1e+12`},
		{"Length", "9e-13 m", `"9e-13 m": the number "9e-13": want 0 or 1e-12 to 1e+12`},
		{"Length", "92,000 ft", `"92,000 ft": a comma could mean thousands or decimals: write "92000 ft" or "92.000 ft"`},
		{"Length", "1,234,567 m", `"1,234,567 m": a comma is not read: write "1234567 m"`},
		{"Length", "1,5 m", `"1,5 m": the decimal mark is a point: write "1.5 m"`},
		{"Length", "27000,5 m", `"27000,5 m": the decimal mark is a point: write "27000.5 m"`},
		{"Mass", "1,640 kg", `"1,640 kg": a comma could mean thousands or decimals: write "1640 kg" or "1.640 kg"`},
		{"Mass", "-2 kg", `"-2 kg": mass is never negative`},
		{"Mass", "2 st", `"2 st": "st" is not a unit of mass here: want kg, g, lb or oz`},
		{"Speed", "5", `"5": want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`},
		{"Speed", "-5 m/s", `"-5 m/s": speed is never negative`},
		{"Speed", "5 m", `"5 m": m is a unit of length, want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`},
		{"Speed", "5 m/s 3 km/h", `"5 m/s 3 km/h": want one number and unit, such as "5.2 m/s" or "1000 ft/min"`},
		{"Duration", "1:30", `"1:30": ":" is not a unit of duration here: want s, min, h or d`},
		{"Duration", "1h30m", `"1h30m": m is a unit of length, want a duration with its unit, such as "45 min" or "1 h 30 min"`},
		{"Duration", "1 h -30 min", `"1 h -30 min": want a duration with its unit, such as "45 min" or "1 h 30 min"`},
		{"Percent", "0.08", `"0.08": want a percentage with its unit, such as "8 %"`},
		{"Percent", "8 m", `"8 m": m is a unit of length, want a percentage with its unit, such as "8 %"`},
		{"Percent", "8 ‰", `"8 ‰": "‰" is not a unit of percentage here: want %`},
	} {
		_, err := readers[c.reader](c.text)
		assert.EqualError(t, err, c.want, "%s(%q)", c.reader, c.text)
	}
}

func TestRefusedLong(t *testing.T) {
	_, err := Length(strings.Repeat("9", 1<<20) + " m")
	require.EqualError(t, err, `"`+strings.Repeat("9", 40)+`…": want a length in at most 120 bytes`)
	_, err = UncertainLength(strings.Repeat("± ", 1<<20))
	require.ErrorContains(t, err, "want a length in at most 120 bytes")
	_, err = Length("\xff\xfe m")
	require.ErrorContains(t, err, "want a length with its unit")
}

func TestUncertain(t *testing.T) {
	for _, c := range []struct {
		read           func(string) (Uncertain, error)
		text           string
		centre, spread float64
	}{
		{UncertainSpeed, "5.2 m/s ± 8 %", 5.2, 0.416},
		{UncertainSpeed, "5.2 m/s±8%", 5.2, 0.416},
		{UncertainSpeed, "5 m/s +- 0.4 m/s", 5, 0.4},
		{UncertainSpeed, "5 m/s +/- 8 percent", 5, 0.4},
		{UncertainSpeed, "1000 ft/min +- 1 m/s", 5.08, 1},
		{UncertainLength, "30 km ± 1.5 km", 30000, 1500},
		{UncertainLength, "92000 ft ± 5 %", 28041.6, 1402.08},
		{UncertainLength, "-100 m ± 5 %", -100, 5},
		{UncertainLength, "30 km ± 0 m", 30000, 0},
		{UncertainDuration, "-10 min ± 5 min", -600, 300},
		{UncertainDuration, "0 min ± 5 min", 0, 300},
		{UncertainDuration, "1 h 30 min ± 1 min 30 s", 5400, 90},
		{UncertainLength, "30 km", 30000, math.NaN()},
	} {
		got, err := c.read(c.text)
		require.NoError(t, err, c.text)
		assert.Equal(t, c.centre, got.Centre, "centre of %q", c.text)
		if math.IsNaN(c.spread) {
			assert.True(t, math.IsNaN(got.Spread), "spread of %q = %g, want NaN", c.text, got.Spread)
			continue
		}
		assert.InDelta(t, c.spread, got.Spread, 1e-15*c.spread, "spread of %q", c.text)
	}
}

func TestUncertainRefused(t *testing.T) {
	for text, want := range map[string]string{
		"5":                    `"5": want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`,
		"5.2 ± 0.4 m/s":        `centre "5.2": want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`,
		"± 8 %":                `centre "": want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`,
		"5 m/s ±":              `spread "": want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`,
		"5 m/s ± 0.4":          `spread "0.4": want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`,
		"5 m/s ± -8 %":         `spread "-8 %": want a size without a sign, such as "5.2 m/s" or "1000 ft/min"`,
		"5 m/s ± +1 m/s":       `spread "+1 m/s": want a size without a sign, such as "5.2 m/s" or "1000 ft/min"`,
		"5 m/s ± 1 m":          `spread "1 m": m is a unit of length, want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`,
		"0 m/s ± 8 %":          `spread "8 %": a share of a centre of zero says nothing: want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`,
		"5 m/s ± 1 m/s ± 2 %":  `"5 m/s ± 1 m/s ± 2 %": want one spread`,
		"5 m/s ± 1 m/s +- 2 %": `"5 m/s ± 1 m/s +- 2 %": want one spread`,
		"-5 m/s ± 8 %":         `centre "-5 m/s": speed is never negative`,
		"5 m/s ± NaN m/s":      `spread "NaN m/s": want a speed with its unit, such as "5.2 m/s" or "1000 ft/min"`,
		"5,2 m/s ± 8 %":        `centre "5,2 m/s": the decimal mark is a point: write "5.2 m/s"`,
	} {
		_, err := UncertainSpeed(text)
		assert.EqualError(t, err, want, "UncertainSpeed(%q)", text)
	}
}

func TestOr(t *testing.T) {
	stated, err := UncertainSpeed("5 m/s ± 0 %")
	require.NoError(t, err)
	assert.Equal(t, Uncertain{5, 0}, stated.Or(0.4), "a stated spread, 0 as well, stays")
	open, err := UncertainSpeed("5 m/s")
	require.NoError(t, err)
	assert.Equal(t, Uncertain{5, 0.4}, open.Or(0.4))
}
