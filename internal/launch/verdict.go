// Package launch decides about a launch: which of the limits that a plan sets it
// meets, and what follows from that.
//
// It hides how uncertainty and ignorance enter a verdict: what is sure to be
// within a limit, what is sure to be beyond it, and what cannot be told. It knows
// nothing of how flights are flown or of how the verdict is shown, and it never
// says that a launch may take place: that is for the authority to say.
package launch

import (
	"fmt"
	"math"
	"slices"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
)

// Verdict is what the limits say of a launch.
type Verdict uint8

// The verdicts, from the best to the worst. Unlimited is that of a plan without
// limits.
const (
	Unlimited Verdict = iota
	Go                // within every limit
	Marginal          // beyond none for sure, but within one not for sure
	NoGo              // beyond a limit for sure
)

// String is the verdict as results have it.
func (v Verdict) String() string {
	switch v {
	case Unlimited:
		return "no limits set"
	case Go:
		return "go"
	case Marginal:
		return "marginal"
	case NoGo:
		return "no-go"
	}
	return fmt.Sprintf("Verdict(%d)", uint8(v))
}

// Limits are what a launch is held to; NaN: not at all.
type Limits struct {
	Score float64 // most of the hazard score, 0 to 100
	// Ground is the largest share of landings on a class; absent: not at all.
	Ground    map[ground.Class]float64
	Airspace  float64 // largest share of flights that cross any one volume
	NotLanded float64 // largest share of flights that leave the forecast
	Distance  float64 // m, greatest, of the most likely landing from the site

	Weather Weather // most of each, but least of the visibility
	// Sunset and Dark are how long before sunset nineteen of twenty flights must be
	// down, and how long before the end of civil twilight a car from the site must
	// be there, s.
	Sunset, Dark float64
	Driving      float64 // m/s, of that car on average
}

// None is no limit at all.
func None() Limits {
	nan := math.NaN()
	return Limits{Score: nan, Airspace: nan, NotLanded: nan, Distance: nan, Weather: Unknown(), Sunset: nan, Dark: nan, Driving: usualDriving}
}

// ScoreReason is what the reason that holds the hazard score to its limit is of.
const ScoreReason = "hazard score"

// Reason is one limit and how a launch stands to it.
type Reason struct {
	Verdict Verdict
	What    string // "landings in water"
	Value   string // what it is, with its interval
	Limit   string // what it may be; empty where it may not be at all
}

// String is the reason in words.
func (r Reason) String() string {
	if r.Limit == "" {
		return r.What + ": " + r.Value
	}
	return fmt.Sprintf("%s: %s, limit %s", r.What, r.Value, r.Limit)
}

// usualDriving is the speed of a car on average, m/s: 60 km/h (common practice).
const usualDriving = 60 / 3.6

// scored is a score in words, with what it would be if ground that no layer covers were
// the worst there is; where that alone keeps it from being within the limit it says so.
func scored(s *hazard.Score, limit float64) string {
	text := fmt.Sprintf("%.1f (%.1f to %.1f", s.Value, s.Low, s.High)
	switch {
	case s.High <= limit && s.Worst > limit:
		return text + fmt.Sprintf(") as far as layers tell, but some ground is on none of them: it could be as much as %.1f", s.Worst)
	case s.Worst > s.High:
		return text + fmt.Sprintf("; up to %.1f with ground that no layer covers)", s.Worst)
	}
	return text + ")"
}

// Judge holds a launch to limits. Reasons are of every limit that is set, the
// worst first; the verdict is that of the worst.
//
// A share is within its limit where its 95 % interval is, beyond where that is,
// and else it cannot be told. Landings of which no layer says whether they are on
// a class count as not on it for being beyond, and as on it for being within.
// What nobody looked at, airspace where the plan names none or weather that the
// forecast does not tell, cannot be told either. What the train itself or the
// rules stand in the way with counts whether or not there is any limit.
func (l Limits) Judge(f Facts) (Verdict, []Reason) {
	s, distance := f.Score, f.Distance
	reasons := slices.Concat(f.Hinders, l.weather(f.Weather), l.light(f))
	if s == nil {
		if l.set() || len(reasons) > 0 {
			reasons = append(reasons, Reason{NoGo, "flights that land in the forecast", "none", "some"})
		}
		return worst(reasons, false)
	}
	add := func(r Reason, limit float64) {
		if !math.IsNaN(limit) {
			reasons = append(reasons, r)
		}
	}
	add(Reason{
		within(s.Low, max(s.High, s.Worst), l.Score), ScoreReason,
		scored(s, l.Score), fmt.Sprintf("%g", l.Score),
	}, l.Score)
	for _, c := range s.Classes {
		limit, ok := l.Ground[c.Class]
		if !ok {
			continue
		}
		add(Reason{
			within(c.Landing.Low, c.Landing.High, limit), "landings " + classWords[c.Class],
			share(c.Landing) + unassessed(c), percent(limit),
		}, limit)
	}
	if len(s.Crossings) == 0 {
		add(Reason{Marginal, "flights through airspace", "not assessed, as the plan names none", percent(l.Airspace)}, l.Airspace)
	}
	for _, c := range s.Crossings {
		if c.Probability.Hits > 0 {
			add(Reason{
				within(c.Probability.Low, c.Probability.High, l.Airspace), "flights through " + c.Name,
				share(c.Probability), percent(l.Airspace),
			}, l.Airspace)
		}
	}
	add(Reason{
		within(s.NotLanded.Low, s.NotLanded.High, l.NotLanded), "flights that leave the forecast",
		share(s.NotLanded), percent(l.NotLanded),
	}, l.NotLanded)
	add(Reason{
		within(distance, distance, l.Distance), "distance of the most likely landing",
		fmt.Sprintf("%.1f km", distance/1000), fmt.Sprintf("%.4g km", l.Distance/1000),
	}, l.Distance)
	return worst(reasons, l.set())
}

// set reports whether there is any limit on where the flights land, and when.
func (l Limits) set() bool {
	if len(l.Ground) > 0 {
		return true
	}
	for _, v := range [...]float64{l.Score, l.Airspace, l.NotLanded, l.Distance, l.Sunset, l.Dark} {
		if !math.IsNaN(v) {
			return true
		}
	}
	return false
}

// within is where an interval lies against a limit.
func within(low, high, limit float64) Verdict {
	switch {
	case high <= limit:
		return Go
	case low > limit:
		return NoGo
	}
	return Marginal
}

// worst puts reasons in order and takes the verdict of the first.
func worst(reasons []Reason, set bool) (Verdict, []Reason) {
	if len(reasons) == 0 {
		if set {
			return Go, nil
		}
		return Unlimited, nil
	}
	var ordered []Reason
	for v := NoGo; v >= Go; v-- {
		for _, r := range reasons {
			if r.Verdict == v {
				ordered = append(ordered, r)
			}
		}
	}
	return ordered[0].Verdict, ordered
}

// classWords are where landings on a class are.
var classWords = map[ground.Class]string{
	ground.Water: "in water", ground.Forest: "in forest", ground.BuiltUp: "among houses",
	ground.Closed: "on closed ground", ground.Airfield: "on airfields", ground.Abroad: "across a border",
}

// share is a probability in words.
func share(p hazard.Probability) string {
	return fmt.Sprintf("%s (%s to %s)", percent(p.Value), percent(p.Low), percent(p.High))
}

// unassessed says how many landings no layer says anything of.
func unassessed(c hazard.ClassShare) string {
	if c.NotAssessed.Value == 0 {
		return ""
	}
	return fmt.Sprintf("; another %s not assessed", percent(c.NotAssessed.Value))
}

// percent is a share in per cent to a tenth.
func percent(v float64) string { return fmt.Sprintf("%.1f %%", 100*v) }
