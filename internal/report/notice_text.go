package report

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/rules"
)

// notam is the draft of a NOTAM, by the items of ICAO Annex 15 (from memory) and
// the question code QWLLW, ascent of a free balloon will take place (from memory).
func (t Told) notam() string {
	w := t.Flown
	region := or(t.Region, "____")
	upper := "999"
	if top := (w.Top.Level + 2*w.TopSpread) / aviationLevel; top < 999 {
		upper = fmt.Sprintf("%03.0f", math.Ceil(top))
	}
	radius := min(math.Ceil(w.Circle.Radius/nauticalMile), 999)
	end := blank
	if w.Landed {
		const step = 5 * time.Minute
		end = w.Late.UTC().Add(step - 1).Truncate(step).Format("0601021504")
	}
	early := t.Launch.Add(seconds(t.Delay.Centre - 2*t.Delay.Spread)).UTC().Truncate(time.Minute)
	lines := []string{
		fmt.Sprintf("Q) %s/QWLLW/IV/M/W/000/%s/%s%03.0f", region, upper, strings.ReplaceAll(minutes(w.Circle.At), " ", ""), radius),
		"A) " + region,
		"B) " + early.Format("0601021504") + " C) " + end,
		"E) " + t.notamText(),
		"F) SFC G) FL" + upper,
	}
	return strings.Join(lines, "\n") + "\n"
}

// notamText is item E.
func (t Told) notamText() string {
	w := t.Flown
	count, balloons := "ONE", "BALLOON"
	if t.Balloons > 1 {
		count, balloons = fmt.Sprint(t.Balloons), "BALLOONS"
	}
	s := fmt.Sprintf("%s UNMANNED FREE %s, LAUNCH %s AT %s, ASCENT %.0f FT/MIN, MAX ALT %.0f FT AMSL, PAYLOAD %.1f KG, PARACHUTE DESCENT",
		count, balloons, minutes(t.At), t.Launch.UTC().Format("1504"), math.Round(t.Ascent.Centre*60/aviationFoot/10)*10,
		math.Ceil((w.Top.Height+2*w.TopSpread)/aviationFoot/100)*100, t.Payload)
	if w.Landed {
		s += fmt.Sprintf(", EXPECTED LANDING WI %.0f NM OF %s AT %s", math.Ceil(w.Radius/nauticalMile), minutes(w.MostLikely), w.Middle.UTC().Round(time.Minute).Format("1504"))
	}
	return s + ". CTC " + strings.ToUpper(or(t.People[0].Telephone, blank))
}

// stageWords are what a notice is about.
var stageWords = map[rules.Stage]string{
	rules.Before: "before the launch", rules.Delayed: "the launch is put off", rules.Cancelled: "the launch is cancelled",
	rules.Launched: "it has been launched", rules.Lost: "no position for two hours", rules.Found: "positions again",
	rules.Descending: "about to descend", rules.Ended: "the flight has ended",
}

// WriteNotice writes what is to be told at a stage, for reading out on the
// telephone. It is sent to nobody.
func WriteNotice(w io.Writer, told Told) error {
	n := Compose(told)
	t := text{units: quantity.US, zone: time.UTC}
	t.b.WriteString(told.Plan + ": " + stageWords[told.Stage] + "\n\n")
	t.row("Rules", "%s. %s", jurisdictionWords[told.Rules.Jurisdiction], told.Rules.Summary())
	t.row("", "All times are UTC, heights above mean sea level unless they are flight levels, bearings from true north.")
	if n.Unseen != "" {
		t.row("", "%s", n.Unseen)
	}
	for _, notice := range n.Notices {
		t.notice(notice)
	}
	t.answerable(told)
	if n.NOTAM != "" {
		t.gap()
		t.row("NOTAM", "A draft for the authority, which writes and issues it; what is blank it knows. Read back every figure.")
		t.b.WriteString("\n")
		for line := range strings.Lines(n.NOTAM) {
			t.hanging(strings.TrimSuffix(line, "\n"))
		}
	}
	t.aerodromes(n.Aerodromes, told)
	t.gap()
	t.row("Always", "%s", rules.Closing)
	t.row("", "This text was sent to nobody. Figures are those of the plan and the forecast, which can be wrong: correct them as you know better.")
	_, err := io.WriteString(w, t.b.String())
	return err
}

// hanging writes a line of a draft, what is too long going on below it.
func (t *text) hanging(line string) {
	indent := strings.Repeat(" ", labelWidth)
	at := len(indent)
	t.b.WriteString(indent)
	for i, word := range strings.Fields(line) {
		switch {
		case i == 0:
		case at+1+len([]rune(word)) > width:
			t.b.WriteString("\n" + indent + "   ")
			at = len(indent) + 3
		default:
			t.b.WriteString(" ")
			at++
		}
		t.b.WriteString(word)
		at += len([]rune(word))
	}
	t.b.WriteString("\n")
}

// notice is one notice or report.
func (t *text) notice(n OneNotice) {
	t.gap()
	head := "Tell"
	binds := map[rules.Answer]string{
		rules.Yes: "asked of this class", rules.No: "not asked of this class; it may be told all the same",
		rules.Unknown: "not known whether it is asked of this flight",
	}[n.Binds]
	t.row(head, "%s", n.To)
	t.row("When", "%s", n.When)
	source := binds
	if n.Source.Paragraph != "" {
		source = n.Source.String() + "; " + binds
	}
	t.row("By", "%s", source)
	for _, item := range n.Items {
		what := item.What
		if item.Number != "" {
			what = item.Number + " " + what
		}
		t.row("", "%s: %s", keep(what), item.Value)
	}
}

// answerable is who answers, and whom else to call.
func (t *text) answerable(told Told) {
	t.gap()
	label := "People"
	for _, p := range told.People {
		role := ""
		if p.Role != "" {
			role = " (" + p.Role + ")"
		}
		t.row(label, "%s%s, %s", p.Name, role, keep(or(p.Telephone, blank)))
		label = ""
	}
	label = "Offices"
	for _, o := range told.Offices {
		t.row(label, "%s, %s", o.Name, keep(or(o.Telephone, blank)))
		label = ""
	}
	if len(told.Offices) == 0 {
		t.row(label, "none in the plan: look up control, the authority and the airfields below, and write their numbers here: %s", blank)
	}
}

// aerodromes is the airfields to call.
func (t *text) aerodromes(all []Aerodrome, told Told) {
	if told.Flown == nil {
		return
	}
	t.gap()
	label := "Airfields"
	for _, a := range all {
		name := a.Name
		if a.Size != "" {
			name += " (" + a.Size + ", " + minutes(a.At) + ")"
		}
		s := fmt.Sprintf("%s: %s from the site; %s from the path", name, a.Site.words(), a.Path.words())
		if told.Flown.Landed {
			s += "; " + a.Landing.words() + " from the landing"
		}
		t.row(label, "%s; %s", s, keep(or(a.Telephone, blank)))
		label = ""
	}
	if len(all) == 0 {
		t.row(label, "none of those built in is near")
	}
	t.row("", "Those built in are large and medium airports, some by a name of years ago; fields of clubs, gliders and helicopters are not among them: ask for those too.")
}

// words is a distance and a bearing.
func (a Away) words() string { return keep(nautical(a.Distance) + " " + bearing(a.Bearing)) }
