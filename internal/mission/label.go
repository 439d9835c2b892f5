package mission

import (
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rules"
)

// Label is the label of a plan's payload. The error is plan.Faults: of a plan
// without rules, or without two people to call.
func Label(p plan.Plan) (report.Label, error) {
	const people = 2
	if err := p.Named(people); err != nil {
		return report.Label{}, err
	}
	r := p.Rules
	l := report.Label{
		Owner: r.Owner, Reward: r.Reward, Identification: r.Identification, Site: p.Site.Name,
		Launch: p.Launch, Zone: p.Site.Zone, Weather: r.Flight.Meteorological == rules.Yes,
	}
	for i := range people {
		l.People[i] = report.Person(r.People[i])
	}
	if l.Owner == "" {
		l.Owner = r.People[0].Name
	}
	return l, nil
}
