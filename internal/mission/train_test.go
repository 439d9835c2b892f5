package mission_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/report"
)

// weighedAt is a plan of a train of 4 lb under 600 g, the envelope's burst
// diameter that of a remembered table, the canopy a square of 1.2 m (common
// practice), on which nothing breaks.
func weighedAt(t testing.TB, at geo.Point) plan.Plan {
	t.Helper()
	p := planAt(at)
	p.Ascent, p.Burst, p.Landing = quantity.Uncertain{}, quantity.Uncertain{}, quantity.Uncertain{}
	shape, err := balloon.ShapeNamed("flat circular")
	require.NoError(t, err)
	const pound = 0.45359237 // kg, exact
	p.Train = plan.Train{
		Parts: []balloon.Part{
			{Name: "box", Mass: 3.5 * pound, Spread: 0.01, Count: 1, Place: balloon.AtBottom},
			{Name: "canopy", Mass: 0.5 * pound, Spread: 0.002, Count: 1, Place: balloon.OnTrain},
		},
		Weighed: &plan.Weighed{
			Envelope: balloon.Envelope{Mass: 0.6, MassSpread: 0.02, Burst: 5.97, BurstSpread: 0.4, Remains: 0.3, RemainsSpread: 0.1},
			Filling:  balloon.Filling{Gas: balloon.LiftingGas{Helium: 1}},
			Fill:     plan.Fill{By: plan.ByAscentRate, Amount: quantity.Uncertain{Centre: 4.5, Spread: math.NaN()}, Spread: 0.03},
			Drag:     balloon.SoundingDrag(), DragSpread: 0.1, Temperature: math.NaN(), Pressure: math.NaN(),
			LeftInEach: 2e5,
			Canopies:   []plan.Canopy{{Canopy: balloon.Canopy{Shape: shape, Outline: balloon.Square, Size: 1.2, Cd: 0.775, Count: 1}, Spread: 0.2}},
		},
	}
	return p
}

func sized(t *testing.T, p plan.Plan) report.Train {
	t.Helper()
	r, err := mission.Size(p, nil)
	require.NoError(t, err)
	return r
}

// Archimedes: helium at 15 °C and 1013.25 hPa lifts 1.0557 kg/m³, hydrogen 1.1397
// (reference: molar masses and the standard atmosphere); a canopy of 0.8765 m² of
// drag area lets 1.5 kg down at 5.2345 m/s with 20.55 J (reference: worked terminal
// speeds after Knacke, §5).
func TestSizeAgainstWorkedValues(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 50, Lon: 10})
	p.Site.Elevation = 0
	w := p.Train.Weighed
	w.Fill = plan.Fill{By: plan.ByVolume, Amount: quantity.Uncertain{Centre: 3, Spread: math.NaN()}}
	assert.InEpsilon(t, 3*1.0557, sized(t, p).Release.Gross, 5e-5)
	w.Filling.Gas = balloon.LiftingGas{Hydrogen: 1}
	assert.InEpsilon(t, 3*1.1397, sized(t, p).Release.Gross, 5e-5)

	w.Envelope.Remains = 0
	p.Train.Parts = []balloon.Part{{Name: "all", Mass: 1.5, Count: 1, Place: balloon.AtBottom}}
	w.Canopies[0].Outline, w.Canopies[0].Size = balloon.Circle, 1.2
	r := sized(t, p)
	assert.InDelta(t, 0.876504, r.Drag, 1e-6)
	assert.InDelta(t, 5.234508, r.Landings[0].Speed, 2e-6)
	assert.InDelta(t, 20.5501, r.Landings[0].Energy, 1e-4)
}

// Facts of the trade, common practice: 4 lb under a 600 g envelope bursts near
// 27 km, is up for about two and a half hours, and a square canopy of 1.2 m suits
// it; a lighter train under the same canopy falls slower.
func TestSizeCommonPractice(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 50, Lon: 10})
	p.Site.Elevation = 100
	r := sized(t, p)
	t.Logf("bursts at %.1f km, %.2f h aloft, lands at %.1f m/s", r.Burst.Centre/1000, (r.Up+r.Down)/3600, r.Landings[0].Speed)
	assert.InDelta(t, 27e3, r.Burst.Centre, 1.5e3)
	assert.InDelta(t, 2.5, (r.Up+r.Down)/3600, 0.3)
	assert.InDelta(t, 5, r.Landings[0].Speed, 0.5)
	p.Train.Parts[0].Mass -= 0.3
	lighter := sized(t, p)
	assert.Less(t, lighter.Landings[0].Speed, r.Landings[0].Speed)
	assert.Greater(t, lighter.Down, r.Down)
}

// Each way to say how much gas there is gives the others: round to the same train.
func TestEachWayOfFillingIsTheSame(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 50, Lon: 10})
	p.Site.Elevation = 100
	want := sized(t, p)
	w := p.Train.Weighed
	cylinder := plan.Cylinder{Water: 0.05, Gauge: 100e5, Temperature: math.NaN(), Count: 1}
	for by, amount := range map[plan.FillBy]float64{
		plan.ByVolume: want.Gas.Volume, plan.ByNeckLift: want.Release.Pull, plan.ByFreeLift: want.Release.Free,
		plan.ByAscentRate: want.Ascent.Centre, plan.ByBurst: want.Burst.Centre,
	} {
		w.Fill.By, w.Fill.Amount.Centre = by, amount
		got := sized(t, p)
		assert.InEpsilon(t, want.Gas.Moles, got.Gas.Moles, 1e-6, "by %d", by)
		assert.InEpsilon(t, want.Up, got.Up, 1e-6, "by %d", by)
	}
	// The whole of a rack that holds just as much.
	w.Cylinders = []plan.Cylinder{cylinder}
	w.Fill = plan.Fill{By: plan.ByWholeRack, Spread: 0.03}
	rack := sized(t, p)
	w.Fill = plan.Fill{By: plan.ByVolume, Amount: quantity.Uncertain{Centre: rack.Gas.Volume, Spread: math.NaN()}}
	bill := sized(t, p).Bill
	require.NotNil(t, bill)
	assert.InDelta(t, 0, bill.Short, 1e-6*rack.Gas.Moles)
	assert.InDelta(t, 2e5-99e3, bill.Last, 3e3, "what stays in it, less the air outside at 100 m")
}

// What cannot be is a fault of a field, in one line each, with what would do.
func TestTrainsThatCannotBe(t *testing.T) {
	tests := []struct {
		name  string
		spoil func(w *plan.Weighed)
		field string
		says  []string
	}{
		{"no lift", func(w *plan.Weighed) { w.Fill.By, w.Fill.Amount.Centre = plan.ByVolume, 1.5 }, "train.gas", []string{"will not leave the ground: add ", " g of lift"}},
		{"bursts at once", func(w *plan.Weighed) { w.Fill.By, w.Fill.Amount.Centre = plan.ByVolume, 150 }, "train.gas", []string{"more gas than the envelope holds", "want less than"}},
		{"too high", func(w *plan.Weighed) { w.Fill.By, w.Fill.Amount.Centre = plan.ByBurst, 38e3 }, "train.gas.bursts_near", []string{"the nearest is", "this would do: "}},
		{"too small", func(w *plan.Weighed) { w.Envelope.Burst = 1.2 }, "train.gas.ascent_rate", []string{"bursts on the ground before it lifts"}},
		{"empty cylinders", func(w *plan.Weighed) {
			w.Fill.By, w.Cylinders = plan.ByWholeRack, []plan.Cylinder{{Water: 0.05, Gauge: 0.5e5, Temperature: math.NaN(), Count: 1}}
		}, "train.gas.cylinders", []string{"no gas above what stays in them"}},
		{"a small rack", func(w *plan.Weighed) {
			w.Fill.By, w.Cylinders = plan.ByWholeRack, []plan.Cylinder{{Water: 0.005, Gauge: 20e5, Temperature: math.NaN(), Count: 1}}
		}, "train.gas", []string{"m³ of gas that the cylinders give: it will not leave the ground: add ", " g of lift"}},
	}
	for _, test := range tests {
		p := weighedAt(t, geo.Point{Lat: 50, Lon: 10})
		p.Site.Elevation = 100
		test.spoil(p.Train.Weighed)
		_, err := mission.Size(p, nil)
		var faults plan.Faults
		require.ErrorAs(t, err, &faults, test.name)
		require.Len(t, faults, 1, test.name)
		assert.Equal(t, test.field, faults[0].Field, test.name)
		for _, words := range test.says {
			assert.Contains(t, strings.ReplaceAll(err.Error(), "\n", " "), words, test.name)
		}
		_, err = mission.Fly(t.Context(), world(t), p, mission.Options{})
		require.ErrorAs(t, err, &faults, test.name+", flown")
	}
	_, err := mission.Size(planAt(geo.Point{}), nil)
	require.ErrorContains(t, err, "train.measured")
}

// Flown, the train moves as it was worked out to, and the spreads that the causes
// make together by first order are those of the flights.
func TestWeighedFlightsAreTheTrainThatWasSized(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 58.2, Lon: 13})
	l, err := mission.Fly(t.Context(), world(t), p, mission.Options{Explain: true})
	require.NoError(t, err)
	require.NotNil(t, l.Train)
	assert.False(t, l.Train.Standard)
	assert.InDelta(t, l.Train.Burst.Centre, l.Landing.Burst, 200)
	assert.InDelta(t, l.Train.Up+l.Train.Down, l.Landing.Aloft, 0.03*(l.Train.Up+l.Train.Down))
	assert.InDelta(t, l.Train.Landings[0].Speed, l.Landing.Speed, 0.15)
	size, err := mission.Size(p, realwind.Field(t))
	require.NoError(t, err)
	assert.Equal(t, size, *l.Train)
	causes := map[string]bool{}
	for _, e := range l.Explanation.Effects {
		causes[e.Cause.String()] = true
	}
	for _, name := range []string{"the drag of the envelope", "the burst diameter", "the amount of gas", "the drag of the canopy", "what hangs on of the envelope", "the scale"} {
		assert.True(t, causes[name], name)
	}
	assert.False(t, causes["the rate of ascent"])
}

// A sweep: more gas never slows the ascent nor raises the burst, and what the plan
// has lies among it.
func TestSweep(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 50, Lon: 10})
	p.Site.Elevation = 100
	points, err := mission.Sweep(p, nil)
	require.NoError(t, err)
	require.Len(t, points, 25)
	r := sized(t, p)
	assert.InEpsilon(t, r.Gas.Volume, points[12].Gas, 1e-12, "the plan's own, in the middle")
	assert.InDelta(t, r.Ascent.Centre, points[12].Ascent, 1e-12)
	assert.InEpsilon(t, r.Release.Pull, points[12].Neck, 1e-12)
	planned := 0
	for i, q := range points {
		assert.Equal(t, i == 12, q.Planned)
		if q.Planned {
			planned++
		}
		if i > 0 {
			assert.Greater(t, q.Ascent, points[i-1].Ascent)
			assert.Less(t, q.Top, points[i-1].Top)
			assert.Greater(t, q.Gas, points[i-1].Gas)
		}
	}
	assert.Equal(t, 1, planned)
}

// Around a fill that barely lifts are some that float, told as such; none that do
// not leave the ground; and some that do burst, however little the plan lifts.
func TestSweepAroundAFillThatFloats(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 50, Lon: 10})
	p.Site.Elevation = 100
	w := p.Train.Weighed
	w.Filling.Overpressure, w.Envelope.Burst, w.Envelope.Fullest = 100, 6.5, 2.3
	w.Fill.By, w.Fill.Amount.Centre = plan.ByFreeLift, 0.05
	points, err := mission.Sweep(p, nil)
	require.NoError(t, err)
	var planned, floats, bursts, full int
	for _, q := range points {
		assert.Positive(t, q.Free)
		if q.Planned {
			planned++
			assert.InDelta(t, 0.05, q.Free, 1e-9)
		}
		if q.Floats {
			floats++
		} else {
			bursts++
		}
		if q.TooFull {
			full++
		}
	}
	t.Logf("%d float, %d burst", floats, bursts)
	assert.Equal(t, 1, planned)
	assert.Positive(t, floats)
	assert.Positive(t, bursts)
	assert.Positive(t, full)

	// Up to what the envelope holds: it is nearly all in.
	w.Envelope.Burst, w.Envelope.Fullest = 2, 0
	w.Fill.Amount.Centre = 1.5
	points, err = mission.Sweep(p, nil)
	require.NoError(t, err)
	assert.Less(t, len(points), 25)
	assert.GreaterOrEqual(t, len(points), 13)
}

// Batteries: what is on until it is found is wanted for longer, and in the cold a
// battery gives less; a dead one is warned of.
func TestBatteries(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: 50, Lon: 10})
	p.Site.Elevation = 100
	p.Train.Waiting, p.Train.Searching = 1800, 6*3600
	one := plan.Battery{Name: "a", Battery: balloon.Battery{Chemistry: balloon.LithiumIon, Energy: 36e3, Count: 1, Draw: 1.5}, Warmer: 20}
	found, cold := one, one
	found.Name, found.UntilFound = "b", true
	cold.Name, cold.Warmer = "c", 0
	p.Train.Batteries = []plan.Battery{one, found, cold}
	r := sized(t, p)
	require.Len(t, r.Batteries, 3)
	assert.InDelta(t, r.Up+r.Down+1800, r.Batteries[0].Wanted, 1e-6)
	assert.InDelta(t, r.Up+r.Down+1800+6*3600, r.Batteries[1].Wanted, 1e-6)
	assert.Greater(t, r.Batteries[2].Used, r.Batteries[0].Used)
	assert.Contains(t, r.Warnings, `The battery of "c" does not last.`)
}

// Over smooth ground at sea level a radio tracker is lost at the horizon of the
// 4/3 Earth: √h = d/4.12 km − √(antenna), in closed form (see balloon.RadioFloor).
func TestContacts(t *testing.T) {
	p := weighedAt(t, geo.Point{Lat: -45, Lon: -120}) // in the middle of an ocean
	p.Train.Trackers = []plan.Tracker{
		{Antenna: 4, Tracker: balloon.Tracker{Kind: balloon.RadioTracker, Interval: 10}},
		{Antenna: 2, Tracker: balloon.Tracker{Kind: balloon.SatelliteTracker, Interval: 10}},
	}
	l, err := mission.Fly(t.Context(), world(t), p, mission.Options{})
	require.NoError(t, err)
	require.Len(t, l.Contacts, 1)
	want := math.Pow(l.Landing.Distance/4120-2, 2)
	t.Logf("%.1f km away: lost below %.0f m", l.Landing.Distance/1000, l.Contacts[0].AboveGround)
	assert.InEpsilon(t, want, l.Contacts[0].AboveGround, 0.02)
}
