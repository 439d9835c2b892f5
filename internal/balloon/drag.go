package balloon

import (
	"fmt"
	"math"
)

// Limits of a drag law.
const (
	MinSphereDrag = 0.05 // drag coefficient on the cross-section
	MaxSphereDrag = 3
	MinCritical   = 5e4 // Reynolds number
	MaxCritical   = 1e6
	MaxPower      = 8
)

// Drag is the drag coefficient of an envelope, on its cross-section π·D²/4, as a
// function of the Reynolds number Re = ρ·v·D/μ:
//
//	Cd = Above + (Below − Above)/(1 + (Re/Critical)^Power)
//
// but, up to Re 1000, never below 24/Re·(1 + 0.15·Re^0.687), the law of
// [SchillerNaumann1933] for slow spheres, which takes over below a Re of some
// hundred, where an envelope hardly moves.
//
// A smooth rigid sphere loses three quarters of its drag between Re 2.5e5 and
// 4e5, so fast that Cd·Re² falls meanwhile: for one lift there are then three
// speeds. An envelope is neither smooth nor rigid, swings with its load and
// meets turbulent air, all of which spread that fall out and move it to a lower
// Re. Here the fall is never so steep that Cd·Re² ceases to rise, Check sees to
// it, and so there is one speed for a lift. The price is that the sudden gain
// or loss of speed of one smooth sphere at its crisis does not show.
type Drag struct {
	// Below and Above are the coefficients far below and far above Critical, both
	// MinSphereDrag to MaxSphereDrag, Above not over Below. Equal, they are a
	// constant coefficient: what one ascent of one's own was measured to have.
	Below, Above float64
	// Critical is the Reynolds number halfway, MinCritical to MaxCritical.
	Critical float64
	// Power is how sharp the fall is, 1 to MaxPower.
	Power int

	table *dragTable // of the law before it was scaled; see Tabled
	scale float64
}

// SoundingDrag is the law fitted to soundings, and what a flight takes for want
// of better.
//
// Its shape (the ratio Below/Above, Critical, Power) is the least-squares fit of
// scripts/balloon/sounding_drag.py to the mean speed of each kilometre of six
// ascents over Lamont and Darwin, to 25 and 36 km, of which neither gas nor
// masses are known: 10 % rms, and 7 to 15 % for each ascent by the law of the
// other five. Critical is known only within 1.7e5 to 2.0e5, as it goes with the
// diameters. Its level is that of the one open ascent whose gas and envelope are
// known, 0.29 at Re 4.7e5; a meteorological table of envelopes, from memory,
// agrees: 0.28 to 0.38 at Re 4e5 to 7e5, 0.43 at 2.6e5, 0.8 at 8e4, 1.1 at 2e4.
// What else slows an ascent aloft, gas colder than the air or lost, is in the
// coefficient: it is of soundings and not of a sphere, of which Below is twice
// too much. A spread of 10 % of the coefficient for one flight is a fair guess.
func SoundingDrag() Drag { return Drag{Below: 1.03, Above: 0.27, Critical: 1.9e5, Power: 4} }

// SphereDrag is a rigid sphere's: 0.48 below the crisis, 0.2 far above it, where
// the coefficient comes back to 0.18 to 0.2 ([Achenbach1972], from memory),
// halfway at its critical Re 3.7e5 (from memory). It meets the measurements of
// [RoosWillmarth1971] from Re 100 to 1.2e5 to 7 % rms, less than their own scatter;
// from Re 1e5 to 4e5 correlations differ by two to five times.
func SphereDrag() Drag { return Drag{Below: 0.48, Above: 0.2, Critical: 3.7e5, Power: 2} }

// ConstantDrag is the same coefficient at every Re but the smallest.
func ConstantDrag(cd float64) Drag {
	return Drag{Below: cd, Above: cd, Critical: MinCritical, Power: 1}
}

// Scaled is the law with its coefficient times a factor: a draw of its spread.
func (d Drag) Scaled(factor float64) Drag {
	d.Below *= factor
	d.Above *= factor
	d.scale *= factor
	return d
}

// Check reports every fault of the law.
func (d Drag) Check() error {
	var w wants
	w.between("drag coefficient below the crisis", d.Below, MinSphereDrag, MaxSphereDrag, "(no unit)")
	w.between("drag coefficient above the crisis", d.Above, MinSphereDrag, MaxSphereDrag, "(no unit)")
	w.between("critical Reynolds number", d.Critical, MinCritical, MaxCritical, "(no unit)")
	if d.Power < 1 || d.Power > MaxPower {
		w = append(w, fmt.Errorf("power of the Reynolds number %d: want 1 to %d", d.Power, MaxPower))
	}
	if d.Above > d.Below {
		w = append(w, fmt.Errorf("drag coefficient above the crisis %g: want at most the %g below it", d.Above, d.Below))
	}
	if len(w) == 0 && !(d.steepest() < steepestFall) {
		w = append(w, fmt.Errorf("drag falls as Re^−%.2f at its steepest: want less than %g, or one lift has several speeds", d.steepest(), steepestFall))
	}
	return w.err()
}

// steepestFall bounds −d ln Cd/d ln Re, so that Cd·Re² rises at least as Re^0.1.
const steepestFall = 1.9

// steepest is the greatest −d ln Cd/d ln Re of the fall. With r = Below/Above and
// x = (Re/Critical)^Power it is Power·(r−1)·x/((1+x)(x+r)), greatest at x = √r.
func (d Drag) steepest() float64 {
	root := math.Sqrt(d.Below / d.Above)
	return float64(d.Power) * (root - 1) / (root + 1)
}

// Cd is the drag coefficient at a Reynolds number above zero.
func (d Drag) Cd(reynolds float64) float64 {
	cd, _ := d.law(reynolds)
	return cd
}

// law is Cd and −d ln Cd/d ln Re.
func (d Drag) law(reynolds float64) (cd, steepness float64) {
	cd, steepness = d.fall(reynolds)
	if s, steep := slow(reynolds); s > cd {
		return s, steep
	}
	return cd, steepness
}

// fall is the law without its slow end, and −d ln Cd/d ln Re of it.
func (d Drag) fall(reynolds float64) (cd, steepness float64) {
	r := reynolds / d.Critical
	x := 1.0
	for range d.Power {
		x *= r
	}
	if x > 1e12 { // past there the fall is over, and its square would overflow
		return d.Above, 0
	}
	step := (d.Below - d.Above) / (1 + x)
	cd = d.Above + step
	return cd, float64(d.Power) * step * x / ((1 + x) * cd)
}

// slow is the law of [SchillerNaumann1933] up to Re 1000, where it ends, and
// −d ln Cd/d ln Re of it. Beyond, it fades as Re^−1.5 and bears on no law within
// the limits.
func slow(reynolds float64) (cd, steepness float64) {
	if reynolds > 1000 {
		x := 1000 / reynolds
		return slowEnd * x * math.Sqrt(x), 1.5
	}
	inertial := 0.15 * math.Pow(reynolds, 0.687)
	return 24 / reynolds * (1 + inertial), 1 - 0.687*inertial/(1+inertial)
}

// slowEnd is the drag coefficient of [SchillerNaumann1933] at Re 1000.
const slowEnd = 0.43828

// reynolds is the Re at which Cd·Re² is a number k ≥ 0, started from a guess
// above zero: Newton's method in the logarithms, where the slope is 0.1 to 2. It
// gets there from anywhere: between two steep ends lies a slow middle, so that a
// step from the middle that goes too far ends where the steps fall short, on the
// same side of the answer. Where the law is Tabled the table is asked.
func (d Drag) reynolds(k, guess float64) float64 {
	if !(k > 0) {
		return 0
	}
	if d.table != nil {
		if re, ok := d.table.reynolds(k / d.scale); ok {
			return re
		}
	}
	re := guess
	for range 100 {
		cd, steepness := d.law(re)
		off := math.Log(k / (cd * re * re))
		re *= math.Exp(off / (2 - steepness))
		if math.Abs(off) < 1e-5 {
			break // the last step squared what was off
		}
	}
	return re
}
