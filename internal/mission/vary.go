package mission

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
)

// MaxVariants is how many plans one search may look at.
const MaxVariants = 4096

// What a plan that does not say what could be otherwise is varied in: its gas, from
// and to these shares of its own.
const (
	leastFill, mostFill = 0.8, 1.4
	fillSteps           = 7
)

// Variants are a plan, the first of them, and all that it says could be otherwise in
// every combination. The error is plan.Faults: of a train that was measured or
// whose envelope is looked for, of a part that the train does not have, or of too many.
func Variants(p plan.Plan) ([]plan.Plan, error) {
	if p.Train.Weighed == nil {
		return nil, notWeighed()
	}
	if p.Train.Weighed.Find != nil {
		return nil, plan.Faults{{
			Field: "train.find_envelope", Value: "an envelope that is looked for",
			Want: "one at hand, in train.envelope, and others in vary.envelopes: size says which is found",
		}}
	}
	g, err := gridOf(p)
	if err != nil {
		return nil, err
	}
	if n := g.size(); n > MaxVariants {
		return nil, plan.Faults{{
			Field: "vary", Value: fmt.Sprintf("%d plans", n), Want: fmt.Sprintf(
				"at most %d: now %d fills × %d envelopes × %d canopies × %d choices of what stays at home × %d launch times × %d sites",
				MaxVariants, len(g.fills), len(g.envelopes), len(g.canopies), g.subsets(), len(g.delays), len(g.sites)),
		}}
	}
	return g.plans(p), nil
}

// notWeighed is the fault of a train of which nothing can be worked out.
func notWeighed() plan.Faults {
	return plan.Faults{{
		Field: "train.measured", Value: "a train that was measured",
		Want: "weighed parts, envelope, gas and canopies: there is nothing to work out otherwise",
	}}
}

// grid is what could be otherwise, the plan's own first of each.
type grid struct {
	sites     []plan.Site
	delays    []time.Duration
	envelopes []balloon.Envelope
	canopies  []plan.OtherCanopy // the first is none, the plan's own stay
	leave     []string
	fills     []plan.Fill
}

// gridOf is what a plan says could be otherwise.
func gridOf(p plan.Plan) (grid, error) {
	v, w := p.Vary, p.Train.Weighed
	g := grid{
		sites: []plan.Site{p.Site}, delays: append([]time.Duration{0}, v.Delays...),
		envelopes: append([]balloon.Envelope{w.Envelope}, v.Envelopes...),
		canopies:  append([]plan.OtherCanopy{{}}, v.Canopies...),
		leave:     v.LeaveBehind, fills: []plan.Fill{w.Fill},
	}
	if v.Sites {
		g.sites = sites(p)
	}
	for i, name := range v.LeaveBehind {
		if err := hasPart(p, fmt.Sprintf("vary.leave_behind[%d]", i), name); err != nil {
			return grid{}, err
		}
	}
	for i, c := range v.Canopies {
		if c.InsteadOf == "" {
			continue
		}
		if err := hasPart(p, fmt.Sprintf("vary.canopies[%d].instead_of", i), c.InsteadOf); err != nil {
			return grid{}, err
		}
	}
	volumes := v.Volumes
	if g.size() == 1 && len(v.Volumes)+len(v.Bursts) == 0 {
		own, _, err := sized(p, nil)
		if err != nil {
			return grid{}, err
		}
		for i := range fillSteps {
			share := leastFill + (mostFill-leastFill)*float64(i)/(fillSteps-1)
			volumes = append(volumes, share*own.lifter.Filling.Volume(own.conditions(w)))
		}
	}
	for _, volume := range volumes {
		g.fills = append(g.fills, filling(plan.ByVolume, volume, w.Fill))
	}
	for _, burst := range v.Bursts {
		g.fills = append(g.fills, filling(plan.ByBurst, burst, w.Fill))
	}
	return g, nil
}

// filling is another amount of gas, as unsure as the plan's own.
func filling(by plan.FillBy, amount float64, own plan.Fill) plan.Fill {
	f := plan.Fill{By: by, Amount: quantity.Uncertain{Centre: amount, Spread: math.NaN()}, Spread: own.Spread}
	if own.By == plan.ByVolume && !math.IsNaN(own.Amount.Spread) {
		f.Spread = own.Amount.Spread / own.Amount.Centre
	}
	return f
}

// hasPart is the fault of a field that names a part that the train does not have.
func hasPart(p plan.Plan, field, name string) error {
	if slices.ContainsFunc(p.Train.Parts, func(part balloon.Part) bool { return part.Name == name }) {
		return nil
	}
	return plan.Faults{{Field: field, Value: fmt.Sprintf("%q", name), Want: "the name of one of train.parts"}}
}

func (g grid) subsets() int { return 1 << len(g.leave) }

// size is how many plans there are; each factor is bounded by the schema, and their
// product by 2^40.
func (g grid) size() int {
	return len(g.sites) * len(g.delays) * len(g.envelopes) * len(g.canopies) * g.subsets() * len(g.fills)
}

// plans is all of them, the fills of one train in one place next to each other.
func (g grid) plans(p plan.Plan) []plan.Plan {
	all := make([]plan.Plan, 0, g.size())
	for _, site := range g.sites {
		for _, delay := range g.delays {
			for _, envelope := range g.envelopes {
				for _, canopy := range g.canopies {
					for left := range g.subsets() {
						for _, fill := range g.fills {
							one := p
							one.Site, one.Launch = site, p.Launch.Add(delay)
							one.Train = g.train(p.Train, canopy, left)
							one.Train.Weighed.Envelope, one.Train.Weighed.Fill = envelope, fill
							all = append(all, one)
						}
					}
				}
			}
		}
	}
	return all
}

// train is a train with other canopies, if they are any, without the parts whose
// bits are set in left.
func (g grid) train(t plan.Train, other plan.OtherCanopy, left int) plan.Train {
	w := *t.Weighed
	t.Weighed = &w
	if other.Count > 0 {
		w.Canopies = []plan.Canopy{other.Canopy}
	}
	var parts []balloon.Part
	for _, part := range t.Parts {
		if i := slices.Index(g.leave, part.Name); i >= 0 && left>>i&1 == 1 {
			continue
		}
		if other.Count > 0 && part.Name == other.InsteadOf {
			part.Mass, part.Spread, part.Count = other.Mass.Centre, other.Mass.Spread, 1
		}
		parts = append(parts, part)
	}
	t.Parts = parts
	return t
}

// Outermost are those of some plans, of each launch time from each site, that are
// aloft for the shortest and for the longest: between them the others come down.
func Outermost(plans []plan.Plan) []plan.Plan {
	type start struct {
		at   geo.Point
		when int64
	}
	type ends struct {
		first, last       int
		shortest, longest float64
	}
	found := map[start]*ends{}
	var order []start
	for i, p := range plans {
		p = roughly(p)
		aloft := p.Burst.Centre * (1/p.Ascent.Centre + 1/p.Landing.Centre)
		s := start{p.Site.At, p.Launch.UnixNano()}
		e := found[s]
		if e == nil {
			e = &ends{i, i, aloft, aloft}
			found[s] = e
			order = append(order, s)
		}
		if aloft < e.shortest {
			e.first, e.shortest = i, aloft
		}
		if aloft > e.longest {
			e.last, e.longest = i, aloft
		}
	}
	var all []plan.Plan
	for _, s := range order {
		e := found[s]
		if all = append(all, plans[e.first]); e.last != e.first {
			all = append(all, plans[e.last])
		}
	}
	return all
}
