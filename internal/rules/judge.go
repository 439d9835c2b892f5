package rules

import (
	"fmt"
	"math"
	"strings"
)

// rounding is by what share of a limit a value may be off it and still be on it:
// what sums of decimals are off in float64, and no scale can weigh.
const rounding = 1e-9

// span is a quantity that lies somewhere between two values; NaN: not known.
type span struct{ least, most float64 }

// exactly is the span of one value.
func exactly(v float64) span { return span{v, v} }

// bound is a limit of a quantity. It is met up to and with the limit, or below it
// alone where reaching it is too much: "over 6 lb" against "6 kg or more".
type bound struct {
	limit float64
	below bool // met below the limit alone
	floor bool // met from the limit upward
	unit  unit
}

// meets is whether one value meets the bound.
func (b bound) meets(v float64) bool {
	switch {
	case b.below:
		return v < b.limit*(1-rounding)
	case b.floor:
		return v >= b.limit*(1-rounding)
	}
	return v <= b.limit*(1+rounding)
}

// hold is the verdict of a span.
func (b bound) hold(s span) Verdict {
	switch {
	case math.IsNaN(s.least) || math.IsNaN(s.most):
		return CannotTell
	case b.meets(s.least) && b.meets(s.most):
		return Met
	case !b.meets(s.least) && !b.meets(s.most):
		return NotMet
	}
	return CannotTell
}

// String is the bound in words.
func (b bound) String() string {
	switch {
	case b.below:
		return "below " + b.unit.text(b.limit)
	case b.floor:
		return "at least " + b.unit.text(b.limit)
	}
	return "at most " + b.unit.text(b.limit)
}

// beyond is the other side of the bound in words.
func (b bound) beyond() string {
	if b.below {
		return "of " + b.unit.text(b.limit) + " or more"
	}
	return "over " + b.unit.text(b.limit)
}

// change is what it takes to bring a known value to the other side of the bound.
func (b bound) change(v float64) string {
	gap := b.unit.text(math.Abs(v - b.limit))
	meets := b.meets(v)
	switch {
	case meets && b.below:
		return gap + " more would reach the limit"
	case meets && b.floor:
		return "more than " + gap + " less would fall below the limit"
	case meets:
		return "more than " + gap + " on top would exceed the limit"
	case b.below:
		return "it takes more than " + gap + " less"
	case b.floor:
		return "it takes " + gap + " more"
	}
	return "it takes " + gap + " less"
}

// both is the verdict of a limit that is exceeded only where two bounds are.
func both(a, b Verdict) Verdict {
	switch {
	case a == Met || b == Met:
		return Met
	case a == NotMet && b == NotMet:
		return NotMet
	}
	return CannotTell
}

// worse is the verdict of two limits that have to be met together.
func worse(a, b Verdict) Verdict {
	switch {
	case a == NotMet || b == NotMet:
		return NotMet
	case a == CannotTell || b == CannotTell:
		return CannotTell
	}
	return Met
}

// unit is how a rule writes a quantity, and what it is in SI as printed beside it.
type unit struct {
	name  string
	size  float64 // of one, SI
	other string  // printed in brackets; empty: nothing
	of    float64 // one of other, SI
}

// text is a value in the unit.
func (u unit) text(v float64) string {
	if math.IsNaN(v) {
		return unstated
	}
	s := fmt.Sprintf("%.5g %s", v/u.size, u.name)
	if u.other != "" {
		s += fmt.Sprintf(" (%.4g %s)", v/u.of, u.other)
	}
	return s
}

// span is a span in the unit.
func (u unit) span(s span) string {
	if s.least == s.most || math.IsNaN(s.most) {
		return u.text(s.most)
	}
	return u.text(s.least) + " to " + u.text(s.most)
}

const unstated = "not known"

// The customary units are exact: NIST SP 811 (2008), B.8: inch 0.0254 m, foot
// 0.3048 m, pound 0.453 592 37 kg of 16 ounces, mile 5280 ft. The pound of force
// takes the standard acceleration 9.806 65 m/s² (CGPM 1901).
const (
	inch     = 0.0254          // m
	foot     = 0.3048          // m
	mile     = 5280 * foot     // m
	pound    = 0.45359237      // kg
	ounce    = pound / 16      // kg
	ozPerIn2 = ounce / inch2   // kg/m²
	gPerCm2  = 10.0            // kg/m²
	lbf      = pound * 9.80665 // N
	inch2    = inch * inch     // m²
	cm2      = 1e-4            // m²
	foot3    = foot * foot * foot
	hour     = 3600.0 // s
)

// The units of the rules.
var (
	pounds      = unit{"lb", pound, "kg", 1}
	perInch     = unit{"oz/in²", ozPerIn2, "g/cm²", gPerCm2}
	poundsForce = unit{"lbf", lbf, "N", 1}
	squareInch  = unit{"in²", inch2, "cm²", cm2}
	statute     = unit{"statute miles", mile, "km", 1000}
	feet        = unit{"ft", foot, "m", 1}
	cubicFeet   = unit{"ft³", foot3, "m³", 1}
	kilograms   = unit{name: "kg", size: 1}
	perCm       = unit{name: "g/cm²", size: gPerCm2}
	newtons     = unit{name: "N", size: 1}
	squareCm    = unit{name: "cm²", size: cm2}
	kilometres  = unit{name: "km", size: 1000}
	metres      = unit{name: "m", size: 1}
	minutes     = unit{name: "min", size: 60}
	percent     = unit{name: "%", size: 0.01}
)

// packages is the packages with what may be of each: where there is only one,
// nothing says whether canopy and lines are part of it. Without any, what
// hangs there may be one.
func (f Flight) packages() []weighed {
	switch {
	case len(f.Packages) == 0 && f.Rest > 0:
		return []weighed{{Package{Name: "the payload"}, span{0, f.Rest}}}
	case len(f.Packages) == 1:
		p := f.Packages[0]
		return []weighed{{p, span{p.Least, p.Mass + f.Rest}}}
	}
	all := make([]weighed, 0, len(f.Packages))
	for _, p := range f.Packages {
		all = append(all, weighed{p, span{p.Least, p.Mass}})
	}
	return all
}

// several tells whether there are two packages or more.
func (f Flight) several() Answer {
	if len(f.Packages) >= 2 {
		return Yes
	}
	for _, p := range f.packages() {
		if p.mass.least < p.mass.most {
			return Unknown
		}
	}
	return No
}

// weighed is a package and what it may weigh, kg.
type weighed struct {
	Package
	mass span
}

// boxed is whether it was said what is in the package.
func (w weighed) boxed() bool { return w.Least == w.Mass && w.Mass > 0 }

// doubt is what would settle the mass of a package.
func (w weighed) doubt() string {
	if !w.boxed() {
		return "say which parts share a package"
	}
	return fmt.Sprintf("ask the authority whether canopy and lines count with %q: the text does not say", w.Name)
}

// heaviest holds each package to a bound; the result is of the worst.
func (f Flight) heaviest(src Source, b bound) Result {
	r := Result{Source: src, Binds: Yes, Verdict: Met, What: "heaviest package", Value: "no package", Limit: b.String()}
	var worst *weighed
	all := f.packages()
	for i := range all {
		v := b.hold(all[i].mass)
		if worst == nil || rank(v) > rank(r.Verdict) || v == r.Verdict && all[i].mass.most > worst.mass.most {
			worst, r.Verdict = &all[i], v
		}
	}
	if worst == nil {
		return r
	}
	r.Value = fmt.Sprintf("%s of %q", b.unit.span(worst.mass), worst.Name)
	switch r.Verdict {
	case CannotTell:
		r.Change = worst.doubt()
	case Met:
		r.Change = b.change(worst.mass.most)
	case NotMet:
		r.Change = b.change(worst.mass.least)
	}
	return r
}

// rank orders verdicts from the best to the worst.
func rank(v Verdict) int {
	switch v {
	case Met:
		return 0
	case CannotTell:
		return 1
	case NotMet:
	}
	return 2
}

// dense is the limit of mass over the smallest face, which counts from some mass.
type dense struct {
	mass, density bound
	face          unit
}

// densest holds each package to the limit; the result is of the worst. What
// it may be where a face is not known, and how large a face would do, is said.
func (f Flight) densest(src Source, d dense) Result {
	r := Result{
		Source: src, Binds: Yes, Verdict: Met, What: "package with the most mass on its smallest face",
		Value: "no package", Limit: fmt.Sprintf("%s or %s", d.mass, d.density),
	}
	var faceless []string
	first := true
	for _, p := range f.packages() {
		load := span{p.mass.least / p.smallest(), p.mass.most / p.smallest()}
		v := both(d.mass.hold(p.mass), d.density.hold(load))
		// What is over the mass is shown before what is not, though both are met.
		if !first && (rank(v) < rank(r.Verdict) || v == r.Verdict && d.mass.meets(p.mass.most)) {
			continue
		}
		first = false
		r.Verdict = v
		r.Value = fmt.Sprintf("%s, %s of %q", d.mass.unit.span(p.mass), d.density.unit.span(load), p.Name)
		r.Change = d.change(p, v)
		if v == CannotTell && math.IsNaN(load.most) {
			faceless = append(faceless, r.Change)
		}
	}
	if r.Verdict == CannotTell && len(faceless) > 0 {
		r.Change = strings.Join(faceless, "; ")
	}
	return r
}

// change is what would change the verdict of one package, or settle it.
func (d dense) change(p weighed, v Verdict) string {
	heavy := p.mass.most
	need := d.face.text(heavy / d.density.limit)
	switch {
	case v == NotMet:
		return fmt.Sprintf("a smallest face of at least %s, or a mass that is %s", need, d.mass)
	case v == CannotTell && math.IsNaN(p.smallest()) && !p.boxed():
		return p.doubt() + ", and give the smallest face of each " + d.mass.beyond()
	case v == CannotTell && math.IsNaN(p.smallest()):
		return fmt.Sprintf("give the smallest face of %q: of %s or more it is within", p.Name, need)
	case v == CannotTell:
		return p.doubt()
	case d.mass.meets(heavy):
		return "counts only for a mass " + d.mass.beyond()
	}
	return fmt.Sprintf("a smallest face under %s would exceed it", need)
}

// rope holds the impact force that separates payload and balloon to a bound.
func (f Flight) rope(src Source, b bound) Result {
	r := Result{
		Source: src, Binds: Yes, Verdict: b.hold(exactly(f.Break)), What: "impact force that separates payload and balloon",
		Value: b.unit.text(f.Break), Limit: b.String(),
		Note: "the text speaks of an impact force; the strength on a rope's label is a static one",
	}
	if r.Verdict == CannotTell {
		r.Change = "give the force at which the suspension parts"
		return r
	}
	r.Change = b.change(f.Break)
	return r
}

// restNote says so where a total is over a bound only with what is in no package.
func (f Flight) restNote(b bound) string {
	if f.Rest > 0 && b.meets(f.packed()) && !b.meets(f.Payload()) {
		return fmt.Sprintf("canopy, lines and all else below the neck counted; the text does not say whether they do, and without them it is %s", b.unit.text(f.packed()))
	}
	return ""
}
