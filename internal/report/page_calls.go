package report

import (
	"fmt"
	"math"
	"time"
)

// The crew's times before the launch (common practice).
const (
	beforeCall  = time.Hour        // of the day's calls
	beforeAgain = 10 * time.Minute // of the last one
)

// How many airfields and owners of land the crew's sheet names.
const (
	calledFields = 6
	calledOwners = 5
)

// callLines are the calls to make about a launch.
func (t *text) callLines(l Launch) []callLine {
	clock := func(at time.Time) string { return t.clock(at, l.Time) }
	d := l.Landing
	early := clock(l.Time.Add(-beforeCall))
	say := fmt.Sprintf("release %s, down by %s near %s", clock(l.Time), clock(d.Late), position(d.MostLikely))
	const same = "the same"
	again := clock(l.Time.Add(-beforeAgain)) + ", at the release, and once it is down"
	var lines []callLine
	var known Calls
	if l.Calls != nil {
		known = *l.Calls
	}
	told := false
	for _, o := range known.Offices {
		if o.Notified {
			told = true
			lines = append(lines, callLine{o.Name, o.Telephone, "as its notice asks, and " + early + "; " + again, say})
		}
	}
	if !told {
		lines = append(lines, callLine{Whom: "Air traffic unit", When: "the day before, and " + early + "; " + again, Say: say})
	}
	for _, o := range known.Offices {
		if !o.Notified {
			lines = append(lines, callLine{o.Name, o.Telephone, early, same})
		}
	}
	for _, a := range known.Nearby[:min(len(known.Nearby), calledFields)] {
		lines = append(lines, callLine{a.Name, a.Telephone, early, same + "; " + t.nearest(a)})
	}
	lines = append(
		lines,
		callLine{Whom: "Other airfields near the site, the path and the landing", When: early, Say: same},
		callLine{Whom: "Owner of the site", When: "the day before", Say: "when, and how many people"},
	)
	if h := l.Hazard; h != nil {
		for _, p := range h.Parcels[:min(len(h.Parcels), calledOwners)] {
			lines = append(lines, callLine{Whom: p.Owner, When: "before anybody goes there", Say: percent(p.Landing) + " of landings are on this land"})
		}
	}
	return append(lines, callLine{Whom: "Owner of the land where it is down", When: "before anybody goes there", Say: "what it is, and when you come"})
}

// nearest says which of site, path and landing an airfield is nearest to.
func (t *text) nearest(a Aerodrome) string {
	words, best := "", math.Inf(1)
	for _, c := range []struct {
		away Away
		what string
	}{{a.Site, "the site"}, {a.Landing, "the most likely landing"}, {a.Path, "the path"}} {
		if c.away.Distance < best {
			words, best = fmt.Sprintf("it is %s toward %s from %s", keep(t.units.Distance(c.away.Distance)), bearing(c.away.Bearing), c.what), c.away.Distance
		}
	}
	return words
}

// people are the crew as the plan names it.
func people(l Launch) []string {
	if l.Calls == nil {
		return nil
	}
	var all []string
	for _, p := range l.Calls.People {
		words := p.Name
		for _, more := range [...]string{p.Role, p.Telephone} {
			if more != "" {
				words += ", " + more
			}
		}
		all = append(all, words)
	}
	return all
}
