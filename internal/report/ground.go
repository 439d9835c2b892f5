package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/launch"
)

// Access is how hard it is to get to a landing, as far as roads and heights are
// known.
type Access struct {
	// Drive is an estimate of the way by car from the site to the most likely
	// landing, m: DriveFactor times the straight line.
	Drive float64
	// There is when a car that leaves the site at the release is there, at the
	// plan's speed, and not before nineteen of twenty flights are down; Sunset is
	// the first after that many are down, and Dusk the first end of civil twilight
	// after There; zero where it is dark by then.
	There, Sunset, Dusk time.Time
	Roads               []Road // one for each source of roads, of tracks
	// Slope is how steep the ground is at the most likely landing, degrees, where
	// Sloped says that it is known; and Fine says that finer heights than the
	// forecast model's say so.
	Slope        float64
	Sloped, Fine bool
}

// Contact is where a radio tracker on its way down to the most likely landing is
// lost to a receiver at the site.
type Contact struct {
	Antenna     float64 // m above the ground at the site
	AboveGround float64 // m above the ground under the payload; 0: heard to the ground
}

// DriveFactor is the length of a way by road over that of the straight line
// (common practice: 1.2 to 1.5).
const DriveFactor = 1.3

// Road is how far it is from landings to the nearest way of one source.
type Road struct {
	Name           string
	Median, Ninety float64 // m, that half of the landings and nine in ten of them are within
	Beyond         float64 // share of landings with none within ground.MaxReach
	Nearest        float64 // m, from the most likely landing, if Known
	Bearing        float64 // degrees, from there
	Known          bool
}

// verdict is what the plan's limits say.
func (t *text) verdict(l Launch) {
	if l.Verdict == launch.Unlimited {
		return
	}
	t.gap()
	words := map[launch.Verdict]string{
		launch.Go:       "go: within every limit of the plan",
		launch.Marginal: "marginal: nothing stands in the way for sure, and of this it is not sure that it does not",
		launch.NoGo:     "no-go: this stands in the way",
	}
	t.row("Verdict", "%s", words[l.Verdict])
	for _, r := range l.Reasons {
		if r.Verdict != launch.Go {
			t.row("  "+r.Verdict.String(), "%s", t.reason(r))
		}
	}
}

// reason is a reason in the units asked for; what it is of may be somebody's name
// and is left as it is.
func (t *text) reason(r launch.Reason) string {
	of := ""
	if strings.HasPrefix(r.What, "wind ") || strings.HasPrefix(r.What, "gusts ") {
		of = "wind "
	}
	in := func(words string) string { return strings.TrimPrefix(restate(of+words, t.units), of) }
	r.Value, r.Limit = in(r.Value), in(r.Limit)
	return strings.ReplaceAll(r.String(), " %", "\u00a0%")
}

// layers is the layers that some flight came down on, the worst first in the map's
// order, and whom to ask.
func (t *text) layers(h *hazard.Score) {
	label := "  layers"
	for _, l := range h.Layers {
		if l.Landing.Hits == 0 || l.Class == 0 {
			continue
		}
		t.row(label, "%s %s of landings; severity %.2g, %.1f\u00a0points", l.Name, percent(l.Landing), l.Severity, l.Points)
		label = ""
	}
	label = "  ask"
	for _, p := range h.Parcels {
		t.row(label, "%s (%s): %s of landings", p.Owner, p.Layer, percent(p.Landing))
		label = ""
	}
	if h.OtherParcels > 0 {
		t.row(label, "and %d more, each for fewer landings", h.OtherParcels)
	}
}

// access is how hard it is to get there.
func (t *text) access(l Launch) {
	a := l.Access
	if a == nil {
		return
	}
	parts := []string{fmt.Sprintf("some %s by car from the site (the straight line and three tenths more)", keep(t.units.Distance(a.Drive)))}
	parts = append(parts, t.roads(a)...)
	if a.Sloped && a.Fine { // a model's ground is smooth
		parts = append(parts, fmt.Sprintf("the ground slopes by %.0f° there", a.Slope))
	}
	t.row("Access", "%s", strings.Join(parts, "; "))
}

// roads is how far roads are, a line for each source.
func (t *text) roads(a *Access) (lines []string) {
	for _, r := range a.Roads {
		line := fmt.Sprintf("nearest of %s within %s for half of the landings, %s for nine in ten", r.Name, t.reach(r.Median), t.reach(r.Ninety))
		if r.Known {
			line += fmt.Sprintf("; %s toward %s from the most likely place", keep(t.units.Distance(r.Nearest)), bearing(r.Bearing))
		}
		lines = append(lines, line)
	}
	return lines
}

// reach is a distance to a way.
func (t *text) reach(metres float64) string {
	if math.IsInf(metres, 1) {
		return "more than " + keep(t.units.Distance(ground.MaxReach))
	}
	return keep(t.units.Distance(metres))
}

// contacts is where radio trackers are lost.
func (t *text) contacts(l Launch) {
	label := "Heard"
	for _, c := range l.Contacts {
		until := fmt.Sprintf("until some %s above the ground where it lands, and from there on only by who is nearer", keep(t.units.Altitude(c.AboveGround)))
		if c.AboveGround == 0 {
			until = "to the ground"
		}
		t.row(label, "by radio at the site, antenna %s up, %s (the horizon alone; trees and houses shorten it)", t.length(c.Antenna), until)
		label = ""
	}
}

// people is the expected number of people hit.
func (t *text) people(l Launch) {
	if l.PeopleHit != nil {
		t.row("People", "of a million such flights some %.2g would come down on somebody: a yardstick, no limit; everybody is taken to be out of doors and to stand still", 1e6**l.PeopleHit)
	}
}
