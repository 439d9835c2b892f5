package mission

import (
	"errors"
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
)

// fill puts the gas in.
func (t *trained) fill(w *plan.Weighed) error {
	field, want, err := t.wanted(w)
	if err != nil {
		return err
	}
	if want.Quantity == balloon.GasAmount {
		t.lifter.Filling.Moles = want.Value // whether it lifts anything is seen by its climb
		return nil
	}
	filled, err := t.lifter.Fill(t.air.Air, want)
	if err != nil {
		return trainFault(field, "", err)
	}
	t.lifter = filled
	return nil
}

// find is fill where the envelope, too, is looked for.
func (t *trained) find(w *plan.Weighed) error {
	_, first, err := t.wanted(w)
	if err != nil {
		return err
	}
	second := balloon.Wanted{Quantity: quantities[w.Find.By], Value: w.Find.Amount}
	var found balloon.Lifter
	if len(w.Find.Owned) > 0 {
		found, err = t.lifter.Pick(t.air.Air, w.Find.Owned, first, atmos.Geometric(second.Value))
	} else {
		found, err = t.lifter.Size(t.air.Air, balloon.Sizing{
			Makes: plan.Remembered, From: balloon.RememberedFrom, To: balloon.RememberedTo, First: first, Second: second,
		})
	}
	if err != nil {
		return trainFault(w.Find.Field(), "", err)
	}
	t.lifter, t.budget.Envelope, t.found = found, found.Envelope, true
	return nil
}

// quantities is what a plan says by the ways in which it says it.
var quantities = map[plan.FillBy]balloon.Quantity{
	plan.ByVolume: balloon.GasAmount, plan.ByWholeRack: balloon.GasAmount, plan.ByNeckLift: balloon.FreeLift,
	plan.ByFreeLift: balloon.FreeLift, plan.ByAscentRate: balloon.AscentRate, plan.ByBurst: balloon.BurstHeight,
}

// wanted is how much gas a plan wants, and where it says so.
func (t *trained) wanted(w *plan.Weighed) (field string, want balloon.Wanted, err error) {
	want = balloon.Wanted{Quantity: quantities[w.Fill.By], Value: w.Fill.Amount.Centre}
	switch w.Fill.By {
	case plan.ByVolume:
		field = "volume"
		want.Value = t.lifter.Filling.Filled(want.Value, t.conditions(w)).Moles
	case plan.ByWholeRack:
		if want.Value = usable(t.rack); want.Value <= 0 {
			return "", want, trainFault("train.gas.cylinders", "", errors.New("no gas above what stays in them: want fuller ones"))
		}
		field = "whole_rack"
	case plan.ByNeckLift:
		field = "neck_lift"
		pull := want.Value
		want.Value -= t.lifter.Load
		if want.Value < leastFree-1e-6 {
			return "", want, trainFault("train.gas.neck_lift", fmt.Sprintf("%.0f g of pull under %.0f g that hang on it", 1000*pull, 1000*t.lifter.Load), addLift(want.Value))
		}
	case plan.ByFreeLift:
		field = "free_lift"
	case plan.ByAscentRate:
		field = "ascent_rate"
	case plan.ByBurst:
		field = "bursts_near"
	}
	return "train.gas." + field, want, nil
}

// foundBy is what the envelope was found by; nil for one that is given.
func (t *trained) foundBy(w *plan.Weighed) *report.FoundEnvelope {
	if !t.found {
		return nil
	}
	f := &report.FoundEnvelope{Owned: len(w.Find.Owned)}
	amount := func(by plan.FillBy, v float64) {
		switch by {
		case plan.ByVolume:
			f.Gas = v
		case plan.ByWholeRack:
			f.Gas = t.lifter.Filling.Volume(t.conditions(w))
		case plan.ByNeckLift:
			f.Free = v - t.lifter.Load
		case plan.ByFreeLift:
			f.Free = v
		case plan.ByAscentRate:
			f.Rate = v
		case plan.ByBurst:
			f.Burst = v
		}
	}
	amount(w.Fill.By, w.Fill.Amount.Centre)
	amount(w.Find.By, w.Find.Amount)
	return f
}

// leastFree is the least free lift that a plan may ask for, kg.
const leastFree = 1e-3

// addLift is the fault of a free lift, kg, that is none: what takes it up by
// leastFree.
func addLift(free float64) error {
	return fmt.Errorf("it will not leave the ground: add %.0f g of lift or more", max(1, math.Ceil(1000*(leastFree-free)-1e-3)))
}
