package balloon

import (
	"fmt"
	"math"
)

// Quantity is one number by which a flight is wanted.
type Quantity uint8

// The quantities.
const (
	GasAmount      Quantity = iota + 1 // mol at release, impurities included
	FreeLift                           // kg at the lowest level of the air
	AscentRate                         // m/s, mean from release to burst, or to where the air given ends: Climb.Mean
	RateNearGround                     // m/s at the lowest level of the air
	BurstHeight                        // m above mean sea level
)

// quantities is the name, the unit and the range of each quantity.
var quantities = [...]struct {
	name, unit string
	low, high  float64
}{
	GasAmount:      {"gas", "mol", 1e-3, MaxMoles},
	FreeLift:       {"free lift", "kg", 1e-4, MaxLoad},
	AscentRate:     {"mean ascent rate", "m/s", MinAscent, MaxAscent},
	RateNearGround: {"ascent rate near the ground", "m/s", MinAscent, MaxAscent},
	BurstHeight:    {"burst height", "m", MinBurst, MaxBurst},
}

// String is the quantity in words.
func (q Quantity) String() string {
	if q < GasAmount || q > BurstHeight {
		return fmt.Sprintf("quantity %d", uint8(q))
	}
	return quantities[q].name
}

// Wanted is a quantity with the value that it is to have.
type Wanted struct {
	Quantity Quantity
	Value    float64
}

// String is the wanted quantity in words.
func (w Wanted) String() string {
	if w.Quantity < GasAmount || w.Quantity > BurstHeight {
		return w.Quantity.String()
	}
	return w.Quantity.String() + " " + w.Quantity.amount(w.Value)
}

// amount is a value with the unit of the quantity.
func (q Quantity) amount(value float64) string {
	if q == BurstHeight {
		return fmt.Sprintf("%.0f m", value)
	}
	return fmt.Sprintf("%.4g %s", value, quantities[q].unit)
}

// Check reports what is wrong with it.
func (w Wanted) Check() error {
	if w.Quantity < GasAmount || w.Quantity > BurstHeight {
		return fmt.Errorf("%s: want gas, free lift, an ascent rate or a burst height", w.Quantity)
	}
	q := quantities[w.Quantity]
	if w.Quantity == FreeLift && w.Value <= 0 {
		return fmt.Errorf("free lift %.4g kg: it will not leave the ground: add more than %.0f g of lift", w.Value, -1000*w.Value)
	}
	var e wants
	e.between(q.name, w.Value, q.low, q.high, q.unit)
	return e.err()
}

// of is the wanted quantity of a climb; false where the climb does not have it:
// what floats has neither a burst nor a rate to it, and what creeps up at less
// than MinAscent no burst to count on.
func (w Wanted) of(l Lifter, c Climb) (float64, bool) {
	burst := c.Ending == Bursts
	switch w.Quantity {
	case GasAmount:
		return l.Filling.Moles, true
	case FreeLift:
		return c.Steps[0].Free, true
	case AscentRate:
		return c.Mean(), burst || c.Ending == AirEnds
	case RateNearGround:
		return c.NearGround(), c.Ending != Grounded && c.Ending != BurstsEarly
	case BurstHeight:
		return float64(c.Last().Height), burst && c.Mean() >= MinAscent
	}
	return math.NaN(), false
}

// NoSolution is that nothing gives what is wanted, with what comes nearest.
type NoSolution struct {
	Wanted []Wanted
	// Nearest is the lifter that comes nearest and Reached what it has of the last
	// quantity wanted; the zero Lifter if none leaves the ground.
	Nearest Lifter
	Reached float64
	// Remedy is what would give it, tried and found to, in words; empty where
	// nothing within reach was found. Load in kg and Burst in m, each 0 if it is no
	// help, are its numbers: either will do.
	Remedy      string
	Load, Burst float64
	why         string
}

// Error is the one line that says so.
func (n *NoSolution) Error() string {
	if n.Remedy == "" {
		return n.why
	}
	return n.why + "; this would do: " + n.Remedy
}

// solving is one search: the air, and where the steps of each climb are put.
type solving struct {
	air   Air
	steps []Step
}

// with is the climb of the lifter with an amount of gas in mol. It is good until
// the next one.
func (s *solving) with(l Lifter, moles float64) (Lifter, Climb) {
	l.Filling.Moles = moles
	c := l.Ascend(s.air, s.steps)
	s.steps = c.Steps
	return l, c
}

// halvings narrow any range of the search to the last digits of a float64.
const halvings = 60

// gasRange is from the gas that just lifts it to the gas that just bursts it on
// the ground, mol, or to MaxMoles.
func (s *solving) gasRange(l Lifter) (low, high float64) {
	ground := s.air[0].State
	high = min(MaxMoles, sphereVolume(l.Envelope.Burst)/l.Filling.molarVolume(ground)*(1-1e-12))
	if each := l.Filling.molarLift(ground); each > 0 {
		return (l.Envelope.Mass + l.Load) / each * (1 + 1e-12), high
	}
	return math.Inf(1), high
}

// Fill is the lifter with the gas that gives what is wanted, whatever gas it had
// before. The wanted quantity is met to 1e-9 of its value. Where nothing gives
// it the error is a *NoSolution.
//
// More gas never slows the ascent at any height nor raises the burst, so that
// there is one amount, or for the mean rate, which is taken over ever less
// height, the least.
func (l Lifter) Fill(air Air, want Wanted) (Lifter, error) {
	probe := l
	probe.Filling.Moles = 1
	var w wants
	w.add("air", air.Check())
	w.add("lifter", probe.Check())
	w.add("wanted", want.Check())
	if err := w.err(); err != nil {
		return Lifter{}, err
	}
	s := &solving{air: air}
	return s.fill(l, want)
}

// fill is Fill without its checks.
func (s *solving) fill(l Lifter, want Wanted) (Lifter, error) {
	low, high := s.gasRange(l)
	if !(low < high) {
		return Lifter{}, s.tooHeavy(l, want)
	}
	moles, ok := s.meet(l, want, low, high)
	if !ok {
		return Lifter{}, s.unreached(l, want, low, high)
	}
	l.Filling.Moles = moles
	return l, nil
}

// meet is the gas in mol, within a range, that gives what is wanted.
func (s *solving) meet(l Lifter, want Wanted, low, high float64) (float64, bool) {
	switch want.Quantity {
	case GasAmount:
		return want.Value, want.Value >= low && want.Value <= high
	case FreeLift:
		moles := (l.Envelope.Mass + l.Load + want.Value) / l.Filling.molarLift(s.air[0].State)
		return moles, moles <= high
	case BurstHeight:
		return s.burstingAt(l, want, low, high)
	}
	return s.rising(l, want, low, high)
}

// burstingAt is the gas in mol that bursts at a height. With too little it
// bursts higher or floats, with too much lower.
func (s *solving) burstingAt(l Lifter, want Wanted, low, high float64) (float64, bool) {
	for range halvings {
		mid := (low + high) / 2
		filled, c := s.with(l, mid)
		if height, ok := want.of(filled, c); ok && height < want.Value {
			high = mid
		} else {
			low = mid
		}
	}
	filled, c := s.with(l, high)
	got, ok := want.of(filled, c)
	return high, ok && math.Abs(got-want.Value) <= 0.01
}

// coarse is how many amounts of gas are tried before the search between two.
const coarse = 48

// rising is the least gas in mol with a rate: the first of a row of amounts that
// has it or more, and then by halving.
func (s *solving) rising(l Lifter, want Wanted, low, high float64) (float64, bool) {
	under := func(moles float64) bool {
		filled, c := s.with(l, moles)
		rate, ok := want.of(filled, c)
		return !ok || rate < want.Value
	}
	a, found := low, false
	for i := 1; i <= coarse && !found; i++ {
		b := low * math.Pow(high/low, float64(i)/coarse)
		if found = !under(b); found {
			low, high = a, b
		}
		a = b
	}
	if !found {
		return 0, false
	}
	for range halvings {
		if mid := (low + high) / 2; under(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	filled, c := s.with(l, high)
	got, ok := want.of(filled, c)
	return high, ok && math.Abs(got/want.Value-1) <= 1e-9
}

// tooHeavy is the fault of an envelope that bursts on the ground before it lifts
// its load.
func (s *solving) tooHeavy(l Lifter, want Wanted) error {
	ground := s.air[0].State
	most := sphereVolume(l.Envelope.Burst)/l.Filling.molarVolume(ground)*l.Filling.molarLift(ground) - l.Envelope.Mass
	return &NoSolution{Wanted: []Wanted{want}, why: fmt.Sprintf(
		"%s: the envelope bursts on the ground before it lifts %.4g kg; it holds at most %.4g kg there", want, l.Load, max(0, most))}
}

// unreached is the fault of a quantity that no gas gives.
func (s *solving) unreached(l Lifter, want Wanted, low, high float64) error {
	n := &NoSolution{Wanted: []Wanted{want}}
	best := math.Inf(1)
	for i := 0; i <= coarse; i++ {
		filled, c := s.with(l, low*math.Pow(high/low, float64(i)/coarse))
		got, ok := want.of(filled, c)
		if off := math.Abs(got - want.Value); ok && off < best {
			best, n.Nearest, n.Reached = off, filled, got
		}
	}
	n.why = fmt.Sprintf("%s: no gas gives it to a load of %.4g kg under an envelope that bursts at %.4g m", want, l.Load, l.Envelope.Burst)
	if math.IsInf(best, 1) {
		n.why += ", it floats or creeps with any"
	} else {
		_, c := s.with(n.Nearest, n.Nearest.Filling.Moles)
		n.why += fmt.Sprintf("; the nearest is %s, filled with %.3g m³ and rising at %.1f m/s", want.Quantity.amount(n.Reached), n.Nearest.At(s.air[0].State).Volume, c.Mean())
	}
	s.remedy(n, l)
	return n
}

// remedy looks for a lighter load or a wider envelope with which the quantity is
// met, by halving.
func (s *solving) remedy(n *NoSolution, l Lifter) {
	want := n.Wanted[0]
	meets := func(l Lifter) bool {
		low, high := s.gasRange(l)
		if !(low < high) {
			return false
		}
		_, ok := s.meet(l, want, low, high)
		return ok
	}
	lighter := func(share float64) Lifter {
		m := l
		m.Load *= share
		return m
	}
	if meets(lighter(leastLoad)) {
		n.lighten(l, lastThat(leastLoad, 1, func(x float64) bool { return meets(lighter(x)) }))
	}
	wider := func(share float64) Lifter {
		m := l
		m.Envelope.Burst = MaxBurstAt + share*(l.Envelope.Burst-MaxBurstAt)
		return m
	}
	if l.Envelope.Burst < MaxBurstAt && meets(wider(0)) {
		share := lastThat(0, 1, func(x float64) bool { return meets(wider(x)) })
		n.Burst = -floor4(-wider(share).Envelope.Burst)
		if n.Remedy != "" {
			n.Remedy += " or "
		}
		n.Remedy += fmt.Sprintf("an envelope of this mass that bursts at %.4g m or more", n.Burst)
	}
}

// leastLoad is the share of the load below which a lighter load is no remedy.
const leastLoad = 0.02

// lighten makes a share of the load the remedy.
func (n *NoSolution) lighten(l Lifter, share float64) {
	n.Load = floor4(l.Load * share)
	n.Remedy = fmt.Sprintf("a load of at most %.4g kg", n.Load)
}

// lastThat is the greatest number from good up to bad, to a ten-thousandth of
// the range, at which something still holds.
func lastThat(good, bad float64, holds func(float64) bool) float64 {
	for range 14 {
		if mid := (good + bad) / 2; holds(mid) {
			good = mid
		} else {
			bad = mid
		}
	}
	return good
}

// floor4 is a number rounded down to four digits.
func floor4(x float64) float64 {
	if x == 0 {
		return 0
	}
	unit := math.Pow(10, math.Floor(math.Log10(math.Abs(x)))-3)
	return math.Floor(x/unit) * unit
}
