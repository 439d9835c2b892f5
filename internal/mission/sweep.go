package mission

import (
	"errors"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
)

// A sweep tries sweepSide fills on each side of the plan's own, out to sweepReach
// of its free lift, or to sweepLeast of all that is lifted where that is more.
const (
	sweepSide  = 12
	sweepReach = 0.75
	sweepLeast = 0.1
)

// Sweep is what a plan's weighed train would do with other amounts of gas: evenly
// spaced free lifts around the plan's own, which is among them, up to what the
// envelope holds. Those that float are among them, those that do not leave the
// ground are not. The error is plan.Faults.
func Sweep(p plan.Plan, winds *wind.Field) ([]report.SweepPoint, error) {
	t, _, err := sized(p, winds)
	if err != nil {
		return nil, err
	}
	planned := t.lifter.At(t.air.Air[0].State).Free
	step := max(sweepReach*planned, sweepLeast*t.budget.Lifted().Mass) / sweepSide
	var points []report.SweepPoint
	for i := -sweepSide; i <= sweepSide; i++ {
		l, free := t.lifter, planned+float64(i)*step
		if i != 0 && free < leastFree {
			continue
		}
		if i != 0 {
			l, err = t.lifter.Fill(t.air.Air, balloon.Wanted{Quantity: balloon.FreeLift, Value: free})
		}
		var none *balloon.NoSolution
		if errors.As(err, &none) {
			break // it holds no more
		}
		if err != nil {
			return nil, err
		}
		point, err := t.filled(l, p.Train.Weighed)
		if err != nil {
			return nil, err
		}
		point.Planned = i == 0
		points = append(points, point)
	}
	return points, nil
}

// filled is what the train does with the gas in a lifter that leaves the ground.
func (t *trained) filled(l balloon.Lifter, w *plan.Weighed) (report.SweepPoint, error) {
	c := l.Ascend(t.air.Air, nil)
	end := c.Last()
	down, err := t.falls().TimeDown(t.air.Column(), end.Height, t.air.Air[0].Height)
	ground := l.At(t.air.Air[0].State)
	return report.SweepPoint{
		Gas: l.Filling.Volume(t.conditions(w)), Neck: ground.Pull, Free: ground.Free,
		Ascent: c.Mean(), Top: float64(end.Height), Aloft: end.Time + down, Floats: c.Ending == balloon.Floats,
		TooFull: l.Envelope.Fullest > 0 && ground.Volume > l.Envelope.Fullest,
	}, err
}
