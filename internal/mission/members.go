package mission

import (
	"context"
	"slices"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/report"
)

// byMember puts the members of a forecast side by side, and finds where each of
// their groups comes down; nil for a single forecast.
func byMember(ctx context.Context, outcomes []ensemble.Outcome, scenes int, site geo.Point) (*report.Members, error) {
	if scenes < 2 {
		return nil, nil //nolint:nilnil // no members are none to show, and no fault
	}
	m := &report.Members{Members: ensemble.ByMember(outcomes, scenes)}
	for _, numbers := range m.Groups {
		var points []landing.Weighted
		for _, o := range outcomes {
			if o.End == flight.Landed && slices.Contains(numbers, o.Scene) {
				points = append(points, landing.Weighted{At: o.At, Weight: 1})
			}
		}
		d, err := landing.EstimateUnless(points, shares, ctx.Err)
		if err != nil {
			return nil, err
		}
		g := report.Group{Numbers: numbers, MostLikely: d.MostLikely}
		g.Distance, g.Bearing, _ = geo.Inverse(site, d.MostLikely)
		m.Split = append(m.Split, g)
	}
	return m, nil
}
