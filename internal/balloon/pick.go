package balloon

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"example.org/thistledown/internal/atmos"
)

// maxShelf bounds the envelopes to choose from.
const maxShelf = 1000

// Pick is the lifter with the lightest envelope of those at hand, up to 1000, and
// the gas in it that gives what is wanted, with which it bursts at a height or
// above; what envelope and gas it had before does not matter. Where none does the
// error is a *NoSolution, whose Nearest has the envelope that bursts highest and
// whose Load is what that one carries to the height.
func (l Lifter) Pick(air Air, shelf []Envelope, want Wanted, burst atmos.Geometric) (Lifter, error) {
	high := Wanted{BurstHeight, float64(burst)}
	probe := l
	probe.Filling.Moles = 1
	probe.Envelope = Envelope{Mass: 1, Burst: 1}
	var w wants
	w.add("air", air.Check())
	w.add("lifter", probe.Check())
	w.add("wanted", want.Check())
	w.add("wanted", high.Check())
	if want.Quantity == BurstHeight {
		w = append(w, fmt.Errorf("wanted %s twice: want two quantities", want.Quantity))
	}
	if len(shelf) == 0 || len(shelf) > maxShelf {
		return Lifter{}, append(w, fmt.Errorf("%d envelopes: want 1 to %d", len(shelf), maxShelf)).err()
	}
	for i, e := range shelf {
		w.add(fmt.Sprintf("envelope %d", i+1), e.Check())
	}
	if err := w.err(); err != nil {
		return Lifter{}, err
	}
	s := &solving{air: air}
	return s.pick(l, shelf, want, high)
}

// pick is Pick without its checks.
func (s *solving) pick(l Lifter, shelf []Envelope, want, high Wanted) (Lifter, error) {
	n := &NoSolution{Wanted: []Wanted{want, high}, Reached: math.Inf(-1)}
	byMass := slices.SortedStableFunc(slices.Values(shelf), func(a, b Envelope) int { return cmp.Compare(a.Mass, b.Mass) })
	for _, e := range byMass {
		filled, got, ok := s.bursting(l, e, want, high)
		if ok && got >= high.Value {
			return filled, nil
		}
		if ok && got > n.Reached {
			n.Nearest, n.Reached = filled, got
		}
	}
	n.why = "the one envelope at hand does not carry "
	if len(shelf) > 1 {
		n.why = fmt.Sprintf("none of the %d envelopes at hand carries ", len(shelf))
	}
	n.why += s.carried(l, want, high)
	if n.Nearest == (Lifter{}) {
		n.Reached = 0
		n.why += noneDoes
		return Lifter{}, n
	}
	n.why += s.nearest(n, high)
	does := func(share float64) bool {
		m := l
		m.Load *= share
		_, got, ok := s.bursting(m, n.Nearest.Envelope, want, high)
		return ok && got >= high.Value
	}
	if does(leastLoad) {
		n.lighten(l, lastThat(leastLoad, 1, does))
	}
	return Lifter{}, n
}

// bursting is the lifter with an envelope, filled for what is wanted, and its
// burst height.
func (s *solving) bursting(l Lifter, e Envelope, want, high Wanted) (filled Lifter, got float64, ok bool) {
	l.Envelope = e
	low, most := s.gasRange(l)
	if !(low < most) {
		return l, 0, false
	}
	moles, ok := s.meet(l, want, low, most)
	if !ok {
		return l, 0, false
	}
	filled, c := s.with(l, moles)
	got, ok = high.of(filled, c)
	return filled, got, ok
}
