package plan_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/plan"
)

// sought is a plan whose envelope is yet to be chosen. Names and numbers are
// invented.
const sought = `name: Which of the two
site: {name: Sports ground, latitude: 55.5, longitude: -3.25, elevation: 120 m, time_zone: UTC}
launch: 2017-03-22T08:00:00Z
train:
  parts: [{name: box, mass: 2500 g}]
  find_envelope:
    bursts_near: 30 km
    owned: [{mass: 350 g}, {mass: 600 g, bursts_at: 6.0 m}]
  gas: {helium: 99 %, ascent_rate: 5 m/s}
  canopies: [{shape: cross, size: 1.2 m}]
`

const ownedLine = "    owned: [{mass: 350 g}, {mass: 600 g, bursts_at: 6.0 m}]\n"

func TestReadFindEnvelope(t *testing.T) {
	w := read(t, sought).Train.Weighed
	require.NotNil(t, w.Find)
	assert.Equal(t, plan.ByBurst, w.Find.By)
	assert.InDelta(t, 30e3, w.Find.Amount, 1e-9)
	assert.Equal(t, plan.ByAscentRate, w.Fill.By)
	assert.Zero(t, w.Envelope)
	require.Len(t, w.Find.Owned, 2)
	first, err := plan.Remembered(0.35)
	require.NoError(t, err)
	assert.Equal(t, first, w.Find.Owned[0], "what is not said of an envelope owned is as of any")
	assert.Equal(t, [2]float64{0.6, 6}, [2]float64{w.Find.Owned[1].Mass, w.Find.Owned[1].Burst})

	find := func(set ...string) plan.Find {
		return *read(t, strings.Replace(sought, ownedLine, "", 1), append([]string{"train.find_envelope.bursts_near="}, set...)...).Train.Weighed.Find
	}
	assert.Equal(t, plan.Find{By: plan.ByAscentRate, Amount: 5}, find("train.find_envelope.ascent_rate=5 m/s", "train.gas={hydrogen: 99 %, volume: 3 m3}"))
	got := find("train.find_envelope.free_lift=2 lb")
	assert.Equal(t, plan.ByFreeLift, got.By)
	assert.InDelta(t, 2*0.45359237, got.Amount, 1e-12) // the pound as defined
	for by, field := range map[plan.FillBy]string{plan.ByBurst: "bursts_near", plan.ByAscentRate: "ascent_rate", plan.ByFreeLift: "free_lift"} {
		assert.Equal(t, "train.find_envelope."+field, (&plan.Find{By: by}).Field())
	}
}

// An envelope that is remembered is one that a plan with its mass alone has.
func TestRemembered(t *testing.T) {
	for _, mass := range [...]float64{0.1, 0.6, 3} {
		got, err := plan.Remembered(mass)
		require.NoError(t, err)
		assert.NoError(t, got.Check())
		assert.True(t, got.FromMemory)
	}
	want := read(t, bare).Train.Weighed.Envelope
	got, err := plan.Remembered(want.Mass)
	require.NoError(t, err)
	assert.Equal(t, want, got)
	for _, mass := range [...]float64{0.0999, 3.001, math.NaN()} {
		_, err := plan.Remembered(mass)
		assert.ErrorContains(t, err, "no burst diameter is remembered", "%g kg", mass)
	}
}

var findFaults = []faultCase{
	{"found and given", "  gas:", "  envelope: {mass: 600 g}\n  gas:", "p.yaml:6: train.find_envelope: a mapping: want it left out, as envelope says which one flies"},
	{"found and measured", "  parts: [{name: box, mass: 2500 g}]\n", "  measured: {ascent_rate: 5 m/s, burst_altitude: 30 km, landing_speed: 5 m/s}\n", strings.Join([]string{
		"p.yaml:6: train.find_envelope: a mapping: " + wantNoneOf, "p.yaml:9: train.gas: a mapping: " + wantNoneOf, "p.yaml:10: train.canopies: 1 item: " + wantNoneOf,
	}, "\n")},
	{"by nothing", "    bursts_near: 30 km\n", "", "p.yaml:6: train.find_envelope: what it is to do is not said: want one of bursts_near, ascent_rate and free_lift"},
	{"by two", "    bursts_near: 30 km\n" + ownedLine, "    bursts_near: 30 km\n    free_lift: 900 g\n", "p.yaml:6: train.find_envelope: bursts_near and free_lift together: want one of them, as the gas gives the other"},
	{"by what the gas is given by", "ascent_rate: 5 m/s", "bursts_near: 29 km", "p.yaml:4: train: gas and find_envelope say the same, or one follows from the other: want two of amount of gas, free lift, ascent rate and burst"},
	{"by what the pull says already", "    bursts_near: 30 km\n" + ownedLine + "  gas: {helium: 99 %, ascent_rate: 5 m/s}", "    free_lift: 900 g\n  gas: {helium: 99 %, neck_lift: 4 kg}", "p.yaml:4: train: gas and find_envelope say the same, or one follows from the other: want two of amount of gas, free lift, ascent rate and burst"},
	{"owned, and to go as fast", "    bursts_near: 30 km\n", "    free_lift: 900 g\n", "p.yaml:6: train.find_envelope.bursts_near: missing: want the height that one of those owned is to reach"},
	{"one owned, too heavy to be remembered", "{mass: 350 g}", "{mass: 3500 g}", "p.yaml:8: train.find_envelope.owned[0].bursts_at: missing: " + wantPaper},
	{"one owned without a mass", "{mass: 350 g}", "{bursts_at: 4 m}", `p.yaml:8: train.find_envelope.owned[0].mass: missing: want a mass with its unit, such as "600 g"`},
	{"masses alone", "[{mass: 350 g}, {mass: 600 g, bursts_at: 6.0 m}]", "[350 g, 600 g]", "p.yaml:8: train.find_envelope.owned[0]: \"350 g\": want a mapping with mass, bursts_at, fullest, hangs_on\n" +
		"p.yaml:8: train.find_envelope.owned[1]: \"600 g\": want a mapping with mass, bursts_at, fullest, hangs_on"},
	{"with a spread", "bursts_near: 30 km", "bursts_near: 30 km ± 1 km", `p.yaml:7: train.find_envelope.bursts_near: "30 km ± 1 km": no spread is taken here: want a length with its unit, such as "30 km"`},
	{"to sink", "    bursts_near: 30 km\n" + ownedLine, "    free_lift: -2 lb\n", `p.yaml:7: train.find_envelope.free_lift: "-2 lb": it will not leave the ground: add more than 2 lb of lift`},
	{"the gas to sink", "ascent_rate: 5 m/s", "free_lift: −300 g ± 10 g", `p.yaml:9: train.gas.free_lift: "−300 g ± 10 g": it will not leave the ground: add more than 300 g of lift`},
	{"without parts", "  parts: [{name: box, mass: 2500 g}]\n", "", "p.yaml:4: train.parts: missing: want what hangs below the envelope, one part at least"},
}

func TestReadFindEnvelopeFaults(t *testing.T) { testFaults(t, sought, findFaults) }

// findQuantities are those that an envelope is looked for by.
var findQuantities = [...]bounded{
	{
		"thistledown.v1.FindEnvelope.bursts_near", "train.find_envelope.bursts_near",
		[]string{"1 km to 45 km"},
		[]string{"1 km", "45 km", "147637 ft"}, // 45000 ÷ 0.3048 is 147637.8
		[]string{"999 m", "45.001 km", "147638 ft"},
		nil, nil,
		[]string{"m", "km", "ft"},
	},
	{
		"thistledown.v1.FindEnvelope.ascent_rate", "train.find_envelope.ascent_rate",
		[]string{"0.5 m/s to 15 m/s"},
		[]string{"0.5 m/s", "15 m/s"},
		[]string{"0.49 m/s", "15.01 m/s", "0 m/s"},
		nil, nil,
		[]string{"m/s", "ft/min"},
	},
	{
		"thistledown.v1.FindEnvelope.free_lift", "train.find_envelope.free_lift",
		[]string{"1 g to 200 kg"},
		[]string{"1 g", "200 kg"},
		[]string{"0.9 g", "200.1 kg", "0 g", "-900 g"},
		nil, nil,
		[]string{"g", "kg", "lb", "oz"},
	},
}
