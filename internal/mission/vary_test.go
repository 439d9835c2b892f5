package mission_test

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
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

// flownAlone is a plan flown by itself, and what the search is held against.
type flownAlone struct {
	plan   plan.Plan
	launch report.Launch
	in, of []float64 // by scramble: landings in the lake, and all
	out    bool
	height int // in steps of 200 m
	gas    int // in steps of 1 % of the first plan's
}

// score is the share of landings in the lake: that is bad by 1, and all else by 0.
func (f *flownAlone) score() (share, of float64) {
	for r := range f.in {
		share, of = share+f.in[r], of+f.of[r]
	}
	return share / of, of
}

// difference is by how much the score of f is above that of o, and half its 95 %
// interval for 8 scrambles: Student's quantile for 7 is 2.364624 (table). Each
// scramble's part in the difference of two ratios is Cochran's (1977, §6.4).
func (f *flownAlone) difference(o *flownAlone) (value, half float64) {
	a, n := f.score()
	b, m := o.score()
	squares := 0.0
	for r := range f.in {
		d := (f.in[r]-a*f.of[r])/n - (o.in[r]-b*o.of[r])/m
		squares += d * d
	}
	return 100 * (a - b), 100 * max(2.364624*math.Sqrt(squares*8/7), 3/min(n, m))
}

// beats is the rule of the README, word by word.
func (f *flownAlone) beats(o *flownAlone) bool {
	if f.out || f.height < o.height || f.gas > o.gas {
		return false
	}
	value, half := f.difference(o)
	lower, higher := value < -half && value <= -0.5, value > half && value >= 0.5
	return !higher && (lower || f.height > o.height || f.gas < o.gas)
}

// alone flies every plan by itself through Fly.
func alone(t testing.TB, w mission.World, plans []plan.Plan) []flownAlone {
	t.Helper()
	all := make([]flownAlone, len(plans))
	var next atomic.Int64
	var group sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		group.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(plans); i = int(next.Add(1)) - 1 {
				l, err := mission.Fly(t.Context(), w, plans[i], mission.Options{Workers: 1})
				var faults plan.Faults
				if errors.As(err, &faults) {
					all[i] = flownAlone{plan: plans[i], out: true}
					continue
				}
				if !assert.NoError(t, err) {
					return
				}
				all[i] = tallied(l, w, plans[i])
			}
		})
	}
	group.Wait()
	for i := range all {
		l := &all[i].launch
		if l.Train == nil {
			continue
		}
		all[i].height = int(math.Floor(l.Burst.Centre / 200))
		all[i].gas = int(math.Floor(l.Train.Gas.Moles / (0.01 * all[0].launch.Train.Gas.Moles)))
	}
	return all
}

func tallied(l report.Launch, w mission.World, p plan.Plan) flownAlone {
	f := flownAlone{plan: p, launch: l, in: make([]float64, p.Scrambles), of: make([]float64, p.Scrambles)}
	for i, one := range l.Flown {
		if one.End != flight.Landed {
			continue
		}
		r := i / p.PerScramble
		f.of[r]++
		if w.Ground.Map.At(one.At, one.Time).Under.Has(ground.Water) {
			f.in[r]++
		}
	}
	for _, sentence := range l.Train.Warnings {
		f.out = f.out || troublesome(sentence)
	}
	landed := 0.0
	for _, of := range f.of {
		landed += of
	}
	f.out = f.out || landed < 0.95*float64(len(l.Flown))
	f.launch.Flown = nil
	return f
}

// troublesome is a warning that no plan may have which is told.
func troublesome(sentence string) bool {
	for _, part := range []string{
		"More gas than the envelope holds", "past the fullest volume", "It floats", "It may float", "It may not leave", "It will not leave",
		"Already ", "Mean ascent rate", "The cylinders lack",
	} {
		if strings.HasPrefix(sentence, part) || strings.Contains(sentence, "past the fullest") && part == "past the fullest volume" {
			return true
		}
	}
	return false
}

// The search finds what looking at each of 504 plans by itself finds: the same plans
// that no other beats.
func TestVaryAgainstEveryPlan(t *testing.T) {
	w, p := shore(t), varied(t)
	p.Vary.Volumes, p.Vary.Delays = nil, p.Vary.Delays[1:3]
	for i := range 20 {
		p.Vary.Volumes = append(p.Vary.Volumes, 2.2*math.Pow(1.05, float64(i)))
	}
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	require.Len(t, plans, 504) // 21 fills × 2 envelopes × 2 canopies × 2 loads × 3 hours
	begun := time.Now()
	found, err := mission.Vary(t.Context(), worldsAt(w, shoreSite), plans, mission.Options{})
	require.NoError(t, err)
	searched := time.Since(begun)
	begun = time.Now()
	all := alone(t, w, plans)
	t.Logf("%d plans: searched in %v, %d of them with all flights; each by itself in %v", len(plans), searched, found.Fully, time.Since(begun))
	assert.Less(t, found.Fully, len(plans)/2, "flown with all flights")

	var want []int
	out := 0
	for i := range all {
		if all[i].out {
			out++
			continue
		}
		if !slices.ContainsFunc(all, func(other flownAlone) bool { return other.beats(&all[i]) }) {
			want = append(want, i)
		}
	}
	told := 0
	for _, l := range found.LeftOut {
		told += l.Plans
	}
	assert.Equal(t, out, told, "left out")
	assert.Positive(t, out)
	got := make([]int, 0, len(found.Unbeaten))
	for _, c := range found.Unbeaten {
		got = append(got, slices.IndexFunc(all, func(f flownAlone) bool { return same(c, f) }))
	}
	slices.Sort(got)
	t.Logf("%d plans left out, %d that no other beats", out, len(want))
	assert.Greater(t, len(want), 10)
	assert.Equal(t, want, got)
	for k, c := range found.Unbeaten {
		assert.InDelta(t, all[slices.IndexFunc(all, func(f flownAlone) bool { return same(c, f) })].launch.Hazard.Value, c.Score, 1e-9, "%d", k)
	}
}

// same reports whether a choice is a plan.
func same(c report.Choice, f flownAlone) bool {
	return c.Time.Equal(f.plan.Launch) && c.Envelope == f.plan.Train.Weighed.Envelope && c.Canopies[0] == f.plan.Train.Weighed.Canopies[0].Canopy &&
		slices.Equal(c.Parts, f.plan.Train.Parts) && f.launch.Train != nil && math.Abs(c.Gas-f.launch.Train.Gas.Volume) < 1e-9
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

// What cannot be varied is a fault of one line.
func TestVariantsFaults(t *testing.T) {
	measured := planAt(shoreSite)
	_, err := mission.Variants(measured)
	require.EqualError(t, err, "train.measured: a train that was measured: want weighed parts, envelope, gas and canopies: there is nothing to work out otherwise")

	p := varied(t)
	p.Train.Weighed.Find = &plan.Find{By: plan.ByBurst, Amount: 30e3}
	_, err = mission.Variants(p)
	require.EqualError(t, err, "train.find_envelope: an envelope that is looked for: want one at hand, in train.envelope, and others in vary.envelopes: size says which is found")

	p = varied(t)
	p.Vary.LeaveBehind = []string{"camera", "anchor"}
	_, err = mission.Variants(p)
	require.EqualError(t, err, `vary.leave_behind[1]: "anchor": want the name of one of train.parts`)

	p = varied(t)
	p.Vary.Canopies[0].InsteadOf = "kite"
	_, err = mission.Variants(p)
	require.EqualError(t, err, `vary.canopies[0].instead_of: "kite": want the name of one of train.parts`)

	p = varied(t)
	for i := range 60 {
		p.Vary.Bursts = append(p.Vary.Bursts, 20e3+100*float64(i))
	}
	p.Vary.LeaveBehind = []string{"camera", "box"}
	_, err = mission.Variants(p)
	require.EqualError(t, err, "vary: 7728 plans: want at most 4096: now 69 fills × 2 envelopes × 2 canopies × 4 choices of what stays at home × 7 launch times × 1 sites")
}

// Each combination is there once, and each does what it says: the other canopy with
// its own mass where the train's hung, what stays at home, when, and how much gas.
func TestVariantsAreEveryCombination(t *testing.T) {
	p := varied(t)
	p.Vary.Volumes, p.Vary.Bursts, p.Vary.Delays = []float64{2.6}, []float64{25e3}, []time.Duration{time.Hour}
	p.Vary.LeaveBehind = []string{"camera", "canopy"}
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	require.Len(t, plans, 3*2*2*4*2)
	seen := map[string]bool{}
	for _, one := range plans {
		w := one.Train.Weighed
		var parts []string
		for _, part := range one.Train.Parts {
			if part.Name == "canopy" {
				want := 0.5 * 0.45359237 // kg, half a pound
				if w.Canopies[0].Size == 1.6 {
					want = 0.35
				}
				assert.InDelta(t, want, part.Mass, 1e-12)
				assert.Equal(t, balloon.OnTrain, part.Place)
			}
			parts = append(parts, part.Name)
		}
		require.Len(t, w.Canopies, 1)
		seen[fmt.Sprint(one.Launch.Sub(p.Launch), w.Envelope.Mass, w.Canopies[0].Size, parts, w.Fill.By, w.Fill.Amount.Centre)] = true
	}
	assert.Len(t, seen, len(plans), "different plans")
	for _, want := range []string{
		"0s 0.6 1.2 [box canopy camera] 4 4.5", "1h0m0s 0.8 1.6 [box] 5 25000", "0s 0.8 1.2 [box canopy] 1 2.6", "1h0m0s 0.6 1.6 [box camera] 4 4.5",
	} {
		assert.True(t, seen[want], "%s in %v", want, seen)
	}
	assert.Equal(t, p.Train.Parts, plans[0].Train.Parts, "the plan as it stands is the first")
	assert.Len(t, p.Train.Parts, 3, "and nothing of it changes")
}

// Without anything named the fill alone varies, about the plan's own.
func TestVariantsOfItself(t *testing.T) {
	p := varied(t)
	p.Vary = plan.Vary{}
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	require.Len(t, plans, 8)
	own, err := mission.Size(p, nil)
	require.NoError(t, err)
	assert.Equal(t, plan.ByAscentRate, plans[0].Train.Weighed.Fill.By)
	assert.InDelta(t, 4.5, plans[0].Train.Weighed.Fill.Amount.Centre, 0)
	for i, share := range []float64{0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4} {
		assert.InEpsilon(t, share*own.Gas.Volume, plans[1+i].Train.Weighed.Fill.Amount.Centre, 1e-9)
	}
	p.Vary.Sites, p.Schedule.Sites = true, []plan.Site{{Name: "East", At: geo.Point{Lat: 24, Lon: 14.5}}}
	plans, err = mission.Variants(p)
	require.NoError(t, err)
	require.Len(t, plans, 2)
	assert.Equal(t, "East", plans[1].Site.Name)
}
