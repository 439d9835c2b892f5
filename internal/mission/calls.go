package mission

import (
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
)

// calls is whom to call about a launch, as far as the plan says and the built-in
// airfields go; none are told as near to a launch without a path.
func calls(p plan.Plan, l report.Launch) (*report.Calls, error) {
	c := &report.Calls{}
	if p.Rules == nil {
		p.Rules = &plan.Regulations{}
	}
	for _, person := range p.Rules.People {
		c.People = append(c.People, report.Person(person))
	}
	for _, o := range p.Rules.Offices {
		c.Offices = append(c.Offices, report.NoticeOffice{Name: o.Name, Telephone: o.Telephone, Notified: o.Notified})
	}
	if l.Path == nil {
		return c, nil
	}
	near, err := nearby(p, l)
	for _, a := range near {
		if a.Size != "" { // else it is one of the offices
			c.Nearby = append(c.Nearby, a)
		}
	}
	return c, err
}
