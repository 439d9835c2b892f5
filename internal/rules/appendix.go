package rules

// appendixBounds are those of ICAO Annex 2 and SERA Appendix 2, 1: all of them
// "or more" but for the density, which is "more than".
var (
	lightMass     = bound{limit: 4, below: true, unit: kilograms}
	mediumMass    = bound{limit: 6, below: true, unit: kilograms}
	onePackage    = bound{limit: 3, below: true, unit: kilograms}
	densePackage  = bound{limit: 2, below: true, unit: kilograms}
	packageFace   = bound{limit: 13 * gPerCm2, unit: perCm}
	separateForce = bound{limit: 230, below: true, unit: newtons}
)

// classTexts are where the classes of one jurisdiction stand.
type classTexts struct{ light, combined, single, dense, rope Source }

// appendixTexts are those of the appendix.
func appendixTexts(j Jurisdiction) classTexts {
	in := appendix(j)
	at := func(p string) Source { return in.at(p, in.classes) }
	return classTexts{at("1, light"), at("1, heavy (1)"), at("1, heavy (2)"), at("1, heavy (3)"), at("1, heavy (4)")}
}

// appendix holds the flight to the classes light, medium and heavy.
//
// The definitions leave no class for one package of 4 to 6 kg but heavy, which it
// is by its mass; where it is one only with canopy and lines, that is what cannot
// be told.
func (f Flight) appendix(t classTexts) ([]Class, []Result) {
	total := f.Payload()
	sum := func(src Source, what string, b bound) Result {
		return Result{
			Source: src, Binds: Yes, Verdict: b.hold(exactly(total)), What: what,
			Value: b.unit.text(total), Limit: b.String(), Change: b.change(total), Note: f.restNote(b),
		}
	}
	light := sum(t.light, "combined mass, for light", lightMass)
	heavy := []Result{
		sum(t.combined, "combined mass, for less than heavy", mediumMass),
		f.heaviest(t.single, onePackage),
		f.densest(t.dense, dense{densePackage, packageFace, squareCm}),
		f.rope(t.rope, separateForce),
	}
	mild := Medium
	if light.Verdict == Met {
		mild = Light
	}
	tests := append([]Result{light}, heavy...)
	switch verdict(heavy) {
	case NotMet:
		return []Class{Heavy}, tests
	case Met:
		return []Class{mild}, tests
	case CannotTell:
	}
	return []Class{mild, Heavy}, tests
}
