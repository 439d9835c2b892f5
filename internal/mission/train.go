package mission

import (
	"fmt"
	"math"
	"strings"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/wind"
)

// airTop is how high the air over a site has to reach: over the highest burst.
const airTop = 52e3 // m

// over is the air over a site.
type over struct {
	balloon.Air                 // from the site's ground up to airTop or more
	top         atmos.Geometric // up to which the forecast has it
	standard    bool            // it is the standard atmosphere
}

// standardAir is the standard atmosphere over a height.
func standardAir(height float64) (over, error) {
	air, err := balloon.StandardAir(0, airTop, airStep)
	if err != nil {
		return over{}, err
	}
	bottom, ok := atmos.Standard(atmos.Geometric(height))
	if !ok {
		return over{}, fmt.Errorf("site at %g m: want a height within the standard atmosphere", height)
	}
	return over{Air: above(air, balloon.Layer{Height: atmos.Geometric(height), State: bottom}), standard: true}, nil
}

// airStep is the distance of two levels of the air over a site, m.
const airStep = 1000.0

// above is the air from a layer upward, without levels that lie close over it.
func above(air balloon.Air, bottom balloon.Layer) balloon.Air {
	const close = airStep / 20
	a := balloon.Air{bottom}
	for _, layer := range air {
		if layer.Height > bottom.Height+close {
			a = append(a, layer)
		}
	}
	return a
}

// airOver is a forecast's air over a site at a time, and above the forecast what
// goes on from there.
func airOver(s flight.Scene, p plan.Plan, height, time float64) (over, error) {
	sample := func(z float64) (balloon.Layer, bool) {
		air, out := s.Wind.At(p.Site.At, atmos.Geometric(z), time)
		return balloon.Layer{Height: atmos.Geometric(z), State: atmos.State{
			Temperature: air.Temperature, Pressure: air.Pressure, Density: air.Density(),
		}}, out == wind.Inside && !air.Held
	}
	bottom, ok := sample(height)
	if !ok {
		return standardAir(height)
	}
	var levels balloon.Air
	for z := math.Ceil(height/airStep) * airStep; z <= airTop; z += airStep {
		layer, ok := sample(z)
		if !ok {
			break
		}
		levels = append(levels, layer)
	}
	a := above(levels, bottom)
	if len(a) < 2 {
		return standardAir(height)
	}
	top := a[len(a)-1].Height
	air, err := a.Continued(airTop)
	return over{Air: air, top: top}, err
}

// trained is a weighed train with its gas in the air that it rises through.
type trained struct {
	lifter balloon.Lifter
	budget balloon.Budget
	air    over
	climb  balloon.Climb
	found  bool    // its envelope is not given but was found
	gas    float64 // spread of its amount, a share of it
	area   float64 // drag area of the canopies, m²
	canopy float64 // its spread, a share of it
	rack   balloon.Rack
}

// train fills a weighed train. The error is plan.Faults.
func train(p plan.Plan, air over) (trained, error) {
	w := p.Train.Weighed
	t := trained{
		budget: balloon.Budget{Parts: p.Train.Parts, Envelope: w.Envelope}, air: air,
	}
	t.lifter = balloon.Lifter{Envelope: w.Envelope, Filling: w.Filling, Load: t.budget.Load().Mass, Drag: w.Drag}
	variance := 0.0
	for _, c := range w.Canopies {
		t.area += c.DragArea()
		variance += math.Pow(c.Spread*c.DragArea(), 2)
	}
	t.canopy = math.Sqrt(variance) / t.area
	t.rack = rackOf(w, air.Air[0])
	fill := t.fill
	if w.Find != nil {
		fill = t.find
	}
	if err := fill(w); err != nil {
		return trained{}, err
	}
	if err := t.budget.Check(); err != nil {
		return trained{}, trainFault("train", "", err)
	}
	t.climb = t.lifter.Ascend(air.Air, nil)
	ground := t.lifter.At(air.Air[0].State)
	switch t.climb.Ending {
	case balloon.Grounded:
		return trained{}, trainFault("train.gas", t.amount(w), addLift(ground.Free))
	case balloon.BurstsEarly:
		return trained{}, trainFault("train.gas", t.amount(w), fmt.Errorf(
			"more gas than the envelope holds, %.3g m across at release: want less than the %.3g m at which it bursts", ground.Diameter, t.lifter.Envelope.Burst))
	}
	t.gas = w.Fill.Spread
	if u := w.Fill.Amount; !math.IsNaN(u.Spread) {
		switch w.Fill.By {
		case plan.ByVolume:
			t.gas = u.Spread / u.Centre
		case plan.ByNeckLift, plan.ByFreeLift:
			t.gas = u.Spread / ground.Gross
		}
	}
	t.gas = min(t.gas, 0.5)
	return t, nil
}

// rackOf is the cylinders of a plan in the air of a place.
func rackOf(w *plan.Weighed, air balloon.Layer) balloon.Rack {
	r := balloon.Rack{Residual: w.LeftInEach}
	gas, purity := balloon.CylinderHelium, w.Filling.Gas.Helium
	if w.Filling.Gas.Hydrogen > 0 {
		gas, purity = balloon.CylinderHydrogen, w.Filling.Gas.Hydrogen
	}
	for _, c := range w.Cylinders {
		one := balloon.Cylinder{
			Gas: gas, Purity: purity, Water: c.Water, Temperature: air.Temperature,
			Pressure: c.Gauge.Absolute(balloon.AbsolutePressure(air.Pressure)),
		}
		if !math.IsNaN(c.Temperature) {
			one.Temperature = c.Temperature
		}
		for range c.Count {
			r.Cylinders = append(r.Cylinders, one)
		}
	}
	return r
}

// usable is what a rack gives, mol.
func usable(r balloon.Rack) float64 {
	moles := 0.0
	for _, c := range r.Cylinders {
		moles += c.UsableMoles(r.Residual)
	}
	return moles
}

// conditions are those at which a volume of gas is measured.
func (t *trained) conditions(w *plan.Weighed) balloon.Conditions {
	air := t.air.Air[0]
	at := balloon.Conditions{Pressure: balloon.AbsolutePressure(air.Pressure), Temperature: air.Temperature}
	if !math.IsNaN(w.Pressure) {
		at.Pressure = balloon.AbsolutePressure(w.Pressure)
	}
	if !math.IsNaN(w.Temperature) {
		at.Temperature = w.Temperature
	}
	return at
}

// amount is the gas in words, for faults.
func (t *trained) amount(w *plan.Weighed) string {
	if w.Fill.By == plan.ByWholeRack {
		return fmt.Sprintf("the %.3f m³ of gas that the cylinders give", t.lifter.Filling.Volume(t.conditions(w)))
	}
	return fmt.Sprintf("%.3g m³ of gas", t.lifter.Filling.Volume(t.conditions(w)))
}

// trainFault is what balloon finds wrong, as a fault of the plan.
func trainFault(field, value string, err error) error {
	var all plan.Faults
	for line := range strings.SplitSeq(err.Error(), "\n") {
		f := plan.Fault{Field: field, Value: value}
		what, want, ok := strings.Cut(line, ": want ")
		switch {
		case ok && value == "":
			f.Value, f.Want = what, want
		case ok:
			f.Value, f.Want = value+": "+what, want
		default:
			f.Value = strings.TrimPrefix(value+": "+line, ": ")
		}
		all = append(all, f)
	}
	return all
}

// effect is what one cause does to how a train moves.
type effect struct {
	name                string
	spread              float64 // in the unit of format
	format              string
	ascent, burst, fall float64 // by one standard deviation more
}

// causes are what makes the train's movement uncertain, and by how much.
func (t *trained) causes(w *plan.Weighed) []effect {
	e := t.lifter.Envelope
	load := t.budget.Load()
	falling := t.budget.Falling()
	climb := func(change func(l *balloon.Lifter, sign float64)) (ascent, burst float64) {
		var rate, height [2]float64
		for i, sign := range [...]float64{-1, 1} {
			l := t.lifter
			change(&l, sign)
			c := l.Ascend(t.air.Air, nil)
			rate[i], height[i] = c.Mean(), float64(c.Last().Height)
		}
		return (rate[1] - rate[0]) / 2, (height[1] - height[0]) / 2
	}
	fall := t.falls().Speed(atmos.SeaLevelDensity)
	heavier := func(kg float64) float64 { return fall * kg / (2 * falling.Mass) }
	scale := math.Hypot(load.Spread, e.MassSpread)
	all := []effect{
		{name: "drag of the filled envelope", spread: 100 * w.DragSpread, format: "%.0f %%"},
		{name: "gas", spread: 100 * t.gas, format: "%.1f %%"},
		{name: "burst diameter", spread: 100 * e.BurstSpread / e.Burst, format: "%.0f %%"},
		{name: "weighed mass", spread: 1000 * scale, format: "%.0f g", fall: heavier(scale)},
		{name: "drag of the canopy", spread: 100 * t.canopy, format: "%.0f %%", fall: -fall * t.canopy / 2},
		{name: "what hangs on of the envelope", spread: 1000 * e.RemainsSpread * e.Mass, format: "%.0f g", fall: heavier(e.RemainsSpread * e.Mass)},
	}
	all[0].ascent, all[0].burst = climb(func(l *balloon.Lifter, sign float64) { l.Drag = l.Drag.Scaled(1 + sign*w.DragSpread) })
	all[1].ascent, all[1].burst = climb(func(l *balloon.Lifter, sign float64) { l.Filling.Moles *= 1 + sign*t.gas })
	all[2].ascent, all[2].burst = climb(func(l *balloon.Lifter, sign float64) { *l = l.Stretching(sign) })
	all[3].ascent, all[3].burst = climb(func(l *balloon.Lifter, sign float64) { l.Load = max(l.Load+sign*scale, 0) })
	return all
}

// falls is the train on its way down under its canopies.
func (t *trained) falls() balloon.Descent {
	return balloon.Descent{Mass: t.budget.Falling().Mass, DragArea: t.area}
}

// moves fills in a plan's rates and burst with those of its weighed train.
func (t *trained) moves(p plan.Plan) plan.Plan {
	p.Ascent = quantity.Uncertain{Centre: min(max(t.climb.Mean(), balloon.MinAscent), balloon.MaxAscent)}
	p.Burst = quantity.Uncertain{Centre: min(max(float64(t.climb.Last().Height), balloon.MinBurst), balloon.MaxBurst)}
	p.Landing = quantity.Uncertain{Centre: min(max(t.falls().Speed(atmos.SeaLevelDensity), balloon.MinLanding), balloon.MaxLanding)}
	for _, c := range t.causes(p.Train.Weighed) {
		p.Ascent.Spread = math.Hypot(p.Ascent.Spread, c.ascent)
		p.Burst.Spread = math.Hypot(p.Burst.Spread, c.burst)
		p.Landing.Spread = math.Hypot(p.Landing.Spread, c.fall)
	}
	return p
}

// weighed is the train as the ensemble draws it.
func (t *trained) weighed(w *plan.Weighed) *ensemble.Weighed {
	kept := t.budget
	kept.Envelope.Remains, kept.Envelope.RemainsSpread = 0, 0
	return &ensemble.Weighed{
		Lifter: t.lifter, Air: t.air.Air, Gas: t.gas, Drag: w.DragSpread,
		LoadSpread: t.budget.Load().Spread, Falling: kept.Falling(),
		DragArea: t.area, CanopySpread: min(t.canopy, 0.5),
	}
}

// roughly is a plan with the rates and the burst of its weighed train in the
// standard atmosphere, to know how far and how long its flights may go before any
// forecast is read. One that cannot be filled so is taken as a common one; what is
// wrong with it is said later.
func roughly(p plan.Plan) plan.Plan {
	if p.Train.Weighed == nil {
		return p
	}
	height := p.Site.Elevation
	if math.IsNaN(height) {
		height = 0
	}
	air, err := standardAir(height)
	if err == nil {
		var t trained
		if t, err = train(p, air); err == nil {
			return t.moves(p)
		}
	}
	p.Ascent, p.Burst = quantity.Uncertain{Centre: 4, Spread: 0.4}, quantity.Uncertain{Centre: 30e3, Spread: 2000}
	p.Landing = quantity.Uncertain{Centre: 4, Spread: 0.4}
	return p
}
