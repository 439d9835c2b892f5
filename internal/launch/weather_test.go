package launch_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/launch"
)

// Both sides of each limit of the weather, and a forecast that does not tell.
func TestJudgeWeather(t *testing.T) {
	for _, c := range []struct {
		name       string
		of         func(*launch.Weather) *float64
		limit      float64
		below, out float64 // within the limit at its very edge, and beyond
		want       string
	}{
		{"wind", func(w *launch.Weather) *float64 { return &w.Wind }, 6, 6, 6.04, "wind at the site: 6.0 m/s, limit 6.0 m/s"},
		{"gust", func(w *launch.Weather) *float64 { return &w.Gust }, 10, 10, 12, "gusts at the site: 12.0 m/s, limit 10.0 m/s"},
		{"cloud", func(w *launch.Weather) *float64 { return &w.Cloud }, 0.5, 0.5, 0.8, "cloud at the site: 80 %, limit 50 %"},
		{"visibility", func(w *launch.Weather) *float64 { return &w.Visibility }, 8000, 8000, 2500, "visibility at the site: 2.5 km, limit 8.0 km"},
		{"rain", func(w *launch.Weather) *float64 { return &w.Precipitation }, 0.5 / 3600, 0.5 / 3600, 2.0 / 3600, "rain at the site: 2.0 mm/h, limit 0.5 mm/h"},
		{"CAPE", func(w *launch.Weather) *float64 { return &w.CAPE }, 500, 500, 1200, "energy for thunderstorms (CAPE) at the site: 1200 J/kg, limit 500 J/kg"},
	} {
		l := launch.None()
		*c.of(&l.Weather) = c.limit
		judge := func(v float64) (launch.Verdict, []launch.Reason) {
			f := launch.Facts{Score: &hazard.Score{}, Weather: launch.Unknown()}
			*c.of(&f.Weather) = v
			return l.Judge(f)
		}
		verdict, _ := judge(c.below)
		assert.Equal(t, launch.Go, verdict, "%s at its limit", c.name)
		verdict, reasons := judge(c.out)
		assert.Equal(t, launch.NoGo, verdict, "%s beyond its limit", c.name)
		require.Len(t, reasons, 1)
		assert.Equal(t, c.want, reasons[0].String())
		verdict, reasons = judge(math.NaN())
		assert.Equal(t, launch.Marginal, verdict, "%s not in the forecast", c.name)
		require.Len(t, reasons, 1)
		assert.Equal(t, "not in this forecast", reasons[0].Value)
	}
}

// The light at the landing and at the search: in time, too late, in the dark, and
// where the sun does not set for days.
func TestJudgeLight(t *testing.T) {
	zone := time.FixedZone("MST", -7*3600)
	at := func(h, m int) time.Time { return time.Date(2017, 3, 22, h, m, 0, 0, zone) }
	l := launch.None()
	l.Sunset, l.Dark = 2*3600, 30*60
	judge := func(late, sunset, there, dusk time.Time) (launch.Verdict, []launch.Reason) {
		return l.Judge(launch.Facts{Score: &hazard.Score{}, Weather: launch.Unknown(), Late: late, Sunset: sunset, There: there, Dusk: dusk})
	}
	verdict, reasons := judge(at(16, 43), at(18, 43).UTC(), at(18, 39), at(19, 9))
	assert.Equal(t, launch.Go, verdict, "on the minute")
	require.Len(t, reasons, 2)
	assert.Equal(t, "nineteen of twenty flights down: at 16:43 MST, limit 120 min before sunset at 18:43 MST", reasons[0].String())

	verdict, reasons = judge(at(16, 44), at(18, 43), at(18, 39), at(19, 9))
	assert.Equal(t, launch.NoGo, verdict)
	assert.Equal(t, launch.NoGo, reasons[0].Verdict)
	assert.Equal(t, launch.Go, reasons[1].Verdict)

	verdict, reasons = judge(at(16, 43), at(18, 43), at(20, 0), time.Time{})
	assert.Equal(t, launch.NoGo, verdict)
	assert.Equal(t, "a car at the most likely landing: at 20:00 MST, when it is dark, limit 30 min before dark", reasons[0].String())

	verdict, reasons = judge(at(16, 43), at(18, 43).AddDate(0, 2, 0), at(17, 0), at(19, 0))
	assert.Equal(t, launch.Go, verdict)
	assert.Contains(t, reasons[0].String(), "sunset at 22 May 18:43 MST")

	_, reasons = l.Judge(launch.Facts{Weather: launch.Unknown()})
	require.Len(t, reasons, 1, "where nothing lands there is no light to look at")
	assert.Equal(t, launch.NoGo, reasons[0].Verdict)
}

// What the train stands in the way with counts without any limit, and first where
// it is the worst.
func TestJudgeTrain(t *testing.T) {
	short := launch.Reason{Verdict: launch.NoGo, What: "gas for the fill", Value: "2.90 m³", Limit: "the 2.10 m³ that the cylinders give"}
	floats := launch.Reason{Verdict: launch.Marginal, What: "the train", Value: "it may float"}
	f := launch.Facts{Score: &hazard.Score{}, Weather: launch.Unknown(), Hinders: []launch.Reason{floats, short}}
	verdict, reasons := launch.None().Judge(f)
	assert.Equal(t, launch.NoGo, verdict)
	require.Len(t, reasons, 2)
	assert.Equal(t, "gas for the fill: 2.90 m³, limit the 2.10 m³ that the cylinders give", reasons[0].String())
	assert.Equal(t, "the train: it may float", reasons[1].String())
	f.Hinders = f.Hinders[:1]
	verdict, _ = launch.None().Judge(f)
	assert.Equal(t, launch.Marginal, verdict)
	f.Score, f.Hinders = nil, nil
	verdict, _ = launch.None().Judge(f)
	assert.Equal(t, launch.Unlimited, verdict)
}
