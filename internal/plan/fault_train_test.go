package plan_test

import (
	"strings"
	"testing"

	"buf.build/go/protovalidate"
	"buf.build/go/protoyaml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/reflect/protoreflect"

	"example.org/thistledown/internal/plan"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

const (
	wantPart   = `want a mass with its unit, such as "640 g"`
	wantShapes = "want flat circular, conical, biconical, polyconical, extended skirt 10 % flat, extended skirt 14.3 % full, hemispherical, annular or cross"
	wantPrice  = `want a number of 0 or more and a currency's three capital letters, such as "85 EUR"`
	wantPaper  = "want the burst diameter of the envelope's papers: none is remembered outside 100 g to 3 kg"
	wantNoneOf = "want none of it beside measured, which says how the train moves"
	ofTrain    = "(or another of measured, parts, envelope, gas, canopies, batteries, trackers, waiting, searching, find_envelope)"
	ofPart     = "(or another of name, mass, count, hangs, leaves)"

	envelopeLines = "    mass: 600 g ± 2 %\n    bursts_at: 6.0 m ± 5 %\n"
	canopyLines   = "  canopies:\n    - {shape: flat circular, outline: square, size: 1.2 m, drag_coefficient: 0.72, drag_spread: 15 %, count: 1}\n"
)

// faultCase changes one text in a plan; the lines are counted in that.
type faultCase struct{ name, from, to, want string }

// Masses, and what hangs below the envelope.
var partFaults = []faultCase{
	{"negative mass", "640 g ± 5 g", "-640 g", `p.yaml:7: train.parts[0].mass: "-640 g": mass is never negative: ` + wantPart},
	{"no mass at all", "640 g ± 5 g", "0 g", `p.yaml:7: train.parts[0].mass: "0 g": want 0.1 g to 50000 g`},
	{"bare mass", "640 g ± 5 g", "640", `p.yaml:7: train.parts[0].mass: "640": ` + wantPart},
	{"kilograms for grams", "640 g ± 5 g", "640 kg", `p.yaml:7: train.parts[0].mass: "640 kg": want 0.0001 kg to 50 kg`},
	{"unit in full", "640 g ± 5 g", "640 grams", `p.yaml:7: train.parts[0].mass: "640 grams": "grams" is not a unit of mass here: want kg, g, lb or oz`},
	{"kitchen scale's comma between braces", "640 g ± 5 g", "1,640 kg", `p.yaml:7: train.parts[0].mass: "1,640 kg": a comma could mean thousands or decimals: write "1640 kg" or "1.640 kg": ` + wantPart},
	{"spread", "640 g ± 5 g", "640 g ± 400 g", `p.yaml:7: train.parts[0].mass: "640 g ± 400 g": want a spread of at most 50 %`},
	{"misspelt mass", "mass: 640 g ± 5 g", "mas: 640 g", "p.yaml:7: train.parts[0].mas: no such field: want mass " + ofPart},
	{"no mass", ", mass: 640 g ± 5 g", "", "p.yaml:7: train.parts[0].mass: missing: " + wantPart},
	{"no name", "name: camera box, ", "", "p.yaml:7: train.parts[0].name: missing: want 1 to 60 characters"},
	{"name twice", "name: egg in a cup", "name: camera box", `p.yaml:8: train.parts[1].name: "camera box": want a name other than that of train.parts[0]`},
	{"none of a part", "count: 20", "count: 0", "p.yaml:10: train.parts[3].count: 0: want 1 to 1000"},
	{"half a part", "count: 20", "count: 2.5", "p.yaml:10: train.parts[3].count: 2.5: want a whole number, 1 to 1000"},
	{"hangs nowhere", "hangs: line", "hangs: top", `p.yaml:9: train.parts[2].hangs: "top": want neck, line or bottom`},
	{"leaves at no time", "leaves: falling", "leaves: never", `p.yaml:10: train.parts[3].leaves: "never": want at_burst or falling`},
	{"too much together", "640 g ± 5 g", "45 kg, count: 5", "p.yaml:6: train.parts: 225.5 kg together: want at most 200 kg"},
	{"parts as one mass", "  parts:\n", "  parts: 1.2 kg\n  waiting:\n", `p.yaml:6: train.parts: "1.2 kg": want a list of at most 200 items` + "\n" +
		"p.yaml:8: train.waiting: a list: want a duration with its unit, such as \"45 min\"\n" +
		"p.yaml:41: train.waiting: given again after line 7: want it once"},
}

// Envelope and canopies.
var clothFaults = []faultCase{
	{"heavy envelope without its papers", envelopeLines, "    mass: 4 kg\n", "p.yaml:12: train.envelope.bursts_at: missing: " + wantPaper},
	{"light envelope without its papers", envelopeLines, "    mass: 2 oz\n", "p.yaml:12: train.envelope.bursts_at: missing: " + wantPaper},
	{"envelope's mass absurd", "600 g ± 2 %", "600 kg", `p.yaml:13: train.envelope.mass: "600 kg": want 0.005 kg to 50 kg`},
	{"misspelt burst", "    bursts_at: 6.0 m", "    burst_at: 6.0 m", "p.yaml:14: train.envelope.burst_at: no such field: want bursts_at (or another of mass, bursts_at, fullest, hangs_on)"},
	{"bare share", "hangs_on: 40 % ± 15 %", "hangs_on: 40", `p.yaml:16: train.envelope.hangs_on: "40": want a percentage with its unit, such as "30 %"`},
	{"canopy of no size", "size: 1.2 m", "size: 0 m", `p.yaml:32: train.canopies[0].size: "0 m": want 0.1 m to 60 m`},
	{"canopy of less than no size", "size: 1.2 m", "size: -4 ft", `p.yaml:32: train.canopies[0].size: "-4 ft": want 0.3281 ft to 196.8 ft`},
	{"canopy's area for its size", "size: 1.2 m", "size: 1.44 m2", `p.yaml:32: train.canopies[0].size: "1.44 m2": m2 is a unit of area: want a length with its unit, such as "1.2 m"`},
	{"bare size", "size: 1.2 m", "size: 1.2", `p.yaml:32: train.canopies[0].size: "1.2": want a length with its unit, such as "1.2 m"`},
	{"no such shape", "shape: flat circular", "shape: round", `p.yaml:32: train.canopies[0].shape: "round": ` + wantShapes},
	{"no shape", "shape: flat circular, ", "", "p.yaml:32: train.canopies[0].shape: missing: " + wantShapes},
	{"no such outline", "outline: square", "outline: triangle", `p.yaml:32: train.canopies[0].outline: "triangle": want circle, square or hexagon`},
	{"drag", "0.72", "7.2", "p.yaml:32: train.canopies[0].drag_coefficient: 7.2: want 0.2 to 1.2"},
	{"drag with a comma", "0.72", "0,72", `p.yaml:32: train.canopies[0].drag_coefficient: "0,72": want a decimal point, as a comma begins the next field`},
}

// The gas and its cylinders.
var gasFaults = []faultCase{
	{"more than all of it", "helium: 97 %", "helium: 60 %\n    hydrogen: 60 %", "p.yaml:17: train.gas: 60 % helium and 60 % hydrogen: want 50 % to 100 % together, the rest being air"},
	{"mostly air", "helium: 97 %", "helium: 29 %", "p.yaml:17: train.gas: 29 % helium and 0 % hydrogen: want 50 % to 100 % together, the rest being air"},
	{"a little less than half", "helium: 97 %", "helium: 49.9 %", "p.yaml:17: train.gas: 49.9 % helium and 0 % hydrogen: want 50 % to 100 % together, the rest being air"},
	{"a little more than all", "helium: 97 %", "helium: 60 %\n    hydrogen: 40.1 %", "p.yaml:17: train.gas: 60 % helium and 40.1 % hydrogen: want 50 % to 100 % together, the rest being air"},
	{"bare share of helium", "helium: 97 %", "helium: 0.97", `p.yaml:18: train.gas.helium: "0.97": want a percentage with its unit, such as "99 %"`},
	{"no kind of gas", "    helium: 97 %\n", "", "p.yaml:17: train.gas: no kind of gas: want helium or hydrogen, or both, as percentages of the gas"},
	{"another gas", "helium: 97 %", "argon: 97 %", "p.yaml:18: train.gas.argon: no such field: want one of helium, hydrogen, volume, neck_lift, free_lift, ascent_rate, bursts_near, whole_rack, temperature, pressure, superheat, skin_pressure, leak, cylinders, left_in_each, drag_spread, drag_coefficient"},
	{"no amount", "    volume: 2.6 m³ ± 2 %\n", "", "p.yaml:17: train.gas: no amount of gas: want one of volume, neck_lift, free_lift, ascent_rate, bursts_near and whole_rack"},
	{"two amounts", "volume: 2.6 m³", "free_lift: 900 g\n    volume: 2.6 m³", "p.yaml:17: train.gas: volume and free_lift together: want one of them, which says how much gas there is"},
	{"three amounts", "volume: 2.6 m³", "whole_rack: true\n    bursts_near: 30 km\n    volume: 2.6 m³", "p.yaml:17: train.gas: volume and bursts_near and whole_rack together: want one of them, which says how much gas there is"},
	{"neither kind nor amount", "    helium: 97 %\n    volume: 2.6 m³ ± 2 %\n", "", "p.yaml:17: train.gas: no kind of gas: want helium or hydrogen, or both, as percentages of the gas\n" +
		"p.yaml:17: train.gas: no amount of gas: want one of volume, neck_lift, free_lift, ascent_rate, bursts_near and whole_rack"},
	{"no gas", "volume: 2.6 m³ ± 2 %", "volume: 0 m3", `p.yaml:19: train.gas.volume: "0 m3": want 0.001 m3 to 20000 m3`},
	{"too much gas", "volume: 2.6 m³ ± 2 %", "volume: 1e6 ft3", `p.yaml:19: train.gas.volume: "1e6 ft3": want 0.03532 ft3 to 706200 ft3`}, // 20 000 ÷ 0.3048³ is 706 293
	{"free lift below nothing", "volume: 2.6 m³ ± 2 %", "free_lift: -50 g", `p.yaml:19: train.gas.free_lift: "-50 g": it will not leave the ground: add more than 50 g of lift`},
	{"rate with a spread", "volume: 2.6 m³ ± 2 %", "ascent_rate: 5 m/s ± 8 %", `p.yaml:19: train.gas.ascent_rate: "5 m/s ± 8 %": no spread is taken here: want a speed with its unit, such as "5 m/s"`},
	{"rack in words", "volume: 2.6 m³ ± 2 %", "whole_rack: yes", `p.yaml:19: train.gas.whole_rack: "yes": want true or false`},
	{"bare pressure", "pressure: 1005 hPa", "pressure: 1005", `p.yaml:21: train.gas.pressure: "1005": want a pressure with its unit, such as "1013 hPa"`},
	{"bare temperature", "temperature: 12 °C", "temperature: 12", `p.yaml:20: train.gas.temperature: "12": want a temperature with its unit, such as "15 °C"`},
	{"hot gas", "temperature: 12 °C", "temperature: 160 °F", `p.yaml:20: train.gas.temperature: "160 °F": want -40 °F to 140 °F`},
	{"leak in no time", "leak: 1 %/h", "leak: 1 %", `p.yaml:24: train.gas.leak: "1 %": % is a unit of percentage: want a rate with its unit, such as "1 %/h"`},
	{"cylinders of a mixture", "helium: 97 %", "helium: 60 %\n    hydrogen: 30 %", "p.yaml:29: train.gas.cylinders: cylinders of a mixture: want one gas, as a mixture comes from cylinders of both"},
	{"price for some", ", price: 60.50 EUR", "", "p.yaml:28: train.gas.cylinders: a price for 1 of 2: want a price for each line or for none"},
	{"two currencies", "60.50 EUR", "60 USD", `p.yaml:30: train.gas.cylinders[1].price: "60 USD": want the currency of the cylinders before, EUR`},
	{"price without a currency", "60.50 EUR", "60.50", `p.yaml:30: train.gas.cylinders[1].price: "60.50": ` + wantPrice},
	{"price with a comma", "60.50 EUR", "60,50 EUR", `p.yaml:30: train.gas.cylinders[1].price: "60,50 EUR": want a decimal point, as a comma begins the next field`},
	{"price with a sign", "60.50 EUR", "€60", `p.yaml:30: train.gas.cylinders[1].price: "€60": ` + wantPrice},
	{"price below nothing", "60.50 EUR", "-60 EUR", `p.yaml:30: train.gas.cylinders[1].price: "-60 EUR": ` + wantPrice},
	{"price without end", "60.50 EUR", "inf EUR", `p.yaml:30: train.gas.cylinders[1].price: "inf EUR": ` + wantPrice},
	{"price in another base", "60.50 EUR", "0x1p6 EUR", `p.yaml:30: train.gas.cylinders[1].price: "0x1p6 EUR": ` + wantPrice},
	{"currency in small letters", "60.50 EUR", "60 eur", `p.yaml:30: train.gas.cylinders[1].price: "60 eur": ` + wantPrice},
	{"helium beyond what is known", "gauge: 190 bar", "gauge: 300 bar", `p.yaml:29: train.gas.cylinders[0].gauge: "300 bar": want at most 298 bar of helium, beyond which its compressibility is not known here`},
	{"the same in psi", "gauge: 190 bar", "gauge: 4400 psi", `p.yaml:29: train.gas.cylinders[0].gauge: "4400 psi": want at most 4322 psi of helium, beyond which its compressibility is not known here`}, // 298e5 ÷ 6894.757 is 4322.1
	{"bare gauge", "gauge: 190 bar", "gauge: 190", `p.yaml:29: train.gas.cylinders[0].gauge: "190": want a pressure with its unit, such as "180 bar"`},
	{"cylinder by its mass", "size: 20 L", "size: 20 kg", `p.yaml:29: train.gas.cylinders[0].size: "20 kg": kg is a unit of mass: want a volume with its unit, such as "50 L"`},
}

// Batteries and trackers.
var electricFaults = []faultCase{
	{"no energy", "energy: 37 Wh, ", "", "p.yaml:34: train.batteries[0].energy: missing: want the energy of one, or its charge and its voltage"},
	{"energy twice over", "energy: 37 Wh", "energy: 37 Wh, charge: 10 Ah", `p.yaml:34: train.batteries[0].charge: "10 Ah": want it left out, as energy is given`},
	{"no power", "power: 2.5 W, ", "", "p.yaml:34: train.batteries[0].power: missing: want the power that all of them give, or the current"},
	{"power twice over", "power: 2.5 W", "power: 2.5 W, current: 1 A", `p.yaml:34: train.batteries[0].current: "1 A": want it left out, as power is given`},
	{"charge without a voltage", "voltage: 1.5 V,\n       count: 4, current: 120 mA", "power: 0.4 W", `p.yaml:35: train.batteries[1].voltage: missing: want the voltage of one, such as "3.7 V", which goes with a charge or a current`},
	{"current without a voltage", "power: 2.5 W", "current: 700 mA", `p.yaml:34: train.batteries[0].voltage: missing: want the voltage of one, such as "3.7 V", which goes with a charge or a current`},
	{"more than a lorry's", "charge: 3000 mAh, voltage: 1.5 V", "charge: 9000 Ah, voltage: 1000 V", "p.yaml:35: train.batteries[1]: charge × voltage is 9000000 Wh: want at most 10000 Wh"},
	{"next to no current", "voltage: 1.5 V,\n       count: 4, current: 120 mA", "voltage: 0.5 V, current: 0.001 mA", "p.yaml:35: train.batteries[1]: current × voltage is 0.0000005 W: want at least 0.000001 W"},
	{"energy in mAh", "energy: 37 Wh", "energy: 10000 mAh", `p.yaml:34: train.batteries[0].energy: "10000 mAh": mAh is a unit of charge: want an energy with its unit, such as "10 Wh"`},
	{"no such chemistry", "chemistry: lithium_ion", "chemistry: lead", `p.yaml:34: train.batteries[0].chemistry: "lead": want lithium_primary, lithium_ion, nickel_metal_hydride or alkaline`},
	{"battery twice", "name: camera,", "name: tracker,", `p.yaml:35: train.batteries[1].name: "tracker": want a name other than that of train.batteries[0]`},
	{"tracker by no known way", "by: phone", "by: pigeon", `p.yaml:39: train.trackers[1].by: "pigeon": want radio, satellite or phone`},
	{"tracker without a pause", "every: 30 s", "every: 0 s", `p.yaml:39: train.trackers[1].every: "0 s": want 0.1 s to 86400 s`},
	{"flag in words", "works_above_18_km: true", "works_above_18_km: maybe", `p.yaml:38: train.trackers[0].works_above_18_km: "maybe": want true or false`},
	{"waiting for days", "waiting: 45 min", "waiting: 3 d", `p.yaml:40: train.waiting: "3 d": want 0 d to 1 d`},
}

// What a train is made of.
var trainFaults = []faultCase{
	{"measured and weighed", "train:\n", "train:\n  measured: {ascent_rate: 5 m/s, burst_altitude: 30 km, landing_speed: 5 m/s}\n", strings.Join([]string{
		"p.yaml:13: train.envelope: a mapping: " + wantNoneOf, "p.yaml:18: train.gas: a mapping: " + wantNoneOf, "p.yaml:32: train.canopies: 1 item: " + wantNoneOf,
	}, "\n")},
	{"no canopy", canopyLines, "", "p.yaml:5: train.canopies: missing: want one canopy at least, since the train is not measured"},
	{"list of no canopies", canopyLines, "  canopies: []\n", "p.yaml:31: train.canopies: missing: want one canopy at least, since the train is not measured"},
	{"misspelt gas", "  gas:\n", "  gass:\n", "p.yaml:17: train.gass: no such field: want gas " + ofTrain},
	{"misspelt envelope", "  envelope:\n", "  balloon_envelop:\n", "p.yaml:5: train.envelope: missing: want the envelope as it was weighed, or find_envelope if it is yet to be chosen, since the train is not measured\n" +
		"p.yaml:12: train.balloon_envelop: no such field: want one of measured, parts, envelope, gas, canopies, batteries, trackers, waiting, searching, find_envelope"},
	{"misspelt parts", "  parts:\n", "  part:\n", "p.yaml:6: train.part: no such field: want parts " + ofTrain},
}

func TestReadTrainFaults(t *testing.T) {
	for _, cases := range [...][]faultCase{partFaults, clothFaults, gasFaults, electricFaults, trainFaults} {
		testFaults(t, weighed, cases)
	}
}

// testFaults holds what is wrong with a plan, changed as each case says, against
// what the case wants.
func testFaults(t *testing.T, base string, cases []faultCase) {
	t.Helper()
	for _, test := range cases {
		t.Run(test.name, func(t *testing.T) {
			text := strings.Replace(base, test.from, test.to, 1)
			require.NotEqual(t, base, text, "the plan has no %q", test.from)
			assert.Equal(t, test.want, faults(t, text).Error())
		})
	}
}

// Rules across the fields of a train, which no single text in the weighed plan
// breaks, each in a train of its own.
func TestReadTrainWithout(t *testing.T) {
	tests := []struct{ name, train, want string }{
		{"nothing", "{}", "p.yaml:4: train: neither measured nor weighed: want measured, or parts, envelope, gas and canopies"},
		{"trackers alone", "{trackers: [{by: radio, every: 1 s}]}", "p.yaml:4: train: neither measured nor weighed: want measured, or parts, envelope, gas and canopies"},
		{"parts alone", "{parts: [{name: box, mass: 1 lb}]}", "p.yaml:4: train.canopies: missing: want one canopy at least, since the train is not measured\n" +
			"p.yaml:4: train.envelope: missing: want the envelope as it was weighed, or find_envelope if it is yet to be chosen, since the train is not measured\n" +
			"p.yaml:4: train.gas: missing: want what fills the envelope and how much of it, since the train is not measured"},
		{
			"an envelope and its gas", "{envelope: {mass: 600 g}, gas: {helium: 99 %, whole_rack: true}, canopies: [{shape: cross, size: 1 m}]}",
			"p.yaml:4: train.gas.cylinders: missing: want the cylinders at hand, as whole_rack is true\n" +
				"p.yaml:4: train.parts: missing: want what hangs below the envelope, one part at least",
		},
	}
	head, _, ok := strings.Cut(bare, "train:")
	require.True(t, ok)
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			assert.Equal(t, test.want, faults(t, head+"train: "+test.train+"\n").Error())
		})
	}
}

// Everything that is wrong with a train is told at once, each in its own line.
func TestReadAllTrainFaultsAtOnce(t *testing.T) {
	text := `name: Class 8b, first launch
site: {name: Sports ground, latitude: 55,5, longitude: -3.25, time_zone: UTC}
launch: 2017-03-22T07:00:00Z
train:
  parts:
    - {name: camera box, mass: 640}
    - {name: camera box, mass: 9 oz, hang: line}
    - {mass: 60 kg}
  envelope:
    mass: 4 kg
    hangs_on: 130 %
  gas:
    helium: 70 %
    hydrogen: 70 %
    volume: 2.6 m3
    free_lift: 900 g
    leak: 1 %
    cylinders:
      - {size: 20 L, gauge: 200, price: 95 EUR}
      - {size: 20 L, gauge: 500 bar}
  canopies: [{shape: round, size: 0 m}]
  batteries:
    - {name: camera, chemistry: lithium_ion, charge: 3000 mAh, power: 2 W}
  trackers: [{by: radio, every: 1}]
  waiting: -5 min
`
	want := []string{
		`p.yaml:2: site.latitude: "55,5": want a decimal point, as a comma begins the next field`,
		`p.yaml:6: train.parts[0].mass: "640": ` + wantPart,
		"p.yaml:7: train.parts[1].hang: no such field: want hangs " + ofPart,
		`p.yaml:7: train.parts[1].name: "camera box": want a name other than that of train.parts[0]`,
		`p.yaml:8: train.parts[2].mass: "60 kg": want 0.0001 kg to 50 kg`,
		"p.yaml:8: train.parts[2].name: missing: want 1 to 60 characters",
		"p.yaml:9: train.envelope.bursts_at: missing: " + wantPaper,
		`p.yaml:11: train.envelope.hangs_on: "130 %": want 0 % to 100 %`,
		"p.yaml:12: train.gas: volume and free_lift together: want one of them, which says how much gas there is",
		"p.yaml:12: train.gas: 70 % helium and 70 % hydrogen: want 50 % to 100 % together, the rest being air",
		`p.yaml:17: train.gas.leak: "1 %": % is a unit of percentage: want a rate with its unit, such as "1 %/h"`,
		"p.yaml:18: train.gas.cylinders: a price for 1 of 2: want a price for each line or for none",
		`p.yaml:19: train.gas.cylinders[0].gauge: "200": want a pressure with its unit, such as "180 bar"`,
		`p.yaml:20: train.gas.cylinders[1].gauge: "500 bar": want 0 bar to 400 bar`,
		`p.yaml:21: train.canopies[0].shape: "round": ` + wantShapes,
		`p.yaml:21: train.canopies[0].size: "0 m": want 0.1 m to 60 m`,
		`p.yaml:23: train.batteries[0].voltage: missing: want the voltage of one, such as "3.7 V", which goes with a charge or a current`,
		`p.yaml:24: train.trackers[0].every: "1": want a duration with its unit, such as "2 min"`,
		`p.yaml:25: train.waiting: "-5 min": want 0 min to 1440 min`,
	}
	found := faults(t, text)
	assert.Equal(t, want, strings.Split(found.Error(), "\n"))
	assert.Equal(t, plan.Fault{File: "p.yaml", Line: 6, Field: "train.parts[0].mass", Value: `"640"`, Want: `a mass with its unit, such as "640 g"`}, found[1])
}

// Each rule across fields that the schema has is broken in some case above.
func TestEveryMessageRuleIsBroken(t *testing.T) {
	told := map[string]bool{}
	for _, cases := range [...][]faultCase{partFaults, clothFaults, gasFaults, electricFaults, trainFaults} {
		for _, test := range cases {
			violated(t, strings.Replace(weighed, test.from, test.to, 1), told)
		}
	}
	for _, test := range groundFaults {
		violated(t, strings.Replace(grounded, test.from, test.to, 1), told)
	}
	for _, test := range ruleFaults {
		violated(t, strings.Replace(ruled, test.from, test.to, 1), told)
	}
	for _, line := range [...]string{"      mass: 200 g ± 2 g\n", "      instead_of: neck plug\n"} {
		violated(t, strings.Replace(weighed, line, "", 1), told)
	}
	head, _, _ := strings.Cut(bare, "train:")
	for _, train := range [...]string{"{}", "{parts: [{name: box, mass: 1 lb}]}", "{gas: {helium: 99 %, whole_rack: true}}"} {
		violated(t, head+"train: "+train+"\n", told)
	}
	for _, test := range findFaults {
		violated(t, strings.Replace(sought, test.from, test.to, 1), told)
	}
	violated(t, strings.Replace(full, "flights_per_scramble: 128", "flights_per_scramble: 100", 1), told)
	violated(t, strings.Replace(full, "flights_per_scramble: 128", "flights_per_scramble: 65536", 1), told)
	violated(t, strings.Replace(full, "  time_zone: Europe/Stockholm\n", "", 1), told)
	rules := 0
	eachField((&thistledownv1.Plan{}).ProtoReflect().Descriptor(), func(fd protoreflect.FieldDescriptor) {
		all, err := protovalidate.ResolveFieldRules(fd)
		require.NoError(t, err)
		for _, rule := range all.GetCel() {
			rules++
			assert.True(t, told[rule.GetId()], "%s: rule %s is broken nowhere", fd.FullName(), rule.GetId())
		}
	})
	eachMessage((&thistledownv1.Plan{}).ProtoReflect().Descriptor(), func(m protoreflect.MessageDescriptor) {
		all, err := protovalidate.ResolveMessageRules(m)
		require.NoError(t, err)
		for _, rule := range all.GetCel() {
			rules++
			assert.True(t, told[rule.GetId()], "%s: rule %s is broken nowhere", m.FullName(), rule.GetId())
		}
	})
	assert.GreaterOrEqual(t, rules, 22, "rules across fields")
}

// violated notes which rules the plan in a text violates.
func violated(t *testing.T, text string, told map[string]bool) {
	t.Helper()
	m := &thistledownv1.Plan{}
	if (protoyaml.UnmarshalOptions{DiscardUnknown: true}).Unmarshal([]byte(text), m) != nil {
		return // a fault of its form, of which the rules say nothing
	}
	var found *protovalidate.ValidationError
	if err := protovalidate.Validate(m); err != nil {
		require.ErrorAs(t, err, &found)
		for _, v := range found.Violations {
			told[v.Proto.GetRuleId()] = true
		}
	}
}
