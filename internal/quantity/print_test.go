package quantity

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Values by hand from the exact factors of units.go's sources.
func TestPrint(t *testing.T) {
	type method = func(System, float64) string
	distance, altitude, area := System.Distance, System.Altitude, System.Area
	climb, wind, span := System.VerticalSpeed, System.WindSpeed, System.Duration
	for _, c := range []struct {
		print  method
		value  float64
		si, us string
	}{
		{distance, 0, "0 m", "0 ft"},
		{distance, 8.4, "8 m", "28 ft"},
		{distance, 99.6, "100 m", "330 ft"},
		{distance, 847, "850 m", "2780 ft"},
		{distance, 996, "1.0 km", "3270 ft"},
		{distance, 1609.344, "1.6 km", "1.0 mi"},
		{distance, 12449, "12.4 km", "7.7 mi"},
		{distance, 99960, "100 km", "62.1 mi"},
		{distance, 12345678, "12 346 km", "7671 mi"},
		{altitude, 0, "0 m", "0 ft"},
		{altitude, -413, "-413 m", "-1350 ft"},
		{altitude, 432.4, "432 m", "1420 ft"},
		{altitude, 1607.2, "1610 m", "5270 ft"},
		{altitude, 9994, "9990 m", "32 800 ft"},
		{altitude, 9996, "10 000 m", "32 800 ft"},
		{altitude, 27003, "27 000 m", "88 600 ft"},
		{climb, 5.18, "5.2 m/s", "1020 ft/min"},
		{climb, -6, "-6.0 m/s", "-1180 ft/min"},
		{climb, -0.04, "0.0 m/s", "-10 ft/min"},
		{climb, 80.26, "80.3 m/s", "15 800 ft/min"},
		{wind, 7.44, "7.4 m/s", "17 mph"},
		{wind, 9.96, "10 m/s", "22 mph"},
		{wind, 34.4, "34 m/s", "77 mph"},
		{area, 0, "0 m²", "0 sq ft"},
		{area, 56.7, "57 m²", "610 sq ft"},
		{area, 4046.8564224, "4050 m²", "1.0 acres"}, // 43 560 square international feet
		{area, 123456, "12 ha", "31 acres"},
		{area, 960000, "1.0 km²", "237 acres"},
		{area, 2589988.110336, "2.6 km²", "1.0 sq mi"}, // the square of 1609.344 m
		{area, 42.45e6, "42 km²", "16 sq mi"},
		{area, 12345e6, "12 300 km²", "4770 sq mi"},
	} {
		assert.Equal(t, c.si, c.print(SI, c.value), "SI, %g", c.value)
		assert.Equal(t, c.us, c.print(US, c.value), "US, %g", c.value)
	}
	for seconds, want := range map[float64]string{
		0: "0 s", -0.2: "0 s", 38.4: "38 s", 59.6: "1 min", 2700: "45 min", -2700: "-45 min",
		3599: "1 h", 9060: "2 h 31 min", -5400: "-1 h 30 min", 7200: "2 h",
		47*3600 + 59*60: "47 h 59 min", 48*3600 - 20: "2 d", 76 * 3600: "3 d 4 h", 126 * 3600: "5 d 6 h",
	} {
		assert.Equal(t, want, span(SI, seconds), "Duration(%g)", seconds)
		assert.Equal(t, want, span(US, seconds), "Duration(%g)", seconds)
	}
	for _, print := range []method{distance, altitude, climb, wind, area, span} {
		for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			assert.Equal(t, "unknown", print(SI, v))
			assert.Equal(t, "unknown", print(US, v))
		}
	}
}

func TestParseSystem(t *testing.T) {
	for _, s := range []System{SI, US} {
		got, err := ParseSystem(s.String())
		require.NoError(t, err)
		assert.Equal(t, s, got)
	}
	_, err := ParseSystem("metric")
	require.EqualError(t, err, `units "metric": want si or us`)
	assert.Equal(t, "System(7)", System(7).String())
}
