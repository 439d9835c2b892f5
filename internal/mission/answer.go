package mission

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
)

// endings counts how the flights ended.
func endings(outcomes []ensemble.Outcome, scrambles int) []report.Ending {
	var endings []report.Ending
	for end := range flight.Ends {
		hit := make([]bool, len(outcomes))
		for i, o := range outcomes {
			hit[i] = o.End == flight.End(end)
		}
		if share := hazard.Share(hit, scrambles); share.Hits > 0 {
			endings = append(endings, report.Ending{End: flight.End(end), Share: share})
		}
	}
	return endings
}

// courses counts how the flights went.
func courses(outcomes []ensemble.Outcome, scrambles int) []report.Course {
	var courses []report.Course
	for course := range ensemble.Courses {
		hit := make([]bool, len(outcomes))
		for i, o := range outcomes {
			hit[i] = int(o.Course) == course
		}
		if share := hazard.Share(hit, scrambles); share.Hits > 0 {
			courses = append(courses, report.Course{Course: ensemble.Course(course), Share: share})
		}
	}
	return courses
}

// builtIn is what the built-in ground lacks.
var builtIn = [...]string{
	"Built in are a coast at 1:10 million and lakes at 1:50 million: ponds and many lakes are not on them, and a shore can be off by a kilometre. Rivers are the wide ones, of an assumed width: trust the share of many landings, not one place.",
	"Towns are circles by the number of their people, airports large and medium ones with an assumed radius: villages, single houses, gliding and club fields are not among them, and there ground counts as not assessed.",
	"Borders are those of a map at 1:10 million, off by some hundreds of metres, and as they are held, not as they are claimed.",
}

// warnings are what the flights themselves give reason for.
func warnings(outcomes []ensemble.Outcome, p plan.Plan) []string {
	var sentences []string
	held, lost, above := 0, 0, 0
	for _, o := range outcomes {
		if o.Held {
			held++
		}
		if o.End != flight.Landed {
			lost++
		}
		if o.End == flight.AboveTop {
			above++
		}
	}
	if lost == len(outcomes) {
		sentences = append(sentences, "Not one flight landed within the forecast: it is too short, too small or too shallow for this launch.")
	} else if lost > 0 {
		sentence := fmt.Sprintf("%d of %d flights did not land within the forecast: what is said of the landing is said of the others, and those are not a fair choice of them all.", lost, len(outcomes))
		if above > 0 {
			sentence += " With forecast.hold_above_top flights go on above its highest level."
		}
		sentences = append(sentences, sentence)
	}
	if held > 0 {
		sentences = append(sentences, fmt.Sprintf(
			"%d of %d flights rose above the forecast's highest level; there that level's wind was held, with %g times the wind error.",
			held, len(outcomes), flight.HeldErrorFactor))
	}
	if math.IsNaN(p.WindError) {
		sentences = append(sentences, "The wind error is a default by height and the forecast's age, from scores remembered and not looked up: it may be a third too small or too large.")
	}
	if p.OffNominal.Sum() > 0 {
		sentences = append(sentences, "How often something breaks, and what then happens, is assumed: no source gives it.")
	}
	return append(sentences, builtIn[:]...)
}

// assess fills in where the flights that landed came down and what is there. It is
// given up once the context is done, whose error it has then.
func assess(ctx context.Context, l *report.Launch, outcomes []ensemble.Outcome, s flight.Scene, p plan.Plan, g *Ground) error {
	landed := landings(outcomes)
	if len(landed) == 0 {
		l.Verdict, l.Reasons = p.Limits.Judge(facts(l, p.Limits.Driving))
		return nil
	}
	met, err := metBy(ctx, outcomes)
	if err != nil {
		return err
	}
	score := hazard.Assess(met, l.Scrambles, severity(p.Severity), g.Map)
	l.Hazard = &score
	if err := ctx.Err(); err != nil {
		return err
	}
	points := make([]landing.Weighted, len(landed))
	for i, o := range landed {
		points[i] = landing.Weighted{At: o.At, Weight: 1}
	}
	distribution, err := landing.EstimateUnless(points, shares, ctx.Err)
	if err != nil {
		return err
	}
	if distribution.Few {
		l.Warnings = append(l.Warnings, fmt.Sprintf("The %d landings are too few, or scatter too little, for the regions to be more than rough; they are rather too large.", len(landed)))
	}
	distance, bearing, _ := geo.Inverse(p.Site.At, distribution.MostLikely)
	l.Landing = &report.Landing{Distribution: distribution, Distance: distance, Bearing: bearing}
	summarise(l.Landing, landed, s.Wind)
	l.Contacts = contacts(l, p, s.Terrain)
	l.Access = access(l, landed, g, s.Terrain)
	held := facts(l, p.Limits.Driving)
	l.Access.There, l.Access.Sunset, l.Access.Dusk = held.There, held.Sunset, held.Dusk
	l.Verdict, l.Reasons = p.Limits.Judge(held)
	if p.People != nil {
		hit := hazard.People(*p.People).Hit(met)
		l.PeopleHit = &hit
	}
	return nil
}

// often is how many flights are gone through before it is asked again whether to go on.
const often = 4096

// metBy is what flights met; the error is the context's.
func metBy(ctx context.Context, outcomes []ensemble.Outcome) ([]hazard.Met, error) {
	met := make([]hazard.Met, len(outcomes))
	for i := range outcomes {
		if i%often == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		met[i] = outcomes[i].Met
	}
	return met, nil
}

// landings are those of the flights that landed, as a rule all.
func landings(outcomes []ensemble.Outcome) []ensemble.Outcome {
	aloft := func(o ensemble.Outcome) bool { return o.End != flight.Landed }
	if !slices.ContainsFunc(outcomes, aloft) {
		return outcomes
	}
	return slices.DeleteFunc(slices.Clone(outcomes), aloft)
}

// summarise fills in times and means over the flights that landed.
func summarise(l *report.Landing, landed []ensemble.Outcome, f *wind.Field) {
	times := make([]float64, len(landed))
	n := float64(len(landed))
	for i, o := range landed {
		times[i] = o.Time
		l.Aloft += o.Aloft / n
		l.Burst += o.Burst / n
		l.Speed += o.Speed / n
	}
	slices.Sort(times)
	at := func(share float64) time.Time {
		s := times[int(share*float64(len(times)-1)+0.5)]
		return f.Start().Add(time.Duration(s * float64(time.Second)))
	}
	l.Early, l.Middle, l.Late = at(0.05), at(0.5), at(0.95)
}

func severity(s plan.Severity) hazard.Severity {
	var h hazard.Severity
	h.Ground[ground.Water], h.Ground[ground.Forest] = s.Water, s.Forest
	h.Ground[ground.BuiltUp], h.Ground[ground.Closed] = s.BuiltUp, s.Closed
	h.Ground[ground.Airfield], h.Ground[ground.Abroad] = s.Airfield, s.Abroad
	h.Air = s.Airspace
	return h
}
