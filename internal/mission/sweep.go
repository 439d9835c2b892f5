package mission

import (
	"errors"
	"math"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
)

// sweepPoints is how many fills a sweep tries.
const sweepPoints = 25

// Sweep is what a plan's weighed train would do with other amounts of gas: evenly
// spaced free lifts from a tenth of all that is lifted to as much as that, or to
// what the envelope holds. Those that float are among them, those that do not
// leave the ground are not. The error is plan.Faults.
func Sweep(p plan.Plan, winds *wind.Field) ([]report.SweepPoint, error) {
	t, _, err := sized(p, winds)
	if err != nil {
		return nil, err
	}
	air, lifted, planned := t.air, t.budget.Lifted().Mass, t.lifter.At(t.air.Air[0].State).Free
	var points []report.SweepPoint
	at := t.conditions(p.Train.Weighed)
	for i := range sweepPoints {
		free := lifted * (0.1 + 0.9*float64(i)/(sweepPoints-1))
		l, err := t.lifter.Fill(air.Air, balloon.Wanted{Quantity: balloon.FreeLift, Value: free})
		var none *balloon.NoSolution
		if errors.As(err, &none) {
			break // it holds no more
		}
		if err != nil {
			return nil, err
		}
		c := l.Ascend(air.Air, nil)
		end := c.Last()
		if c.Ending == balloon.BurstsEarly {
			break
		}
		down, err := t.falls().TimeDown(air.Column(), end.Height, air.Air[0].Height)
		if err != nil {
			return nil, err
		}
		point := report.SweepPoint{
			Gas: l.Filling.Volume(at), Neck: free + t.lifter.Load, Free: free,
			Ascent: c.Mean(), Top: float64(end.Height), Aloft: end.Time + down, Floats: c.Ending == balloon.Floats,
			Planned: math.Abs(free-planned) < lifted*0.9/(sweepPoints-1)/2,
		}
		if full := l.Envelope.Fullest; full > 0 {
			point.TooFull = l.At(air.Air[0].State).Volume > full
		}
		points = append(points, point)
	}
	return points, nil
}
