package mission

import (
	"slices"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
)

// Shared are those of some launches that a week has looked at, in their order.
func Shared(launches []plan.Plan, week report.Week) []plan.Plan {
	return slices.DeleteFunc(slices.Clone(launches), func(p plan.Plan) bool {
		return !slices.ContainsFunc(week.Windows, func(w report.Window) bool {
			return w.Time.Equal(p.Launch) && w.Site == p.Site.Name
		})
	})
}

// Compare puts what an earlier cycle says beside each launch time of a week. Cycles
// come in any order; each window has its newest first.
func Compare(week, earlier report.Week) report.Week {
	week.Windows = slices.Clone(week.Windows)
	for i := range week.Windows {
		now := &week.Windows[i]
		k := slices.IndexFunc(earlier.Windows, func(w report.Window) bool { return w.Time.Equal(now.Time) && w.Site == now.Site })
		if k < 0 || now.NotCovered != "" || now.Launch.Landing == nil {
			continue
		}
		then := earlier.Windows[k]
		e := report.Earlier{Cycle: earlier.Forecast.Cycle, NotCovered: then.NotCovered}
		if e.NotCovered == "" && then.Launch.Landing == nil {
			e.NotCovered = "no flight lands within it"
		}
		if e.NotCovered == "" {
			l := then.Launch
			e.Verdict, e.Score, e.Area80, e.MostLikely = l.Verdict, l.Hazard.Value, l.Area(0.8), l.Landing.MostLikely
			e.Moved, e.Toward, _ = geo.Inverse(e.MostLikely, now.Launch.Landing.MostLikely)
		}
		now.Earlier = append(slices.Clone(now.Earlier), e)
		slices.SortStableFunc(now.Earlier, func(a, b report.Earlier) int { return b.Cycle.Compare(a.Cycle) })
	}
	return week
}
