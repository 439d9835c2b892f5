package report

import (
	"fmt"
	"io"
	"math"
	"sort"
	"strings"
	"time"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/quantity"
)

// toldRejected is how many fixes that are not believed are told of one by one, and
// toldCells how many cells.
const toldRejected, toldCells = 6, 20

// WriteChase writes for reading, on a phone, where a flight under way comes down.
func WriteChase(w io.Writer, c Chase, units quantity.System) error {
	t := text{units: units, zone: c.Launch.Zone, slim: true}
	t.b.WriteString(c.Launch.Plan + "\n\n")
	t.chase(c)
	return t.end(w, c.Launch)
}

// WriteSearch writes for reading where to look for a payload.
func WriteSearch(w io.Writer, s Search, units quantity.System) error {
	t := text{units: units, zone: s.Launch.Zone, slim: true}
	t.b.WriteString(s.Launch.Plan + "\n\n")
	t.cells(s)
	t.gap()
	t.chase(s.Chase)
	return t.end(w, s.Launch)
}

// end writes a page with what must be known besides.
func (t *text) end(w io.Writer, l Launch) error {
	t.minded(l.Warnings)
	t.paragraphs("Always", l.Cautions)
	_, err := io.WriteString(w, strings.ReplaceAll(t.b.String(), "\u00a0", " "))
	return err
}

// chase is what is known of a flight.
func (t *text) chase(c Chase) {
	last := c.Last()
	t.row("Last seen", "%s at %s, %s, %s", c.Phase, keep(t.units.Altitude(last.Height)), spot(last.At), t.when(last.Time))
	t.gap()
	t.comingDown(c)
	t.gap()
	t.goingOn(c)
	t.fixes(c)
	if h := c.Launch.Hazard; h != nil && c.Launch.Landing != nil {
		t.gap()
		label := "There is"
		for i, class := range h.Classes {
			if class.Landing.Hits == 0 {
				continue
			}
			t.row(label, "%s: %s%s", strings.ReplaceAll(class.Class.String(), "_", "-"), classShare(class), memberError(c.Launch.Members, i, class))
			label = ""
		}
		if label != "" {
			t.row(label, "nothing known that landings are on, as far as layers cover them")
		}
		t.layers(h)
		for _, line := range t.roads(c.Launch.Access) {
			t.row("Roads", "%s", line)
		}
	}
	t.gap()
	for i, e := range c.Launch.Endings {
		label := ""
		if i == 0 {
			label = "Flights"
		}
		t.row(label, "%d of %d %s (%s)", e.Share.Hits, e.Share.Of, e.End, percent(e.Share))
	}
	t.flown(c.Launch)
}

// comingDown is where and when.
func (t *text) comingDown(c Chase) {
	d := c.Launch.Landing
	switch {
	case d == nil:
		t.row("Comes down", "not one flight on from there landed within the forecast")
		return
	case c.Phase == ensemble.Down:
		t.row("Is down", "near %s, %s from the launch toward %s", spot(d.MostLikely), keep(t.units.Distance(d.Distance)), bearing(d.Bearing))
	default:
		t.row("Comes down", "most likely near %s", spot(d.MostLikely))
		t.row("", "%s from there toward %s; %s from the launch toward %s",
			keep(t.units.Distance(c.Distance)), bearing(c.Bearing), keep(t.units.Distance(d.Distance)), bearing(d.Bearing))
		t.row("", "about %s, nine times in ten from %s to %s", t.clock(d.Middle, d.Middle), t.clock(d.Early, d.Middle), t.clock(d.Late, d.Middle))
	}
	t.row("How sure", "%s", t.regions(c.Launch))
	t.row("", "95 %% within %s of the most likely place", keep(t.units.Distance(d.Radius95)))
}

// goingOn is how the flight goes on, and what may have gone wrong.
func (t *text) goingOn(c Chase) {
	switch c.Phase {
	case ensemble.Climbing:
		if c.Rise.Centre > 0 {
			t.row("Goes on", "up at %s, burst at %s, down at %s at sea level",
				spread(c.Rise, t.units.VerticalSpeed), spread(c.Burst, t.units.Altitude), spread(c.Fall, t.units.VerticalSpeed))
		}
	case ensemble.Hanging:
		t.row("Goes on", "it hangs, for nobody knows how long; then down at %s at sea level", spread(c.Fall, t.units.VerticalSpeed))
	case ensemble.Falling:
		t.row("Goes on", "down at %s at sea level, after a burst near %s",
			spread(c.Fall, t.units.VerticalSpeed), spread(c.Burst, t.units.Altitude))
	case ensemble.Down:
	}
	var wrong []string
	for _, course := range c.Launch.Courses {
		if course.Course != ensemble.Nominal && course.Share.Value >= 0.02 {
			wrong = append(wrong, fmt.Sprintf("%s %.0f\u00a0%%", courseWords[course.Course], 100*course.Share.Value))
		}
	}
	if len(wrong) > 0 {
		t.row("Perhaps", "%s, by what was seen", strings.Join(wrong, ", "))
	}
	if len(c.Members) > 1 {
		t.row("Members", "%s", likelyMembers(c.Members))
	}
}

// likelyMembers are those members that fit best what was seen.
func likelyMembers(shares []float64) string {
	order := make([]int, len(shares))
	effective := 0.0
	for i, s := range shares {
		order[i] = i
		effective += s * s
	}
	sort.SliceStable(order, func(a, b int) bool { return shares[order[a]] > shares[order[b]] })
	var best []string
	for _, i := range order[:min(3, len(order))] {
		best = append(best, fmt.Sprintf("%d (%.0f\u00a0%%)", i+1, 100*shares[i]))
	}
	return fmt.Sprintf("%s fit best what was seen; together as good as %.0f of %d", strings.Join(best, ", "), math.Round(1/effective), len(shares))
}

// fixes is which of them are believed.
func (t *text) fixes(c Chase) {
	t.row("Fixes", "%d believed of %d", len(c.Seen), c.Given)
	for _, f := range c.Rejected[:min(len(c.Rejected), toldRejected)] {
		t.row("", "number %d, %s at %s, is not: it %s", f.Number+1, t.when(f.Time), keep(t.units.Altitude(f.Height)), f.Why)
	}
	if more := len(c.Rejected) - toldRejected; more > 0 {
		t.row("", "nor are %d more", more)
	}
}

// cells is where to look, in order.
func (t *text) cells(s Search) {
	if len(s.Cells) == 0 {
		t.row("Look", "nowhere: not one flight on from the last fix landed within the forecast")
		return
	}
	t.row("Look", "in squares of %s, in this order; sides run north and east", keep(t.units.Distance(s.Side)))
	if s.Searched > 0 {
		t.row("", "where it was looked for it would have been found by now with %.0f\u00a0%%", 100*s.Searched)
	}
	for i, c := range s.Cells[:min(len(s.Cells), toldCells)] {
		line := fmt.Sprintf("%s: %.1f\u00a0%%, so far %.0f\u00a0%%; %s toward %s from the last fix",
			spot(c.Middle), 100*c.Share, 100*c.Contained, keep(t.units.Distance(c.Distance)), bearing(c.Bearing))
		var what []string
		for _, class := range c.On {
			what = append(what, strings.ReplaceAll(class.String(), "_", "-"))
		}
		if len(what) > 0 {
			line += "; on " + strings.Join(what, ", ")
		}
		if len(c.Owners) > 0 {
			line += "; ask " + strings.Join(c.Owners, ", ")
		}
		t.row(fmt.Sprintf("%5d", i+1), "%s", line)
	}
	if more := len(s.Cells) - toldCells; more > 0 {
		t.row("", "and %d more until %.0f\u00a0%%: see the files that --out writes", more, 100*s.Cells[len(s.Cells)-1].Contained)
	}
}

// WriteChaseLine writes what is known of a flight under way in one line.
func WriteChaseLine(w io.Writer, c Chase, units quantity.System) error {
	t := text{units: units, zone: c.Launch.Zone}
	last := c.Last()
	zone := t.zone
	if zone == nil {
		zone = time.UTC
	}
	line := fmt.Sprintf("%s %s at %s", last.Time.In(zone).Format("15:04:05"), c.Phase, units.Altitude(last.Height))
	switch d := c.Launch.Landing; {
	case d == nil:
		line += ": does not come down within the forecast"
	case c.Phase == ensemble.Down:
		line += ": is down near " + spot(d.MostLikely)
	default:
		line += fmt.Sprintf(": down near %s about %s, 95 %% within %s", spot(d.MostLikely), d.Middle.In(zone).Format("15:04"), units.Distance(d.Radius95))
	}
	if n := len(c.Rejected); n > 0 {
		line += fmt.Sprintf("; %d of %d fixes not believed", n, c.Given)
	}
	_, err := io.WriteString(w, strings.ReplaceAll(line, "\u00a0", " ")+"\n")
	return err
}

// spot is a place to some 10 m: it is driven to.
func spot(p geo.Point) string { return coordinates(p, 4) }
