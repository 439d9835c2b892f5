package plan_test

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/reflect/protoreflect"

	"example.org/thistledown/internal/plan"
)

// bounded is the limits and defaults of a quantity as the schema's comments
// state them.
type bounded struct {
	field protoreflect.FullName
	path  string
	// said must be in the field's comment: where the rest of the row is from.
	said []string
	// in are at the limits, out just beyond; outSpread just beyond the
	// greatest spread, which the comments do not state.
	in, out, inSpread, outSpread []string
	// units in which the limits can be told.
	units []string
}

// base is a plan in which the quantity may be set, and what must be set besides.
func (q bounded) base() (text string, sets []string) {
	if strings.HasPrefix(q.path, "rules.") {
		return ruledByMass, nil
	}
	if strings.HasPrefix(q.path, "ground.") || strings.HasPrefix(q.path, "limits.") || strings.HasPrefix(q.path, "schedule.") {
		return grounded, nil
	}
	if strings.HasPrefix(q.path, "train.find_envelope.") {
		return sought, []string{"train.gas={helium: 99 %, volume: 3 m3}", "train.find_envelope={}"}
	}
	if strings.HasPrefix(q.path, "vary.") {
		return weighed, nil
	}
	if strings.HasPrefix(q.path, "train.") && !strings.HasPrefix(q.path, "train.measured.") {
		return weighed, besides[q.field.Name()]
	}
	return full, nil
}

// read reads the quantity's base with it in it.
func (q bounded) read(t *testing.T, value string) {
	t.Helper()
	text, sets := q.base()
	read(t, text, append(slices.Clone(sets), q.path+"="+value)...)
}

// faults is what is wrong with it then, of one fault.
func (q bounded) fault(t *testing.T, value string) plan.Fault {
	t.Helper()
	text, sets := q.base()
	found := faults(t, text, append(slices.Clone(sets), q.path+"="+value)...)
	require.Len(t, found, 1, "%s=%s: %v", q.path, value, found)
	assert.Equal(t, q.path, found[0].Field)
	return found[0]
}

// allQuantities is those of site, uncertainty and measured trains, of the ground,
// of weather, light and schedule, of weighed trains and of rules.
func allQuantities() []bounded {
	return slices.Concat(quantities[:], groundQuantities(), weekQuantities[:], trainQuantities[:], ruleQuantities[:], varyQuantities[:], findQuantities[:])
}

// quantities are those of site, uncertainty and measured trains.
var quantities = [...]bounded{
	{
		"thistledown.v1.MeasuredTrain.ascent_rate", "train.measured.ascent_rate",
		[]string{"0.5 m/s to 15 m/s", "Default spread 8 %"},
		[]string{"0.5 m/s", "15 m/s", "54 km/h"},
		[]string{"0.4999 m/s", "15.001 m/s", "54.01 km/h", "0 m/s"},
		[]string{"5 m/s ± 50 %", "5 m/s ± 0 m/s", "0.7 m/s ± 0.35 m/s"},
		[]string{"5 m/s ± 50.1 %", "5 m/s ± 2.51 m/s"},
		[]string{"m/s", "km/h", "m/min", "kn", "mph", "ft/s", "ft/min"},
	},
	{
		"thistledown.v1.MeasuredTrain.burst_altitude", "train.measured.burst_altitude",
		[]string{"1 km to 45 km", "Default spread 2 km"},
		[]string{"1 km", "45 km", "1000 m", "147637 ft"},
		[]string{"999 m", "45.001 km", "147638 ft"},
		[]string{"40 km ± 15 km", "30 km ± 50 %", "30 km ± 0 m"},
		[]string{"40 km ± 15.01 km", "30 km ± 50.1 %"},
		[]string{"m", "km", "ft", "yd", "mi", "nmi"},
	},
	{
		"thistledown.v1.MeasuredTrain.landing_speed", "train.measured.landing_speed",
		[]string{"0.5 m/s to 30 m/s", "Default spread 10 %"},
		[]string{"0.5 m/s", "30 m/s", "108 km/h"},
		[]string{"0.4999 m/s", "30.001 m/s", "108.01 km/h"},
		[]string{"5 m/s ± 50 %"},
		[]string{"5 m/s ± 50.1 %"},
		[]string{"m/s", "mph", "ft/s"},
	},
	{
		"thistledown.v1.Uncertainty.launch_delay", "uncertainty.launch_delay",
		[]string{"−6 h to 24 h", `"0 min ± 5 min"`},
		[]string{"-6 h", "+24 h", "1440 min", "1 d"},
		[]string{"-6.01 h", "24.01 h", "1441 min", "-361 min"},
		[]string{"0 min ± 6 h", "0 min ± 0 s"},
		[]string{"0 min ± 6.01 h"},
		[]string{"s", "min", "h", "d"},
	},
	{
		"thistledown.v1.Uncertainty.wind_error", "uncertainty.wind_error",
		[]string{"0 m/s to 30 m/s", "17 %", "±30 %", "50 % at the most"},
		[]string{"0 m/s", "30 m/s"},
		[]string{"30.001 m/s", "109 km/h"},
		[]string{"3 m/s ± 50 %", "3 m/s ± 0 m/s", "0 m/s ± 0 m/s"},
		[]string{"3 m/s ± 50.1 %"},
		[]string{"m/s", "kn"},
	},
	{
		"thistledown.v1.Uncertainty.wind_error_height_scale", "uncertainty.wind_error_height_scale",
		[]string{"1 km to 30 km", "2 km up to a height of 10 km"},
		[]string{"1000 m", "30 km"},
		[]string{"999 m", "30.001 km"},
		nil, nil,
		[]string{"m", "km", "ft"},
	},
	{
		"thistledown.v1.Site.elevation", "site.elevation",
		[]string{"−430 m to 6,000 m"},
		[]string{"-430 m", "6000 m"},
		[]string{"-430.1 m", "6000.1 m", "19686 ft"}, // 6000 ÷ 0.3048 is 19685.04
		nil, nil,
		[]string{"m", "km", "ft"},
	},
	{
		"thistledown.v1.OffNominal.early_burst", "uncertainty.off_nominal.early_burst",
		[]string{"0 % to 20 %", "Default 3 %"},
		[]string{"0 %", "20 %", "2.5%"},
		[]string{"21 %", "-1 %", "20.01 %"},
		nil, nil,
		[]string{"%"},
	},
	{
		"thistledown.v1.OffNominal.canopy_fails", "uncertainty.off_nominal.canopy_fails",
		[]string{"0 % to 20 %", "Default 1 %"},
		[]string{"0 %", "20 %", "2.5%"},
		[]string{"21 %", "-1 %", "20.01 %"},
		nil, nil,
		[]string{"%"},
	},
	{
		"thistledown.v1.OffNominal.canopy_fouled", "uncertainty.off_nominal.canopy_fouled",
		[]string{"0 % to 20 %", "Default 2 %"},
		[]string{"0 %", "20 %", "2.5%"},
		[]string{"21 %", "-1 %", "20.01 %"},
		nil, nil,
		[]string{"%"},
	},
	{
		"thistledown.v1.OffNominal.slow_leak", "uncertainty.off_nominal.slow_leak",
		[]string{"0 % to 20 %", "Default 2 %"},
		[]string{"0 %", "20 %", "2.5%"},
		[]string{"21 %", "-1 %", "20.01 %"},
		nil, nil,
		[]string{"%"},
	},
	{
		"thistledown.v1.OffNominal.float", "uncertainty.off_nominal.float",
		[]string{"0 % to 20 %", "Default 1 %"},
		[]string{"0 %", "20 %", "2.5%"},
		[]string{"21 %", "-1 %", "20.01 %"},
		nil, nil,
		[]string{"%"},
	},
}

func TestQuantityLimits(t *testing.T) {
	for _, q := range allQuantities() {
		t.Run(string(q.field), func(t *testing.T) {
			require.NotEmpty(t, q.in)
			require.NotEmpty(t, q.out)
			for _, text := range slices.Concat(q.in, q.inSpread) {
				q.read(t, text)
			}
			for _, text := range q.out {
				q.fault(t, text)
			}
			for _, text := range q.outSpread {
				assert.Contains(t, q.fault(t, text).Want, "a spread of at most ")
			}
			// No quantity takes a bare number, and none another's unit.
			assert.Contains(t, q.fault(t, "5").Want, "with its unit, such as ")
			assert.Contains(t, q.fault(t, "5 furlongs").Value, `"furlongs" is not a unit of `)
		})
	}
}

// What a fault tells as limits, in the unit that was typed, is itself allowed.
func TestToldLimitsAreAllowed(t *testing.T) {
	for _, q := range allQuantities() {
		for _, unit := range q.units {
			beyond := "1e11 " + unit
			low, high, ok := strings.Cut(q.fault(t, beyond).Want, " to ")
			require.True(t, ok, "%s: %s to %s", beyond, low, high)
			for _, limit := range [...]string{low, high} {
				assert.True(t, strings.HasSuffix(limit, " "+unit), "%s: told %s", beyond, limit)
				q.read(t, limit)
			}
		}
	}
}

// The table above says what the schema's comments say.
func TestQuantityLimitsAreTheSchemas(t *testing.T) {
	var schema []byte
	for _, file := range [...]string{"plan.proto", "train.proto", "rules.proto"} {
		text, err := os.ReadFile("../../proto/thistledown/v1/" + file)
		require.NoError(t, err)
		schema = append(schema, text...)
	}
	space := regexp.MustCompile(`[\s/]+`)
	for _, q := range allQuantities() {
		// Fields of one name stand in several messages: "mass", "temperature".
		message := regexp.MustCompile(`(?s)\nmessage ` + string(q.field.Parent().Name()) + ` \{\n.*?\n\}\n`).Find(schema)
		require.NotNil(t, message, "%s", q.field)
		comment := regexp.MustCompile(`((?:\n *//[^\n]*)+)\n *string ` + string(q.field.Name()) + ` = `).FindSubmatch(message)
		require.NotNil(t, comment, "%s has no comment", q.field)
		text := space.ReplaceAllString(string(comment[1]), " ")
		for _, said := range q.said {
			assert.Contains(t, text, space.ReplaceAllString(said, " "), "%s", q.field)
		}
	}
}
