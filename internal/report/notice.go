package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/rules"
)

// Told is what a notice is filled in from: what the plan says, and what its
// flights came to.
type Told struct {
	Stage          rules.Stage
	Rules          rules.Assessment
	Plan, Site     string
	Identification string
	Beacon         string   // may be empty
	Region         string   // of flight information; may be empty
	People         []Person // the operator first; at least one
	Offices        []NoticeOffice

	At        geo.Point
	Elevation float64   // of the ground there, m above mean sea level; NaN: not known
	Launch    time.Time // as planned, UTC
	Delay     Spread    // of the launch, s
	Balloons  int
	Packages  int
	Payload   float64 // kg, of all below the neck
	// Of the envelope at the release and at its greatest, of the suspension and of a
	// trailing antenna, m; NaN: not known.
	Diameter, Greatest, Suspension, Antenna float64
	Ascent, Fall                            Spread // m/s; zero: not known

	Flown *ToldFlight // nil without a forecast

	// Now is when and where the balloon is, was last seen, or came down; the zero
	// time, nil and NaN: a blank is left.
	Now      time.Time
	Position *geo.Point
	Height   float64 // m above mean sea level
}

// Person is somebody to call.
type Person struct{ Name, Role, Telephone string }

// NoticeOffice is an office to call.
type NoticeOffice struct {
	Name, Telephone string
	Notified        bool // notices go to it
}

// ToldFlight is what the flights came to, and the planned one among them.
type ToldFlight struct {
	// Way is the planned path at each 10,000 ft of pressure altitude, up and down,
	// with its top and its end.
	Way []WayPoint
	// Top is the burst, or where it floats.
	Top WayPoint
	// TopSpread is one spread of its height, m.
	TopSpread float64
	// Up and Down are where it passes 60,000 ft of pressure altitude; nil where it
	// does not.
	Up, Down *WayPoint
	// Landed tells that flights came down, and what follows is of those.
	Landed              bool
	MostLikely          geo.Point
	Radius              float64 // m about it that hold 95 % of landings
	Distance, Bearing   float64 // from the site
	Early, Middle, Late time.Time
	Aloft               float64 // mean, s
	// Circle holds the site, the planned path and 95 % of landings.
	Circle Circle
	Nearby []Aerodrome // the nearest first
}

// Calls is whom to call about a launch.
type Calls struct {
	People  []Person       // of the plan, the operator first
	Offices []NoticeOffice // of the plan
	Nearby  []Aerodrome    // built in, the nearest to site, path or landing first
}

// WayPoint is a point of a path.
type WayPoint struct {
	Time   time.Time
	At     geo.Point
	Height float64 // m above mean sea level
	Level  float64 // pressure altitude, m; NaN: not known
}

// Circle is a circle on the ground.
type Circle struct {
	At     geo.Point
	Radius float64 // m
}

// Aerodrome is an airfield near a flight.
type Aerodrome struct {
	Name      string // of the plan, or with its code of one that is built in
	Telephone string // of the plan; empty for one that is built in
	Size      string // "large" or "medium" for one that is built in
	At        geo.Point
	Site      Away // from the site
	Path      Away // from the nearest point of the planned path
	Landing   Away // from the most likely landing
}

// Away is how far something is, and where.
type Away struct{ Distance, Bearing float64 } // m, degrees

// NoticeText is what is told at one stage, in the units of aviation.
type NoticeText struct {
	Notices []OneNotice
	// Unseen says in a whole sentence that no text of the jurisdiction is known that
	// asks for this; empty where one is.
	Unseen     string
	NOTAM      string // of the stage before alone; lines end with "\n"
	Aerodromes []Aerodrome
}

// OneNotice is one notice or report.
type OneNotice struct {
	Source rules.Source // of no paragraph where none asks
	Binds  rules.Answer
	To     string
	When   string
	Items  []NoticeItem
}

// NoticeItem is one thing that is told.
type NoticeItem struct {
	Number string // "(a)(1)", or empty
	What   string
	Value  string
	Blank  bool // Value is a blank to be filled in
}

// blank is what is left for whoever fills a notice in.
const blank = "________"

// Compose fills in the notices and reports of a stage.
func Compose(t Told) NoticeText {
	n := NoticeText{}
	for _, notice := range t.Rules.Notices() {
		if notice.Stage == t.Stage {
			n.Notices = append(n.Notices, t.notice(notice))
		}
	}
	if len(n.Notices) == 0 {
		n.Unseen = fmt.Sprintf("No text of these rules (%s) that asks for this was seen: ask the authority. What ICAO's appendix, or else 14 CFR part 101, lists follows.", jurisdictionWords[t.Rules.Jurisdiction])
		n.Notices = append(n.Notices, t.notice(stand(t.Stage)))
	}
	if t.Stage == rules.Before && t.Flown != nil {
		n.NOTAM = t.notam()
	}
	if t.Flown != nil {
		n.Aerodromes = t.Flown.Nearby
	}
	return n
}

// stand is a notice that no rule asks for here, by the list of another's.
func stand(s rules.Stage) rules.Notice {
	for _, j := range [...]rules.Jurisdiction{rules.International, rules.UnitedStates} {
		for _, n := range (rules.Assessment{Jurisdiction: j}).Notices() {
			if n.Stage == s {
				n.Source, n.Binds, n.From, n.Until = rules.Source{}, rules.Unknown, 0, 0
				n.When = "as the authority says"
				for i := range n.Items {
					n.Items[i].Number = ""
				}
				return n
			}
		}
	}
	return rules.Notice{Stage: s, To: "air traffic services", When: "at once", Items: []rules.Item{{Fact: rules.Identification}}}
}

// notice fills one in.
func (t Told) notice(n rules.Notice) OneNotice {
	o := OneNotice{Source: n.Source, Binds: n.Binds, To: n.To, When: n.When}
	for _, office := range t.Offices {
		if office.Notified {
			o.To += fmt.Sprintf(": %s, %s", office.Name, or(office.Telephone, blank))
		}
	}
	if n.Stage == rules.Before {
		switch {
		case n.From > 0:
			o.When += fmt.Sprintf(": from %s to %s", zulu(t.Launch.Add(-n.From)), zulu(t.Launch.Add(-n.Until)))
		case n.Until > 0:
			o.When += fmt.Sprintf(": by %s", zulu(t.Launch.Add(-n.Until)))
		}
	}
	if n.Stage == rules.Descending && t.Flown != nil && n.Until > 0 {
		o.When += fmt.Sprintf(": of the planned flight by %s", zulu(t.Flown.Top.Time.Add(-n.Until)))
	}
	for _, item := range n.Items {
		what, value := t.fact(item.Fact)
		o.Items = append(o.Items, NoticeItem{Number: item.Number, What: what, Value: or(value, blank), Blank: value == ""})
	}
	if now, ok := nowWords[n.Stage]; ok {
		o.Items = append(o.Items, NoticeItem{What: now, Value: or(t.now(), blank), Blank: t.now() == ""})
	}
	o.Items = append(o.Items, NoticeItem{What: "Call back", Value: t.operator()})
	return o
}

// nowWords are what is said of when and where it took place, of stages whose list
// has no such item.
var nowWords = map[rules.Stage]string{
	rules.Launched: "Let go", rules.Ended: "Came down",
}

// or is a text, or another where it is empty.
func or(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// operator is the first of the people.
func (t Told) operator() string {
	p := t.People[0]
	return p.Name + ", " + or(p.Telephone, blank)
}

// now is when and where it is, as far as that was said.
func (t Told) now() string {
	var parts []string
	if !t.Now.IsZero() {
		parts = append(parts, zulu(t.Now))
	}
	if t.Position != nil {
		parts = append(parts, minutes(*t.Position))
	}
	if !math.IsNaN(t.Height) {
		parts = append(parts, feetAMSL(t.Height))
	}
	return strings.Join(parts, ", ")
}
