// Package rules is which class of flight a plan is by the rules of the air, and
// which of their limits it meets, as far as a program can tell.
//
// It hides the rules: their paragraphs, arithmetic, units and dates, which of
// them bind which class, and what is not known of them. Flight is SI and shares
// from 0 to 1; the texts of an Assessment are in the units of the rule that they
// speak of.
//
// Nobody is told that a flight may take place. Every limit is met, not met or
// cannot be told, by a text that was seen at a date or that has to be looked up
// first, and Closing goes under all of it. What was not seen is in the words
// "from memory". It knows nothing of winds, places or forecasts, and of time only
// the launch that it is given.
package rules

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Closing goes under whatever is shown of an Assessment.
const Closing = "The local authority decides; check the current text."

// Jurisdiction is whose rules a flight is held to.
type Jurisdiction string

// The jurisdictions. The first four are held to limit by limit, the others to
// their classes, with notes.
const (
	UnitedStates  Jurisdiction = "us"   // 14 CFR part 101
	International Jurisdiction = "icao" // ICAO Annex 2, appendix on unmanned free balloons
	Europe        Jurisdiction = "eu"   // SERA Appendix 2, Regulation (EU) 923/2012
	Britain       Jurisdiction = "uk"   // SERA Appendix 2 as retained, Air Navigation Order 2016
	Australia     Jurisdiction = "au"   // CASR part 101
	NewZealand    Jurisdiction = "nz"   // Civil Aviation Rules part 101
	Canada        Jurisdiction = "ca"   // Canadian Aviation Regulations, 602.42 to 602.44
)

// Jurisdictions is every jurisdiction known.
func Jurisdictions() []Jurisdiction {
	return []Jurisdiction{UnitedStates, International, Europe, Britain, Australia, NewZealand, Canada}
}

// Check reports a jurisdiction that is not known, with those that are.
func (j Jurisdiction) Check() error {
	if slices.Contains(Jurisdictions(), j) {
		return nil
	}
	var known []string
	for _, k := range Jurisdictions() {
		known = append(known, string(k))
	}
	return fmt.Errorf("jurisdiction %q: want one of %s", string(j), strings.Join(known, ", "))
}

// Verdict is how a flight stands to a limit.
type Verdict uint8

// The verdicts. Met is of the limit that is known here, and of nothing else.
const (
	CannotTell Verdict = iota
	Met
	NotMet
)

// String is the verdict in words.
func (v Verdict) String() string {
	switch v {
	case CannotTell:
		return "cannot tell"
	case Met:
		return "met"
	case NotMet:
		return "not met"
	}
	return fmt.Sprintf("Verdict(%d)", uint8(v))
}

// Answer is what is known of a question.
type Answer uint8

// The answers.
const (
	Unknown Answer = iota
	Yes
	No
)

// String is the answer in words.
func (a Answer) String() string {
	switch a {
	case Unknown:
		return "not known"
	case Yes:
		return "yes"
	case No:
		return "no"
	}
	return fmt.Sprintf("Answer(%d)", uint8(a))
}

// Class is a class of flight.
type Class uint8

// The classes.
const (
	BelowPart101 Class = iota + 1 // within every test of 14 CFR 101.1(a)(4)
	Part101                       // beyond one of them: subpart D holds
	Light
	Medium
	Heavy
	Small         // Australia
	NotLarge      // Canada: 115 ft³ of gas or less
	LargeCanadian // Canada: more
)

// String is the class in words.
func (c Class) String() string {
	switch c {
	case BelowPart101:
		return "below the limits of 14 CFR 101.1(a)(4)"
	case Part101:
		return "unmanned free balloon under 14 CFR part 101, subpart D"
	case Light:
		return "light"
	case Medium:
		return "medium"
	case Heavy:
		return "heavy"
	case Small:
		return "small"
	case NotLarge:
		return "115 ft³ of gas or less"
	case LargeCanadian:
		return "large unoccupied free balloon"
	}
	return fmt.Sprintf("Class(%d)", uint8(c))
}

// Source is where a limit stands, and what was seen of it.
type Source struct {
	Paragraph string // "14 CFR 101.1(a)(4)(i)"
	// Date is of the text that the limit was taken from, in words; of one from
	// memory it says so.
	Date string
	// Seen tells that such a text was seen; without, it is from memory or at
	// second hand.
	Seen bool
}

// Status is what to make of the source: "seen" or "check current text".
func (s Source) Status() string {
	if s.Seen {
		return "seen"
	}
	return "check current text"
}

// String is the paragraph, the date and the status.
func (s Source) String() string {
	return fmt.Sprintf("%s (%s; %s)", s.Paragraph, s.Date, s.Status())
}

// Result is one limit and how the flight stands to it.
type Result struct {
	Source Source
	// Binds tells whether the limit binds a flight of this class. One that does
	// not is held to all the same, for whoever flies may want to know.
	Binds   Answer
	Verdict Verdict
	What    string // "heaviest package"
	Value   string // what it is, "5 lb (2.268 kg)"; "not known"
	Limit   string // what it may be, "at most 6 lb (2.722 kg)"
	// Change is what would change the verdict, or settle it.
	Change string
	Note   string // how the text was read where it leaves that open; mostly empty
}

// String is the result on one line.
func (r Result) String() string {
	s := fmt.Sprintf("%s: %s: %s, limit %s", r.Verdict, r.What, r.Value, r.Limit)
	switch r.Binds {
	case No:
		s += "; does not bind this class"
	case Unknown:
		s += "; not known whether it binds"
	case Yes:
	}
	for _, more := range []string{r.Change, r.Note} {
		if more != "" {
			s += "; " + more
		}
	}
	return s + ". " + r.Source.String()
}

// Assessment is a flight held to the rules of one jurisdiction.
type Assessment struct {
	Jurisdiction Jurisdiction
	// Classes is every class that the flight may be in by what is known of it, the
	// mildest first; a single one is sure.
	Classes []Class
	Tests   []Result // that decide the class; Met: within the milder one
	Limits  []Result // of the class
}

// Class is the class where it is sure, or false.
func (a Assessment) Class() (Class, bool) {
	if len(a.Classes) != 1 {
		return 0, false
	}
	return a.Classes[0], true
}

// Count is how many of the limits that bind, or may bind, have a verdict.
func (a Assessment) Count(v Verdict) int {
	n := 0
	for _, r := range a.Limits {
		if r.Verdict == v && r.Binds != No {
			n++
		}
	}
	return n
}

// Summary is the class and the count of limits in one sentence, and Closing.
func (a Assessment) Summary() string {
	names := make([]string, 0, len(a.Classes))
	for _, c := range a.Classes {
		names = append(names, c.String())
	}
	s := "Class: " + strings.Join(names, " or ")
	if len(names) > 1 {
		s += " (cannot tell which)"
	}
	if n := a.Count(NotMet); n > 0 {
		s += fmt.Sprintf("; limits not met: %d", n)
	} else {
		s += "; nothing in this rule set is exceeded as far as it could be checked"
	}
	return s + fmt.Sprintf("; limits met: %d, that cannot be told: %d. ", a.Count(Met), a.Count(CannotTell)) + Closing
}

// Assess holds a flight to the rules of a jurisdiction. The error is an unknown
// jurisdiction, or every fault of the flight.
func Assess(j Jurisdiction, f Flight) (Assessment, error) {
	if err := errors.Join(j.Check(), f.Check()); err != nil {
		return Assessment{}, err
	}
	a := Assessment{Jurisdiction: j}
	switch j {
	case UnitedStates:
		a.Classes, a.Tests = f.part101()
		a.Limits = f.part101Limits(a.Classes)
	case International, Europe, Britain:
		a.Classes, a.Tests = f.appendix(appendixTexts(j))
		a.Limits = f.appendixLimits(j, a.Classes)
	case Australia:
		a.Classes, a.Tests = f.australian()
		a.Limits = f.australianLimits()
	case NewZealand:
		a.Classes, a.Tests = f.appendix(newZealandTexts())
		a.Limits = f.newZealandLimits(a.Classes)
	case Canada:
		a.Classes, a.Tests = f.canadian()
		a.Limits = f.canadianLimits(a.Classes)
	}
	return a, nil
}
