package hazard

import (
	"fmt"

	"example.org/thistledown/internal/ground"
)

// Score is the answer for one launch. Points are parts of the score and add up
// to it.
type Score struct {
	// Value is 0 to 100; meaningless where no flight landed, see NotLanded.
	Value float64
	// Low and High are its 95 % interval, made as that of a Probability: the
	// score is a share of the worst that a flight could meet here.
	Low, High float64
	// Worst is the score if all ground that some class was not assessed for had
	// severity 1. It is never below Value.
	Worst float64
	// NotLanded is the share of all flights that did not land within the
	// forecast.
	NotLanded Probability
	// Classes are the classes of ground, in ground's order.
	Classes []ClassShare
	// Layers are the map's layers, in its order.
	Layers []LayerShare
	// Parcels are the owners of land that the most flights came down on, the most
	// first, MaxParcels at most; OtherParcels is how many more there are.
	Parcels      []ParcelShare
	OtherParcels int
	// Crossings are the closed volumes of the map, in its order, also those that
	// no flight crossed.
	Crossings []Crossing
	// HalfWidth is half the widest 95 % interval of all these probabilities: of
	// NotLanded and OffNominal, of each class, its known landings and those not
	// assessed, of each layer and of each crossing; parcels are left out. What is not assessed does not widen it: flights more or less
	// tell nothing of that. 0 to 0.5, and 0.5 where no flight landed.
	HalfWidth float64
	// OffNominal are the flights among those that landed that did not go as
	// planned, and OffNominalPoints what of the score they make.
	OffNominal       Probability
	OffNominalPoints float64
	// Greatest is the single greatest contributor, in words; empty if there is
	// none.
	Greatest string
}

// ClassShare is one class of ground. Its shares are of the flights that landed.
type ClassShare struct {
	Class    ground.Class
	Severity float64
	// Landing is landings on it: Hits and Value those known to be, Low bounds
	// these from below, High these and those not assessed from above.
	Landing     Probability
	NotAssessed Probability // landings where no layer says whether they are
	Points      float64     // of the score, of landings on which no class is worse
}

// Assess scores flights that were drawn in the given number of scrambles of
// equal size, one after the other. The map is the one that the flights were met
// with; the severities must pass their Check. It panics if the flights do not
// divide into the scrambles, if the map has more than ground.MaxVolumes volumes or
// ground.MaxLayers layers, or if a flight crossed a volume or came down on a layer
// that is not in it, which are bugs of the caller.
func Assess(flights []Met, scrambles int, s Severity, m *ground.Map) Score {
	return assessed(flights, scrambles, s, m).score()
}

// assessed has taken in all flights.
func assessed(flights []Met, scrambles int, s Severity, m *ground.Map) *assessment {
	mustDivide(len(flights), scrambles)
	mustFit(len(m.Volumes))
	a := newAssessment(scrambles, s, m)
	for i, f := range flights {
		a.add(f, i*scrambles/len(flights))
	}
	return a
}

// assessment is a score under way.
type assessment struct {
	severity    Severity
	layered     *layered
	limit       float64 // the most that s can be
	notLanded   tally
	on, unknown [classes]tally
	maybe       [classes]tally // on it, or not assessed
	crossed     crossings
	s           mean    // over the flights that landed
	some, less  int     // flights of these with s over 0, with s under the limit
	worst       float64 // sum of s with unassessed ground at its worst
	groundPart  [classes]float64
	off         tally   // off-nominal among those that landed
	offPart     float64 // sum of their s
}

func newAssessment(scrambles int, s Severity, m *ground.Map) *assessment {
	a := &assessment{
		severity:  s,
		layered:   newLayered(scrambles, s, m.Layers),
		notLanded: newTally(scrambles),
		off:       newTally(scrambles),
		crossed:   newCrossings(m.Volumes, s.Air, scrambles),
		s:         mean{sums: make([]float64, scrambles), counts: make([]float64, scrambles)},
	}
	for c := range ground.Classes() {
		a.on[c], a.unknown[c], a.maybe[c] = newTally(scrambles), newTally(scrambles), newTally(scrambles)
	}
	a.limit = a.crossed.limit(a.layered.worst())
	return a
}

// add takes in one flight.
func (a *assessment) add(f Met, scramble int) {
	a.notLanded.add(scramble, !f.Landed)
	if !f.Landed {
		return
	}
	assessed := true
	for c := range ground.Classes() {
		a.on[c].add(scramble, f.Under.Has(c))
		a.unknown[c].add(scramble, !f.Assessed.Has(c))
		a.maybe[c].add(scramble, f.Under.Has(c) || !f.Assessed.Has(c))
		assessed = assessed && f.Assessed.Has(c)
	}
	a.layered.mustKnow(f)
	landing, by := a.layered.add(f, scramble)
	total := a.crossed.add(f, scramble, landing)
	a.s.sums[scramble] += total
	a.s.counts[scramble]++
	if total > 0 {
		a.some++
	}
	if total < a.limit {
		a.less++
	}
	a.off.add(scramble, f.OffNominal)
	if f.OffNominal {
		a.offPart += total
	}
	a.groundPart[by] += landing
	if !assessed {
		total = 1
	}
	a.worst += total
}

// score puts the sums together.
func (a *assessment) score() Score {
	out := Score{NotLanded: a.notLanded.probability(), OffNominal: a.off.probability()}
	for c := range ground.Classes() {
		landing := a.on[c].probability()
		landing.High = max(landing.High, a.maybe[c].probability().High)
		out.Classes = append(out.Classes, ClassShare{
			Class:       c,
			Severity:    a.severity.Ground[c],
			Landing:     landing,
			NotAssessed: a.unknown[c].probability(),
		})
	}
	out.HalfWidth = a.halfWidth()
	value, n := a.s.total()
	if n == 0 {
		out.High, out.Worst = 100, 100
		return out
	}
	out.Value = 100 * value
	out.Low, out.High = a.interval()
	out.Worst = 100 * max(a.worst/n, value) // max: the sums are rounded in different order
	for c := range out.Classes {
		out.Classes[c].Points = 100 * a.groundPart[out.Classes[c].Class] / n
	}
	out.Crossings = a.crossed.list(n)
	out.Layers = a.layered.shares(n)
	out.Parcels, out.OtherParcels = a.layered.owners(a.off.of)
	out.OffNominalPoints = 100 * a.offPart / n
	out.Greatest = out.greatest()
	return out
}

// halfWidth is Score.HalfWidth.
func (a *assessment) halfWidth() float64 {
	widest := max(a.notLanded.probability().HalfWidth(), a.off.probability().HalfWidth(), a.layered.halfWidth())
	for c := range ground.Classes() {
		for _, t := range [...]tally{a.on[c], a.unknown[c], a.maybe[c]} {
			widest = max(widest, t.probability().HalfWidth())
		}
	}
	return max(widest, a.crossed.halfWidth())
}

// interval is the score's 95 % interval: that of s as a share of its
// limit.
func (a *assessment) interval() (low, high float64) {
	if a.limit == 0 {
		return 0, 0
	}
	scaled := mean{sums: make([]float64, len(a.s.sums)), counts: a.s.counts}
	for r, sum := range a.s.sums {
		scaled.sums[r] = sum / a.limit
	}
	low, high = scaled.interval(a.some, a.less)
	return 100 * a.limit * low, 100 * a.limit * high
}

// landingOn says in words what coming down on a class is.
var landingOn = [classes]string{
	ground.Water:    "coming down in water",
	ground.Forest:   "coming down in forest",
	ground.BuiltUp:  "coming down among buildings",
	ground.Closed:   "coming down on closed ground",
	ground.Airfield: "coming down on an airfield",
	ground.Abroad:   "coming down across a border",
}

// greatest names the part of the score with the most points.
func (s Score) greatest() string {
	most, words := 0.0, ""
	for _, c := range s.Classes {
		if c.Points > most {
			most, words = c.Points, landingOn[c.Class]+s.mostly(c)
		}
	}
	for _, c := range s.Crossings {
		if c.Points > most {
			most, words = c.Points, "crossing "+c.Name
		}
	}
	switch {
	case most == 0:
		return ""
	case most < 0.05:
		return words + ": under 0.1 points"
	}
	return fmt.Sprintf("%s: %.1f of %.1f points", words, most, s.Value)
}

// mostly names the layer that makes half of a class's points or more, where the
// map has several of that class.
func (s Score) mostly(c ClassShare) string {
	several, name := 0, ""
	for _, l := range s.Layers {
		if l.Class != c.Class {
			continue
		}
		several++
		if l.Points > 0 && l.Points >= c.Points/2 && name == "" {
			name = " (" + l.Name + ")"
		}
	}
	if several < 2 {
		return ""
	}
	return name
}
