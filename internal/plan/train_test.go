package plan_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/plan"
)

// weighed is a plan of a train that was weighed and that says everything of it,
// but for the five ways to say how much gas there is that exclude the one taken.
// Names and numbers are invented.
const weighed = `# A school's first launch, from the kitchen scale.
name: Class 8b, first launch
site: {name: Sports ground, latitude: 55.5, longitude: -3.25, elevation: 120 m, time_zone: Europe/Stockholm}
launch: 2017-03-22T08:00:00+01:00
train:
  parts:
    - {name: camera box, mass: 640 g ± 5 g}
    - {name: egg in a cup, mass: 3.2 oz, count: 2, hangs: bottom}
    - {name: tracker, mass: 0.4 lb, hangs: line}
    - {name: paper birds, mass: 4 g ± 10 %, count: 20, hangs: bottom, leaves: falling}
    - {name: neck plug, mass: 55 g, hangs: neck, leaves: at_burst}
  envelope:
    mass: 600 g ± 2 %
    bursts_at: 6.0 m ± 5 %
    fullest: 3 m3
    hangs_on: 40 % ± 15 %
  gas:
    helium: 97 %
    volume: 2.6 m³ ± 2 %
    temperature: 12 °C
    pressure: 1005 hPa
    superheat: 3 K
    skin_pressure: 1 hPa
    leak: 1 %/h
    left_in_each: 3 bar
    drag_spread: 8 %
    drag_coefficient: 0.31
    cylinders:
      - {size: 20 L, gauge: 190 bar, temperature: 5 °C, count: 1, price: 95 EUR}
      - {size: 10 L, gauge: 2000 psi, price: 60.50 EUR}
  canopies:
    - {shape: flat circular, outline: square, size: 1.2 m, drag_coefficient: 0.72, drag_spread: 15 %, count: 1}
  batteries:
    - {name: camera, chemistry: lithium_ion, energy: 37 Wh, power: 2.5 W, warmer: 20 K}
    - {name: tracker, chemistry: lithium_primary, charge: 3000 mAh, voltage: 1.5 V,
       count: 4, current: 120 mA, until_found: true}
  trackers:
    - {by: radio, every: 5 min, works_above_18_km: true, antenna: 3 m}
    - {by: phone, every: 30 s}
  waiting: 45 min
  searching: 5 h
vary:
  fill: {from: 2.2 m3, to: 3 m3, steps: 5}
  bursts_near: {from: 24 km, to: 90000 ft, steps: 3}
  envelopes:
    - {mass: 800 g, bursts_at: 7 m ± 5 %, fullest: 4 m3, hangs_on: 30 %}
  canopies:
    - canopy: {shape: cross, outline: square, size: 4 ft, drag_coefficient: 0.7, drag_spread: 10 %, count: 1}
      mass: 200 g ± 2 g
      instead_of: neck plug
  delays: [-1 h, +2 h 30 min]
  leave_behind: [egg in a cup]
  sites: true
`

// bare is a weighed train that says only what it must.
const bare = `name: Class 8b, first launch
site: {name: Sports ground, latitude: 55.5, longitude: -3.25, time_zone: UTC}
launch: 2017-03-22T07:00:00Z
train:
  parts: [{name: camera box, mass: 640 g}]
  envelope: {mass: 600 g}
  gas: {hydrogen: 99 %, ascent_rate: 5 m/s}
  canopies: [{shape: cross, size: 4 ft}]
`

func TestReadWeighed(t *testing.T) {
	p := read(t, weighed)
	w := p.Train.Weighed
	require.NotNil(t, w)
	const ounce = 0.45359237 / 16 // kg, the international avoirdupois pound
	parts := []balloon.Part{
		{Name: "camera box", Mass: 0.64, Spread: 0.005, Count: 1, Place: balloon.AtBottom},
		{Name: "egg in a cup", Mass: 3.2 * ounce, Spread: 0.032 * ounce, Count: 2, Place: balloon.AtBottom},
		{Name: "tracker", Mass: 0.4 * 0.45359237, Spread: 0.004 * 0.45359237, Count: 1, Place: balloon.OnTrain},
		{Name: "paper birds", Mass: 0.004, Spread: 0.0004, Count: 20, Place: balloon.AtBottom, Fate: balloon.LeavesFalling},
		{Name: "neck plug", Mass: 0.055, Spread: 0.00055, Count: 1, Place: balloon.AtNeck, Fate: balloon.LeavesAtBurst},
	}
	require.Len(t, p.Train.Parts, len(parts))
	for i, got := range p.Train.Parts {
		assert.InDelta(t, parts[i].Mass, got.Mass, 1e-12, "mass of %s", got.Name)
		assert.InDelta(t, parts[i].Spread, got.Spread, 1e-12, "spread of %s", got.Name)
		got.Mass, got.Spread = parts[i].Mass, parts[i].Spread
		assert.Equal(t, parts[i], got)
	}
	near := func(what string, want, got float64) {
		assert.InDelta(t, want, got, 1e-9*max(1, math.Abs(want)), what)
	}
	near("envelope's mass", 0.6, w.Envelope.Mass)
	near("its spread, 2 %", 0.012, w.Envelope.MassSpread)
	near("burst diameter", 6, w.Envelope.Burst)
	near("its spread, 5 %", 0.3, w.Envelope.BurstSpread)
	assert.False(t, w.Envelope.FromMemory)
	near("fullest", 3, w.Envelope.Fullest)
	near("hangs on", 0.4, w.Envelope.Remains)
	near("its spread, in points", 0.15, w.Envelope.RemainsSpread)
	assert.Equal(t, balloon.LiftingGas{Helium: 0.97}, w.Filling.Gas)
	assert.Equal(t, plan.ByVolume, w.Fill.By)
	near("volume", 2.6, w.Fill.Amount.Centre)
	near("its spread, 2 %", 0.052, w.Fill.Amount.Spread)
	near("temperature", 285.15, w.Temperature)
	near("pressure", 100500, w.Pressure)
	near("superheat", 3, w.Filling.Superheat)
	near("skin pressure", 100, w.Filling.Overpressure)
	near("leak", 0.01, w.Filling.Leak)
	near("left in each", 3e5, float64(w.LeftInEach))
	near("spread of the drag", 0.08, w.DragSpread)
	assert.Equal(t, balloon.ConstantDrag(0.31), w.Drag)
	require.Len(t, w.Cylinders, 2)
	near("water", 0.02, w.Cylinders[0].Water)
	near("gauge", 190e5, float64(w.Cylinders[0].Gauge))
	near("steel", 278.15, w.Cylinders[0].Temperature)
	assert.Equal(t, balloon.Price{Amount: 95, Currency: "EUR"}, w.Cylinders[0].Price)
	near("gauge in psi", 2000*6894.757293168361, float64(w.Cylinders[1].Gauge)) // 0.45359237 × 9.80665 ÷ 0.0254² Pa: NIST SP 811, B.8
	assert.True(t, math.IsNaN(w.Cylinders[1].Temperature), "temperature: %v, want NaN for the air's", w.Cylinders[1].Temperature)
	assert.Equal(t, balloon.Price{Amount: 60.5, Currency: "EUR"}, w.Cylinders[1].Price)
	flat, err := balloon.ShapeNamed("flat circular")
	require.NoError(t, err)
	assert.Equal(t, []plan.Canopy{{Canopy: balloon.Canopy{Shape: flat, Outline: balloon.Square, Size: 1.2, Cd: 0.72, Count: 1}, Spread: 0.15}}, w.Canopies)
	require.Len(t, p.Train.Batteries, 2)
	camera, tracker := p.Train.Batteries[0], p.Train.Batteries[1]
	assert.Equal(t, "camera", camera.Name)
	assert.Equal(t, balloon.LithiumIon, camera.Chemistry)
	near("energy", 37*3600, camera.Energy)
	near("draw", 2.5, camera.Draw)
	near("warmer", 20, camera.Warmer)
	assert.Equal(t, 1, camera.Count)
	assert.False(t, camera.UntilFound)
	near("charge × voltage", 3*3600*1.5, tracker.Energy)
	near("current × voltage", 0.18, tracker.Draw)
	assert.Equal(t, balloon.LithiumPrimary, tracker.Chemistry)
	assert.Equal(t, 4, tracker.Count)
	assert.True(t, tracker.UntilFound)
	assert.Equal(t, []plan.Tracker{
		{Antenna: 3, Tracker: balloon.Tracker{Kind: balloon.RadioTracker, Interval: 300, WorksAbove: true}},
		{Antenna: 2, Tracker: balloon.Tracker{Kind: balloon.PhoneTracker, Interval: 30}},
	}, p.Train.Trackers)
	near("waiting", 2700, p.Train.Waiting)
	near("searching", 18000, p.Train.Searching)
	assert.Zero(t, p.Ascent, "a weighed train's rate follows from it")
	assert.Zero(t, p.Burst)
	assert.Zero(t, p.Landing)
}

// The defaults are those of train.proto's comments, written out again here.
func TestReadWeighedDefaults(t *testing.T) {
	p := read(t, bare)
	w := p.Train.Weighed
	require.NotNil(t, w)
	part := p.Train.Parts[0]
	assert.InDelta(t, 0.01*0.64, part.Spread, 1e-12, "part: default spread 1 %%")
	assert.Equal(t, 1, part.Count)
	assert.Equal(t, balloon.AtBottom, part.Place)
	assert.Equal(t, balloon.Returns, part.Fate)
	assert.InDelta(t, 0.03*0.6, w.Envelope.MassSpread, 1e-12, "envelope: default spread 3 %%")
	diameter, spread, err := balloon.RememberedBurst(0.6)
	require.NoError(t, err)
	assert.Equal(t, []float64{diameter, spread}, []float64{w.Envelope.Burst, w.Envelope.BurstSpread}, "burst diameter from memory")
	assert.InDelta(t, 0.15, spread/diameter, 1e-12, "burst diameter from memory: spread of 15 %%")
	assert.True(t, w.Envelope.FromMemory)
	assert.InDelta(t, 0.07*6, read(t, bare, "train.envelope.bursts_at=6 m").Train.Weighed.Envelope.BurstSpread, 1e-12, "burst diameter: default spread 7 %%")
	assert.Zero(t, w.Envelope.Fullest)
	assert.InDelta(t, 0.3, w.Envelope.Remains, 0)
	assert.InDelta(t, 0.2, w.Envelope.RemainsSpread, 0)
	assert.InDelta(t, 0.2, read(t, bare, "train.envelope.hangs_on=50 %").Train.Weighed.Envelope.RemainsSpread, 0)
	assert.Equal(t, balloon.LiftingGas{Hydrogen: 0.99}, w.Filling.Gas)
	assert.Zero(t, w.Filling.Superheat)
	assert.Zero(t, w.Filling.Overpressure)
	assert.Zero(t, w.Filling.Leak)
	assert.True(t, math.IsNaN(w.Temperature), "temperature: %v, want NaN for the air's", w.Temperature)
	assert.True(t, math.IsNaN(w.Pressure), "pressure: %v, want NaN for the air's", w.Pressure)
	assert.InDelta(t, 2e5, float64(w.LeftInEach), 0, "2 bar, absolute")
	assert.InDelta(t, 0.10, w.DragSpread, 0)
	assert.Equal(t, balloon.SoundingDrag(), w.Drag)
	assert.Empty(t, w.Cylinders)
	cross, err := balloon.ShapeNamed("cross")
	require.NoError(t, err)
	require.Len(t, w.Canopies, 1)
	assert.Equal(t, cross, w.Canopies[0].Shape)
	assert.Equal(t, balloon.Circle, w.Canopies[0].Outline)
	assert.InDelta(t, 1.2192, w.Canopies[0].Size, 1e-12) // 4 × 0.3048 m
	assert.InDelta(t, cross.MiddleCd(), w.Canopies[0].Cd, 0, "the middle of the range of its shape")
	assert.InDelta(t, 0.20, w.Canopies[0].Spread, 0)
	assert.Equal(t, 1, w.Canopies[0].Count)
	assert.InDelta(t, 1800, p.Train.Waiting, 0)
	assert.InDelta(t, 6*3600, p.Train.Searching, 0)
	assert.Empty(t, p.Train.Batteries)
	assert.Empty(t, p.Train.Trackers)
}

// Each way to say how much gas there is, with its spread and without.
func TestReadFill(t *testing.T) {
	const none = -1 // no spread of its own: the 3 % of the gas hold
	tests := []struct {
		set            string
		by             plan.FillBy
		centre, spread float64
	}{
		{"volume=90 ft3", plan.ByVolume, 90 * 0.028316846592, none}, // 0.3048³ m³
		{"volume=2.6 m3 ± 0.1 m3", plan.ByVolume, 2.6, 0.1},
		{"volume=2.6 m3 ± 0 %", plan.ByVolume, 2.6, 0},
		{"neck_lift=2400 g", plan.ByNeckLift, 2.4, none},
		{"neck_lift=2400 g ± 60 g", plan.ByNeckLift, 2.4, 0.06},
		{"free_lift=2 lb", plan.ByFreeLift, 2 * 0.45359237, none},
		{"free_lift=900 g ± 10 %", plan.ByFreeLift, 0.9, 0.09},
		{"ascent_rate=1000 ft/min", plan.ByAscentRate, 5.08, none}, // 1000 × 0.3048 ÷ 60 m/s
		{"bursts_near=30 km", plan.ByBurst, 30000, none},
	}
	for _, test := range tests {
		t.Run(test.set, func(t *testing.T) {
			f := read(t, bare, "train.gas.ascent_rate=", "train.gas."+test.set).Train.Weighed.Fill
			assert.Equal(t, test.by, f.By)
			assert.InDelta(t, test.centre, f.Amount.Centre, 1e-9)
			assert.InDelta(t, 0.03, f.Spread, 0)
			if test.spread == none {
				assert.True(t, math.IsNaN(f.Amount.Spread), "spread %v, want NaN", f.Amount.Spread)
			} else {
				assert.InDelta(t, test.spread, f.Amount.Spread, 1e-12)
			}
		})
	}
	rack := read(t, weighed, "train.gas.volume=", "train.gas.whole_rack=true").Train.Weighed.Fill
	assert.Equal(t, plan.Fill{By: plan.ByWholeRack, Spread: 0.03}, rack)
}

// A measured train may have parts, batteries and trackers as well.
func TestReadMeasuredWithParts(t *testing.T) {
	p := read(t, least, "train.parts=[{name: box, mass: 1 lb}]", "train.trackers=[{by: radio, every: 2 s}]", "train.searching=1 d",
		"train.batteries=[{name: radio, chemistry: alkaline, energy: 10 Wh, current: 50 mA, voltage: 6 V}]")
	assert.Nil(t, p.Train.Weighed)
	require.Len(t, p.Train.Parts, 1)
	assert.InDelta(t, 0.45359237, p.Train.Parts[0].Mass, 1e-12)
	assert.Equal(t, []plan.Tracker{{Tracker: balloon.Tracker{Kind: balloon.RadioTracker, Interval: 2}, Antenna: 2}}, p.Train.Trackers)
	require.Len(t, p.Train.Batteries, 1)
	assert.InDelta(t, 36000, p.Train.Batteries[0].Energy, 1e-9)
	assert.InDelta(t, 0.3, p.Train.Batteries[0].Draw, 1e-12)
	assert.InDelta(t, 86400, p.Train.Searching, 0)
	assert.InDelta(t, 5, p.Ascent.Centre, 0)
}

// Every word that the schema lets pass is one that balloon knows.
func TestReadWords(t *testing.T) {
	want := func(set string, got func(plan.Train) any, want any) {
		t.Helper()
		assert.Equal(t, want, got(read(t, weighed, set).Train), set)
	}
	place := func(train plan.Train) any { return train.Parts[0].Place }
	want("train.parts[0].hangs=neck", place, balloon.AtNeck)
	want("train.parts[0].hangs=line", place, balloon.OnTrain)
	want("train.parts[0].hangs=bottom", place, balloon.AtBottom)
	fate := func(train plan.Train) any { return train.Parts[0].Fate }
	want("train.parts[0].leaves=at_burst", fate, balloon.LeavesAtBurst)
	want("train.parts[0].leaves=falling", fate, balloon.LeavesFalling)
	outline := func(train plan.Train) any { return train.Weighed.Canopies[0].Outline }
	want("train.canopies[0].outline=circle", outline, balloon.Circle)
	want("train.canopies[0].outline=square", outline, balloon.Square)
	want("train.canopies[0].outline=hexagon", outline, balloon.Hexagon)
	chemistry := func(train plan.Train) any { return train.Batteries[0].Chemistry }
	want("train.batteries[0].chemistry=lithium_primary", chemistry, balloon.LithiumPrimary)
	want("train.batteries[0].chemistry=lithium_ion", chemistry, balloon.LithiumIon)
	want("train.batteries[0].chemistry=nickel_metal_hydride", chemistry, balloon.NickelMetalHydride)
	want("train.batteries[0].chemistry=alkaline", chemistry, balloon.Alkaline)
	kind := func(train plan.Train) any { return train.Trackers[0].Kind }
	want("train.trackers[0].by=radio", kind, balloon.RadioTracker)
	want("train.trackers[0].by=satellite", kind, balloon.SatelliteTracker)
	want("train.trackers[0].by=phone", kind, balloon.PhoneTracker)
	for _, shape := range balloon.Shapes() {
		want("train.canopies[0].shape="+shape.Name, func(train plan.Train) any { return train.Weighed.Canopies[0].Shape.Name }, shape.Name)
	}
}

// What passes here passes in the packages that take it too.
func TestWeighedChecks(t *testing.T) {
	for _, text := range []string{weighed, bare} {
		p := read(t, text)
		w := p.Train.Weighed
		require.NotNil(t, w)
		require.NoError(t, balloon.Budget{Parts: p.Train.Parts, Envelope: w.Envelope}.Check())
		require.NoError(t, w.Filling.Filled(2, balloon.Conditions{Pressure: 1e5, Temperature: 288}).Check())
		for _, c := range w.Canopies {
			require.NoError(t, c.Check())
		}
		for _, b := range p.Train.Batteries {
			require.NoError(t, b.Check())
		}
		for _, tracker := range p.Train.Trackers {
			require.NoError(t, tracker.Check())
		}
	}
}
