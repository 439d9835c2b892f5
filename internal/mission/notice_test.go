package mission_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rules"
)

// of is a stage and nothing else.
func of(s rules.Stage) mission.NoticeOf { return mission.NoticeOf{Stage: s, Height: math.NaN()} }

// In the desert's air, which is the standard atmosphere's, a flight level is a height:
// 60,000 ft of pressure altitude are 18,288 geopotential metres, 18,340.8 m (r·H ÷
// (r − H) with r = 6,356,766 m, US Standard Atmosphere 1976). The way up takes height ÷
// 5 m/s.
func TestNoticeOfAFlight(t *testing.T) {
	p := ruled(rules.UnitedStates)
	told, l, err := mission.NoticeFlown(t.Context(), over(t, nil, nil), p, of(rules.Before), mission.Options{})
	require.NoError(t, err)
	f := told.Flown
	require.NotNil(t, f)
	require.NotNil(t, f.Up)
	require.NotNil(t, f.Down)
	const high = 6356766 * 18288.0 / (6356766 - 18288)
	assert.InDelta(t, high, f.Up.Height, 5, "a path of straight pieces, 10 m off at most")
	assert.InDelta(t, high, f.Down.Height, 5)
	assert.InDelta(t, high/5, f.Up.Time.Sub(p.Launch).Seconds(), 3)
	away, toward, _ := geo.Inverse(p.Site.At, f.Up.At)
	assert.InDelta(t, 10*high/5, away, 130, "the air is no slower aloft, but the ground under it is shorter: h ÷ R = 0.3 %")
	assert.InDelta(t, 90, toward, 1)
	assert.InDelta(t, 27000, f.Top.Height, 1)
	assert.True(t, f.Up.Time.Before(f.Top.Time) && f.Top.Time.Before(f.Down.Time))
	// Each 10,000 ft up to 80,000 and down again, the top and the landing: 27 km are
	// 26,886 geopotential metres, 88,208 ft.
	require.Len(t, f.Way, 8+1+8+1)
	for i, level := range []float64{1, 2, 3, 4, 5, 6, 7, 8, 0, 8, 7, 6, 5, 4, 3, 2, 1} {
		if level > 0 {
			assert.InDelta(t, level*3048, f.Way[i].Level, 1e-9)
		}
		assert.False(t, f.Way[i+1].Time.Before(f.Way[i].Time), "in order")
	}
	assert.InDelta(t, 26886/0.3048, f.Top.Level/0.3048, 50)
	assert.True(t, f.Landed)
	assert.Equal(t, l.Landing.MostLikely, f.MostLikely)
	assert.Equal(t, rules.UnitedStates, told.Rules.Jurisdiction)
	assert.InDelta(t, 5, told.Payload, 0)

	// The circle holds the site, the whole path and the circle of the landings, and is
	// not much larger than it must be.
	c := f.Circle
	for _, point := range l.Path.Points {
		away, _, _ := geo.Inverse(c.At, point.At)
		assert.LessOrEqual(t, away, c.Radius)
	}
	away, _, _ = geo.Inverse(c.At, f.MostLikely)
	assert.LessOrEqual(t, away+f.Radius, c.Radius*1.000001)
	least := (f.Distance + f.Radius) / 2
	assert.InDelta(t, least, c.Radius, 0.15*least)
}

// Airports lie where they are: near Landvetter, large, and each as far from the site as
// the geodesic has it; offices with a place come first.
func TestNoticeHasAirfields(t *testing.T) {
	p := planAt(lakeland)
	p.Rules = &plan.Regulations{
		Jurisdiction: rules.Europe, Flight: rules.Unstated(), Antenna: math.NaN(),
		People: []plan.Person{{Name: "Ada Reed", Telephone: "+46 70 174 06 05"}},
		Offices: []plan.Office{
			{Name: "Far field", At: &geo.Point{Lat: 10, Lon: 100}},
			{Name: "Control"},
		},
	}
	told, l, err := mission.NoticeFlown(t.Context(), world(t), p, of(rules.Before), mission.Options{})
	require.NoError(t, err)
	near := told.Flown.Nearby
	require.Greater(t, len(near), 2)
	assert.Equal(t, "Far field", near[0].Name)
	last := 0.0
	for i, a := range near {
		d, b, _ := geo.Inverse(p.Site.At, a.At)
		assert.InDelta(t, d, a.Site.Distance, 1e-6)
		assert.InDelta(t, b, a.Site.Bearing, 1e-9)
		d, _, _ = geo.Inverse(l.Landing.MostLikely, a.At)
		assert.InDelta(t, d, a.Landing.Distance, 1e-6)
		assert.LessOrEqual(t, a.Path.Distance, a.Site.Distance)
		if i == 0 {
			continue
		}
		closest := min(a.Site.Distance, a.Path.Distance, a.Landing.Distance)
		assert.LessOrEqual(t, closest, 50e3)
		assert.GreaterOrEqual(t, closest, last, "the nearest first")
		last = closest
	}
	all, err := ground.Airports(geo.Box{South: 55, North: 61, West: 9, East: 19})
	require.NoError(t, err)
	n := 0
	for _, a := range all {
		if d, _, _ := geo.Inverse(p.Site.At, a.At); d <= 50e3 {
			n++
		}
	}
	listed := 0
	for _, a := range near[1:] {
		if a.Site.Distance <= 50e3 {
			listed++
		}
	}
	assert.Equal(t, n, listed, "every airport within 50 km of the site")
}

func TestNoticeWithoutAForecast(t *testing.T) {
	p := ruled(rules.UnitedStates)
	at := geo.Point{Lat: 1, Lon: 2}
	n := mission.NoticeOf{Stage: rules.Lost, Now: time.Unix(0, 0), Position: &at, Height: 100}
	told, err := mission.Notice(p, n)
	require.NoError(t, err)
	assert.Nil(t, told.Flown)
	assert.Equal(t, []any{n.Now, n.Position, n.Height}, []any{told.Now, told.Position, told.Height})
	assert.True(t, math.IsNaN(told.Diameter), "of a train that was measured")
	assert.Equal(t, []report.Person{{Name: "Ada Reed", Telephone: "+46 70 174 06 05"}, {Name: "Ben Rush", Telephone: "+46 70 174 06 07"}}, told.People)

	p.Train.Weighed, p.Train.Parts = weighedAt(t, p.Site.At).Train.Weighed, weighedAt(t, p.Site.At).Train.Parts
	told, err = mission.Notice(p, n)
	require.NoError(t, err)
	assert.Greater(t, told.Greatest, told.Diameter)

	_, err = mission.Notice(p, of("after"))
	require.EqualError(t, err, `stage "after": want before, launched, delayed, cancelled, descending, lost, found or ended`)
	p.Rules.People = nil
	var faults plan.Faults
	_, err = mission.Notice(p, n)
	require.ErrorAs(t, err, &faults)
	_, _, err = mission.NoticeFlown(t.Context(), mission.World{}, p, n, mission.Options{})
	require.ErrorAs(t, err, &faults, "before anything is flown")
}

func TestLabelOfAPlan(t *testing.T) {
	p := ruled(rules.UnitedStates)
	l, err := mission.Label(p)
	require.NoError(t, err)
	assert.Equal(t, "Ada Reed", l.Owner, "the first of people where no owner is named")
	assert.Equal(t, "+46 70 174 06 07", l.People[1].Telephone)
	p.Rules.People = p.Rules.People[:1]
	_, err = mission.Label(p)
	require.EqualError(t, err, "rules.people[1]: missing: want somebody to call, with name and telephone")
}
