package mission

import (
	"slices"
	"time"

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
	var said []Said
	for _, w := range earlier.Windows {
		said = append(said, Say(w))
	}
	return Recall(week, earlier.Forecast.Cycle, said)
}

// Said is what a cycle said of a launch time, as far as it is compared with another.
type Said struct {
	Site           string
	Launch         time.Time
	report.Earlier // without how far it moved, and the cycle
}

// Say is what a window says.
func Say(w report.Window) Said {
	s := Said{Site: w.Site, Launch: w.Time, Earlier: report.Earlier{NotCovered: w.NotCovered}}
	switch l := w.Launch; {
	case w.NotCovered != "":
	case l.Landing == nil:
		s.NotCovered = "no flight lands within it"
	default:
		s.Verdict, s.Score, s.Area80, s.MostLikely = l.Verdict, l.Hazard.Value, l.Area(0.8), l.Landing.MostLikely
	}
	return s
}

// Recall is Compare with what was written down of an earlier cycle.
func Recall(week report.Week, cycle time.Time, said []Said) report.Week {
	week.Windows = slices.Clone(week.Windows)
	for i := range week.Windows {
		now := &week.Windows[i]
		k := slices.IndexFunc(said, func(s Said) bool { return s.Launch.Equal(now.Time) && s.Site == now.Site })
		if k < 0 || now.NotCovered != "" || now.Launch.Landing == nil {
			continue
		}
		e := said[k].Earlier
		e.Cycle = cycle
		if e.NotCovered == "" {
			e.Moved, e.Toward, _ = geo.Inverse(e.MostLikely, now.Launch.Landing.MostLikely)
		}
		now.Earlier = append(slices.Clone(now.Earlier), e)
		slices.SortStableFunc(now.Earlier, func(a, b report.Earlier) int { return b.Cycle.Compare(a.Cycle) })
	}
	return week
}
