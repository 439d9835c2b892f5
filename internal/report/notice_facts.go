package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/rules"
)

// Units of aviation, exact by definition: foot and pound NIST SP 811 (2008), B.8;
// nautical mile SI Brochure, 8th edition, table 8.
const (
	aviationFoot  = 0.3048     // m
	nauticalMile  = 1852.0     // m
	aviationPound = 0.45359237 // kg
	aviationLevel = 100 * aviationFoot
)

// fact is one thing that a notice tells: what it is, and what is said; empty where
// that is not known.
func (t Told) fact(f rules.Fact) (what, value string) {
	switch f {
	case rules.Identification:
		return "Identification", t.Identification
	case rules.Description:
		return "Class and description", t.description()
	case rules.Beacon:
		return "Transponder code, address or beacon frequency", or(t.Beacon, "none stated in the plan")
	case rules.Operator:
		return "Operator", t.operator()
	case rules.LaunchSite:
		return "Launch site", t.site()
	case rules.LaunchTime:
		return "Launch", t.launchTime()
	case rules.Number:
		return "Number of balloons", t.number()
	case rules.Dimensions:
		return "Balloon", t.dimensions()
	case rules.PayloadMass:
		return "Payload", fmt.Sprintf("%.1f lb (%.2f kg)", t.Payload/aviationPound, t.Payload)
	case rules.AntennaLength:
		return "Trailing antenna", t.antenna()
	case rules.CurrentPosition:
		return "Position", t.now()
	case rules.CurrentLevel:
		return "Altitude", t.height()
	case rules.LastPosition:
		return "Last position", t.now()
	default:
		return t.flownFact(f)
	}
}

// flownFact is one of those that flights tell.
func (t Told) flownFact(f rules.Fact) (what, value string) {
	words := map[rules.Fact]string{
		rules.Direction: "Direction of the ascent", rules.CruisingLevel: "Cruising level", rules.Trajectory: "Forecast trajectory",
		rules.TimeAtLevel: "Time at 60,000 ft or the highest level", rules.PlaceAtLevel: "Place then",
		rules.Duration: "Duration", rules.EndTime: "Forecast time of impact", rules.EndPlace: "Forecast place of impact",
		rules.TimeThroughLevel: "Downward through 60,000 ft",
	}
	what = words[f]
	w := t.Flown
	if w == nil {
		return what, ""
	}
	level := w.Top
	if w.Up != nil {
		level = *w.Up
	}
	switch f {
	case rules.Direction:
		away, toward, _ := geo.Inverse(t.At, w.Top.At)
		value = "toward " + bearing(toward) + " true"
		if up := w.Top.Time.Sub(t.Launch.Add(seconds(t.Delay.Centre))).Seconds(); up > 0 {
			value += fmt.Sprintf(", drifting at %.0f kn on average", away/up*3600/nauticalMile)
		}
	case rules.CruisingLevel:
		value = "none is kept: it rises to " + w.Top.height()
	case rules.Trajectory:
		value = t.trajectory()
	case rules.TimeAtLevel:
		value = level.level() + " at " + zulu(level.Time)
	case rules.PlaceAtLevel:
		value = minutes(level.At)
	case rules.TimeThroughLevel:
		value = "does not rise above it"
		if w.Down != nil {
			value = zulu(w.Down.Time)
		}
	}
	if value == "" && w.Landed {
		switch f {
		case rules.Duration:
			value = quantity.US.Duration(w.Aloft) + " (mean)"
		case rules.EndTime:
			value = fmt.Sprintf("%s, nine times in ten from %s to %s", zulu(w.Middle), hhmm(w.Early), hhmm(w.Late))
		case rules.EndPlace:
			value = fmt.Sprintf("within %s of %s (95 of 100 flights), %s from the site toward %s true",
				fmt.Sprintf("%.0f NM", math.Ceil(w.Radius/nauticalMile)), minutes(w.MostLikely), nautical(w.Distance), bearing(w.Bearing))
		}
	}
	return what, value
}

// description is class and make.
func (t Told) description() string {
	packages := fmt.Sprintf("%d packages", t.Packages)
	if t.Packages == 1 {
		packages = "1 package"
	}
	return fmt.Sprintf("%s; unmanned free balloon, payload %.2f kg in %s, which comes down under a parachute",
		classes(&t.Rules), t.Payload, packages)
}

// site is where it is let go.
func (t Told) site() string {
	s := t.Site + ", " + minutes(t.At)
	if !math.IsNaN(t.Elevation) {
		s += ", ground at " + quantity.US.Altitude(t.Elevation) + " AMSL"
	}
	return s
}

// launchTime is the planned time, and how late it may be: two spreads either way.
func (t Told) launchTime() string {
	s := zulu(t.Launch)
	if t.Stage == rules.Launched {
		return "planned for " + s
	}
	early, late := t.Delay.Centre-2*t.Delay.Spread, t.Delay.Centre+2*t.Delay.Spread
	if late-early < 60 {
		return s
	}
	return fmt.Sprintf("%s; nineteen times in twenty from %s to %s, by the delay that the plan expects", s, hhmm(t.Launch.Add(seconds(early))), hhmm(t.Launch.Add(seconds(late))))
}

// seconds is seconds as a duration.
func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// number is how many balloons.
func (t Told) number() string {
	if t.Balloons == 1 {
		return "1"
	}
	return fmt.Sprintf("%d, interval between them %s", t.Balloons, blank)
}

// dimensions is how large it is.
func (t Told) dimensions() string {
	feet := func(m float64) string {
		if math.IsNaN(m) {
			return blank
		}
		return fmt.Sprintf("%.1f ft", m/aviationFoot)
	}
	return fmt.Sprintf("a sphere, diameter and length %s at the release, %s at its greatest; suspension %s",
		feet(t.Diameter), feet(t.Greatest), feet(t.Suspension))
}

// antenna is how long one trails.
func (t Told) antenna() string {
	switch {
	case math.IsNaN(t.Antenna):
		return ""
	case t.Antenna == 0:
		return "none"
	}
	return fmt.Sprintf("%.1f ft", t.Antenna/aviationFoot)
}

// height is how high it is now.
func (t Told) height() string {
	if math.IsNaN(t.Height) {
		return ""
	}
	return feetAMSL(t.Height)
}

// trajectory is the planned path: of a flight that is on its way down, or lost, the
// part that is to come is not known apart, so that all of it is told.
func (t Told) trajectory() string {
	var parts []string
	for _, p := range t.Flown.Way {
		if t.Stage == rules.Descending && p.Time.Before(t.Flown.Top.Time) {
			continue
		}
		parts = append(parts, fmt.Sprintf("%s %s %s", p.level(), hhmm(p.Time), minutes(p.At)))
	}
	s := strings.Join(parts, "; ")
	if t.Stage != rules.Before {
		s += " (as forecast before the launch)"
	}
	return s
}

// level is a height as a flight level, or in feet where the pressure is not known or
// it is low.
func (p WayPoint) level() string {
	const transition = 5000 * aviationFoot // below it heights are told in feet: this tool's choice
	if math.IsNaN(p.Level) || p.Height < transition {
		return feetAMSL(p.Height)
	}
	return fmt.Sprintf("FL %03.0f", p.Level/aviationLevel)
}

// height is a height in feet and, where the pressure is known, as a flight level.
func (p WayPoint) height() string {
	s := feetAMSL(p.Height)
	if !math.IsNaN(p.Level) {
		s += fmt.Sprintf(" (FL %03.0f)", p.Level/aviationLevel)
	}
	return s
}

// feetAMSL is a height above mean sea level.
func feetAMSL(m float64) string { return quantity.US.Altitude(m) + " AMSL" }

// nautical is a distance, to a tenth below 10 nautical miles.
func nautical(m float64) string {
	if n := m / nauticalMile; n < 9.95 {
		return fmt.Sprintf("%.1f NM", n)
	}
	return fmt.Sprintf("%.0f NM", m/nauticalMile)
}

// zulu is a day and time in UTC.
func zulu(t time.Time) string { return t.UTC().Round(time.Minute).Format("2 Jan 2006 15:04 UTC") }

// hhmm is a time in UTC.
func hhmm(t time.Time) string { return t.UTC().Round(time.Minute).Format("15:04 UTC") }

// minutes is a place in whole minutes of arc, "5813N 01248E".
func minutes(p geo.Point) string {
	lat, lon := coordinate(p.Lat, 2, "N", "S"), coordinate(geo.WrapLon(p.Lon), 3, "E", "W")
	return lat + " " + lon
}

// coordinate is degrees and whole minutes.
func coordinate(degrees float64, digits int, positive, negative string) string {
	side := positive
	whole := int(math.Round(math.Abs(degrees) * 60))
	if degrees < 0 && whole > 0 {
		side = negative
	}
	return fmt.Sprintf("%0*d%02d%s", digits, whole/60, whole%60, side)
}
