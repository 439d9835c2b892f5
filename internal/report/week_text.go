package report

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/quantity"
)

// listed is how many of the best launch times are told at length.
const listed = 3

// WriteWeekHead writes what a week is looked for in, before any of it is known.
func WriteWeekHead(w io.Writer, k Week, units quantity.System) error {
	t := text{units: units, zone: zoneOf(k)}
	t.b.WriteString(k.Plan + "\n\n")
	f := k.Forecast
	members := ""
	if f.Members > 1 {
		members = fmt.Sprintf(", %d members", f.Members)
	}
	t.row("Forecast", "%s, cycle of %s, up to %s%s", centre(f.Centre), utc(f.Cycle), utc(f.Last), members)
	when := "at the hours of the plan"
	if k.Daylight {
		when = "by daylight"
	}
	t.row("Looks at", "%d launch times, every %s %s, from %s; times by the clock of %s", k.Asked, keep(units.Duration(k.Step.Seconds())), when, strings.Join(k.Sites, ", "), t.zone)
	t.gap()
	t.b.WriteString(weekLine.head())
	_, err := io.WriteString(w, t.b.String())
	return err
}

// WriteWindow writes the line of one launch time; before is that of the one before
// it, zero for the first.
func WriteWindow(w io.Writer, k Week, one Window, before time.Time, units quantity.System) error {
	t := text{units: units, zone: zoneOf(k)}
	day := func(at time.Time) string { return at.In(t.zone).Format("Monday 2 January 2006") }
	if before.IsZero() || day(before) != day(one.Time) {
		t.b.WriteString("\n" + day(one.Time) + "\n")
	}
	t.b.WriteString(t.window(k, one))
	_, err := io.WriteString(w, t.b.String())
	return err
}

// weekColumns are how wide the columns of a week's lines are.
type weekColumns struct{ launch, verdict, score, lands, down, size int }

var weekLine = weekColumns{launch: 7, verdict: 12, score: 6, lands: 13, down: 7, size: 10}

func (c weekColumns) line(launch, verdict, score, lands, down, size, why string) string {
	s := fmt.Sprintf("%-*s%-*s%*s  %-*s%-*s%*s  %s", c.launch, launch, c.verdict, verdict, c.score-2, score, c.lands, lands, c.down, down, c.size-2, size, why)
	return strings.TrimRight(s, " ") + "\n"
}

func (c weekColumns) head() string {
	return c.line("launch", "verdict", "score", "lands", "down by", "80 % in", "first of all")
}

// noticedLost is the share of flights that leave the forecast from which on a week's line
// says so; the launch time's own answer always does.
const noticedLost = 0.01

// window is one line; a reason that does not fit goes on below.
func (t *text) window(k Week, one Window) string {
	at := one.Time.In(t.zone).Format("15:04")
	before := weekLine.launch + weekLine.verdict + weekLine.score + weekLine.lands + weekLine.down + weekLine.size
	site := ""
	if len(k.Sites) > 1 {
		site = one.Site + ": "
	}
	if one.NotCovered != "" {
		return weekLine.line(at, "not covered", "", "", "", "", site+"see below")
	}
	l := one.Launch
	why := site + strings.ReplaceAll(restate(first(l), t.units), " %", "\u00a0%")
	if l.Landing != nil && l.Hazard.NotLanded.Value >= noticedLost {
		if why != "" {
			why += "; "
		}
		why += fmt.Sprintf("%.1f\u00a0%% leave the forecast", 100*l.Hazard.NotLanded.Value)
	}
	score, lands, down, size := "-", "nowhere", "", ""
	if l.Landing != nil {
		score = fmt.Sprintf("%.0f", l.Hazard.Value)
		lands = fmt.Sprintf("%s %s", t.units.Distance(l.Landing.Distance), bearing(l.Landing.Bearing))
		down = l.Landing.Late.In(t.zone).Format("15:04")
		size = t.units.Area(l.Area(0.8))
	}
	pieces := wrap(why, width-before)
	verdict := l.Verdict.String()
	if l.Verdict == launch.Unlimited {
		verdict = "no limits"
	}
	s := weekLine.line(at, verdict, score, lands, down, size, pieces[0])
	for _, piece := range pieces[1:] {
		s += strings.Repeat(" ", before) + piece + "\n"
	}
	return strings.ReplaceAll(s, "\u00a0", " ")
}

// first is the reason that decided, in few words, its quantities in SI: of where it
// lands and what it crosses before others, and of these before that of the score. Of a launch that meets all its limits, or has
// none, it is what makes most of its score.
func first(l Launch) string {
	why, weight := "", 0
	for _, r := range l.Reasons {
		if r.Verdict != l.Verdict || r.Verdict == launch.Go {
			continue
		}
		value, _, _ := strings.Cut(r.Value, " (")
		what := strings.TrimSuffix(strings.TrimPrefix(r.What, "landings "), " of the most likely landing")
		w := 2
		switch {
		case r.What == launch.ScoreReason:
			w = 1
		case what != r.What, strings.HasPrefix(r.What, "flights through"):
			w = 3
		}
		if w > weight {
			why, weight = what+" "+value, w
		}
	}
	if weight > 1 {
		return why
	}
	if l.Hazard == nil || why != "" {
		if why != "" && l.Verdict == launch.Marginal {
			return "some ground is on no layer"
		}
		return why
	}
	worst, points := "", 0.5
	for _, c := range l.Hazard.Classes {
		if c.Points > points {
			worst, points = c.Class.String(), c.Points
		}
	}
	for _, c := range l.Hazard.Crossings {
		if c.Points > points {
			worst, points = c.Name, c.Points
		}
	}
	return worst
}

// wrap breaks a sentence between words into lines of at most so many characters;
// one at least.
func wrap(sentence string, most int) []string {
	lines := []string{""}
	for _, word := range strings.Split(sentence, " ") { // a no-break space is none
		last := &lines[len(lines)-1]
		switch {
		case *last == "":
			*last = word
		case len([]rune(*last))+1+len([]rune(word)) <= most:
			*last += " " + word
		default:
			lines = append(lines, word)
		}
	}
	return lines
}

// WriteWeekEnd writes what follows from a week: the best launch times, and why.
func WriteWeekEnd(w io.Writer, k Week, units quantity.System) error {
	t := text{units: units, zone: zoneOf(k)}
	t.gap()
	counts := map[string]int{}
	var uncovered []Window
	for _, one := range k.Windows {
		if one.NotCovered != "" {
			counts["not covered"]++
			uncovered = append(uncovered, one)
			continue
		}
		counts[one.Launch.Verdict.String()]++
	}
	var parts []string
	for _, verdict := range []string{"go", "marginal", "no-go", "no limits set", "not covered"} {
		if counts[verdict] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", counts[verdict], verdict))
		}
	}
	if stopped := k.Asked - len(k.Windows); stopped > 0 {
		parts = append(parts, fmt.Sprintf("%d not looked at, as it was stopped", stopped))
	}
	t.row("Of these", "%s", strings.Join(parts, ", "))
	t.best(k)
	t.trust(k)
	if len(k.Warnings) > 0 {
		t.gap()
		label := "Mind"
		for _, sentence := range k.Warnings {
			t.row(label, "%s", restate(sentence, units))
			label = ""
		}
	}
	if len(uncovered) > 0 {
		t.gap()
		label := "Not covered"
		for _, one := range uncovered[:min(len(uncovered), listed)] {
			t.row(label, "%s: %s", keep(one.Time.In(t.zone).Format("Mon 15:04")), restate(one.NotCovered, units))
			label = ""
		}
		if more := len(uncovered) - listed; more > 0 {
			t.row(label, "and %d more", more)
		}
	}
	t.gap()
	label := "Always"
	for _, sentence := range k.Cautions {
		t.row(label, "%s", restate(sentence, units))
		label = ""
	}
	_, err := io.WriteString(w, strings.ReplaceAll(t.b.String(), "\u00a0", " "))
	return err
}

// best tells the first few of the ranking at length.
func (t *text) best(k Week) {
	label := "Best"
	if best, ok := k.Best(); ok && best.Launch.Verdict == launch.NoGo {
		label = "Nearest"
		t.row("None is go", "these break the fewest limits, and have the lowest scores among those")
	}
	for place, i := range k.Ranked[:min(len(k.Ranked), listed)] {
		one := k.Windows[i]
		l := one.Launch
		if one.NotCovered != "" || l.Landing == nil {
			break
		}
		t.gap()
		verdict := l.Verdict.String()
		if l.Verdict == launch.Unlimited {
			verdict = "no limits set"
		}
		t.row(label, "%d. %s from %s: %s", place+1, t.when(one.Time), one.Site, verdict)
		label = ""
		t.row("", "hazard score %.1f (%.1f to %.1f); lands near %s, %s toward %s, by %s nineteen times in twenty; 80 %% within %s; %s",
			l.Hazard.Value, l.Hazard.Low, l.Hazard.High, position(l.Landing.MostLikely), keep(t.units.Distance(l.Landing.Distance)),
			bearing(l.Landing.Bearing), clock(l.Landing.Late, t.zone), keep(t.units.Area(l.Area(0.8))), t.weather(l.Weather))
		for _, r := range l.Reasons {
			if r.Verdict != launch.Go {
				t.row("  "+r.Verdict.String(), "%s", t.reason(r))
			}
		}
		if l.Rules != nil {
			t.row("  rules", "%s", rulesBrief(l.Rules))
		}
		t.earlier(one)
	}
	if label != "" {
		t.row(label, "none: no launch time is covered by the forecast and lands within it")
	}
}

// earlier tells how an answer has moved from cycle to cycle.
func (t *text) earlier(one Window) {
	if len(one.Earlier) == 0 {
		return
	}
	if since := one.Steady(); since.IsZero() {
		t.row("  moves", "the cycle before said otherwise: do not trust this one alone")
	} else {
		t.row("  steady", "since the cycle of %s: the same verdict, and a landing within the size of the 80 %% region", utc(since))
	}
	for _, e := range one.Earlier {
		if e.NotCovered != "" {
			t.row("", "%s: not covered", utc(e.Cycle))
			continue
		}
		t.row("", "%s: %s, score %.1f, %s within %s; from there to here %s toward %s",
			utc(e.Cycle), e.Verdict, e.Score, keep("80 %"), keep(t.units.Area(e.Area80)), keep(t.units.Distance(e.Moved)), bearing(e.Toward))
	}
}

// trust says how the 80 % region grows with the age of the forecast.
func (t *text) trust(k Week) {
	type sum struct{ area, n float64 }
	days := map[int]*sum{}
	last := 0
	for _, one := range k.Windows {
		if one.NotCovered != "" || one.Launch.Landing == nil {
			continue
		}
		day := int(math.Max(0, one.Time.Sub(k.Forecast.Cycle).Hours()/24))
		if days[day] == nil {
			days[day] = &sum{}
		}
		days[day].area += one.Launch.Area(0.8)
		days[day].n++
		last = max(last, day)
	}
	if len(days) < 2 {
		return
	}
	var parts []string
	for day := 0; day <= last; day++ {
		if s := days[day]; s != nil {
			parts = append(parts, keep(fmt.Sprintf("%s on day %d", t.units.Area(s.area/s.n), day+1)))
		}
	}
	t.gap()
	t.row("How sure", "mean area of the 80 %% region by the day since the forecast's cycle: %s", strings.Join(parts, ", "))
}

func zoneOf(k Week) *time.Location {
	if k.Zone == nil {
		return time.UTC
	}
	return k.Zone
}
