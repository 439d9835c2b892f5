package mission

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rules"
	"example.org/thistledown/internal/sun"
)

// facts is what a launch is held against. Its landing, its score and its access
// are those of the flights that landed, if any did; a car drives at so many m/s.
func facts(l *report.Launch, driving float64) launch.Facts {
	f := launch.Facts{Score: l.Hazard, Weather: weatherFacts(l.Weather)}
	if l.Train != nil {
		f.Hinders = l.Train.Hinders
	}
	f.Hinders = append(slices.Clone(f.Hinders), ruledOut(l.Rules)...)
	if l.Landing == nil {
		return f
	}
	zone := l.Zone
	if zone == nil {
		zone = time.UTC
	}
	f.Distance, f.Late = l.Landing.Distance, l.Landing.Late.In(zone)
	f.There = l.Time.In(zone).Add(time.Duration(l.Access.Drive / driving * float64(time.Second)))
	if f.There.Before(f.Late) {
		f.There = f.Late
	}
	f.Sunset = sets(l.Landing.MostLikely, sun.Horizon, f.Late)
	f.Dusk = sets(l.Landing.MostLikely, sun.Civil, f.There)
	return f
}

// ruledOut is what of a plan's rules stands in the way of a launch: each limit that
// binds it and is not met, and together those of which that cannot be told.
func ruledOut(a *rules.Assessment) []launch.Reason {
	if a == nil {
		return nil
	}
	var against []launch.Reason
	open := 0
	for _, r := range a.Limits {
		switch {
		case r.Binds == rules.Yes && r.Verdict == rules.NotMet:
			against = append(against, launch.Reason{Verdict: launch.NoGo, What: "rules, " + r.What, Value: r.Value, Limit: r.Limit})
		case r.Binds == rules.No, r.Verdict == rules.Met:
		default:
			open++
		}
	}
	if open > 0 {
		against = append(against, launch.Reason{
			Verdict: launch.Marginal, What: "rules", Value: fmt.Sprintf("%d of the limits cannot be told yet", open),
		})
	}
	return against
}

// sets is when the sun, over a level at a place at a time, goes below it next;
// zero where it is below it then.
func sets(at geo.Point, level sun.Level, after time.Time) time.Time {
	next, err := sun.Next(beneath(at), level, after)
	if err != nil || next.Up { // an error is of a year that no forecast is of
		return time.Time{}
	}
	return next.Time
}

// beneath is the place beneath the sun, at the ground.
func beneath(p geo.Point) sun.Place { return sun.Place{Lat: p.Lat, Lon: geo.WrapLon(p.Lon)} }

// weatherFacts is the weather at the site, NaN for what the forecast lacks.
func weatherFacts(readings []report.Reading) launch.Weather {
	w := launch.Unknown()
	for _, r := range readings {
		if !r.Known || math.IsNaN(r.Value) {
			continue
		}
		switch r.Kind {
		case report.WindSpeed:
			w.Wind = r.Value
		case report.Gust:
			w.Gust = r.Value
		case report.Cloud:
			w.Cloud = r.Value / 100
		case report.Visibility:
			w.Visibility = r.Value
		case report.Precipitation:
			w.Precipitation = r.Value
		case report.CAPE:
			w.CAPE = r.Value
		case report.WindFrom: // has no limit
		}
	}
	return w
}

// hinders is what of a warning of the train stands in the way of a launch.
func hinders(w balloon.Warning) (launch.Reason, bool) {
	verdict := launch.Unlimited
	switch w.Trouble {
	case balloon.NoLift, balloon.BurstsOnGround, balloon.WillFloat:
		verdict = launch.NoGo
	case balloon.MayFloat, balloon.PastFullest:
		verdict = launch.Marginal
	case balloon.Overfilled, balloon.BurstRemembered, balloon.Slow:
	}
	return launch.Reason{Verdict: verdict, What: "the train", Value: w.Text}, verdict != launch.Unlimited
}
