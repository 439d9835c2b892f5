package mission_test

import (
	"context"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
)

// at is a time of March 2017, UTC.
func at(day, hour, minute int) time.Time {
	return time.Date(2017, 3, day, hour, minute, 0, 0, time.UTC)
}

// times are when launches are.
func times(launches []plan.Plan) []time.Time {
	var all []time.Time
	for _, p := range launches {
		all = append(all, p.Launch)
	}
	return all
}

// Launch times count from midnight at the site, by its clock, within the forecast
// and the hours.
func TestLaunches(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	p := planAt(geo.Point{Lat: 51, Lon: 10})
	p.Site.Zone = berlin
	p.Schedule = plan.Schedule{Step: 90 * time.Minute, Hours: []ground.Hours{{From: 6 * time.Hour, To: 12 * time.Hour, Zone: berlin}}}

	got, err := mission.Launches(p, at(24, 5, 30), at(25, 7, 30))
	require.NoError(t, err)
	assert.Equal(t, []time.Time{at(24, 6, 30), at(24, 8, 0), at(24, 9, 30), at(25, 5, 0), at(25, 6, 30)}, times(got), "07:30, 09:00 and 10:30, then 06:00 and 07:30 CET")

	// On Sunday 26 March 2017 the clocks went from 02:00 to 03:00 (the European
	// Union's summer time, Directive 2000/84/EC): 06:00 and 07:30 are at 04:00 and
	// 05:30 UTC then.
	got, err = mission.Launches(p, at(26, 0, 0), at(26, 6, 0))
	require.NoError(t, err)
	assert.Equal(t, []time.Time{at(26, 4, 0), at(26, 5, 30)}, times(got))

	p.Schedule.Sites = []plan.Site{{Name: "Hill", At: geo.Point{Lat: 52, Lon: 11}, Zone: berlin}}
	p.Schedule.Step = 3 * time.Hour
	got, err = mission.Launches(p, at(24, 0, 0), at(24, 23, 0))
	require.NoError(t, err)
	require.Len(t, got, 4)
	for i, want := range []struct {
		name string
		time time.Time
	}{{"Field", at(24, 5, 0)}, {"Hill", at(24, 5, 0)}, {"Field", at(24, 8, 0)}, {"Hill", at(24, 8, 0)}} {
		assert.Equal(t, want.name, got[i].Site.Name)
		assert.Equal(t, want.time, got[i].Launch)
	}

	// The clock at the summer solstice in Tromsø, where the sun does not set, and
	// in the polar night (common knowledge; the sun's own tests hold the times).
	p = planAt(geo.Point{Lat: 69.65, Lon: 18.96})
	p.Schedule.Step = time.Hour
	june, december := time.Date(2017, 6, 21, 0, 0, 0, 0, time.UTC), time.Date(2017, 12, 21, 0, 0, 0, 0, time.UTC)
	got, err = mission.Launches(p, june, june.Add(23*time.Hour))
	require.NoError(t, err)
	assert.Len(t, got, 24)
	_, err = mission.Launches(p, december, december.Add(23*time.Hour))
	require.EqualError(t, err, "schedule.hours: no launch time from 2017-12-21T00:00:00Z to 2017-12-21T23:00:00Z, all that the forecast covers: want others, or a shorter schedule.step")

	p.Schedule.Step = 5 * time.Minute
	_, err = mission.Launches(p, june, june.AddDate(0, 0, 16))
	require.ErrorContains(t, err, "more than 4096 launch times")
}

// weekOf flies a week over one world.
func weekOf(ctx context.Context, t *testing.T, w mission.World, p plan.Plan, o mission.WeekOptions) (report.Week, []plan.Plan, error) {
	t.Helper()
	first, last := w.Winds[0].Covers()
	launches, err := mission.Launches(p, first, last)
	require.NoError(t, err)
	week, err := mission.Week(ctx, func(context.Context, []plan.Plan) (map[geo.Point]mission.World, error) {
		return map[geo.Point]mission.World{p.Site.At: w}, nil
	}, launches, o)
	return week, launches, err
}

// Each window of a week is what flying it alone says, whatever the number of
// workers, in the order of time; what runs out of the forecast is not covered; and
// of any two windows the better one is before the other.
func TestWeekAgainstEachLaunchAlone(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Scrambles, p.PerScramble = 4, 32
	p.Limits.Ground = map[ground.Class]float64{ground.Water: 0.2}
	p.Schedule = plan.Schedule{Step: time.Hour, Hours: []ground.Hours{{To: 24 * time.Hour, Zone: time.UTC}}}
	var told []time.Time
	week, launches, err := weekOf(t.Context(), t, w, p, mission.WeekOptions{Workers: 3, Each: func(done int, one report.Window) {
		assert.Equal(t, len(told)+1, done)
		told = append(told, one.Time)
	}})
	require.NoError(t, err)
	assert.Equal(t, times(launches), told)
	require.Len(t, week.Windows, 13, "0 to 12 UTC")
	uncovered := 0
	for i, one := range week.Windows {
		l, err := mission.Fly(t.Context(), w, launches[i], mission.Options{Workers: 1})
		require.NoError(t, err)
		lost := 0
		for _, f := range l.Flown {
			if f.End == flight.AfterLast {
				lost++
			}
		}
		if one.NotCovered != "" {
			uncovered++
			assert.Greater(t, lost, 6, "%v: of 128 flights", one.Time)
			continue
		}
		assert.LessOrEqual(t, lost, 6, "%v: of 128 flights", one.Time)
		l.Flown, l.Calls = nil, one.Launch.Calls // whom to call is of a week alone
		assert.Equal(t, l, one.Launch, "%v", one.Time)
	}
	assert.Greater(t, uncovered, 1)
	assert.Less(t, uncovered, 5)

	require.Len(t, week.Ranked, len(week.Windows))
	sorted := slices.Clone(week.Ranked)
	slices.Sort(sorted)
	assert.Equal(t, []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, sorted)
	for i, a := range week.Ranked {
		for _, b := range week.Ranked[i+1:] {
			x, y := week.Windows[a], week.Windows[b]
			if y.NotCovered != "" {
				continue
			}
			require.Empty(t, x.NotCovered, "what is not covered is last")
			require.LessOrEqual(t, x.Launch.Verdict, y.Launch.Verdict)
			if x.Launch.Verdict == y.Launch.Verdict {
				require.LessOrEqual(t, beyond(x), beyond(y))
				if beyond(x) == beyond(y) {
					require.LessOrEqual(t, x.Launch.Hazard.Value, y.Launch.Hazard.Value)
				}
			}
		}
	}
	again, _, err := weekOf(t.Context(), t, w, p, mission.WeekOptions{Workers: 1})
	require.NoError(t, err)
	assert.Equal(t, week, again, "one worker and three differ")
}

// What is too large at once is flown in parts, and comes out the same.
func TestWeekInParts(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Scrambles, p.PerScramble = 2, 32
	p.Schedule = plan.Schedule{Step: time.Hour, Hours: []ground.Hours{{To: 24 * time.Hour, Zone: time.UTC}}}
	whole, launches, err := weekOf(t.Context(), t, w, p, mission.WeekOptions{})
	require.NoError(t, err)
	var sizes []int
	open := func(_ context.Context, some []plan.Plan) (map[geo.Point]mission.World, error) {
		if len(some) > 4 {
			return nil, fmt.Errorf("a forecast: %w", wind.ErrTooLarge)
		}
		sizes = append(sizes, len(some))
		return map[geo.Point]mission.World{p.Site.At: w}, nil
	}
	begun := 0
	parts, err := mission.Week(t.Context(), open, launches, mission.WeekOptions{Begin: func(k report.Week) {
		begun++
		assert.Equal(t, 13, k.Asked)
		assert.Empty(t, k.Windows)
	}})
	require.NoError(t, err)
	assert.Equal(t, []int{3, 3, 3, 4}, sizes)
	assert.Equal(t, 1, begun)
	assert.Equal(t, whole, parts)

	_, err = mission.Week(t.Context(), func(context.Context, []plan.Plan) (map[geo.Point]mission.World, error) {
		return nil, wind.ErrTooLarge
	}, launches, mission.WeekOptions{})
	require.ErrorIs(t, err, wind.ErrTooLarge, "when one launch alone is")
}

// beyond is how many limits a launch time is beyond.
func beyond(w report.Window) int {
	n := 0
	for _, r := range w.Launch.Reasons {
		if r.Verdict == launch.NoGo {
			n++
		}
	}
	return n
}

// A week that is stopped has what was done until then.
func TestWeekThatIsStopped(t *testing.T) {
	w, p := world(t), planAt(geo.Point{Lat: 58.2, Lon: 13})
	p.Scrambles, p.PerScramble = 2, 16
	p.Schedule = plan.Schedule{Step: 5 * time.Minute, Hours: []ground.Hours{{To: 24 * time.Hour, Zone: time.UTC}}}
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	week, launches, err := weekOf(ctx, t, w, p, mission.WeekOptions{Workers: 2, Each: func(done int, _ report.Window) {
		if done == 4 {
			stop()
		}
	}})
	require.ErrorIs(t, err, context.Canceled)
	assert.GreaterOrEqual(t, len(week.Windows), 4)
	assert.Less(t, len(week.Windows), len(launches))
	assert.Equal(t, len(launches), week.Asked)
	assert.Len(t, week.Ranked, len(week.Windows))
}

// A week in which the wind takes every flight east over water but for one morning:
// that one is the best, and it alone is go.
func TestWeekFindsTheOneMorning(t *testing.T) {
	var steps, levels []float64
	for h := 0.0; h <= 5*24; h += 3 {
		steps = append(steps, h*3600)
	}
	for z := 0.0; z <= 40e3; z += 2000 {
		levels = append(levels, z)
	}
	morning := 2*24*3600.0 + 9*3600
	f, err := wind.New(wind.Axes{
		Grid:  geo.Grid{Lat0: 45, Lon0: 0, DLat: 1, DLon: 1, NY: 13, NX: 21},
		Start: at(20, 0, 0), Times: steps, Heights: levels,
	}, func(_ geo.Point, z, s float64) wind.Sample {
		air := wind.Still(z)
		air.East = 20
		if s == morning || s == morning+3*3600 {
			air.East = -20
		}
		return air
	})
	require.NoError(t, err)
	sea, err := ground.ReadLayer(ground.LayerSource{Name: "sea", Class: ground.Water, Covers: []geo.Box{{South: 45, North: 57, West: 0, East: 20}}},
		[]byte(`{"type":"Polygon","coordinates":[[[9,45],[20,45],[20,57],[9,57],[9,45]]]}`))
	require.NoError(t, err)
	p := planAt(geo.Point{Lat: 51, Lon: 10})
	p.Site.Elevation = 100
	p.Scrambles, p.PerScramble = 4, 32
	p.Limits.Ground = map[ground.Class]float64{ground.Water: 0.05}
	p.Schedule = plan.Schedule{Step: 3 * time.Hour, Hours: []ground.Hours{{From: 6 * time.Hour, To: 15 * time.Hour, Zone: time.UTC}}}
	week, _, err := weekOf(t.Context(), t, mission.World{Winds: []*wind.Field{f}, Ground: &mission.Ground{Map: &ground.Map{Layers: []*ground.Layer{sea}}}}, p, mission.WeekOptions{})
	require.NoError(t, err)
	best, ok := week.Best()
	require.True(t, ok)
	assert.Equal(t, at(22, 9, 0), best.Time)
	assert.Equal(t, launch.Go, best.Launch.Verdict)
	for _, one := range week.Windows {
		if one.NotCovered == "" && !one.Time.Equal(best.Time) {
			assert.Equal(t, launch.NoGo, one.Launch.Verdict, "%v", one.Time)
		}
	}
}
