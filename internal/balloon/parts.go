package balloon

import (
	"fmt"
	"math"
)

// Limits of a mass budget.
const (
	MaxParts    = 200  // lines of a budget
	MaxCount    = 1000 // pieces of one part
	MaxPartMass = 50.0 // kg a piece
	maxName     = 240  // octets: 60 characters
)

// Place is where a part hangs.
type Place uint8

// The places, from above downward.
const (
	AtNeck   Place = iota + 1 // tied into the neck of the envelope
	OnTrain                   // on the line between the neck and the payload, the canopy too
	AtBottom                  // the payload
)

// String is the place in words.
func (p Place) String() string {
	switch p {
	case AtNeck:
		return "at the neck"
	case OnTrain:
		return "on the train"
	case AtBottom:
		return "at the bottom"
	}
	return fmt.Sprintf("place %d", uint8(p))
}

// Fate is when a part leaves the flight.
type Fate uint8

// The fates.
const (
	Returns       Fate = iota // comes down with the load
	LeavesAtBurst             // is gone when the envelope bursts
	LeavesFalling             // is dropped on the way down, before landing
)

// Part is something weighed that the envelope lifts.
type Part struct {
	Name string
	// Mass is that of one piece, kg, above 0 to MaxPartMass.
	Mass float64
	// Count is how many pieces there are, 1 to MaxCount.
	Count int
	// Spread is one standard deviation of the scale that weighed it, kg, the same
	// error for every piece, 0 to Mass.
	Spread float64
	Place  Place
	Fate   Fate
}

// Check reports every fault of the part.
func (p Part) Check() error {
	var w wants
	if p.Name == "" || len(p.Name) > maxName {
		w = append(w, fmt.Errorf("name %q: want 1 to %d octets", p.Name, maxName))
	}
	if !(p.Mass > 0 && p.Mass <= MaxPartMass) {
		w = append(w, fmt.Errorf("mass %g kg: want above 0 to %g kg", p.Mass, MaxPartMass))
	}
	if p.Count < 1 || p.Count > MaxCount {
		w = append(w, fmt.Errorf("count %d: want 1 to %d", p.Count, MaxCount))
	}
	if !(p.Spread >= 0 && p.Spread <= max(p.Mass, 0)) {
		w = append(w, fmt.Errorf("spread %g kg: want 0 to its mass", p.Spread))
	}
	if p.Place < AtNeck || p.Place > AtBottom {
		w = append(w, fmt.Errorf("%s: want at the neck, on the train or at the bottom", p.Place))
	}
	if p.Fate > LeavesFalling {
		w = append(w, fmt.Errorf("fate %d: want returns, leaves at burst or leaves falling", p.Fate))
	}
	return w.err()
}

// Weighed is a mass and one standard deviation of it, kg.
type Weighed struct{ Mass, Spread float64 }

// Budget is what a flight lifts, the lifting gas aside.
type Budget struct {
	Parts    []Part
	Envelope Envelope
}

// Check reports every fault of the budget. Two parts of one name are one.
func (b Budget) Check() error {
	var w wants
	if len(b.Parts) > MaxParts {
		return fmt.Errorf("parts %d: want at most %d", len(b.Parts), MaxParts)
	}
	seen := make(map[string]int, len(b.Parts))
	for i, p := range b.Parts {
		w.add(fmt.Sprintf("part %d %q", i+1, p.Name), p.Check())
		if first, twice := seen[p.Name]; twice {
			w = append(w, fmt.Errorf("part %d %q: has the name of part %d", i+1, p.Name, first+1))
			continue
		}
		seen[p.Name] = i
	}
	w.add("envelope", b.Envelope.Check())
	return w.err()
}

// Load is what hangs below the envelope at release.
func (b Budget) Load() Weighed { return b.sum(LeavesFalling + 1) }

// Lifted is everything that the gas lifts at release: the load and the
// envelope.
func (b Budget) Lifted() Weighed {
	return b.Load().plus(Weighed{b.Envelope.Mass, b.Envelope.MassSpread})
}

// Falling is what the canopy carries from burst: the gas is gone, of the
// envelope a share hangs on.
func (b Budget) Falling() Weighed { return b.sum(LeavesAtBurst).plus(b.rest()) }

// Landing is what comes down.
func (b Budget) Landing() Weighed { return b.sum(LeavesFalling).plus(b.rest()) }

// rest is what hangs on of the envelope.
func (b Budget) rest() Weighed {
	e := b.Envelope
	return Weighed{e.Mass * e.Remains, math.Hypot(e.Remains*e.MassSpread, e.Mass*e.RemainsSpread)}
}

// sum is the parts but those of one fate, and, as LeavesFalling comes last, those
// that have left before it.
func (b Budget) sum(gone Fate) Weighed {
	var s Weighed
	for _, p := range b.Parts {
		if p.Fate != Returns && p.Fate <= gone && gone <= LeavesFalling {
			continue
		}
		n := float64(p.Count)
		s = s.plus(Weighed{n * p.Mass, n * p.Spread})
	}
	return s
}

// plus adds a mass weighed apart, so that the spreads add as squares.
func (a Weighed) plus(b Weighed) Weighed {
	return Weighed{a.Mass + b.Mass, math.Hypot(a.Spread, b.Spread)}
}
