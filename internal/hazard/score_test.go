package hazard

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/ground"
)

// named is a map of so many closed volumes without an area, for their names
// alone.
func named(n int) *ground.Map {
	v := make([]*ground.Volume, n)
	for i := range v {
		v[i] = &ground.Volume{Name: string(rune('A' + i%26)), Severity: math.NaN()}
	}
	return &ground.Map{Volumes: v}
}

// empty is a map of nothing.
var empty = named(0)

// everyClass is the classes of ground, written out.
var everyClass = []ground.Class{ground.Water, ground.Forest, ground.BuiltUp, ground.Closed, ground.Airfield, ground.Abroad}

// up is volumes crossed on the way up, one for each bit.
func up(bits uint64) Crossed {
	var marks []byte
	for v := range 64 {
		if bits>>v&1 == 1 {
			marks = mark(marks, v, Up)
		}
	}
	return Crossed{string(marks)}
}

// across is the ways on which a volume was crossed.
func across(c Crossed, volume int) Way {
	for v, way := range c.All() {
		if v == volume {
			return way
		}
	}
	return 0
}

// scene draws flights, their severities and how many volumes there are.
type scene struct {
	flights   []Met
	scrambles int
	severity  Severity
	volumes   int
}

func drawScene(t *rapid.T) scene {
	s := scene{
		scrambles: rapid.IntRange(1, 8).Draw(t, "scrambles"),
		volumes:   rapid.SampledFrom([]int{0, 1, 2, 5, 63, 64}).Draw(t, "volumes"),
	}
	share := rapid.OneOf(rapid.Float64Range(0, 1), rapid.SampledFrom([]float64{0, 1}))
	for c := range ground.Classes() {
		s.severity.Ground[c] = share.Draw(t, c.String())
	}
	s.severity.Air = share.Draw(t, "air")
	mask := ^uint64(0)
	if s.volumes < 64 {
		mask = 1<<s.volumes - 1
	}
	one := rapid.Custom(func(t *rapid.T) Met {
		m := Met{Landed: rapid.IntRange(0, 3).Draw(t, "landed") > 0, Crossed: up(rapid.Uint64().Draw(t, "crossed") & mask)}
		if !m.Landed {
			return m
		}
		for c := range ground.Classes() {
			switch rapid.IntRange(0, 3).Draw(t, c.String()) {
			case 0: // nobody looked
			case 1:
				m.Under, m.Assessed = m.Under.With(c), m.Assessed.With(c)
			default:
				m.Assessed = m.Assessed.With(c)
			}
		}
		return m
	})
	n := s.scrambles * rapid.IntRange(1, 6).Draw(t, "flights in each")
	for range n {
		s.flights = append(s.flights, one.Draw(t, "flight"))
	}
	return s
}

func (s scene) assess() Score { return Assess(s.flights, s.scrambles, s.severity, named(s.volumes)) }

// slow is the score and its worst, flight by flight as their definition reads.
func (s scene) slow() (value, worst float64, landed int) {
	for _, f := range s.flights {
		if !f.Landed {
			continue
		}
		landed++
		escapes, known := 1.0, true
		greatest := 0.0
		for _, c := range everyClass {
			if f.Under.Has(c) {
				greatest = math.Max(greatest, s.severity.Ground[c])
			}
			known = known && f.Assessed.Has(c)
		}
		escapes *= 1 - greatest
		for v := range 64 {
			if across(f.Crossed, v) != 0 {
				escapes *= 1 - s.severity.Air
			}
		}
		value += 100 * (1 - escapes)
		if known {
			worst += 100 * (1 - escapes)
		} else {
			worst += 100
		}
	}
	return value / float64(landed), worst / float64(landed), landed
}

func TestScoreFlightByFlight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		value, worst, landed := s.slow()
		got := s.assess()
		require.Equal(t, len(s.flights)-landed, got.NotLanded.Hits)
		require.Equal(t, len(s.flights), got.NotLanded.Of)
		if landed == 0 {
			require.Equal(t, []float64{0, 0, 100, 100}, []float64{got.Value, got.Low, got.High, got.Worst})
			require.Empty(t, got.Greatest)
			require.Empty(t, got.Crossings)
			return
		}
		require.InDelta(t, value, got.Value, 1e-9, "score")
		require.InDelta(t, worst, got.Worst, 1e-9, "score with all that is not assessed at its worst")
		require.GreaterOrEqual(t, got.Worst, got.Value, "silence lowers a score")
		ordered := 0 <= got.Low && got.Low <= got.Value+1e-9 && got.Value <= got.High+1e-9 && got.High <= 100+1e-9
		require.True(t, ordered, "interval of %+v", got)
		points := 0.0
		for _, c := range got.Classes {
			require.Equal(t, landed, c.Landing.Of)
			points += c.Points
		}
		for _, c := range got.Crossings {
			require.Equal(t, landed, c.Probability.Of)
			require.GreaterOrEqual(t, c.Points, -1e-9)
			points += c.Points
		}
		require.InDelta(t, got.Value, points, 1e-9, "points add up to the score")
	})
}

// What off-nominal flights make of the score and what the others make add up to
// it: the others' part is found by calling them off-nominal instead. Flights that
// did not land count for neither.
func TestOffNominalPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		hits, landed, sum := 0, 0, 0.0
		for i := range s.flights {
			f := &s.flights[i]
			f.OffNominal = rapid.Bool().Draw(t, "off-nominal")
			if !f.Landed {
				continue
			}
			landed++
			if f.OffNominal {
				hits++
				one := Assess([]Met{*f}, 1, s.severity, named(s.volumes))
				sum += one.Value
			}
		}
		got := s.assess()
		for i := range s.flights {
			s.flights[i].OffNominal = !s.flights[i].OffNominal
		}
		others := s.assess()
		require.Equal(t, hits, got.OffNominal.Hits)
		require.Equal(t, landed, got.OffNominal.Of)
		if landed == 0 {
			require.Zero(t, got.OffNominalPoints)
			return
		}
		require.InDelta(t, got.Value, got.OffNominalPoints+others.OffNominalPoints, 1e-9)
		require.InDelta(t, sum/float64(landed), got.OffNominalPoints, 1e-9, "flight by flight")
	})
}

// Classes and volumes are counted one by one, each landing with a class of
// severity over 0 gives its severity to the worst of its classes.
func TestPartsOfAScore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		got := s.assess()
		require.Len(t, got.Classes, 6)
		crossings := map[string]Crossing{}
		for _, c := range got.Crossings {
			crossings[c.Name] = c
		}
		for i, c := range everyClass {
			part := got.Classes[i]
			require.Equal(t, c, part.Class)
			require.Equal(t, s.severity.Ground[c], part.Severity)
			on, unknown, landed := 0, 0, 0
			for _, f := range s.flights {
				if !f.Landed {
					continue
				}
				landed++
				if f.Under.Has(c) {
					on++
				}
				if !f.Assessed.Has(c) {
					unknown++
				}
			}
			require.Equal(t, on, part.Landing.Hits)
			require.Equal(t, unknown, part.NotAssessed.Hits)
			most := 0.0
			if landed > 0 {
				most = 100 * float64(on) * part.Severity / float64(landed)
			}
			require.LessOrEqual(t, part.Points, most+1e-9, "a class has no more points than its landings")
		}
		if s.volumes > 26 {
			return // their names come twice
		}
		for v := range s.volumes {
			hits := 0
			for _, f := range s.flights {
				if f.Landed && across(f.Crossed, v) != 0 {
					hits++
				}
			}
			require.Equal(t, hits, crossings[named(s.volumes).Volumes[v].Name].Probability.Hits, "volume %d", v)
		}
	})
}

// A severity that is raised never lowers a score.
func TestScoreGrowsWithSeverity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		before := s.assess()
		which := rapid.IntRange(0, 4).Draw(t, "raised")
		at := &s.severity.Air
		if which > 0 {
			at = &s.severity.Ground[which]
		}
		*at += (1 - *at) * rapid.Float64Range(0, 1).Draw(t, "by")
		after := s.assess()
		require.GreaterOrEqual(t, after.Value, before.Value-1e-9)
		require.GreaterOrEqual(t, after.Worst, before.Worst-1e-9)
	})
}

// Ground that is taken out of what was assessed never lowers the worst score,
// and leaves the score as it is.
func TestNotAssessedNeverLowersTheWorst(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawScene(t)
		before := s.assess()
		c := rapid.SampledFrom(everyClass).Draw(t, "class")
		for i := range s.flights {
			if rapid.Bool().Draw(t, "forgotten") {
				s.flights[i].Assessed &^= 1 << c
			}
		}
		after := s.assess()
		require.Equal(t, before.Value, after.Value)
		require.GreaterOrEqual(t, after.Worst, before.Worst)
	})
}

// Worked by hand: severities water 0.2, forest 0.5, built-up 0.8, closed 1,
// air 0.5, and ten flights, two of which did not land.
func TestScoreByHand(t *testing.T) {
	all := everything()
	flights := []Met{
		{Landed: true, Assessed: all},                                                        // 0
		{Landed: true, Assessed: all, Under: set(ground.Water)},                              // 0.2
		{Landed: true, Assessed: all, Under: set(ground.Water, ground.Forest)},               // 0.5, not 0.7
		{Landed: true, Assessed: all, Under: set(ground.BuiltUp)},                            // 0.8
		{Landed: false, Crossed: up(0b11)},                                                   // not counted
		{Landed: true, Assessed: all, Crossed: up(0b01)},                                     // 0.5
		{Landed: true, Assessed: all, Crossed: up(0b11)},                                     // 1 − 0.5² = 0.75
		{Landed: true, Assessed: all, Crossed: up(0b11), Under: set(ground.Forest)},          // 1 − 0.5³ = 0.875
		{Landed: true, Assessed: set(ground.Water, ground.Forest, ground.BuiltUp), Under: 0}, // 0, at worst 1
		{Landed: false},
	}
	got := Assess(flights, 1, severity(0.2, 0.5, 0.8, 1, 0.5), named(3))
	assert.InDelta(t, 100*(0.2+0.5+0.8+0.5+0.75+0.875)/8, got.Value, 1e-9)
	assert.InDelta(t, 100*(0.2+0.5+0.8+0.5+0.75+0.875+1)/8, got.Worst, 1e-9)
	assert.Equal(t, 0.2, got.NotLanded.Value)
	points := map[ground.Class]float64{}
	for _, c := range got.Classes {
		points[c.Class] = c.Points
	}
	assert.InDelta(t, 100*0.2/8, points[ground.Water], 1e-9)
	assert.InDelta(t, 100*1.0/8, points[ground.Forest], 1e-9)
	assert.InDelta(t, 100*0.8/8, points[ground.BuiltUp], 1e-9)
	assert.InDelta(t, 0, points[ground.Closed], 0)
	require.Len(t, got.Crossings, 3)
	assert.Equal(t, 0, got.Crossings[2].Probability.Hits, "the third volume is crossed by none")
	assert.Equal(t, 8, got.Crossings[2].Probability.Of)
	assert.InDelta(t, 0, got.Crossings[2].Points, 0)
	assert.Equal(t, "A", got.Crossings[0].Name)
	assert.InDelta(t, 100*(0.5+0.375+0.375/2)/8, got.Crossings[0].Points, 1e-9)
	assert.InDelta(t, 100*(0.375+0.375/2)/8, got.Crossings[1].Points, 1e-9)
	assert.Equal(t, 3, got.Crossings[0].Probability.Hits, "of those that landed")
	assert.Equal(t, "crossing A: 13.3 of 45.3 points", got.Greatest)
}

func TestGreatestInWords(t *testing.T) {
	on := func(c ground.Class) []Met { return []Met{{Landed: true, Assessed: everything(), Under: set(c)}} }
	s := severity(0.2, 0.5, 0.8, 1, 0.5)
	for _, c := range []struct {
		flights []Met
		want    string
	}{
		{on(ground.Water), "coming down in water: 20.0 of 20.0 points"},
		{on(ground.Forest), "coming down in forest: 50.0 of 50.0 points"},
		{on(ground.BuiltUp), "coming down among buildings: 80.0 of 80.0 points"},
		{on(ground.Closed), "coming down on closed ground: 100.0 of 100.0 points"},
		{[]Met{{Landed: true, Crossed: up(1)}}, "crossing A: 50.0 of 50.0 points"},
		{[]Met{{Landed: true}}, ""},
		{[]Met{{Landed: false, Crossed: up(1)}}, ""},
		{append(on(ground.Water), make([]Met, 999)...), "coming down in water: 20.0 of 20.0 points"}, // the others did not land
		{append(on(ground.Water), onNothing(999)...), "coming down in water: under 0.1 points"},
	} {
		assert.Equal(t, c.want, Assess(c.flights, 1, s, named(1)).Greatest, "Assess(%v)", c.flights[:1])
	}
}

// onNothing is flights that landed where all was assessed and nothing found.
func onNothing(n int) []Met {
	m := make([]Met, n)
	for i := range m {
		m[i] = Met{Landed: true, Assessed: everything()}
	}
	return m
}

// A score never comes as 0 ± 0, nor as 100 ± 0: what no flight met may still
// be. The bound is the rule of three's (see TestNothingAndEverythingHit) times
// the worst that a flight could meet.
func TestScoreThatAllFlightsAgreeOn(t *testing.T) {
	const bound = 0.0029212446353880095 // 1 − 0.05^(1/1024)
	s := severity(0.2, 0.5, 0.8, 0.4, 0.5)
	none := Assess(onNothing(1024), 16, s, empty)
	assert.Zero(t, none.Value)
	assert.Zero(t, none.Low)
	assert.InDelta(t, 80*bound, none.High, 1e-9)
	assert.InDelta(t, 90*bound, Assess(onNothing(1024), 16, s, named(1)).High, 1e-9, "with a volume: 1 − (1 − 0.8)(1 − 0.5)")
	forest := onNothing(1024)
	for i := range forest {
		forest[i].Under = set(ground.Forest)
	}
	same := Assess(forest, 16, s, empty)
	assert.InDelta(t, 50, same.Value, 1e-9)
	assert.InDelta(t, 50-80*bound, same.Low, 1e-9)
	assert.InDelta(t, 50+80*bound, same.High, 1e-9)
	for i := range forest {
		forest[i].Under = set(ground.BuiltUp)
	}
	worst := Assess(forest, 16, s, empty)
	assert.InDelta(t, 80, worst.Value, 1e-9)
	assert.InDelta(t, 80-80*bound, worst.Low, 1e-9)
	assert.InDelta(t, 80, worst.High, 1e-9, "no flight could meet more")
	harmless := Assess(forest, 16, Severity{}, empty)
	assert.Zero(t, harmless.High, "no severity, no score")
	unknown := Assess(make([]Met, 32), 16, s, empty)
	assert.Equal(t, []float64{0, 0, 100, 100}, []float64{unknown.Value, unknown.Low, unknown.High, unknown.Worst}, "none landed")
	assert.Equal(t, Probability{High: 1}, unknown.Classes[0].Landing, "none landed")
	assert.Equal(t, 1.0, unknown.NotLanded.Value)
}

// Flights are counted to their own scramble, in the order in which they come:
// where the first half of them is one scramble and all of it comes down in
// water, the two know nothing of the share; where they take turns, they agree.
func TestScoresAreTakenByScramble(t *testing.T) {
	apart, turns := onNothing(64), onNothing(64)
	for i := range 32 {
		apart[i].Under, turns[2*i].Under = set(ground.Water), set(ground.Water)
	}
	s := severity(1, 0, 0, 0, 0)
	got := Assess(apart, 2, s, empty)
	assert.Equal(t, []float64{50, 0, 100}, []float64{got.Value, got.Low, got.High})
	got = Assess(turns, 2, s, empty)
	assert.InDelta(t, 50-100*0.045729702330762456, got.Low, 1e-9, "1 − 0.05^(1/64) below")
	lost := onNothing(64)
	for i := range 16 {
		lost[i].Landed = false
	}
	assert.Equal(t, 1.0, Assess(lost, 4, s, empty).NotLanded.High, "one of four scrambles lost: hardly known")
	assert.Less(t, Assess(lost, 2, s, empty).NotLanded.Low, 1e-9)
}

// Flights that come down in water (severity 0.3), among buildings (1) or on
// nothing, now and then cross a volume (0.6) and now and then do not land, as
// independent draws and in strata: as for shares, the interval must cover the
// true mean in 94 % of runs.
func TestScoreIntervalsCoverTheTruth(t *testing.T) {
	const runs = 500
	random := rand.New(rand.NewPCG(8, 4))
	s := severity(0.3, 0, 1, 0, 0.6)
	for _, c := range []struct{ water, buildings, crossing, lost float64 }{
		{0.4, 0.1, 0.2, 0}, {0, 0.005, 0, 0}, {0.02, 0.0005, 0, 0.5}, {0.97, 0, 0.01, 0.02}, {0, 0, 0.015, 0},
	} {
		truth := 100 * (c.crossing*(1-(1-0.6)*(1-0.3*c.water-c.buildings)) + (1-c.crossing)*(0.3*c.water+c.buildings))
		for _, strata := range []int{1, 64} {
			covered := 0
			for range runs {
				flights := make([]Met, 1024)
				for i := range flights {
					if random.Float64() < c.lost {
						continue
					}
					flights[i] = Met{Landed: true, Assessed: everything()}
					switch u := (float64(i%strata) + random.Float64()) / float64(strata); {
					case u < c.buildings:
						flights[i].Under = set(ground.BuiltUp)
					case u < c.buildings+c.water:
						flights[i].Under = set(ground.Water)
					}
					if random.Float64() < c.crossing {
						flights[i].Crossed = up(1)
					}
				}
				if got := Assess(flights, 16, s, named(1)); got.Low <= truth && truth <= got.High {
					covered++
				}
			}
			assert.Greater(t, z(covered, runs, 0.94), -3.3, "%+v, %d strata: %d of %d intervals cover %g", c, strata, covered, runs, truth)
		}
	}
}

// A class that was not assessed for some landings can be under any of them:
// its upper bound is that of the landings on it together with those. Where
// nothing was assessed everything is possible.
func TestNotAssessedWidensTheInterval(t *testing.T) {
	var flights []Met
	for i := range 64 {
		f := Met{Landed: true, Assessed: everything()}
		switch i % 4 {
		case 0:
			f.Under = set(ground.Forest)
		case 1:
			f.Assessed = 0
		}
		flights = append(flights, f)
	}
	share := func(s Score, c ground.Class) Probability {
		for _, share := range s.Classes {
			if share.Class == c {
				return share.Landing
			}
		}
		t.Fatalf("no class %v", c)
		return Probability{}
	}
	got := Assess(flights, 4, severity(1, 1, 1, 1, 1), empty)
	forest := share(got, ground.Forest)
	assert.Equal(t, 0.25, forest.Value)
	assert.Less(t, forest.Low, 0.25)
	assert.Greater(t, forest.High, 0.5, "16 on it, 16 not assessed, of 64")
	assert.Greater(t, share(got, ground.Water).High, 0.25)
	for i := range flights {
		flights[i].Assessed = 0
	}
	assert.Equal(t, 1.0, share(Assess(flights, 4, severity(1, 1, 1, 1, 1), empty), ground.Water).High)
}
