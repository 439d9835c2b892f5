package plan_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/plan"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// chooser makes parts of an invented plan.
type chooser struct{ *rand.Rand }

func (c chooser) half() bool { return c.IntN(2) == 0 }

// of is one of some texts.
func (c chooser) of(texts ...string) string { return texts[c.IntN(len(texts))] }

// or is one of some texts or, in half the cases, nothing.
func (c chooser) or(texts ...string) string {
	if c.half() {
		return ""
	}
	return c.of(texts...)
}

// word is or for a field that may be left out.
func (c chooser) word(texts ...string) *string {
	if c.half() {
		return nil
	}
	return proto.String(c.of(texts...))
}

// count is 1 to most, or left out.
func (c chooser) count(most uint32) *uint32 {
	if c.half() {
		return nil
	}
	return proto.Uint32(1 + c.Uint32N(most))
}

// between is a number, or left out.
func (c chooser) between(low, high float64) *float64 {
	if c.half() {
		return nil
	}
	return proto.Float64(low + (high-low)*c.Float64())
}

// inventedTrain makes a valid train, measured or weighed.
func inventedTrain(r *rand.Rand) *thistledownv1.Train {
	c := chooser{r}
	m := &thistledownv1.Train{Waiting: c.or("0 min", "24 h", "1 h 30 min"), Searching: c.or("30 d", "0 h")}
	for i := range r.IntN(5) {
		m.Parts = append(m.Parts, &thistledownv1.Part{
			Name: fmt.Sprint(i, c.of(" box", ": null", " # ~", " é 風")), Mass: c.of("640 g", "1.4 lb ± 1 oz", "0.1 g", "3 lb 2 oz", "2 kg ± 50 %"),
			Count: c.count(10), Hangs: c.word("neck", "line", "bottom"), Leaves: c.word("at_burst", "falling"),
		})
	}
	for i := range r.IntN(3) {
		b := &thistledownv1.Battery{Name: fmt.Sprint(i), Chemistry: c.of("lithium_primary", "lithium_ion", "nickel_metal_hydride", "alkaline"), Voltage: c.of("1.5 V", "3700 mV"), Count: c.count(1000), Warmer: c.or("20 K", "36 °F"), UntilFound: c.half()}
		if b.Energy = c.or("10 Wh", "36 kJ"); b.Energy == "" {
			b.Charge = c.of("1 mAh", "3 Ah")
		}
		if b.Power = c.or("300 mW", "0.001 mW"); b.Power == "" {
			b.Current = c.of("120 mA", "2 A")
		}
		m.Batteries = append(m.Batteries, b)
	}
	for range r.IntN(3) {
		m.Trackers = append(m.Trackers, &thistledownv1.Tracker{By: c.of("radio", "satellite", "phone"), Every: c.of("0.1 s", "1 d"), WorksAbove_18Km: c.half()})
	}
	if c.half() {
		m.Measured = &thistledownv1.MeasuredTrain{
			AscentRate:    fmt.Sprintf("%.2f m/s ± %d %%", 1+10*r.Float64(), r.IntN(50)),
			BurstAltitude: fmt.Sprintf("%d ft", 10000+r.IntN(100000)),
			LandingSpeed:  fmt.Sprintf("%.1f mph", 2+10*r.Float64()),
		}
		return m
	}
	if len(m.Parts) == 0 {
		m.Parts = []*thistledownv1.Part{{Name: "box", Mass: "50 kg"}}
	}
	m.Envelope = &thistledownv1.Envelope{Mass: c.of("600 g", "100 g", "3 kg ± 1 %", "21 oz"), BurstsAt: c.or("6 m", "20 ft ± 1 ft", "60 m"), Fullest: c.or("2.5 m3", "90 cu ft"), HangsOn: c.or("0 %", "100 % ± 0 %", "30 %")}
	m.Gas = inventedGas(c)
	if c.half() {
		m.FindEnvelope = inventedFind(c, m)
	}
	for range 1 + r.IntN(3) {
		m.Canopies = append(m.Canopies, &thistledownv1.Canopy{
			Shape: c.of("flat circular", "extended skirt 14.3 % full", "annular"), Outline: c.word("circle", "square", "hexagon"), Size: c.of("10 cm", "4 ft", "60 m"),
			DragCoefficient: c.between(0.2, 1.2), DragSpread: c.or("0 %", "50 %"), Count: c.count(8),
		})
	}
	return m
}

// inventedFind makes what an envelope is looked for by, for one that a train has
// and loses to it.
func inventedFind(c chooser, m *thistledownv1.Train) *thistledownv1.FindEnvelope {
	f := &thistledownv1.FindEnvelope{}
	switch {
	case m.GetGas().GetBurstsNear() == "":
		f.BurstsNear = c.of("30 km", "100000 ft")
		for range c.IntN(3) {
			f.Owned = append(f.Owned, m.GetEnvelope())
		}
	case c.half():
		f.AscentRate = c.of("5 m/s", "1000 ft/min")
	default:
		f.FreeLift = c.of("900 g", "2 lb")
	}
	m.Envelope = nil
	return f
}

// inventedGas makes a valid gas.
func inventedGas(c chooser) *thistledownv1.Gas {
	g := &thistledownv1.Gas{
		Temperature: c.or("-40 °C", "59 °F", "288 K"), Pressure: c.or("1013 hPa", "2 bar", "29.92 inHg"), Superheat: c.or("-60 K", "9 °F"), SkinPressure: c.or("1 hPa", "0 Pa"),
		Leak: c.or("1 %/h", "24 %/d"), LeftInEach: c.or("0.5 bar", "1000 psi"), DragSpread: c.or("0 %", "50 %"), DragCoefficient: c.between(0.05, 3),
	}
	switch c.IntN(3) {
	case 0:
		g.Helium = c.of("99 %", "50 %", "100 %")
	case 1:
		g.Hydrogen = c.of("99 %", "100 %")
	default:
		g.Helium, g.Hydrogen = c.of("30 %", "25 %"), c.of("25 %", "70 %")
	}
	if g.Helium == "" || g.Hydrogen == "" {
		priced := c.half()
		for range c.IntN(4) {
			one := &thistledownv1.Cylinder{Size: c.of("0.1 L", "50 L", "5 m3"), Gauge: c.of("0 bar", "298 bar", "2900 psi"), Temperature: c.or("-40 °C", "60 °C"), Count: c.count(100)}
			if priced {
				one.Price = c.of("85 EUR", "0 EUR", "1e2 EUR")
			}
			g.Cylinders = append(g.Cylinders, one)
		}
	}
	switch c.IntN(6) {
	case 0:
		g.Volume = c.of("2.6 m3", "92 ft³ ± 3 %")
	case 1:
		g.NeckLift = c.of("2400 g", "5 lb ± 1 oz")
	case 2:
		g.FreeLift = c.of("1 g", "200 kg ± 50 %")
	case 3:
		g.AscentRate = c.of("0.5 m/s", "1000 ft/min")
	case 4:
		g.BurstsNear = c.of("30 km", "100000 ft")
	default:
		if g.WholeRack = len(g.Cylinders) > 0; !g.WholeRack {
			g.Volume = "20000 m3"
		}
	}
	return g
}

// saneTrain checks what Train's and Weighed's comments promise: by the words of
// balloon where it has its own.
func saneTrain(t *testing.T, p plan.Plan) {
	t.Helper()
	within := func(what string, v, low, high float64) {
		assert.True(t, v >= low && v <= high, "%s: %v, want %v to %v", what, v, low, high)
	}
	within("waiting", p.Train.Waiting, 0, 86400)
	within("searching", p.Train.Searching, 0, 30*86400)
	load, seen := 0.0, map[string]bool{}
	for _, part := range p.Train.Parts {
		assert.NoError(t, part.Check(), part.Name)
		assert.False(t, seen[part.Name], "part %q twice", part.Name)
		seen[part.Name] = true
		load += part.Mass * float64(part.Count)
	}
	within("load", load, 0, 200*(1+1e-12))
	for _, b := range p.Train.Batteries {
		assert.NoError(t, b.Check(), b.Name)
		within("warmer", b.Warmer, 0, 60)
	}
	for _, tracker := range p.Train.Trackers {
		assert.NoError(t, tracker.Check())
	}
	w := p.Train.Weighed
	if w == nil {
		return
	}
	assert.Positive(t, load)
	assert.NotEmpty(t, w.Canopies)
	all := []balloon.Envelope{w.Envelope}
	if w.Find != nil {
		assert.Zero(t, w.Envelope)
		assert.NotEqual(t, w.Fill.By, w.Find.By)
		all = w.Find.Owned
	}
	for _, e := range all {
		assert.NoError(t, e.Check())
	}
	assert.NoError(t, w.Drag.Check())
	filling := w.Filling
	filling.Moles = 100
	assert.NoError(t, filling.Check())
	for _, spread := range [...]float64{w.DragSpread, w.Fill.Spread} {
		within("spread", spread, 0, 0.5)
	}
	if w.Fill.By == plan.ByWholeRack {
		assert.NotEmpty(t, w.Cylinders)
	} else {
		assert.Positive(t, w.Fill.Amount.Centre)
		assert.True(t, math.IsNaN(w.Fill.Amount.Spread) || w.Fill.Amount.Spread <= 0.5*w.Fill.Amount.Centre*(1+1e-9), "spread of %v", w.Fill.Amount)
	}
	if !math.IsNaN(w.Temperature) {
		within("temperature", w.Temperature, 233.15, 333.15)
	}
	if !math.IsNaN(w.Pressure) {
		within("pressure", w.Pressure, 100, 2e5)
	}
	within("left in each", float64(w.LeftInEach), 0.5e5, 100e5)
	saneRack(t, w)
	for _, canopy := range w.Canopies {
		assert.NoError(t, canopy.Check())
		within("canopy's spread", canopy.Spread, 0, 0.5)
	}
}

// saneRack checks the cylinders as balloon would, in air of any pressure there is.
func saneRack(t *testing.T, w *plan.Weighed) {
	t.Helper()
	gas, purity := balloon.CylinderHelium, w.Filling.Gas.Helium
	if w.Filling.Gas.Hydrogen > 0 {
		gas, purity = balloon.CylinderHydrogen, w.Filling.Gas.Hydrogen
	}
	for _, c := range w.Cylinders {
		temperature := c.Temperature
		if math.IsNaN(temperature) {
			temperature = 288.15
		}
		one := balloon.Cylinder{Gas: gas, Purity: purity, Water: c.Water, Temperature: temperature, Pressure: c.Gauge.Absolute(1.1e5)}
		assert.NoError(t, one.Check())
		assert.NoError(t, c.Price.Check())
		assert.Equal(t, w.Cylinders[0].Price.Currency, c.Price.Currency)
	}
}
