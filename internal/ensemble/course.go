package ensemble

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
)

// Course is how a flight goes: as planned, or otherwise, and how.
type Course uint8

// The courses. What each does to a flight stands at Chances.
const (
	Nominal Course = iota
	EarlyBurst
	CanopyFails
	CanopyFouled
	SlowLeak
	Float
)

// Courses is how many courses there are; they are numbered from 0.
const Courses = int(Float) + 1

var courseNames = [Courses]string{"nominal", "early_burst", "canopy_fails", "canopy_fouled", "slow_leak", "float"}

// String is the course's name as a plan has it.
func (c Course) String() string {
	if int(c) >= Courses {
		return fmt.Sprintf("Course(%d)", uint8(c))
	}
	return courseNames[c]
}

// Chances are the probabilities that a flight does not go as planned, 0 to 1
// each and together; the rest goes as planned.
type Chances struct {
	// EarlyBurst: the envelope bursts at a height that is uniform between the
	// release and the burst that was drawn.
	EarlyBurst float64
	// CanopyFails: the train falls at CanopyFailsFactor times the speed.
	CanopyFails float64
	// CanopyFouled: the canopy keeps FouledShare of its drag area; the train
	// falls faster by one over its square root.
	CanopyFouled float64
	// SlowLeak: the train rises at LeastLeakFactor to MostLeakFactor times the
	// rate, uniform, to the burst that was drawn.
	SlowLeak float64
	// Float: the train rises LeastFloatShare to MostFloatShare, uniform, of the
	// way from the release to the burst that was drawn, hangs there for
	// LeastFloatTime to MostFloatTime, uniform, and falls under its canopy. So does
	// a weighed train whose gas does not take it to its burst, but from where it
	// floats, and beside this chance. Its wind error fades from that of the way up to that of the way down, which is
	// as much correlated with it as if it had not hung.
	Float float64
}

// What courses other than the planned one do: assumed; no source.
const (
	CanopyFailsFactor = 4.0  // of the speed of fall
	FouledShare       = 0.35 // of the drag area
	LeastLeakFactor   = 0.5  // of the rate of ascent
	MostLeakFactor    = 0.9
	LeastFloatShare   = 0.6 // of the way up
	MostFloatShare    = 0.95
	LeastFloatTime    = 3600.0 // s
	MostFloatTime     = 6 * 3600.0
)

// of is the chance of a course other than the planned one.
func (c Chances) of(course Course) float64 {
	return [Courses]float64{
		EarlyBurst: c.EarlyBurst, CanopyFails: c.CanopyFails, CanopyFouled: c.CanopyFouled, SlowLeak: c.SlowLeak, Float: c.Float,
	}[course]
}

// Sum is the chance that a flight does not go as planned.
func (c Chances) Sum() float64 {
	return c.EarlyBurst + c.CanopyFails + c.CanopyFouled + c.SlowLeak + c.Float
}

func (c Chances) check() []error {
	var errs []error
	for course := EarlyBurst; int(course) < Courses; course++ {
		if p := c.of(course); !(p >= 0 && p <= 1) {
			errs = append(errs, fmt.Errorf("chance of %v %g: want 0 to 1", course, p))
		}
	}
	if sum := c.Sum(); len(errs) == 0 && sum > 1+1e-9 {
		errs = append(errs, fmt.Errorf("chances %g together: want at most 1", sum))
	}
	return errs
}

// draw is the course that a coordinate in (0, 1) stands for, and what is left of
// the coordinate within its share, which is uniform again: courses take the unit
// interval one after the other, so that an even sequence shares them out evenly.
func (c Chances) draw(u float64) (course Course, rest float64) {
	for course = EarlyBurst; int(course) < Courses; course++ {
		p := c.of(course)
		if u < p {
			return course, u / p
		}
		u -= p
	}
	return Nominal, u
}

// take makes a release that was drawn as planned one of another course. u and v
// are uniform in (0, 1).
func (c Course) take(r *flight.Release, u, v float64) {
	above := float64(r.Train.Burst - r.Height)
	switch c {
	case EarlyBurst:
		if above > 0 {
			r.Train.Burst = max(r.Height+atmos.Geometric(u*above), balloon.MinBurst)
		}
	case CanopyFails:
		r.Train.Landing = min(r.Train.Landing*CanopyFailsFactor, balloon.MaxLanding)
	case CanopyFouled:
		r.Train.Landing = min(r.Train.Landing/math.Sqrt(FouledShare), balloon.MaxLanding)
	case SlowLeak:
		factor := within(LeastLeakFactor, MostLeakFactor, u)
		r.Train.Ascent = max(r.Train.Ascent*factor, balloon.MinAscent)
		for i := range r.Profile.Rate {
			r.Profile.Rate[i] = max(r.Profile.Rate[i]*factor, balloon.MinAscent)
		}
	case Float:
		if above > 0 {
			r.Train.Burst = max(r.Height+atmos.Geometric(within(LeastFloatShare, MostFloatShare, u)*above), balloon.MinBurst)
		}
		r.Hover = within(LeastFloatTime, MostFloatTime, v)
	}
}

// within is a share of the way from one value to another.
func within(from, to, share float64) float64 { return from + share*(to-from) }
