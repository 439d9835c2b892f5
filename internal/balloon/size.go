package balloon

import (
	"fmt"
	"math"
)

// Makes is the envelope of a mass in kg, as a family of envelopes has it; an
// error for a mass that the family does not have.
type Makes func(mass float64) (Envelope, error)

// RememberedEnvelope is the family of RememberedBurst, with its caution.
func RememberedEnvelope(mass float64) (Envelope, error) {
	burst, spread, err := RememberedBurst(mass)
	return Envelope{Mass: mass, Burst: burst, BurstSpread: spread, FromMemory: true}, err
}

// Sizing is the question for an envelope and its gas.
type Sizing struct {
	Makes Makes
	// From and To bound the mass of the envelope, kg, MinEnvelope to MaxEnvelope.
	From, To float64
	// First and Second are what is wanted, of two quantities.
	First, Second Wanted
}

// Check reports every fault of the question.
func (z Sizing) Check() error {
	var w wants
	if z.Makes == nil {
		w = append(w, fmt.Errorf("family of envelopes: none given"))
	}
	w.between("lightest envelope", z.From, MinEnvelope, MaxEnvelope, "kg")
	w.between("heaviest envelope", z.To, max(z.From, MinEnvelope), MaxEnvelope, "kg")
	w.add("wanted", z.First.Check())
	w.add("wanted", z.Second.Check())
	if z.First.Quantity == z.Second.Quantity {
		w = append(w, fmt.Errorf("wanted %s twice: want two quantities", z.First.Quantity))
	}
	return w.err()
}

// sizes is how many envelopes are tried before the search between two.
const sizes = 24

// Size is the lifter with the lightest envelope, and the gas in it, that give
// both of what is wanted, whatever envelope and gas it had before. Where nothing
// does the error is a *NoSolution.
func (l Lifter) Size(air Air, z Sizing) (Lifter, error) {
	probe := l
	probe.Filling.Moles = 1
	probe.Envelope = Envelope{Mass: 1, Burst: 1}
	var w wants
	w.add("air", air.Check())
	w.add("lifter", probe.Check())
	w.add("sizing", z.Check())
	if err := w.err(); err != nil {
		return Lifter{}, err
	}
	s := &solving{air: air}
	n := &NoSolution{Wanted: []Wanted{z.First, z.Second}}
	best := math.Inf(1)
	var last tried
	for i := 0; i <= sizes; i++ {
		next := s.try(l, z, z.From*math.Pow(z.To/z.From, float64(i)/sizes))
		if next.ok && math.Abs(next.off) < best {
			best, n.Nearest, n.Reached = math.Abs(next.off), next.filled, next.off+z.Second.Value
		}
		if i > 0 && last.ok != next.ok {
			// The answer may lie between here and where the family begins or ends to do.
			edge := s.edge(l, z, last, next)
			if last.ok {
				next = edge
			} else {
				last = edge
			}
		}
		if next.ok && (next.off == 0 || last.ok && last.off*next.off <= 0) {
			if filled, ok := s.betweenSizes(l, z, last, next); ok {
				return filled, nil
			}
		}
		last = next
	}
	return Lifter{}, s.unsized(l, z, n)
}

// tried is the envelope of a mass: whether it can have the first quantity wanted,
// and with it by how much the second is too great.
type tried struct {
	mass, off float64
	filled    Lifter
	ok        bool
}

// try fills the envelope of a mass for the first quantity.
func (s *solving) try(l Lifter, z Sizing, mass float64) tried {
	filled, got, ok := s.sized(l, z, mass)
	return tried{mass, got - z.Second.Value, filled, ok}
}

// edge is the last envelope that can have the first quantity, between one that
// can and one that cannot.
func (s *solving) edge(l Lifter, z Sizing, a, b tried) tried {
	if b.ok {
		a, b = b, a
	}
	for range halvings / 2 {
		if mid := s.try(l, z, (a.mass+b.mass)/2); mid.ok {
			a = mid
		} else {
			b = mid
		}
	}
	return a
}

// sized is the lifter with the envelope of a mass, filled for the first quantity
// wanted, and what it has of the second.
func (s *solving) sized(l Lifter, z Sizing, mass float64) (filled Lifter, got float64, ok bool) {
	e, err := z.Makes(mass)
	if err != nil || e.Check() != nil {
		return Lifter{}, 0, false
	}
	l.Envelope = e
	low, high := s.gasRange(l)
	if !(low < high) {
		return Lifter{}, 0, false
	}
	moles, ok := s.meet(l, z.First, low, high)
	if !ok {
		return Lifter{}, 0, false
	}
	filled, c := s.with(l, moles)
	got, ok = z.Second.of(filled, c)
	return filled, got, ok
}

// betweenSizes is the lifter between two masses of its envelope, one of which has
// too much of the second quantity and the other too little.
func (s *solving) betweenSizes(l Lifter, z Sizing, light, heavy tried) (Lifter, bool) {
	if heavy.off == 0 {
		return heavy.filled, true
	}
	mid := light
	for range halvings {
		mid = s.try(l, z, (light.mass+heavy.mass)/2)
		switch {
		case !mid.ok:
			return Lifter{}, false
		case mid.off*heavy.off < 0 || mid.off == 0:
			light = mid
		default:
			heavy = mid
		}
	}
	return mid.filled, math.Abs(mid.off) < 1e-6*z.Second.Value
}

// unsized is the fault of a question that no envelope answers.
func (s *solving) unsized(l Lifter, z Sizing, n *NoSolution) error {
	n.why = fmt.Sprintf("no envelope from %.0f g to %.0f g carries %s", 1000*z.From, 1000*z.To, s.carried(l, z.First, z.Second))
	if n.Nearest == (Lifter{}) {
		n.why += noneDoes
	} else {
		n.why += s.nearest(n, z.Second)
	}
	// A lighter load, with the heaviest envelope or the nearest.
	mass := z.To
	if n.Nearest != (Lifter{}) {
		mass = n.Nearest.Envelope.Mass
	}
	over := n.Reached > z.Second.Value
	meets := func(share float64) bool {
		m := l
		m.Load *= share
		_, got, ok := s.sized(m, z, mass)
		return ok && (got > z.Second.Value) != over
	}
	if meets(leastLoad) {
		n.lighten(l, lastThat(leastLoad, 1, meets))
	}
	return n
}
