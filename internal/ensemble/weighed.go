package ensemble

import (
	"errors"
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
)

// Weighed is what is uncertain about a train that was weighed and filled, by
// cause. Spreads are standard deviations; each quantity has a normal law, cut off
// where it would make no sense.
type Weighed struct {
	// Lifter is the train as planned, with its gas. Its envelope has its own
	// spreads: of the mass, of the burst diameter, of the share that hangs on.
	Lifter balloon.Lifter
	// Air is that over the release, which is its lowest level, 2 to 200 levels; the
	// highest levels must be above every burst.
	Air balloon.Air
	// Gas and Drag are the spreads of the amount of gas and of the envelope's drag
	// coefficient, as shares of them, 0 to 0.5.
	Gas, Drag float64
	// LoadSpread is that of the scale for all that hangs below the envelope, kg.
	LoadSpread float64
	// Falling is what comes down from the burst on, but for what is left of the
	// envelope.
	Falling balloon.Weighed
	// DragArea is Cd·S of the canopies, m², and CanopySpread its spread as a share
	// of it, 0 to 0.5.
	DragArea, CanopySpread float64
}

// maxAir bounds the levels of Weighed.Air.
const maxAir = 200

// check reports every fault of a weighed train.
func (w *Weighed) check() error {
	if w == nil {
		return nil
	}
	errs := []error{w.Lifter.Check(), w.Air.Check(), balloon.Descent{Mass: w.Falling.Mass, DragArea: w.DragArea}.Check()}
	if len(w.Air) > maxAir {
		errs = append(errs, fmt.Errorf("air of %d levels: want at most %d", len(w.Air), maxAir))
	}
	for _, share := range [...]struct {
		name  string
		value float64
	}{{"gas", w.Gas}, {"envelope's drag", w.Drag}, {"canopies' drag", w.CanopySpread}} {
		if !(share.value >= 0 && share.value <= 0.5) {
			errs = append(errs, fmt.Errorf("spread of the %s %g: want 0 to 0.5 of it", share.name, share.value))
		}
	}
	if !(w.LoadSpread >= 0 && w.LoadSpread <= balloon.MaxLoad) || !(w.Falling.Spread >= 0 && w.Falling.Spread <= balloon.MaxLoad) {
		errs = append(errs, fmt.Errorf("spread of the load %g kg, of what falls %g kg: want 0 to %d kg", w.LoadSpread, w.Falling.Spread, balloon.MaxLoad))
	}
	return errors.Join(errs...)
}

// weigher draws weighed trains.
type weigher struct {
	Weighed
	gas, drag, canopy law // as shares of the planned
	diameter, remains law // m, share of the envelope
	scale             law // in spreads of the masses
}

// newWeigher makes one.
func newWeigher(w *Weighed) *weigher {
	e := w.Lifter.Envelope
	share := func(spread float64) law { return Normal{1, spread}.between(0.3, 1.7) }
	tabled := *w
	tabled.Lifter.Drag = w.Lifter.Drag.Tabled()
	return &weigher{
		Weighed: tabled, gas: share(w.Gas), drag: share(w.Drag), canopy: share(w.CanopySpread),
		diameter: Normal{e.Burst, e.BurstSpread}.between(0.4*e.Burst, 1.6*e.Burst),
		remains:  Normal{e.Remains, e.RemainsSpread}.between(0, 1),
		scale:    Normal{0, 1}.between(-4, 4),
	}
}

// climb is room for the ascent of one release, to be used again.
type climb struct {
	steps []balloon.Step
	rates [errorHeights + 1]float64
}

// draw writes the train that a point stands for into a release, and reports
// whether it floats. The ascent's rates stay in the climb. A train that would not
// leave the ground is let go all the same, as somebody adds gas then: it rises as
// slowly as any.
func (w *weigher) draw(u *[dimensions]float64, r *flight.Release, c *climb) (floats bool) {
	l := w.Lifter
	scale := w.scale.quantile(u[massDimension])
	l.Filling.Moles *= w.gas.quantile(u[gasDimension])
	l.Drag = l.Drag.Scaled(w.drag.quantile(u[dragDimension]))
	l.Envelope.Burst = w.diameter.quantile(u[burstDimension])
	l.Load = max(l.Load+scale*math.Hypot(w.LoadSpread, l.Envelope.MassSpread), 0)
	up := l.Ascend(w.Air, c.steps)
	c.steps = up.Steps
	last := up.Last()
	r.Train.Burst = min(max(last.Height, balloon.MinBurst), balloon.MaxBurst)
	r.Train.Ascent = balloon.MinAscent
	if mean := up.Mean(); mean > 0 {
		r.Train.Ascent = min(max(mean, balloon.MinAscent), balloon.MaxAscent)
	}
	if up.Ending == balloon.Grounded {
		r.Train.Burst = min(max(w.burst(l), balloon.MinBurst), balloon.MaxBurst)
	}
	r.Profile = flight.Climbing(up, float64(r.Train.Burst), errorSpacing, c.rates[:0])

	falling := w.Falling.Mass + scale*w.Falling.Spread + w.remains.quantile(u[remainsDimension])*l.Envelope.Mass
	falls := balloon.Descent{Mass: max(falling, balloon.MinFallMass), DragArea: w.DragArea * w.canopy.quantile(u[canopyDimension])}
	r.Train.Landing = min(max(falls.Speed(atmos.SeaLevelDensity), balloon.MinLanding), balloon.MaxLanding)
	return up.Ending == balloon.Floats
}

// burst is the height at which the lifter would burst if it came so far.
func (w *weigher) burst(l balloon.Lifter) atmos.Geometric {
	for _, layer := range w.Air {
		if l.At(layer.State).Diameter >= l.Envelope.Burst {
			return layer.Height
		}
	}
	return w.Air[len(w.Air)-1].Height
}
