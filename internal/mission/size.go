package mission

import (
	"errors"
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
)

// Size is what follows from a plan's weighed train in the air that a forecast has
// over the site at launch. Without a forecast, or where it does not reach, that is
// the standard atmosphere, with a warning. The error is plan.Faults.
func Size(p plan.Plan, winds *wind.Field) (report.Train, error) {
	t, elsewhere, err := sized(p, winds)
	if err != nil {
		return report.Train{}, err
	}
	r, err := t.report(p)
	if elsewhere != nil {
		r.Warnings = append(r.Warnings, fmt.Sprintf("The forecast does not reach: %v.", elsewhere))
	}
	if err == nil && p.Rules != nil {
		r.Rules, err = held(p, ruled(p, &r))
	}
	return r, err
}

// sized fills a plan's weighed train in the air that Size speaks of. elsewhere, if
// not nil, is why that is not the forecast's.
func sized(p plan.Plan, winds *wind.Field) (t trained, elsewhere *NotCovered, err error) {
	if p.Train.Weighed == nil {
		return trained{}, nil, notWeighed()
	}
	air, err := airFor(p, winds)
	if errors.As(err, &elsewhere) {
		air, err = airFor(p, nil)
	}
	if err != nil {
		return trained{}, nil, err
	}
	t, err = train(p, air)
	return t, elsewhere, err
}

// airFor is the air over a plan's site.
func airFor(p plan.Plan, winds *wind.Field) (over, error) {
	if winds == nil {
		height := p.Site.Elevation
		if math.IsNaN(height) {
			height = 0
		}
		return standardAir(height)
	}
	scene := flight.Scene{Wind: winds, Terrain: terrain(winds)}
	height, _, err := elevation(p, scene)
	if err != nil {
		return over{}, err
	}
	start := p.Launch.Sub(winds.Start()).Seconds()
	if err := covered(winds, p, height, start); err != nil {
		return over{}, err
	}
	return airOver(scene, p, height, start)
}

// report is the train as it is shown.
func (t *trained) report(p plan.Plan) (report.Train, error) {
	w := p.Train.Weighed
	p = t.moves(p)
	end := t.climb.Last()
	at := t.conditions(w)
	r := report.Train{
		Plan: p.Name, Site: p.Site.Name,
		Parts: p.Train.Parts, Envelope: t.lifter.Envelope, Found: t.foundBy(w),
		Load: t.budget.Load(), Lifted: t.budget.Lifted(), Falling: t.budget.Falling(), Landing: t.budget.Landing(),
		Standard: t.air.standard, Ground: t.air.Air[0], Top: t.air.top,
		Gas: report.GasAmount{
			Gas: t.lifter.Filling.Gas, Moles: t.lifter.Filling.Moles, Mass: t.lifter.Filling.Mass(),
			Volume: t.lifter.Filling.Volume(at), At: at, Spread: t.gas,
		},
		Release: t.lifter.At(t.air.Air[0].State),
		Ascent:  report.Spread(p.Ascent), Burst: report.Spread(p.Burst), Fall: report.Spread(p.Landing),
		NearGround: t.climb.NearGround(), Ending: t.climb.Ending, BurstAt: end.Diameter,
		Up: end.Time, Drag: t.area, Heights: passings(t.climb),
	}
	for _, warning := range t.lifter.Warnings(t.air.Air) {
		r.Warnings = append(r.Warnings, sentence(warning.Text))
		if against, ok := hinders(warning); ok {
			r.Hinders = append(r.Hinders, against)
		}
	}
	if t.air.standard && math.IsNaN(p.Site.Elevation) {
		r.Warnings = append(r.Warnings, "The plan does not say how high the site is, and no forecast or heights do: it is taken to be at sea level.")
	}
	if t.air.standard {
		r.Warnings = append(r.Warnings, "The air is the standard atmosphere, not a forecast's: its density aloft may be a tenth off.")
	} else if t.air.top < end.Height {
		r.Warnings = append(r.Warnings, fmt.Sprintf("The forecast ends at %.0f m: above, the standard atmosphere is taken to go on from there.", float64(t.air.top)))
	}
	for _, c := range t.causes(w) {
		r.Causes = append(r.Causes, report.TrainCause{
			Name: c.name, Spread: fmt.Sprintf(c.format, c.spread), Ascent: c.ascent, Burst: c.burst, Fall: c.fall,
		})
	}
	if err := t.comesDown(&r, w); err != nil {
		return report.Train{}, err
	}
	if err := t.pays(&r, w); err != nil {
		return report.Train{}, err
	}
	return r, t.lasts(&r, p)
}

// sentence makes a sentence of a clause.
func sentence(clause string) string {
	if clause == "" {
		return clause
	}
	return string(clause[0]-'a'+'A') + clause[1:] + "."
}

// passings is a climb every few kilometres, and its end.
func passings(c balloon.Climb) []report.Passing {
	const every = 5000.0 // m
	end := c.Last()
	var all []report.Passing
	for z := math.Ceil(float64(c.Steps[0].Height)/every+0.1) * every; z < float64(end.Height)-every/2; z += every {
		if speed, time, ok := c.At(atmos.Geometric(z)); ok {
			all = append(all, report.Passing{Height: atmos.Geometric(z), Time: time, Speed: speed})
		}
	}
	return append(all, report.Passing{Height: end.Height, Time: end.Time, Speed: end.Speed})
}

// comesDown fills in the fall and its end.
func (t *trained) comesDown(r *report.Train, w *plan.Weighed) error {
	ground := t.air.Air[0]
	down, err := t.falls().TimeDown(t.air.Column(), t.climb.Last().Height, ground.Height)
	if err != nil {
		return fmt.Errorf("time down: %w", err)
	}
	r.Down = down
	lands := balloon.Descent{Mass: r.Landing.Mass, DragArea: t.area}
	for _, way := range [...]struct {
		name  string
		share float64 // of the drag area
	}{
		{"as planned", 1},
		{"canopy fouled", ensemble.FouledShare},
		{"canopy fails", 1 / (ensemble.CanopyFailsFactor * ensemble.CanopyFailsFactor)},
	} {
		d := lands
		d.DragArea *= way.share
		speed := d.Speed(ground.Density)
		r.Landings = append(r.Landings, report.Touchdown{Name: way.name, Speed: speed, Energy: d.Energy(speed, 0)})
	}
	// The hardest opening that is likely: one that sticks until low down.
	opening := balloon.Opening{Mass: r.Landing.Mass, Canopy: w.Canopies[0].Canopy, Density: ground.Density, Speed: r.Landings[2].Speed}
	if len(w.Canopies) > 1 {
		return nil // several kinds share it in no known way
	}
	r.Opening, err = opening.Load()
	if err != nil {
		return fmt.Errorf("opening: %w", err)
	}
	return nil
}

// pays fills in what the gas takes out of the cylinders.
func (t *trained) pays(r *report.Train, w *plan.Weighed) error {
	if len(t.rack.Cylinders) == 0 {
		return nil
	}
	bill, err := t.rack.Draw(t.lifter.Filling.Moles)
	if err != nil {
		return trainFault("train.gas.cylinders", "", err)
	}
	i := 0 // each kind of cylinder has its own price
	for _, kind := range w.Cylinders {
		for range kind.Count {
			if i < bill.Opened {
				bill.Cost.Amount += kind.Price.Amount
				bill.Cost.Currency = kind.Price.Currency
			}
			i++
		}
	}
	r.Bill = &report.Bill{Cylinders: len(t.rack.Cylinders), Bill: bill, Usable: usable(t.rack)}
	if bill.Opened > 0 {
		r.Bill.Last = float64(bill.Left[bill.Opened-1].Pressure.Gauge(balloon.AbsolutePressure(t.air.Air[0].Pressure)))
	}
	if bill.Short > 0 {
		at := t.conditions(w)
		enough := t.lifter.Filling
		enough.Moles -= bill.Short
		r.Hinders = append(r.Hinders, launch.Reason{
			Verdict: launch.NoGo, What: "gas for the fill",
			Value: fmt.Sprintf("%.2f m³", t.lifter.Filling.Volume(at)), Limit: fmt.Sprintf("the %.2f m³ that the cylinders give", enough.Volume(at)),
		})
		r.Warnings = append(r.Warnings, fmt.Sprintf("The cylinders lack %.0f %% of what the fill takes, and all that is said here needs the whole fill: with whole_rack in the plan it is worked out for what they give.", 100*bill.Short/t.lifter.Filling.Moles))
	}
	return nil
}

// lasts fills in the batteries and trackers.
func (t *trained) lasts(r *report.Train, p plan.Plan) error {
	moments := make([]balloon.Moment, 0, 2*len(t.climb.Steps))
	for _, s := range t.climb.Steps {
		moments = append(moments, balloon.Moment{Time: s.Time, Height: s.Height})
	}
	column, falls := t.air.Column(), t.falls()
	end := t.climb.Last()
	for i := len(t.climb.Steps) - 2; i >= 0; i-- {
		time, err := falls.TimeDown(column, end.Height, t.climb.Steps[i].Height)
		if err != nil {
			return fmt.Errorf("time down: %w", err)
		}
		moments = append(moments, balloon.Moment{Time: end.Time + time, Height: t.climb.Steps[i].Height})
	}
	for _, b := range p.Train.Batteries {
		endurance, err := b.Over(t.stays(moments, p, b))
		if err != nil {
			return fmt.Errorf("battery %q: %w", b.Name, err)
		}
		if endurance.Used > 1 {
			r.Warnings = append(r.Warnings, fmt.Sprintf("The battery of %q does not last.", b.Name))
		}
		r.Batteries = append(r.Batteries, report.BatteryLife{Name: b.Name, Endurance: endurance})
	}
	for _, tracker := range p.Train.Trackers {
		blind, err := tracker.Blind(moments)
		if err != nil {
			return fmt.Errorf("tracker: %w", err)
		}
		r.Trackers = append(r.Trackers, report.TrackerSight{
			Kind: tracker.Kind, Interval: tracker.Interval, Reports: tracker.Reports(r.Up + r.Down), Blind: blind,
			Apart: tracker.Spacing(r.Landings[0].Speed, 0),
		})
	}
	trackers := make([]balloon.Tracker, len(p.Train.Trackers))
	for i, tracker := range p.Train.Trackers {
		trackers[i] = tracker.Tracker
	}
	for _, c := range balloon.Cautions(trackers, end.Height) {
		r.Cautions = append(r.Cautions, sentence(c.Text))
	}
	return nil
}

// stays is how warm a battery is from when it is switched on until it is found.
func (t *trained) stays(moments []balloon.Moment, p plan.Plan, b plan.Battery) []balloon.Stay {
	const coldest, warmest = 173.15, 333.15 // K, that a battery is asked about
	limit := func(k float64) float64 { return min(max(k+b.Warmer, coldest), warmest) }
	ground := limit(t.air.Air[0].Temperature)
	stays := []balloon.Stay{{Time: p.Train.Waiting, Temperature: ground}}
	for i := 1; i < len(moments); i++ {
		middle := (moments[i-1].Height + moments[i].Height) / 2
		air, ok := t.air.At(middle)
		if !ok {
			air = t.air.Air[0]
		}
		stays = append(stays, balloon.Stay{Time: moments[i].Time - moments[i-1].Time, Temperature: limit(air.Temperature)})
	}
	if b.UntilFound {
		stays = append(stays, balloon.Stay{Time: p.Train.Searching, Temperature: ground})
	}
	return stays
}
