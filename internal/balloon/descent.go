package balloon

import (
	"fmt"
	"math"
	"sort"

	"example.org/thistledown/internal/atmos"
)

// Limits of a fall.
const (
	MinFallMass = 0.005 // kg
	MaxFallMass = 1000  // kg
	MinDragArea = 1e-4  // m²
	MaxDragArea = 3e4   // m²

	thinnestAir = 1e-5 // kg/m³, about 80 km up
	densestAir  = 2.5  // kg/m³, denser than the coldest air at the lowest land
)

// AirLevel is the density of the air, kg/m³, at a height.
type AirLevel struct {
	Height  atmos.Geometric
	Density float64
}

// Column is the air above one place, from below upward. Between its levels the
// density is taken as exponential in height.
type Column []AirLevel

// maxLevels bounds a column.
const maxLevels = 10000

// StandardColumn is the U.S. Standard Atmosphere 1976 between two heights, −5
// to 80 km, in steps of at most 50 m: within 4e-4 of its density where the
// standard's lapse of temperature changes, and within 1.3e-6 elsewhere.
func StandardColumn(bottom, top atmos.Geometric) (Column, error) {
	a, err := StandardAir(bottom, top, 50)
	if err != nil {
		return nil, err
	}
	return a.Column(), nil
}

// Check reports every fault of the column: two levels or more, rising, of
// densities that air can have.
func (c Column) Check() error {
	var w wants
	if len(c) < 2 || len(c) > maxLevels {
		w = append(w, fmt.Errorf("air column of %d levels: want 2 to %d", len(c), maxLevels))
	}
	for i, l := range c {
		w.between(fmt.Sprintf("air level %d: density", i), l.Density, thinnestAir, densestAir, "kg/m³")
		if h := float64(l.Height); math.IsNaN(h) || math.IsInf(h, 0) || i > 0 && !(l.Height > c[i-1].Height) {
			w = append(w, fmt.Errorf("air level %d: height %g m: want it above the level before", i, h))
		}
	}
	return w.err()
}

// At is the density in kg/m³ at a height; false outside the column.
func (c Column) At(z atmos.Geometric) (float64, bool) {
	if len(c) < 2 || !(z >= c[0].Height && z <= c[len(c)-1].Height) {
		return 0, false
	}
	i := max(1, sort.Search(len(c), func(i int) bool { return c[i].Height >= z }))
	a, b := c[i-1], c[i]
	f := float64((z - a.Height) / (b.Height - a.Height))
	return a.Density * math.Pow(b.Density/a.Density, f), true
}

// Descent is a load on its way down.
type Descent struct {
	// Mass is all that falls, canopy included, kg, MinFallMass to MaxFallMass.
	Mass float64
	// DragArea is ΣCd·S of all that brakes it, m², MinDragArea to MaxDragArea.
	DragArea float64
}

// Check reports every quantity of the descent that is outside its limits.
func (d Descent) Check() error {
	var w wants
	w.between("falling mass", d.Mass, MinFallMass, MaxFallMass, "kg")
	w.between("drag area", d.DragArea, MinDragArea, MaxDragArea, "m²")
	return w.err()
}

// Speed is the terminal speed, m/s downward, in air of a density in kg/m³ above
// zero: v = √(2·m·g/(ρ·Cd·S)).
func (d Descent) Speed(density float64) float64 {
	return math.Sqrt(2 * d.Mass * atmos.StandardGravity / (density * d.DragArea))
}

// DragAreaFor is the Cd·S in m² at which a mass in kg falls at a speed in m/s in
// air of a density in kg/m³: the inverse of Speed.
func DragAreaFor(mass, speed, density float64) float64 {
	return 2 * mass * atmos.StandardGravity / (density * speed * speed)
}

// Energy is the kinetic energy in J of the load at a speed downward and a wind
// along the ground that carries it, both m/s.
func (d Descent) Energy(speed, wind float64) float64 {
	return d.Mass * (speed*speed + wind*wind) / 2
}

// FromRest is the speed in m/s and the drop in m after a time in s from rest in
// air of one density in kg/m³, the braking area full from the start:
// v = vₜ·tanh(g·t/vₜ).
func (d Descent) FromRest(density, time float64) (speed, drop float64) {
	const g = atmos.StandardGravity
	vt := d.Speed(density)
	x := g * time / vt
	// ln cosh x, which for large x would overflow as it stands.
	lnCosh := x + math.Log1p(math.Exp(-2*x)) - math.Ln2
	return vt * math.Tanh(x), vt * vt / g * lnCosh
}

// TimeDown is how long in s the load takes from one height down to another at
// the terminal speed of each height. In each layer, where the density is
// exponential, it is exact. Against the true fall from rest, speed v at the
// start and v₀ at the end, it is v/g·ln 2 − (v − v₀)/2g too short: gathering
// speed costs time, and running ahead of the thickening air gives some of it
// back. From 30 km at 42.7 m/s that is 1.1 s.
func (d Descent) TimeDown(c Column, from, to atmos.Geometric) (float64, error) {
	var w wants
	w.add("descent", d.Check())
	w.add("air", c.Check())
	if err := w.err(); err != nil {
		return 0, err
	}
	high, okHigh := c.At(from)
	low, okLow := c.At(to)
	if !okHigh || !okLow || !(from >= to) {
		return 0, fmt.Errorf("descent from %g to %g m: want downward within the column's %g to %g m",
			float64(from), float64(to), float64(c[0].Height), float64(c[len(c)-1].Height))
	}
	var sum float64 // ∫√ρ dz
	below := AirLevel{to, low}
	for _, l := range c {
		if l.Height <= to || l.Height >= from {
			continue
		}
		sum += rootIntegral(below, l)
		below = l
	}
	sum += rootIntegral(below, AirLevel{from, high})
	return sum / d.Speed(1), nil
}

// rootIntegral is ∫√ρ dz between two levels, ρ exponential in height.
func rootIntegral(a, b AirLevel) float64 {
	dz := float64(b.Height - a.Height)
	x := math.Log(b.Density/a.Density) / 2
	mean := 1.0 // (eˣ − 1)/x
	if x != 0 {
		mean = math.Expm1(x) / x
	}
	return dz * math.Sqrt(a.Density) * mean
}

// Lag is by how much, as a share of the terminal speed, a steady fall runs ahead
// of it because the air grows denser below: v²/vₜ² = 1 + vₜ²/(2·g·h) where
// speed is the terminal speed in m/s and scale the height h in m over which
// the density grows e-fold (about 6600 m in the stratosphere). At 30 km and
// 42.7 m/s it is 0.7 %, at the ground nothing.
func Lag(speed, scale float64) float64 {
	return math.Sqrt(1+speed*speed/(2*atmos.StandardGravity*scale)) - 1
}

// Settling is how a fall comes to its terminal speed.
type Settling struct {
	Time  float64 // s from the start until the speed is within the share asked for
	Drop  float64 // m fallen by then
	Speed float64 // m/s downward by then
}

// maxSteps bounds the integration of a fall; at 64 steps to the time constant
// vₜ/g it is more than any fall within the limits needs.
const maxSteps = 200000

// Settle follows a fall from a height, at a starting speed in m/s (downward; an
// ascent is negative), the braking area full from the start, until its speed is
// within a share (0.001 to 0.5) of the terminal speed of the height reached.
//
// At 30 km a canopy that sinks at 5 m/s at sea level, from rest, needs about
// eight seconds and two hundred metres to come within 5 %.
func (d Descent) Settle(c Column, from atmos.Geometric, start, share float64) (Settling, error) {
	var w wants
	w.add("descent", d.Check())
	w.add("air", c.Check())
	w.between("starting speed", start, -1000, 1000, "m/s")
	w.between("share", share, 0.001, 0.5, "(no unit)")
	if err := w.err(); err != nil {
		return Settling{}, err
	}
	near := func(s falling) bool {
		density, ok := c.At(s.height)
		return ok && math.Abs(s.speed/d.Speed(density)-1) <= share
	}
	s, err := d.follow(c, falling{from, start, 0}, near)
	return Settling{s.time, float64(from - s.height), s.speed}, err
}

// After is the speed in m/s downward and the height after a time in s, 0 to
// 600, from a height and a starting speed in m/s.
func (d Descent) After(c Column, from atmos.Geometric, start, time float64) (speed float64, height atmos.Geometric, err error) {
	var w wants
	w.add("descent", d.Check())
	w.add("air", c.Check())
	w.between("starting speed", start, -1000, 1000, "m/s")
	w.between("time", time, 0, 600, "s")
	if err := w.err(); err != nil {
		return 0, 0, err
	}
	s, err := d.follow(c, falling{from, start, 0}, func(s falling) bool { return s.time >= time })
	if err != nil {
		return 0, 0, err
	}
	// Back over the part of the last step beyond the time.
	s = d.step(c, s, time-s.time)
	return s.speed, s.height, nil
}

// falling is the state of a fall: height, speed in m/s downward, time in s.
type falling struct {
	height atmos.Geometric
	speed  float64
	time   float64
}

// follow steps a fall until done.
func (d Descent) follow(c Column, s falling, done func(falling) bool) (falling, error) {
	for range maxSteps {
		if done(s) {
			return s, nil
		}
		density, ok := c.At(s.height)
		if !ok {
			return s, fmt.Errorf("fall at %g m after %.0f s: the air column ends at %g to %g m",
				float64(s.height), s.time, float64(c[0].Height), float64(c[len(c)-1].Height))
		}
		vt := d.Speed(density)
		// The time constant is vt/g near the terminal speed and vt²/(g·v) above it.
		tau := vt / atmos.StandardGravity / max(1, math.Abs(s.speed)/vt)
		s = d.step(c, s, tau/64)
	}
	return s, fmt.Errorf("fall at %g m after %.0f s: not settled in %d steps", float64(s.height), s.time, maxSteps)
}

// step is one step of the classical Runge–Kutta method of order four.
func (d Descent) step(c Column, s falling, dt float64) falling {
	rate := func(z atmos.Geometric, v float64) float64 {
		z = max(c[0].Height, min(z, c[len(c)-1].Height))
		density, _ := c.At(z)
		return atmos.StandardGravity - density*d.DragArea*v*math.Abs(v)/(2*d.Mass)
	}
	h := func(dz float64) atmos.Geometric { return s.height - atmos.Geometric(dz) }
	v1 := s.speed
	a1 := rate(s.height, v1)
	v2 := v1 + a1*dt/2
	a2 := rate(h(v1*dt/2), v2)
	v3 := v1 + a2*dt/2
	a3 := rate(h(v2*dt/2), v3)
	v4 := v1 + a3*dt
	a4 := rate(h(v3*dt), v4)
	return falling{
		height: h((v1 + 2*v2 + 2*v3 + v4) / 6 * dt),
		speed:  v1 + (a1+2*a2+2*a3+a4)/6*dt,
		time:   s.time + dt,
	}
}
