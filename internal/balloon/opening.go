package balloon

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
)

// MaxOpeningSpeed bounds the speed at which a canopy is asked to open, m/s; the
// law of filling below is for air that flows well below the speed of sound.
const MaxOpeningSpeed = 250

// Recovery is a load with all that can brake it.
type Recovery struct {
	// Mass is all that comes down, canopies included, kg, MinFallMass to
	// MaxFallMass.
	Mass float64
	// Canopies are those that should open.
	Canopies []Canopy
	// Body is Cd·S of the load and of what is left of the envelope, in m², above
	// zero: all that brakes when no canopy opens. It is added to the canopies'
	// drag area, although a load close below a canopy takes a little from it.
	Body float64
}

// maxCanopyKinds bounds Recovery.Canopies.
const maxCanopyKinds = 8

// Check reports every quantity of the recovery that is outside its limits.
func (r Recovery) Check() error {
	var w wants
	w.between("falling mass", r.Mass, MinFallMass, MaxFallMass, "kg")
	w.between("drag area of the load without a canopy", r.Body, MinDragArea, MaxDragArea, "m²")
	if len(r.Canopies) > maxCanopyKinds {
		w = append(w, fmt.Errorf("kinds of canopy %d: want at most %d", len(r.Canopies), maxCanopyKinds))
	}
	for i, c := range r.Canopies {
		w.add(fmt.Sprintf("canopy %d", i+1), c.Check())
	}
	return w.err()
}

// Open is the fall with every canopy full.
func (r Recovery) Open() Descent { return r.Fouled(1) }

// Failed is the fall with no canopy open.
func (r Recovery) Failed() Descent { return r.Fouled(0) }

// Fouled is the fall with a share of the canopies' drag area left, 0 to 1: 0.25
// for a canopy that hangs in its own lines, say. The share is the caller's: no
// measured one was found.
func (r Recovery) Fouled(share float64) Descent {
	area := r.Body
	for _, c := range r.Canopies {
		area += share * c.DragArea()
	}
	return Descent{Mass: r.Mass, DragArea: area}
}

// Yardstick is a kinetic energy that a rule or a custom names.
type Yardstick struct {
	Energy float64 // J
	About  string
	Source string
}

// footPound is the energy of one foot-pound force, J (exact from the foot, the
// pound and standard gravity).
const footPound = 0.3048 * 0.45359237 * atmos.StandardGravity

// yardsticks are in order of energy. None of them is a rule for free balloons.
var yardsticks = [...]Yardstick{
	{
		11 * footPound, "small unmanned aircraft over people, United States, category 2; also a threshold of casualty for debris",
		"14 CFR 107.120, 14 CFR 417.107(c): from memory, text not seen",
	},
	{25 * footPound, "small unmanned aircraft over people, United States, category 3", "14 CFR 107.130(a)(1), seen as a copy"},
	{80, "small unmanned aircraft, European Union, class C1", "from memory, text not seen"},
	{75 * footPound, "one section of a student rocket at landing", "common practice, from memory"},
}

// Yardsticks is the energies to hold a landing against, the least first.
func Yardsticks() []Yardstick { return append([]Yardstick(nil), yardsticks[:]...) }

// Opening is the moment at which a canopy begins to fill.
type Opening struct {
	Mass   float64 // kg, all that hangs together
	Canopy Canopy  // one kind; several of them share the force
	// Density of the air, kg/m³, and the speed through it, m/s, when the lines
	// are stretched. A canopy that hangs open between envelope and load fills
	// from the slow start of the fall; one that sticks until later fills at
	// whatever the load has then gathered (Recovery.Failed().After).
	Density, Speed float64
}

// Load is what an opening pulls, in all the canopies together.
type Load struct {
	Steady   float64 // N, the weight: what hangs on the lines when all is over
	Greatest float64 // N, the estimate; never less than the weight
	// Unslowed is the force in N if the load kept its speed all the while that
	// the canopy fills, "infinite mass": CdS·q·Cx.
	Unslowed float64
	// Fill is the time that the canopy takes to fill, s; 0 where the shape has
	// no published fill constant or growth, and then Greatest is Unslowed.
	Fill float64
}

// Check reports every quantity of the opening that is outside its limits.
func (o Opening) Check() error {
	var w wants
	w.between("falling mass", o.Mass, MinFallMass, MaxFallMass, "kg")
	w.between("air density", o.Density, thinnestAir, densestAir, "kg/m³")
	w.between("opening speed", o.Speed, 0.1, MaxOpeningSpeed, "m/s")
	w.add("canopy", o.Canopy.Check())
	return w.err()
}

// Load is the greatest force of an opening in a straight fall, after
// [Knacke1991], §5: F = CdS·q·Cx·X₁, with Cx at the top of the shape's range,
// the fill time n·D₀/v and the drag area growing as (t/fill)^j. X₁, the share
// that is left because the load slows meanwhile, is not read from the printed
// chart of Pflanz's method but follows from the motion that the growth means,
//
//	m·dv/dt = m·g − ½·ρ·CdS·τʲ·v², X₁ = max τʲ·(v/v₁)², τ = t/fill,
//
// which for g = 0 has the chart's closed form. The weight counts: under 1.5 kg
// and 1.2 m it adds 10 % at 43 m/s at 30 km and 3 % at 60 m/s near the ground. The rating of a line is a static
// figure and this is a jerk: want a wide margin.
func (o Opening) Load() (Load, error) {
	if err := o.Check(); err != nil {
		return Load{}, err
	}
	s := o.Canopy.Shape
	l := Load{
		Steady:   o.Mass * atmos.StandardGravity,
		Unslowed: o.Canopy.DragArea() * o.Density * o.Speed * o.Speed / 2 * s.CxMax,
	}
	share := 1.0
	if s.Fill > 0 && s.Growth > 0 {
		l.Fill = s.Fill * o.Canopy.NominalDiameter() / o.Speed
		share = o.filling(l.Fill, atmos.StandardGravity)
	}
	l.Greatest = max(l.Steady, l.Unslowed*share)
	return l, nil
}

// fillSteps is into how many steps a filling is cut; X₁ is then within 0.01 %.
const fillSteps = 10000

// filling is X₁ of a fill time in s under a gravity in m/s². Within a step the
// drag area is that of its middle and the motion is exact, v = vₜ·tanh(…), so
// that no load is too light for it.
func (o Opening) filling(fill, gravity float64) float64 {
	v, top := o.Speed, 0.0
	dt := fill / fillSteps
	area := func(tau float64) float64 { return math.Pow(tau, float64(o.Canopy.Shape.Growth)) }
	drag := o.Density * o.Canopy.DragArea() / (2 * o.Mass) // 1/m, at full area
	for i := range fillSteps {
		k := drag * area((float64(i)+0.5)/fillSteps)
		if gravity == 0 {
			v /= 1 + k*v*dt
		} else {
			vt := math.Sqrt(gravity / k)
			th := math.Tanh(math.Sqrt(gravity*k) * dt)
			v = vt * (v + vt*th) / (vt + v*th)
		}
		top = max(top, area(float64(i+1)/fillSteps)*v*v)
	}
	return top / (o.Speed * o.Speed)
}
