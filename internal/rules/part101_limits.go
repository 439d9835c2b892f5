package rules

import (
	"fmt"
	"time"
)

// The bounds of 14 CFR part 101, subpart D. Those of 101.33 are from memory.
var (
	fiveTenths = bound{limit: 0.5, unit: percent}
	fiveMiles  = bound{limit: 5 * mile, floor: true, unit: statute}
	fiftyFeet  = bound{limit: 50 * foot, unit: feet}
	twoHours   = bound{limit: 2 * hour, unit: minutes}
)

// What settles a limit of which nothing is known.
const (
	giveWeather  = "fly it on a forecast that has it, or look at the sky"
	givePosition = "give the time between reports of the trackers"
	judgeLanding = "judge it by the shares of landings, the people and the energy that the plan's report has"
)

// part101Limits holds the flight to what part 101 asks: subpart D of flights under
// it, 101.7 of all.
func (f Flight) part101Limits(classes []Class) []Result {
	under := binds(classes, Part101)
	memory := func(paragraph, what string) line { return line{cfr(paragraph, fromMemory, false), under, what} }
	seen := func(paragraph, what string) line { return line{cfr(paragraph, annual, true), under, what} }
	limits := []Result{
		line{cfr("101.7(a)", fromMemory, false), Yes, "hazard to other persons and their property"}.
			duty("none, of a balloon below part 101's limits too", judgeLanding),
		line{cfr("101.7(b)", fromMemory, false), Yes, "objects dropped"}.
			duty("none that is a hazard to other persons or their property", "look at what leaves the train before the landing"),
		seen("101.5", "prohibited and restricted areas entered").
			chance(f.Closed, f.Leave.Closed, "the agency that uses or controls the area permits it").
			noted("a caution for balloons below part 101's limits too; within such an area 101.33(d) and (e) hold and what the agency asks (101.31, from memory)"),
		memory("101.33(a)", "flight below 2,000 ft above the surface in an airport's surface area, class B to E").
			chance(f.SurfaceArea, f.Leave.Services, "air traffic control authorizes it"),
		memory("101.33(b)", "sky covered by clouds or obscured, at any altitude").quantity(fiveTenths, f.Weather.Cloud, giveWeather),
		memory("101.33(c)", "horizontal visibility below 60,000 ft").quantity(fiveMiles, f.Weather.Visibility, giveWeather).
			noted("a forecast has it at the ground alone"),
		memory("101.33(d)", "first 1,000 ft of the ascent over a congested area or an assembly in the open").
			chance(f.Congested, No, ""),
		memory("101.33(e)", "hazard of the impact to persons and property").duty("none", judgeLanding),
	}
	limits = append(limits, f.part101Equipment(under)...)
	return append(limits, f.part101Reports(under)...)
}

// part101Equipment is 101.35.
func (f Flight) part101Equipment(under Answer) []Result {
	e := f.Equipment
	seen := func(paragraph, what string) line { return line{cfr(paragraph, annual, true), under, what} }
	// Of (a) a quotation without a date was seen, and not that of the annual edition.
	quoted := func(paragraph, what string) line {
		return line{cfr(paragraph, "quotation without a date", true), under, what}
	}
	return []Result{
		quoted("101.35(a)(1)", "systems that cut the payload off").count(e.CutDowns, 2).
			noted("to be used where the weather falls below the limits or further flight is a hazard"),
		quoted("101.35(a)(2)", "means that end the envelope's flight").count(e.Terminations, 2),
		quoted("101.35(a)(3)", "device or material that radar of 200 to 2,700 MHz sees").
			answer(e.Reflector, "carried", "carry one, or state that there is one"),
		seen("101.35(b)", "lights between sunset and sunrise below 60,000 ft").
			carried(f.Night.verdict(), f.Night.String(), e.Lights, "40 to 100 flashes a minute, visible for 5 miles, on balloon, attachments and payload, also once separated").
			noted("sunset and sunrise as corrected to the altitude"),
		seen("101.35(c)", "trailing antenna that takes more than 50 lbf of impact to break").
			carried(ropeForce.hold(exactly(e.Antenna)), ropeForce.unit.text(e.Antenna), e.Pennants, "pennants or streamers every 50 ft, visible for 1 mile"),
		seen("101.35(d)", "suspension longer than 50 ft by day").
			carried(fiftyFeet.hold(exactly(e.Suspension)), fiftyFeet.unit.text(e.Suspension), e.Banded, "bands of alternate colours or pennants, visible for 1 mile").
			noted("an open canopy that is highly conspicuous does not count"),
	}
}

// part101Reports is 101.37 and 101.39, as far as they can be held to before the
// flight.
func (f Flight) part101Reports(under Answer) []Result {
	current := func(paragraph, what string) line {
		return line{cfr(paragraph, "eCFR of 5 April 2026", true), under, what}
	}
	return []Result{
		line{cfr("101.37(a)", annual, true), under, "notice to the nearest air traffic control facility"}.
			duty("6 to 24 hours before the beginning", fmt.Sprintf("call from %s to %s", f.before(24*time.Hour), f.before(6*time.Hour))),
		current("101.39(a)", "time between recorded positions").quantity(twoHours, f.Equipment.Fixes, givePosition),
		current("101.39(c)", "longest time without a position").quantity(twoHours, f.Equipment.Blind, givePosition).
			noted("notify at once where it is so, with the last position and the trajectory from there"),
	}
}
