package rules

import "time"

// Stage is the part of a flight that a notice or report is about.
type Stage string

// The stages, in the order in which they may come.
const (
	Before     Stage = "before"
	Delayed    Stage = "delayed"
	Cancelled  Stage = "cancelled"
	Launched   Stage = "launched"
	Lost       Stage = "lost"       // no position for two hours
	Found      Stage = "found"      // positions again
	Descending Stage = "descending" // about to begin
	Ended      Stage = "ended"
)

// Fact is something that a notice tells.
type Fact uint8

// The facts. Heights and times are for whoever writes the notice to fill in.
const (
	Identification   Fact = iota + 1 // of the balloon, or its code name
	Description                      // class and what it consists of
	Beacon                           // transponder code, address or beacon frequency
	Operator                         // name and telephone
	LaunchSite                       // where it is let go
	LaunchTime                       // estimated date and time
	Number                           // of balloons, and the interval between them
	Direction                        // of the ascent
	CruisingLevel                    // or altitude
	Trajectory                       // forecast, from where it is
	TimeAtLevel                      // at the cruising level or at 60,000 ft (18,000 m), whichever is lower
	PlaceAtLevel                     // likewise
	Dimensions                       // length and diameter of the balloon, length of the suspension
	PayloadMass                      // of everything below the neck
	AntennaLength                    // of one that trails
	Duration                         // of the flight
	EndTime                          // of the flight or of the impact
	EndPlace                         // where it comes down
	CurrentPosition                  // and the time of it
	CurrentLevel                     // where it is now
	TimeThroughLevel                 // downward through 60,000 ft (18,000 m), where it is above
	LastPosition                     // the last one known
)

// Item is one thing that a notice tells, with the number that the rule gives it, or
// none.
type Item struct {
	Number string // "(a)(1)"
	Fact   Fact
}

// Notice is one notice or report that a rule asks for.
type Notice struct {
	Stage  Stage
	Source Source
	Binds  Answer // as in Result
	To     string
	When   string
	// From and Until are how long before the launch (of Before) or before the
	// beginning of the descent (of Descending) it may be given at the earliest and
	// the latest; both 0: at once. From 0 beside an Until: the earlier the better.
	From, Until time.Duration
	Items       []Item
}

// Notices is what has to be told, in the order of the stages. There are none for
// jurisdictions whose text was not seen: Australia, New Zealand, Canada. What is
// not asked for need not be useless: air traffic services may be told anyway.
func (a Assessment) Notices() []Notice {
	switch a.Jurisdiction {
	case UnitedStates:
		return part101Notices(binds(a.Classes, Part101))
	case International, Europe, Britain:
		return appendixNotices(appendix(a.Jurisdiction), binds(a.Classes, Medium, Heavy), binds(a.Classes, Heavy))
	case Australia, NewZealand, Canada:
	}
	return nil
}

// part101Notices is 14 CFR 101.37 and 101.39. The list of 101.37(a) is from memory;
// its time was seen.
func part101Notices(under Answer) []Notice {
	const facility = "the nearest air traffic control facility"
	memory := func(p string) Source { return cfr(p, fromMemory, false) }
	current := func(p string) Source { return cfr(p, "eCFR of 5 April 2026", true) }
	list := []Item{
		{"(a)(1)", Identification},
		{"(a)(2)", LaunchTime},
		{"(a)(3)", LaunchSite},
		{"(a)(4)", CruisingLevel},
		{"(a)(5)", Trajectory},
		{"(a)(5)", TimeAtLevel},
		{"(a)(6)", Dimensions},
		{"(a)(6)", PayloadMass},
		{"(a)(6)", AntennaLength},
		{"(a)(7)", Duration},
		{"(a)(8)", EndTime},
		{"(a)(8)", EndPlace},
	}
	now := []Item{{"", Identification}}
	return []Notice{
		{
			Stage: Before, Source: memory("101.37(a)"), Binds: under, To: facility, When: "6 to 24 hours before the beginning",
			From: 24 * time.Hour, Until: 6 * time.Hour, Items: list,
		},
		{
			Stage: Delayed, Source: memory("101.37(a)(2)"), Binds: under, To: facility,
			When: "so that the time given stays within 30 minutes", Items: append(now[:1:1], Item{"(a)(2)", LaunchTime}),
		},
		{Stage: Cancelled, Source: memory("101.37(c)"), Binds: under, To: facility, When: "at once", Items: now},
		{
			Stage: Launched, Source: memory("101.37(d)"), Binds: under, To: facility, When: "at once after the launch",
			Items: append(now[:1:1], Item{"", LaunchTime}),
		},
		{
			Stage: Lost, Source: current("101.39(c)"), Binds: under, To: facility, When: "at once when no position was recorded for two hours",
			Items: append(now[:1:1], Item{"(c)", LastPosition}, Item{"(c)", Trajectory}),
		},
		{
			Stage: Found, Source: current("101.39(c)"), Binds: under, To: facility, When: "at once when positions are recorded again",
			Items: append(now[:1:1], Item{"(c)", CurrentPosition}),
		},
		{
			Stage: Descending, Source: current("101.39(b)"), Binds: under, To: facility, When: "one hour before the descent begins",
			Until: time.Hour, Items: append(now[:1:1], descent("(b)")...),
		},
		{Stage: Ended, Source: current("101.39(d)"), Binds: under, To: facility, When: "when the flight has ended", Items: now},
	}
}

// descent is what is told before it.
func descent(number string) []Item {
	return []Item{
		{number, CurrentPosition},
		{number, CurrentLevel},
		{number, TimeThroughLevel},
		{number, Trajectory},
		{number, EndTime},
		{number, EndPlace},
	}
}

// appendixNotices is section 5 of the appendix and the reports of positions. Of
// what to tell where positions are lost nothing is known, so that it is left out.
func appendixNotices(in edition, weighty, heavy Answer) []Notice {
	const services = "air traffic services"
	memory := func(p string) Source { return in.at(p, in.unknown) }
	list := []Item{
		{"(a)", Identification},
		{"(b)", Description},
		{"(c)", Beacon},
		{"(d)", Operator},
		{"(e)", LaunchSite},
		{"(f)", LaunchTime},
		{"(g)", Number},
		{"(h)", Direction},
		{"(i)", CruisingLevel},
		{"(j)", TimeAtLevel},
		{"", PlaceAtLevel}, // of (j) as well
		{"", EndTime},
		{"", EndPlace},
	}
	now := []Item{{"", Identification}}
	return []Notice{
		{
			Stage: Before, Source: in.at("5.1.1", in.notice), Binds: weighty, To: services, When: "7 days or more before the flight",
			Until: 7 * 24 * time.Hour, Items: list,
		},
		{
			Stage: Delayed, Source: memory("5"), Binds: weighty, To: services, When: "at once",
			Items: append(now[:1:1], Item{"", LaunchTime}),
		},
		{Stage: Cancelled, Source: memory("5"), Binds: weighty, To: services, When: "at once", Items: now},
		{
			Stage: Launched, Source: memory("5"), Binds: weighty, To: services, When: "at once after the launch",
			Items: append(now[:1:1], Item{"", LaunchTime}),
		},
		{
			Stage: Descending, Source: memory("position"), Binds: heavy, To: services, When: "one hour before the descent begins",
			Until: time.Hour, Items: append(now[:1:1], descentBelow()...),
		},
		{Stage: Ended, Source: memory("position"), Binds: heavy, To: services, When: "when the flight has ended", Items: now},
	}
}

// descentBelow is descent without the trajectory, which the appendix does not ask
// for.
func descentBelow() []Item {
	var items []Item
	for _, i := range descent("") {
		if i.Fact != Trajectory {
			items = append(items, i)
		}
	}
	return items
}
