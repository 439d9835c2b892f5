package launch

import (
	"fmt"
	"math"
	"time"
)

// weather holds the weather at the site to its limits.
func (l Limits) weather(w Weather) []Reason {
	const hour = 3600.0
	var reasons []Reason
	for _, c := range []struct {
		what         string
		value, limit float64
		format       string
		scale        float64
		least        bool
	}{
		{"wind at the site", w.Wind, l.Weather.Wind, "%.1f m/s", 1, false},
		{"gusts at the site", w.Gust, l.Weather.Gust, "%.1f m/s", 1, false},
		{"cloud at the site", w.Cloud, l.Weather.Cloud, "%.0f %%", 100, false},
		{"visibility at the site", w.Visibility, l.Weather.Visibility, "%.1f km", 1e-3, true},
		{"rain at the site", w.Precipitation, l.Weather.Precipitation, "%.1f mm/h", hour, false},
		{"energy for thunderstorms (CAPE) at the site", w.CAPE, l.Weather.CAPE, "%.0f J/kg", 1, false},
	} {
		if math.IsNaN(c.limit) {
			continue
		}
		tell := func(v float64) string { return fmt.Sprintf(c.format, v*c.scale) }
		r := Reason{Go, c.what, tell(c.value), tell(c.limit)}
		switch {
		case math.IsNaN(c.value):
			r.Verdict, r.Value = Marginal, "not in this forecast"
		case c.least && c.value < c.limit, !c.least && c.value > c.limit:
			r.Verdict = NoGo
		}
		reasons = append(reasons, r)
	}
	return reasons
}

// light holds the landing and the search to the light of the day.
func (l Limits) light(f Facts) []Reason {
	if f.Score == nil {
		return nil
	}
	var reasons []Reason
	for _, c := range []struct {
		what    string
		at, end time.Time
		least   float64
		until   string
	}{
		{"nineteen of twenty flights down", f.Late, f.Sunset, l.Sunset, "sunset"},
		{"a car at the most likely landing", f.There, f.Dusk, l.Dark, "dark"},
	} {
		if math.IsNaN(c.least) {
			continue
		}
		layout := "15:04 MST"
		if c.end.Sub(c.at) > 24*time.Hour { // where it does not set for days
			layout = "2 January 15:04 MST"
		}
		clock := func(t time.Time) string { return t.In(c.at.Location()).Format(layout) }
		r := Reason{Go, c.what, "at " + clock(c.at), fmt.Sprintf("%.0f min before %s", c.least/60, c.until)}
		if c.end.IsZero() {
			r.Verdict, r.Value = NoGo, r.Value+", when it is dark"
		} else {
			if c.end.Sub(c.at).Seconds() < c.least {
				r.Verdict = NoGo
			}
			r.Limit += " at " + clock(c.end)
		}
		reasons = append(reasons, r)
	}
	return reasons
}
