package plan

import (
	"slices"
	"time"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/quantity"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// Vary is what of a plan could be otherwise, beside what the plan says. Where all
// of it is empty the plan says nothing of that.
type Vary struct {
	Volumes     []float64 // m³ of gas, at most 64
	Bursts      []float64 // m above mean sea level near which it is to burst, at most 64
	Envelopes   []balloon.Envelope
	Canopies    []OtherCanopy
	Delays      []time.Duration // of the launch, −14 days to 14 days
	LeaveBehind []string        // names, of the train's parts if it has them, each of which may stay at home
	Sites       bool            // also those of the schedule
}

// OtherCanopy takes the place of all canopies of a train.
type OtherCanopy struct {
	Canopy
	// InsteadOf is the name of the part that stays at home, if the train has it, and
	// Mass, kg, what comes along instead; with an empty name nothing of that changes.
	InsteadOf string
	Mass      quantity.Uncertain
}

// DefaultRange is how many values a range has.
const DefaultRange = 7

// What could be otherwise.
var (
	fillFromSpec  = spec{field: "thistledown.v1.FillRange.from", kind: plainVolume, example: "2.6 m3", low: 1e-3, high: 20000}
	fillToSpec    = spec{field: "thistledown.v1.FillRange.to", kind: plainVolume, example: "3.6 m3", low: 1e-3, high: 20000}
	burstFromSpec = spec{field: "thistledown.v1.BurstRange.from", kind: plainLength, example: "24 km", low: 1000, high: 45000}
	burstToSpec   = spec{field: "thistledown.v1.BurstRange.to", kind: plainLength, example: "32 km", low: 1000, high: 45000}
	otherMassSpec = spec{
		field: "thistledown.v1.OtherCanopy.mass", kind: uncertainMass, example: "240 g",
		low: 1e-4, high: balloon.MaxPartMass, share: true, spread: DefaultPartSpread, maxSpread: 0.5,
	}
	delaysSpec = spec{
		field: "thistledown.v1.Vary.delays", kind: plainDuration, example: "+1 h", low: -14 * 24 * hour, high: 14 * 24 * hour,
	}
)

// varySpecs is all of them.
var varySpecs = [...]spec{fillFromSpec, fillToSpec, burstFromSpec, burstToSpec, otherMassSpec, delaysSpec}

// vary is what of the plan could be otherwise.
func (d *draft) vary(m *thistledownv1.Vary) Vary {
	const path = "vary"
	v := Vary{Sites: m.GetSites()}
	for i, e := range m.GetEnvelopes() {
		v.Envelopes = append(v.Envelopes, d.envelope(item(path+".envelopes", i), e))
	}
	for i, c := range m.GetCanopies() {
		v.Canopies = append(v.Canopies, d.otherCanopy(item(path+".canopies", i), c))
	}
	for i, text := range m.GetDelays() {
		at := item(path+".delays", i)
		delay := time.Duration(d.quantity(at, text, delaysSpec).Centre * float64(time.Second))
		if (delay == 0 || slices.Contains(v.Delays, delay)) && d.sound(at) {
			d.refuse(at, quote(text), "another delay than the plan's own, 0 min, and than those before")
		}
		v.Delays = append(v.Delays, delay)
	}
	for i, name := range m.GetLeaveBehind() {
		at := item(path+".leave_behind", i)
		if slices.Contains(v.LeaveBehind, name) && d.sound(at) {
			d.refuse(at, quote(name), "another part than those before")
		}
		v.LeaveBehind = append(v.LeaveBehind, name)
	}
	if r := m.GetFill(); r != nil {
		v.Volumes = d.spaced(path+".fill", [2]string{r.GetFrom(), r.GetTo()}, r.Steps, [2]spec{fillFromSpec, fillToSpec})
	}
	if r := m.GetBurstsNear(); r != nil {
		v.Bursts = d.spaced(path+".bursts_near", [2]string{r.GetFrom(), r.GetTo()}, r.Steps, [2]spec{burstFromSpec, burstToSpec})
	}
	return v
}

// spaced is the values of the range at path, from and to as written. The rules
// bound their number; where they were broken nobody uses the values.
func (d *draft) spaced(path string, written [2]string, steps *uint32, specs [2]spec) []float64 {
	low := d.quantity(path+".from", written[0], specs[0]).Centre
	high := d.quantity(path+".to", written[1], specs[1]).Centre
	if d.intact(path) && !(low < high) {
		d.refuse(path+".to", quote(written[1]), "more than from, "+quote(written[0]))
	}
	n := min(max(or(steps, DefaultRange), 2), 64)
	values := make([]float64, n)
	for i := range values {
		values[i] = low + (high-low)*float64(i)/float64(n-1)
	}
	return values
}

// otherCanopy is a canopy and what it weighs.
func (d *draft) otherCanopy(path string, m *thistledownv1.OtherCanopy) OtherCanopy {
	c := OtherCanopy{InsteadOf: m.GetInsteadOf()}
	if m.GetCanopy() != nil { // the schema's rules say so
		c.Canopy = d.canopy(path+".canopy", m.GetCanopy())
	}
	if text := m.GetMass(); text != "" {
		c.Mass = d.quantity(path+".mass", text, otherMassSpec)
	}
	return c
}
