package report

import (
	_ "embed" // the template of the page
	"fmt"
	"html/template"
	"io"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/page"
	"example.org/thistledown/internal/quantity"
)

// PageWindows is how many launch times a page tells in full: the best of the
// ranking. Of the others it has a tile and a line of the table. It bounds the page: a
// launch time in full takes some 25 kB, one in a line 1.
const PageWindows = 96

//go:embed week.html
var weekPage string

// Page is a week and what its page shows beside it.
type Page struct {
	Week
	// Map is the ground and the air over it where its flights come to; nil: none is
	// drawn.
	Map *ground.Map
	// Label is that of the payload at the best launch time; nil: the plan does not
	// say enough for one.
	Label *Label
	// Varied is what could be changed for the best launch time; nil: nothing was looked
	// for.
	Varied *Varied
}

// WritePage writes a week as one HTML file that needs no other and asks no host
// for anything, in the given units and the zone of the plan's own site. Every
// name from a plan is escaped.
func WritePage(w io.Writer, p Page, units quantity.System) error {
	t, err := page.Template(weekPage)
	if err != nil {
		return err
	}
	return t.Execute(w, newPageView(p, units))
}

// labelled is a label and what it labels, a paragraph each.
type labelled struct {
	Label string
	Texts []string
}

// pageView is what the template is given.
type pageView struct {
	Script                template.JS
	Head                  page.Head
	Title                 string
	Verdict               verdictView
	Before                string // what the headline is of
	Headline, Second      string
	Decided               decidedView
	Counts                string
	Data, Trust           []labelled
	Minded, Always        []string
	Change                []labelled // what to change for the best launch time
	Rules                 []labelled // of the best launch time; none: the plan names none
	Days                  []dayView
	Windows               []windowView
	Lines                 []lineView
	Map                   *mapView
	Train                 []labelled
	TrainNote             string
	Crew                  crewView
	Full                  int
	SeveralSites, Limited bool
}

// decidedView is the limits that decided.
type decidedView struct{ Reasons []reasonView }

// beforeBest is what is said before the best launch time, by its verdict.
var beforeBest = map[string]string{
	"go": "The best launch time:", "marginal": "No launch time is a clear go. The best:",
	"no-go": "Every launch time is a no-go. The least bad:", "open": "The best launch time, held to no limits:",
}

// verdictView is a verdict as a style and in words.
type verdictView struct{ Class, Word string }

// dayView is the tiles of a day, of one site.
type dayView struct {
	Name  string
	Tiles []tileView
}

// tileView is a launch time among the others.
type tileView struct {
	Number  int
	Clock   string
	Verdict verdictView
	Score   string
	Bar     int // of 100; -1: there is no score
	Why     string
	Best    bool
	Spoken  string
}

// lineView is a line of the table.
type lineView struct {
	Rank, Launch, Site            string
	Verdict                       verdictView
	Score, Lands, Down, Size, Why string
}

// newPageView puts a page's content together.
func newPageView(p Page, units quantity.System) pageView {
	t := &text{units: units, zone: zoneOf(p.Week)}
	v := pageView{
		Script: template.JS(page.Script()), Head: page.NewHead(p.Plan + ": the week"), //nolint:gosec // a file of this program
		Title: p.Plan, SeveralSites: len(p.Sites) > 1,
		Counts: counted(p.Week), Data: t.pageData(p.Week),
		Trust:  t.record(func() { t.trust(p.Week) }),
		Minded: t.restated(p.Warnings), Always: t.restated(p.Cautions),
	}
	first := -1
	if best, ok := p.Best(); ok {
		first = p.Ranked[0]
		v.Headline = t.headline(best)
		v.Verdict = verdictOf(best)
		v.Before = beforeBest[v.Verdict.Class]
		for _, r := range t.reasons(best.Launch) {
			if r.Class != launch.Go.String() {
				v.Decided.Reasons = append(v.Decided.Reasons, r)
			}
		}
		v.Second = t.lands(best.Launch)
		v.Rules = t.record(func() { t.rules(best.Launch.Rules) })
	} else {
		v.Verdict = verdictView{"none", "no answer"}
		v.Headline = "No launch time is covered by the forecast with a landing in it."
	}
	full := inFull(p.Week)
	v.Full = len(full)
	v.Limited = len(p.Ranked) > 0 && v.Full < covered(p.Week)
	chart := chartOf(p, full)
	v.Map = t.mapOf(p, full, chart)
	for i := range p.Windows {
		v.Windows = append(v.Windows, t.window1(p.Week, i, slices.Contains(full, i)))
	}
	v.Days, v.Lines = t.days(p.Week, first), t.lines(p.Week)
	v.Train, v.TrainNote = t.pageTrain(p.Week)
	v.Crew = t.crew(p.Week)
	if p.Varied != nil {
		v.Change = t.record(func() { t.varied(*p.Varied) })
	}
	if p.Label != nil {
		var b strings.Builder
		p.Label.draw(&b, sheets[len(sheets)-1])
		v.Crew.Label = template.HTML(b.String()) //nolint:gosec // draw escapes its texts
	}
	return v
}

// inFull are the launch times that are told in full, as indices of Windows.
func inFull(k Week) []int {
	var full []int
	for _, i := range k.Ranked {
		if one := k.Windows[i]; one.NotCovered == "" && one.Launch.Landing != nil && len(full) < PageWindows {
			full = append(full, i)
		}
	}
	return full
}

// covered is how many launch times have an answer with a landing.
func covered(k Week) int {
	n := 0
	for _, one := range k.Windows {
		if one.NotCovered == "" && one.Launch.Landing != nil {
			n++
		}
	}
	return n
}

// record is what a part of the text writes, as labels and paragraphs.
func (t *text) record(write func()) []labelled {
	var rows []labelled
	t.rows = &rows
	write()
	t.rows = nil
	return rows
}

// keepRow keeps a row as it is; one without a label goes on with the one before,
// unless it is the heading of what follows.
func (t *text) keepRow(label, words string) {
	if last := len(*t.rows) - 1; label == "" && last >= 0 && !strings.HasSuffix(words, ":") {
		row := &(*t.rows)[last]
		row.Texts = append(row.Texts, words)
		return
	}
	if label != "" {
		label = strings.ToUpper(label[:1]) + label[1:] // they are all words of this program, in ASCII
	}
	*t.rows = append(*t.rows, labelled{label, []string{words}})
}

// restated are sentences in the text's units.
func (t *text) restated(sentences []string) []string {
	out := make([]string, len(sentences))
	for i, s := range sentences {
		out[i] = restate(s, t.units)
	}
	return out
}

// verdictOf is a window's verdict.
func verdictOf(w Window) verdictView {
	switch {
	case w.NotCovered != "":
		return verdictView{"none", "not covered"}
	case w.Launch.Verdict == launch.Go:
		return verdictView{"go", "go"}
	case w.Launch.Verdict == launch.Marginal:
		return verdictView{"marginal", "marginal"}
	case w.Launch.Verdict == launch.NoGo:
		return verdictView{"no-go", "no-go"}
	}
	return verdictView{"open", "no limits"}
}

// headline says which launch time is the best.
func (t *text) headline(w Window) string {
	return fmt.Sprintf("%s from %s", t.when(w.Time), w.Site)
}

// lands says in a sentence where a launch comes down.
func (t *text) lands(l Launch) string {
	d := l.Landing
	return fmt.Sprintf("It comes down near %s, %s toward %s, by %s nineteen times in twenty. Hazard score %.1f of 100 (%.1f to %.1f); 80\u00a0%% of landings are within %s.",
		position(d.MostLikely), keep(t.units.Distance(d.Distance)), bearing(d.Bearing), t.clock(d.Late, l.Time),
		l.Hazard.Value, l.Hazard.Low, l.Hazard.High, keep(t.units.Area(l.Area(0.8))))
}

// counted is how many launch times have which verdict.
func counted(k Week) string {
	var words []string
	n := map[string]int{}
	for _, one := range k.Windows {
		n[verdictOf(one).Word]++
	}
	for _, word := range []string{"go", "marginal", "no-go", "no limits", "not covered"} {
		if n[word] > 0 {
			words = append(words, fmt.Sprintf("%d %s", n[word], word))
		}
	}
	if stopped := k.Asked - len(k.Windows); stopped > 0 {
		words = append(words, fmt.Sprintf("%d not looked at, as it was stopped", stopped))
	}
	return fmt.Sprintf("Of %d launch times: %s.", k.Asked, strings.Join(words, ", "))
}

// pageData is what all of it rests on.
func (t *text) pageData(k Week) []labelled {
	f := k.Forecast
	rows := []labelled{
		{"Forecast", []string{fmt.Sprintf("%s, cycle of %s; winds from %s to %s", centre(f.Centre), utc(f.Cycle), utc(f.First), utc(f.Last))}},
		{"Grid", []string{fmt.Sprintf("%.4g° by %.4g°, %d levels", f.Grid.DLat, f.Grid.DLon, len(f.Levels))}},
		{"Members", []string{fmt.Sprint(max(f.Members, 1))}},
	}
	for _, i := range k.Ranked[:min(1, len(k.Ranked))] {
		if one := k.Windows[i]; one.NotCovered == "" {
			l := one.Launch
			rows = append(rows, labelled{"Flights", []string{fmt.Sprintf("%d for each launch time, in %d groups, seed %d", l.Flights, l.Scrambles, l.Seed)}})
		}
	}
	rows = append(rows, labelled{"Looks at", []string{fmt.Sprintf("%d launch times, every %s, from %s", k.Asked, keep(t.units.Duration(k.Step.Seconds())), strings.Join(k.Sites, ", "))}})
	return append(rows, labelled{"Program", []string{"thistledown " + k.Version}})
}

// days are the tiles, by day and site.
func (t *text) days(k Week, best int) []dayView {
	var days []dayView
	at := map[string]int{}
	for i, one := range k.Windows {
		name := one.Time.In(t.zone).Format("Monday 2 January")
		if len(k.Sites) > 1 {
			name += ", " + one.Site
		}
		j, ok := at[name]
		if !ok {
			j = len(days)
			at[name] = j
			days = append(days, dayView{Name: name})
		}
		days[j].Tiles = append(days[j].Tiles, t.tile(one, i, i == best))
	}
	return days
}

// tile is one launch time among the others.
func (t *text) tile(one Window, i int, best bool) tileView {
	v := tileView{Number: i, Clock: one.Time.In(t.zone).Format("15:04"), Verdict: verdictOf(one), Bar: -1, Best: best}
	score := "no score"
	v.Why = restate(one.NotCovered, t.units)
	if l := one.Launch; one.NotCovered == "" {
		v.Why = restate(first(l), t.units)
		if l.Hazard != nil {
			v.Score, v.Bar = fmt.Sprintf("%.0f", l.Hazard.Value), int(l.Hazard.Value+0.5)
			score = "score " + v.Score
		}
	}
	v.Spoken = strings.TrimSuffix(fmt.Sprintf("%s, %s, %s, %s", one.Time.In(t.zone).Format("Monday 2 January 15:04"), v.Verdict.Word, score, v.Why), ", ")
	return v
}

// lines are the table of all launch times.
func (t *text) lines(k Week) []lineView {
	rank := make([]int, len(k.Windows))
	for place, i := range k.Ranked {
		rank[i] = place + 1
	}
	lines := make([]lineView, len(k.Windows))
	for i, one := range k.Windows {
		v := lineView{Launch: one.Time.In(t.zone).Format("Mon 2 Jan 15:04"), Site: one.Site, Verdict: verdictOf(one), Why: restate(one.NotCovered, t.units)}
		if l := one.Launch; one.NotCovered == "" {
			v.Rank, v.Why, v.Lands = fmt.Sprint(rank[i]), restate(first(l), t.units), "nowhere"
			if d := l.Landing; d != nil {
				v.Score = fmt.Sprintf("%.0f", l.Hazard.Value)
				v.Lands = keep(t.units.Distance(d.Distance)) + " " + bearing(d.Bearing)
				v.Down, v.Size = d.Late.In(t.zone).Format("15:04"), keep(t.units.Area(l.Area(0.8)))
			}
		}
		lines[i] = v
	}
	return lines
}

// stamped is a time for a machine to read.
func stamped(at time.Time) string { return at.UTC().Format(time.RFC3339) }
