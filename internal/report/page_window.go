package report

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/balloon"
)

// windowView is one launch time in full; in short where it has no landing, or is
// not among those that are told in full.
type windowView struct {
	Number    int
	Best      bool
	Heading   string
	Stamp     string
	Verdict   verdictView
	Missed    string // why there is no more of it
	Lands     string
	Reasons   []reasonView
	Facts     []labelled
	Hazard    []labelled
	Flown     []labelled
	Earlier   []labelled
	Heights   *graphView
	Winds     *graphView
	WindTable []windLine
	Warnings  []string
	Rules     string
	Crew      *crewFlight
}

// reasonView is a limit and how the launch stands to it.
type reasonView struct {
	Class, Word        string
	What, Value, Limit string
}

// window1 is one launch time.
func (t *text) window1(k Week, i int, full bool) windowView {
	one := k.Windows[i]
	l := one.Launch
	v := windowView{
		Number: i, Heading: t.when(one.Time) + " from " + one.Site, Stamp: stamped(one.Time), Verdict: verdictOf(one),
		Best: len(k.Ranked) > 0 && k.Ranked[0] == i,
	}
	switch {
	case one.NotCovered != "":
		v.Missed = "Not covered: " + restate(one.NotCovered, t.units)
		return v
	case l.Landing == nil:
		v.Missed = "Not one of its flights landed within the forecast."
	case !full:
		v.Missed = fmt.Sprintf("Only the best %d launch times are told in full; of this one there is a line in the table.", PageWindows)
	}
	v.Reasons = t.reasons(l)
	if v.Missed != "" {
		return v
	}
	v.Lands = t.lands(l)
	v.Facts = append(t.record(func() { t.landing(l) }), labelled{"Weather", []string{t.weather(l.Weather)}})
	v.Hazard = t.record(func() { t.hazard(l) })
	v.Flown = t.record(func() { t.members(l.Members); t.endings(l); t.flown(l) })
	v.Earlier = t.record(func() { t.earlier(one) })
	v.Heights = t.heights(l)
	v.Winds, v.WindTable = t.windGraph(l)
	for _, sentence := range l.Warnings {
		if !slices.Contains(k.Warnings, sentence) {
			v.Warnings = append(v.Warnings, restate(sentence, t.units))
		}
	}
	if l.Rules != nil {
		v.Rules = rulesBrief(l.Rules)
	}
	v.Crew = t.crewFlight(l)
	return v
}

// reasons are all limits of a launch, the worst first.
func (t *text) reasons(l Launch) []reasonView {
	var all []reasonView
	for _, r := range l.Reasons {
		// With what it is of, so that a speed is known as a wind's.
		of := func(words string) string {
			words = strings.TrimPrefix(restate(r.What+": "+words, t.units), r.What+": ")
			return strings.ReplaceAll(words, " %", "\u00a0%")
		}
		all = append(all, reasonView{r.Verdict.String(), r.Verdict.String(), r.What, of(r.Value), of(r.Limit)})
	}
	return all
}

// crewView is the crew's sheet, but for what depends on the launch time.
type crewView struct {
	Plan      string
	Parts     []partLine
	Sum       string
	Fill      []string
	Batteries []string
	Trackers  []string
	Known     bool // the train was weighed
	Label     template.HTML
}

// partLine is a line of what is weighed.
type partLine struct{ Name, Mass string }

// crewFlight is what of the crew's sheet depends on the launch time.
type crewFlight struct {
	Heading, Stamp string
	Verdict        verdictView
	Times          []labelled
	Calls          []callLine
	Drives         []driveLine
	Lands          string
	Site           string
	People         []string
}

// callLine is a call to make; a number that is not known is left blank.
type callLine struct{ Whom, Number, When, Say string }

// driveLine is a way to drive.
type driveLine struct{ Who, From, To, Leaves, There string }

// crew is the crew's sheet, its train that of the best launch time.
func (t *text) crew(k Week) crewView {
	v := crewView{Plan: k.Plan}
	best, ok := k.Best()
	if !ok || best.Launch.Train == nil {
		return v
	}
	r := *best.Launch.Train
	v.Known = true
	for _, p := range r.Parts {
		name := p.Name
		if p.Count > 1 {
			name = fmt.Sprintf("%d × %s", p.Count, p.Name)
		}
		v.Parts = append(v.Parts, partLine{name, t.units.Mass(float64(p.Count) * p.Mass)})
	}
	v.Sum = t.units.Mass(r.Load.Mass)
	v.Fill = []string{
		fmt.Sprintf("filled until the neck pulls with %s: %s of %s at %s and %s", keep(t.units.Mass(r.Release.Pull)), keep(t.units.Volume(r.Gas.Volume)),
			gasWords(r.Gas.Gas), keep(t.units.Temperature(r.Gas.At.Temperature)), keep(t.units.Pressure(float64(r.Gas.At.Pressure)))),
	}
	if b := r.Bill; b != nil && b.Short <= 0 {
		v.Fill = append(v.Fill, fmt.Sprintf("gas: %d of %d cylinders opened, the last down to %s on its gauge", b.Opened, b.Cylinders, keep(t.units.Pressure(b.Last))))
	} else if b != nil {
		v.Fill = append(v.Fill, "gas: the cylinders at hand do not hold enough; find more")
	}
	for _, b := range r.Batteries {
		words := fmt.Sprintf("%s: %.0f\u00a0%% used after %s", b.Name, 100*b.Used, keep(t.units.Duration(b.Wanted)))
		if b.Used > 1 {
			words = fmt.Sprintf("%s: dead after %s of %s", b.Name, keep(t.units.Duration(b.Dies)), keep(t.units.Duration(b.Wanted)))
		}
		v.Batteries = append(v.Batteries, words)
	}
	for _, s := range r.Trackers {
		v.Trackers = append(v.Trackers, fmt.Sprintf("by %s, every %s", trackerWords[s.Kind], keep(t.units.Duration(s.Interval))))
	}
	return v
}

// crewFlight is the times, calls and ways of one launch.
func (t *text) crewFlight(l Launch) *crewFlight {
	d := l.Landing
	clock := func(at time.Time) string { return t.clock(at, l.Time) }
	v := &crewFlight{
		Heading: t.when(l.Time) + " from " + l.Site, Stamp: stamped(l.Time), Lands: t.lands(l), Site: position(l.At),
		Verdict: verdictOf(Window{Launch: l}),
		Times: []labelled{
			{"Crew there", []string{"at ____________, filling begins at ____________"}},
			{"Release", []string{clock(l.Time) + " (" + l.Time.UTC().Format("15:04 UTC") + ")"}},
		},
	}
	if p := l.Path; p != nil && p.Burst >= 0 && p.Burst < len(p.Points) {
		b := p.Points[p.Burst]
		v.Times = append(v.Times, labelled{"Burst", []string{fmt.Sprintf("about %s, at %s", clock(b.Time), keep(t.units.Altitude(b.Height)))}})
	}
	v.Times = append(v.Times, labelled{"Down", []string{fmt.Sprintf("about %s, nine times in ten from %s to %s", clock(d.Middle), clock(d.Early), clock(d.Late))}})
	a := l.Access
	if a != nil {
		light := "it is dark by then"
		if !a.Sunset.IsZero() {
			light = "sunset " + clock(a.Sunset)
		}
		if !a.Dusk.IsZero() {
			light += ", dark from " + clock(a.Dusk)
		}
		v.Times = append(v.Times, labelled{"Light", []string{light}})
		v.Drives = append(v.Drives, driveLine{
			Who: "Car to the landing", From: l.Site, Leaves: clock(l.Time),
			To:    position(d.MostLikely) + ", some " + keep(t.units.Distance(a.Drive)) + " by road",
			There: "not before " + clock(a.There),
		})
	}
	v.Drives = append(v.Drives, driveLine{Who: "Second car"}, driveLine{Who: "Stays at the site", From: l.Site, To: "keeps the telephone and the log"})
	v.Calls = t.callLines(l)
	v.People = people(l)
	return v
}

// pageTrain is the train of the best launch time, or why there is none.
func (t *text) pageTrain(k Week) (rows []labelled, note string) {
	best, ok := k.Best()
	if !ok {
		return nil, "No launch time has a landing, so that nothing is said of the train here."
	}
	if best.Launch.Train == nil {
		l := best.Launch
		return []labelled{{"Flown with", []string{fmt.Sprintf("up at %s, burst at %s, down at %s in the standard atmosphere at sea level",
				spread(l.Ascent, t.units.VerticalSpeed), spread(l.Burst, t.units.Altitude), spread(l.Fall, t.units.VerticalSpeed))}}},
			"The plan gives its rates and its burst as measured, and no weighed parts."
	}
	r := *best.Launch.Train
	rows = t.record(func() { t.train(r) })
	if r.Ending == balloon.Floats {
		note = "This train floats and does not burst. "
	}
	return rows, note + "Worked out in the air of the best launch time; another hour's air changes it by little."
}
