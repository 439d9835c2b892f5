package plan

import (
	"fmt"
	"strings"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/quantity"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// Find is what an envelope is looked for by. What Fill says of the gas is the
// other half of the question.
type Find struct {
	By     FillBy             // ByBurst, ByAscentRate or ByFreeLift, and not that of Fill
	Amount float64            // in the unit of By
	Owned  []balloon.Envelope // to choose from; none: any of Remembered
}

// Remembered is the envelope of a mass in kg with the burst diameter that is
// remembered for it, and what holds of an envelope where a plan says nothing else.
func Remembered(mass float64) (balloon.Envelope, error) {
	e, err := balloon.RememberedEnvelope(mass)
	e.MassSpread = DefaultEnvelopeSpread * mass
	e.Remains, e.RemainsSpread = DefaultHangsOn, DefaultHangsOnSpread
	return e, err
}

// find is what the envelope is looked for by.
func (d *draft) find(m *thistledownv1.FindEnvelope) *Find {
	const path = "train.find_envelope"
	f := &Find{}
	for _, by := range [...]struct {
		by         FillBy
		name, text string
		spec       spec
	}{
		{ByBurst, "bursts_near", m.GetBurstsNear(), findBurstSpec},
		{ByAscentRate, "ascent_rate", m.GetAscentRate(), findRateSpec},
		{ByFreeLift, "free_lift", m.GetFreeLift(), findLiftSpec},
	} {
		if by.text != "" && (by.by != ByFreeLift || !d.sinks(path+"."+by.name, by.text)) {
			f.By, f.Amount = by.by, d.quantity(path+"."+by.name, by.text, by.spec).Centre
		}
	}
	for i, e := range m.GetOwned() {
		f.Owned = append(f.Owned, d.envelope(item(path+".owned", i), e))
	}
	return f
}

// sinks reports whether a free lift is written below zero, and says what that does.
func (d *draft) sinks(path, text string) bool {
	lacks, below := strings.CutPrefix(strings.ReplaceAll(strings.TrimSpace(text), "−", "-"), "-")
	if u, err := quantity.UncertainMass(lacks); !below || err != nil || u.Centre == 0 || !d.sound(path) {
		return false
	}
	lacks, _, _ = strings.Cut(lacks, "±")
	d.refuse(path, quote(text)+": it will not leave the ground: add more than "+strings.TrimSpace(lacks)+" of lift", "")
	return true
}

// Field is the path of what the envelope is looked for by, for faults.
func (f *Find) Field() string {
	switch f.By {
	case ByBurst:
		return "train.find_envelope.bursts_near"
	case ByAscentRate:
		return "train.find_envelope.ascent_rate"
	case ByFreeLift:
		return "train.find_envelope.free_lift"
	case ByVolume, ByNeckLift, ByWholeRack: // which Find never is
	}
	return fmt.Sprintf("train.find_envelope (by %d)", f.By)
}
