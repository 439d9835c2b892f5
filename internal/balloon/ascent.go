package balloon

import (
	"fmt"
	"math"
	"sort"

	"example.org/thistledown/internal/atmos"
)

// Lifter is an envelope with its gas and what it carries.
type Lifter struct {
	Envelope Envelope
	Filling  Filling
	Load     float64 // kg that hang below the envelope, 0 to MaxLoad; see Budget.Load
	Drag     Drag
}

// MaxLoad bounds what an envelope carries, kg.
const MaxLoad = 200

// Check reports every fault of the lifter.
func (l Lifter) Check() error {
	var w wants
	w.add("envelope", l.Envelope.Check())
	w.add("filling", l.Filling.Check())
	w.add("drag", l.Drag.Check())
	w.between("load", l.Load, 0, MaxLoad, "kg")
	return w.err()
}

// Aloft is an envelope in the air of one height, at its steady speed.
type Aloft struct {
	Diameter float64 // m
	Volume   float64 // m³
	// Gross is the lift in kg: air displaced less gas.
	Gross float64
	// Pull is what the neck holds, kg: Gross less the envelope.
	Pull float64
	// Free is what is left over the load, kg; below zero it sinks.
	Free     float64
	Speed    float64 // m/s upward, 0 where Free is not above zero
	Reynolds float64 // that go with Speed
}

// At is the lifter in the air of one height with the gas that it has at
// release. The force is lift times standard gravity: at 30 km, where gravity is
// 0.9 % less, the speed is half of that too high.
func (l Lifter) At(air atmos.State) Aloft { return l.state(air, l.Filling.Moles, 1e5) }

// still is the lifter with an amount of gas in mol, without its speed.
func (l Lifter) still(air atmos.State, moles float64) Aloft {
	volume := moles * l.Filling.molarVolume(air)
	gross := moles * l.Filling.molarLift(air)
	pull := gross - l.Envelope.Mass
	return Aloft{Diameter: sphereDiameter(volume), Volume: volume, Gross: gross, Pull: pull, Free: pull - l.Load}
}

// state is the lifter with an amount of gas in mol; the Reynolds number is
// sought from a guess.
func (l Lifter) state(air atmos.State, moles, guess float64) Aloft {
	a := l.still(air, moles)
	if !(a.Free > 0) {
		return a
	}
	// Free·g = ½·ρ·v²·Cd·π·D²/4, so that Cd·Re² = 8·Free·g·ρ/(π·μ²).
	mu := atmos.Viscosity(air.Temperature)
	k := 8 / math.Pi * a.Free * atmos.StandardGravity * air.Density / (mu * mu)
	a.Reynolds = l.Drag.reynolds(k, guess)
	a.Speed = a.Reynolds * mu / (air.Density * a.Diameter)
	return a
}

// Step is where an ascent is.
type Step struct {
	Height   atmos.Geometric
	Time     float64 // s after release
	Speed    float64 // m/s upward
	Diameter float64 // m
	Free     float64 // kg
}

// Ending is how an ascent ends.
type Ending uint8

// The endings.
const (
	Bursts      Ending = iota + 1 // at the burst diameter
	Floats                        // where the net force is gone before it bursts
	AirEnds                       // neither, up to the last level of the air
	Grounded                      // it does not leave the ground
	BurstsEarly                   // it is past its burst diameter at the ground
)

// String is the ending in words.
func (e Ending) String() string {
	switch e {
	case Bursts:
		return "bursts"
	case Floats:
		return "floats"
	case AirEnds:
		return "still rising where the air given ends"
	case Grounded:
		return "does not leave the ground"
	case BurstsEarly:
		return "bursts on the ground"
	}
	return fmt.Sprintf("ending %d", uint8(e))
}

// Climb is an ascent in still air.
type Climb struct {
	Ending Ending
	// Steps are the levels of the air from the lowest, at which it is released, and
	// the end last. One step, with no speed, if it does not leave the ground.
	Steps []Step
}

// Last is the end of the climb.
func (c Climb) Last() Step { return c.Steps[len(c.Steps)-1] }

// Mean is the ascent rate as one number, m/s: the height from release to the end
// over the time that it takes. 0 if it does not leave the ground.
func (c Climb) Mean() float64 {
	if last := c.Last(); last.Time > 0 {
		return float64(last.Height-c.Steps[0].Height) / last.Time
	}
	return 0
}

// NearGround is the steady rate at the lowest level of the air, m/s.
func (c Climb) NearGround() float64 { return c.Steps[0].Speed }

// At is the speed in m/s and the time in s after release at a height of the
// climb; false outside it. Between steps the square of the speed is taken as
// linear in height.
func (c Climb) At(z atmos.Geometric) (speed, time float64, ok bool) {
	n := len(c.Steps)
	if n < 2 || !(z >= c.Steps[0].Height && z <= c.Steps[n-1].Height) {
		return 0, 0, false
	}
	i := max(1, sort.Search(n, func(i int) bool { return c.Steps[i].Height >= z }))
	a, b := c.Steps[i-1], c.Steps[i]
	f := float64((z - a.Height) / (b.Height - a.Height))
	speed = math.Sqrt(a.Speed*a.Speed + f*(b.Speed*b.Speed-a.Speed*a.Speed))
	return speed, a.Time + 2*float64(z-a.Height)/(a.Speed+speed), true
}

// Ascend follows the lifter, at the steady speed of each height, which it has
// within seconds of the release, from the lowest level of
// the air to its burst, to where it floats, or to where the air ends. The steps are written over dst,
// which is grown if it is too short; len(air)+1 is enough. Neither l nor air is
// checked again: Check them once, then ascend as often as wanted. It panics where
// the air has no level.
func (l Lifter) Ascend(air Air, dst []Step) Climb {
	c := Climb{Steps: dst[:0]}
	here := l.state(air[0].State, l.Filling.Moles, 1e5)
	c.Steps = append(c.Steps, Step{air[0].Height, 0, here.Speed, here.Diameter, here.Free})
	switch {
	case here.Diameter >= l.Envelope.Burst:
		c.Ending = BurstsEarly
	case !(here.Free > 0):
		c.Ending = Grounded
	}
	if c.Ending != 0 {
		c.Steps[0].Speed = 0
		return c
	}
	reynolds, guess := here.Reynolds, here.Reynolds
	for i := 1; i < len(air); i++ {
		from := c.Last()
		next := l.reach(from, air[i], guess)
		if next.Diameter < l.Envelope.Burst && next.Free > 0 {
			// The logarithm of the Reynolds number goes on as it went.
			guess = next.reynolds * min(2, max(0.5, next.reynolds/reynolds))
			reynolds = next.reynolds
			c.Steps = append(c.Steps, next.Step)
			continue
		}
		var end Step
		end, c.Ending = l.ending(from, air[i-1], air[i], guess)
		c.Steps = append(c.Steps, end)
		return c
	}
	c.Ending = AirEnds
	return c
}

// reached is a step with its Reynolds number.
type reached struct {
	Step
	reynolds float64
}

// reach is the step from one to the air of a level above. The time between them
// is exact where the square of the speed is linear in height, as it is close to
// where an envelope floats. The gas leaks at the speed at which the step starts
// for want of the one at its end.
func (l Lifter) reach(from Step, to Layer, guess float64) reached {
	dz := float64(to.Height - from.Height)
	moles := l.left(from.Time + dz/max(from.Speed, 1e-3))
	a := l.state(to.State, moles, guess)
	s := Step{Height: to.Height, Time: from.Time, Speed: a.Speed, Diameter: a.Diameter, Free: a.Free}
	if from.Speed+a.Speed > 0 {
		s.Time += 2 * dz / (from.Speed + a.Speed)
	}
	return reached{s, a.Reynolds}
}

// left is the gas in mol after a time in s.
func (l Lifter) left(time float64) float64 {
	if l.Filling.Leak == 0 {
		return l.Filling.Moles
	}
	return l.Filling.Moles * math.Exp(-l.Filling.Leak*time/3600)
}

// ending is where within a layer the climb ends: the lowest height at which it
// has burst or floats, found by halving to a millimetre or better.
func (l Lifter) ending(from Step, below, above Layer, guess float64) (Step, Ending) {
	layer := spanning(below, above)
	at := func(share float64) (Layer, Aloft) {
		air := layer.at(share)
		time := from.Time + float64(air.Height-from.Height)/max(from.Speed, 1e-3)
		return air, l.still(air.State, l.left(time))
	}
	low, high := 0.0, 1.0
	for range 26 {
		mid := (low + high) / 2
		if _, a := at(mid); a.Diameter >= l.Envelope.Burst || !(a.Free > 0) {
			high = mid
		} else {
			low = mid
		}
	}
	air, a := at(high)
	ending := Floats
	if a.Diameter >= l.Envelope.Burst {
		ending = Bursts
	}
	return l.reach(from, air, guess).Step, ending
}
