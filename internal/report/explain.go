package report

import (
	"fmt"

	"example.org/thistledown/internal/ensemble"
)

// causeLabels are what causes are called in a table.
var causeLabels = map[ensemble.Cause]string{
	ensemble.AscentCause: "ascent", ensemble.BurstCause: "burst", ensemble.FallCause: "fall",
	ensemble.DelayCause: "delay", ensemble.MemberCause: "members", ensemble.WindCause: "wind", ensemble.BreakCause: "breaks",
	ensemble.DragCause: "drag up", ensemble.DiameterCause: "burst", ensemble.CanopyCause: "canopy",
	ensemble.GasCause: "gas", ensemble.MassCause: "scale", ensemble.RemainsCause: "remains",
}

// explanation says what makes the landings scatter.
func (t *text) explanation(e *ensemble.Explanation) {
	if e == nil {
		return
	}
	t.gap()
	switch {
	case e.Sound():
	case e.Rows < ensemble.ExplainRows/2:
		t.row("Why so wide", "not split by cause: of %d sets of flights only %d landed whole", ensemble.ExplainRows, e.Rows)
		return
	default:
		t.row("Why so wide", "nothing scatters")
		return
	}
	most := e.Effects[0]
	for _, effect := range e.Effects {
		if effect.First > most.First {
			most = effect
		}
	}
	t.row("Why so wide", "%s of the scatter's variance comes from %v alone; without it the scatter would be %s as wide",
		shareOf(most.First), most.Cause, shareOf(most.WidthWithout()))
	for _, effect := range e.Effects {
		t.row("  "+causeLabels[effect.Cause], "%s alone, %s with others",
			shareBetween(effect.First, effect.FirstError), shareBetween(effect.Total, effect.TotalError))
	}
	t.row("", "with others: also what it makes together with them; shares of the variance, which is the square of the width; the scatter is %s (root mean square distance from the mean landing)",
		keep(t.units.Distance(e.Spread)))
	if e.Rows < ensemble.ExplainRows {
		t.row("", "from %d of %d sets of flights: in the others one did not land", e.Rows, ensemble.ExplainRows)
	}
}

// shareOf is a share in whole per cent, within 0 to 100.
func shareOf(v float64) string {
	return keep(fmt.Sprintf("%.0f %%", 100*min(max(v, 0), 1)))
}

// shareBetween is a share with its 95 % interval.
func shareBetween(v, standardError float64) string {
	low, high := ensemble.Interval(v, standardError)
	return keep(fmt.Sprintf("%.0f %% (%.0f to %.0f)", 100*min(max(v, 0), 1), 100*low, 100*high))
}
