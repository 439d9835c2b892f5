package balloon

import (
	"fmt"
	"math"
)

// Calibrated is the lifter with its drag scaled, 0.1 to 10 times, so that it has
// a rate, AscentRate or RateNearGround: what an ascent of one's own teaches, its
// gas, its load and its air being known.
func (l Lifter) Calibrated(air Air, rate Wanted) (Lifter, error) {
	var w wants
	w.add("air", air.Check())
	w.add("lifter", l.Check())
	w.add("measured", rate.Check())
	if rate.Quantity != AscentRate && rate.Quantity != RateNearGround {
		w = append(w, fmt.Errorf("measured %s: want an ascent rate", rate.Quantity))
	}
	if err := w.err(); err != nil {
		return Lifter{}, err
	}
	s := &solving{air: air}
	law := l.Drag
	with := func(factor float64) (float64, bool) {
		l.Drag = law.Scaled(factor)
		filled, c := s.with(l, l.Filling.Moles)
		return rate.of(filled, c)
	}
	fastest, ok := with(0.1)
	slowest, _ := with(10)
	if !ok {
		return Lifter{}, fmt.Errorf("measured %s: this lifter does not rise to a burst", rate)
	}
	if !(rate.Value >= slowest && rate.Value <= fastest) {
		return Lifter{}, fmt.Errorf("measured %s: a tenth to ten times the drag gives %.3g to %.3g m/s; is the gas or the load right?", rate, slowest, fastest)
	}
	low, high := math.Log(0.1), math.Log(10)
	for range halvings {
		mid := (low + high) / 2
		if got, _ := with(math.Exp(mid)); got > rate.Value {
			low = mid
		} else {
			high = mid
		}
	}
	l.Drag = law.Scaled(math.Exp(high))
	if err := l.Drag.Check(); err != nil {
		return Lifter{}, fmt.Errorf("measured %s: %w", rate, err)
	}
	return l, nil
}
