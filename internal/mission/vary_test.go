package mission_test

import (
	"math"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rules"
	"example.org/thistledown/internal/wind"
)

// shore is a world whose air moves toward east, faster with height up to a jet and
// with the hours, over land that ends at a lake 15.0° E to 16.2° E.
func shore(t testing.TB) mission.World {
	t.Helper()
	var heights []float64
	for z := 0.0; z <= 40e3; z += 2000 {
		heights = append(heights, z)
	}
	f, err := wind.New(wind.Axes{
		Grid:  geo.Grid{NX: 9, NY: 9, Lat0: 20, Lon0: 10, DLat: 1, DLon: 1},
		Start: time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC), Times: []float64{0, 24 * 3600}, Heights: heights,
	}, func(_ geo.Point, z, seconds float64) wind.Sample {
		s := wind.Still(z)
		s.East = 4 + 12*math.Exp(-math.Pow((z-11e3)/5e3, 2)) + 3*seconds/86400
		s.North = 1 - z/20e3
		return s
	})
	require.NoError(t, err)
	lake, err := ground.ReadLayer(ground.LayerSource{Name: "lake", Class: ground.Water, Covers: []geo.Box{{South: 20, North: 28, West: 10, East: 18}}}, []byte(
		`{"type":"Polygon","coordinates":[[[15.0,20],[16.2,20],[16.2,28],[15.0,28],[15.0,20]]]}`))
	require.NoError(t, err)
	return mission.World{Winds: []*wind.Field{f}, Ground: &mission.Ground{Map: &ground.Map{Layers: []*ground.Layer{lake}}}}
}

// shoreSite is 90 km or so short of the lake.
var shoreSite = geo.Point{Lat: 24, Lon: 14.1}

func worldsAt(w mission.World, places ...geo.Point) map[geo.Point]mission.World {
	all := map[geo.Point]mission.World{}
	for _, at := range places {
		all[at] = w
	}
	return all
}

// varied is a plan of which much could be otherwise, with few flights.
func varied(t testing.TB) plan.Plan {
	t.Helper()
	p := weighedAt(t, shoreSite)
	p.Site.Elevation = 300
	p.Scrambles, p.PerScramble = 8, 16
	p.OffNominal = plan.DefaultOffNominal()
	wider := p.Train.Weighed.Canopies[0]
	wider.Size = 1.6
	p.Vary = plan.Vary{
		Volumes:     []float64{2.4, 2.6, 2.8, 3.1, 3.4, 3.8, 4.4, 5},
		Envelopes:   []balloon.Envelope{{Mass: 0.8, MassSpread: 0.02, Burst: 7, BurstSpread: 0.4, Remains: 0.3, RemainsSpread: 0.1}},
		Canopies:    []plan.OtherCanopy{{Canopy: wider, InsteadOf: "canopy", Mass: quantity.Uncertain{Centre: 0.35, Spread: 0.003}}},
		LeaveBehind: []string{"camera"},
		Delays:      []time.Duration{-4 * time.Hour, -2 * time.Hour, 2 * time.Hour, 4 * time.Hour, 6 * time.Hour, 8 * time.Hour},
	}
	p.Train.Parts = append(p.Train.Parts, balloon.Part{Name: "camera", Mass: 0.4, Spread: 0.004, Count: 1, Place: balloon.AtBottom})
	p.Train.Parts[0].Mass -= 0.4
	return p
}

// Of fills from far too little to far too much none is told that its own envelope, or
// its rack, does not bear.
func TestVaryNeverFillsUnsafely(t *testing.T) {
	w, p := shore(t), varied(t)
	p.Vary = plan.Vary{}
	for v := 0.8; v < 70; v *= 1.12 {
		p.Vary.Volumes = append(p.Vary.Volumes, v)
	}
	p.Vary.Envelopes = varied(t).Vary.Envelopes
	p.Train.Weighed.Envelope.Fullest = 4.5
	p.Train.Weighed.Cylinders = []plan.Cylinder{{Water: 0.05, Gauge: 180e5, Temperature: math.NaN(), Count: 1}} // some 8.5 m³
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	found, err := mission.Vary(t.Context(), worldsAt(w, shoreSite), plans, mission.Options{})
	require.NoError(t, err)
	why := map[string]int{}
	for _, l := range found.LeftOut {
		why[l.Why] = l.Plans
	}
	t.Logf("left out: %v", why)
	for _, reason := range []string{"the train cannot be filled so", "too full at release", "would float, or might", "would take more gas than the cylinders give"} {
		assert.Positive(t, why[reason], reason)
	}
	// As many are left out as size warns of, or cannot size.
	bad := 0
	for _, one := range plans {
		sized, err := mission.Size(one, w.Winds[0])
		if err != nil || slices.ContainsFunc(sized.Warnings, troublesome) {
			bad++
		}
	}
	out := 0
	for _, n := range why {
		out += n
	}
	assert.Equal(t, bad, out, "left out")
	require.NotEmpty(t, found.Unbeaten)
	for _, c := range found.Unbeaten {
		one := p
		train := *p.Train.Weighed
		train.Envelope, train.Fill = c.Envelope, plan.Fill{By: plan.ByVolume, Amount: quantity.Uncertain{Centre: c.Gas, Spread: math.NaN()}, Spread: 0.03}
		one.Train.Weighed = &train
		sized, err := mission.Size(one, w.Winds[0])
		require.NoError(t, err)
		for _, sentence := range sized.Warnings {
			assert.False(t, troublesome(sentence), "told: %.2f m³: %s", c.Gas, sentence)
		}
	}
}

// One worker or several, the answer is the same.
func TestVaryTheSameForAnyNumberOfWorkers(t *testing.T) {
	w, p := shore(t), varied(t)
	p.Vary.Delays, p.Vary.Canopies, p.Vary.Volumes = p.Vary.Delays[:1], nil, p.Vary.Volumes[:4]
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	one, err := mission.Vary(t.Context(), worldsAt(w, shoreSite), plans, mission.Options{Workers: 1})
	require.NoError(t, err)
	var looked atomic.Int64
	several, err := mission.Vary(t.Context(), worldsAt(w, shoreSite), plans, mission.Options{Workers: 5, Progress: func(int) { looked.Add(1) }})
	require.NoError(t, err)
	assert.Equal(t, one, several)
	assert.Equal(t, int64(len(plans)), looked.Load())
	// What is told is what Fly says of it.
	require.NotEmpty(t, one.Told)
	for _, c := range append(one.Told, one.AsItStands) {
		assert.InDelta(t, c.Launch.Hazard.Value, c.Score, 1e-9)
		assert.InDelta(t, c.Launch.Burst.Centre, c.Height, 1e-6)
		assert.InDelta(t, c.Launch.Train.Gas.Volume, c.Gas, 1e-9)
		assert.InDelta(t, c.Launch.Train.Release.Pull, c.Pull, 1e-9)
		assert.InDelta(t, c.Launch.Train.Landings[0].Speed, c.Falls, 1e-9)
	}
}

// The gain comes from other flights than the score, and holds: against four times as
// many flights of another seed.
func TestVaryGain(t *testing.T) {
	w, p := shore(t), varied(t)
	p.Vary = plan.Vary{Volumes: []float64{2.6, 3.8}}
	p.PerScramble = 64
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	found, err := mission.Vary(t.Context(), worldsAt(w, shoreSite), plans, mission.Options{})
	require.NoError(t, err)
	require.NotEmpty(t, found.Told)
	score := func(p plan.Plan) (float64, float64) {
		p.Seed, p.PerScramble = 77, 256
		l, err := mission.Fly(t.Context(), w, p, mission.Options{})
		require.NoError(t, err)
		return l.Hazard.Value, l.Hazard.High - l.Hazard.Value
	}
	base, baseHalf := score(plans[0])
	for _, c := range found.Told {
		i := slices.IndexFunc(plans, func(q plan.Plan) bool {
			return q.Train.Weighed.Fill.By == plan.ByVolume && math.Abs(q.Train.Weighed.Fill.Amount.Centre-c.Gas) < 1e-6
		})
		require.Positive(t, i)
		own, half := score(plans[i])
		t.Logf("%.1f m³: %.2f ± %.2f lower, with more flights %.2f ± %.2f", c.Gas, c.Gain, c.GainHalfWidth, base-own, math.Hypot(half, baseHalf))
		assert.InDelta(t, base-own, c.Gain, math.Hypot(c.GainHalfWidth, math.Hypot(half, baseHalf)))
		assert.NotEqual(t, found.AsItStands.Score-c.Score, c.Gain, "the same flights")
		assert.Greater(t, math.Abs(c.Gain), c.GainHalfWidth, "is sure")
	}
}

// Plans are flown with the same draws: of two that are nearly the same the difference
// is much surer than that of two scores. The first is a little too full, so that the
// second is told although it is as good.
func TestVaryWithTheSameDraws(t *testing.T) {
	w, p := shore(t), varied(t)
	p.Site.At.Lon = 14.3
	p.PerScramble = 64
	p.Train.Weighed.Envelope.Fullest = 3.5
	p.Train.Weighed.Fill = plan.Fill{By: plan.ByVolume, Amount: quantity.Uncertain{Centre: 3.51, Spread: math.NaN()}, Spread: 0.03}
	p.Vary = plan.Vary{Volumes: []float64{3.49}}
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	found, err := mission.Vary(t.Context(), worldsAt(w, p.Site.At), plans, mission.Options{})
	require.NoError(t, err)
	assert.Equal(t, "too full at release", found.AsItStands.LeftOut)
	require.Len(t, found.Told, 1)
	c := found.Told[0]
	own, first := c.Launch.Hazard, found.AsItStands.Launch.Hazard
	apart := math.Hypot((own.High-own.Low)/2, (first.High-first.Low)/2)
	t.Logf("scores %.1f and %.1f; difference ± %.2f, of flights that share nothing ± %.2f", first.Value, own.Value, c.GainHalfWidth, apart)
	assert.Less(t, c.GainHalfWidth, apart/3)
}

// A plan that is beyond a limit for sure that the plan as it stands keeps is out, and
// hides no other; one that may be beyond it is told with that.
func TestVaryKeepsLimits(t *testing.T) {
	w, p := shore(t), varied(t)
	p.Vary = plan.Vary{Volumes: []float64{2.4, 2.6, 2.8, 3.1, 3.4, 3.8, 4.4}}
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	free, err := mission.Vary(t.Context(), worldsAt(w, shoreSite), plans, mission.Options{})
	require.NoError(t, err)
	far := func(v report.Varied) (most float64) {
		for _, c := range v.Told {
			most = max(most, c.Launch.Landing.Distance)
		}
		return most
	}
	limit := (far(free) + free.AsItStands.Launch.Landing.Distance) / 2
	require.Less(t, free.AsItStands.Launch.Landing.Distance, limit, "as it stands within it")
	for i := range plans {
		plans[i].Limits.Distance = limit
	}
	held, err := mission.Vary(t.Context(), worldsAt(w, shoreSite), plans, mission.Options{})
	require.NoError(t, err)
	assert.Equal(t, launch.Go, held.AsItStands.Launch.Verdict)
	assert.Greater(t, far(free), limit)
	assert.Less(t, far(held), limit)
	require.NotEmpty(t, held.LeftOut)
	assert.Equal(t, "beyond a limit for sure that the plan as it stands is not beyond for sure", held.LeftOut[len(held.LeftOut)-1].Why)
}

// A plan that turns out to break a limit has beaten none: what only it beats is told.
// The first plan comes down in the lake. The second, from farther off, does not, but
// it goes farther than its limit. The third takes a little more gas than that.
func TestVaryWhatOnlyAnOutcastBeats(t *testing.T) {
	w, p := shore(t), varied(t)
	p.Site.At.Lon = 14.6
	p.Train.Weighed.Fill = plan.Fill{By: plan.ByVolume, Amount: quantity.Uncertain{Centre: 3.6, Spread: math.NaN()}, Spread: 0.03}
	plans := []plan.Plan{p, p, p}
	for i := range plans[1:] {
		plans[1+i].Site = plan.Site{Name: "West", At: geo.Point{Lat: 24, Lon: 13}, Elevation: 300, Zone: time.UTC}
	}
	more := *p.Train.Weighed
	more.Fill.Amount.Centre = 3.7
	plans[2].Train.Weighed = &more
	worlds := worldsAt(w, p.Site.At, plans[1].Site.At)
	for limit, gas := range map[float64]float64{math.NaN(): 3.6, 1000: 3.7} {
		plans[1].Limits.Distance = limit
		found, err := mission.Vary(t.Context(), worlds, plans, mission.Options{})
		require.NoError(t, err)
		require.Len(t, found.Told, 1, "limit %v", limit)
		assert.InDelta(t, gas, found.Told[0].Gas, 1e-9, "limit %v", limit)
		assert.Greater(t, found.Told[0].Gain, 50.0)
	}
}

// A plan that does not meet a rule of the air is out, the plan as it stands too: here
// one must not cross a border, and from the site in the east all flights do.
func TestVaryKeepsRules(t *testing.T) {
	const broken = "does not meet one of the rules of the air that the plan names"
	w, p := shore(t), varied(t)
	w.Ground = &mission.Ground{Map: &ground.Map{Layers: strip(t, ground.Abroad, 14.8, 15.6)}}
	p.PerScramble, p.Vary, p.Rules = 64, plan.Vary{Sites: true}, ruled(rules.International).Rules
	p.OffNominal = ensemble.Chances{}
	p.Site.At.Lon = 13
	p.Schedule.Sites = []plan.Site{{Name: "East", At: geo.Point{Lat: 24, Lon: 14.6}, Elevation: 300, Zone: time.UTC}}
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	worlds := worldsAt(w, p.Site.At, p.Schedule.Sites[0].At)
	found, err := mission.Vary(t.Context(), worlds, plans, mission.Options{})
	require.NoError(t, err)
	assert.Empty(t, found.AsItStands.LeftOut)
	assert.True(t, found.AsItStands.Unbeaten)
	slices.Reverse(plans)
	found, err = mission.Vary(t.Context(), worlds, plans, mission.Options{})
	require.NoError(t, err)
	assert.Equal(t, broken, found.AsItStands.LeftOut)
	assert.Equal(t, []report.LeftOut{{Why: broken, Plans: 1}}, found.LeftOut)
	require.Len(t, found.Told, 1)
	assert.Equal(t, "Field", found.Told[0].Site)
}
