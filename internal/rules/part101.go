package rules

import "fmt"

// part101Bounds are those of 14 CFR 101.1(a)(4), all of them "more than".
var (
	ratioMass    = bound{limit: 4 * pound, unit: pounds}
	ratioFace    = bound{limit: 3 * ozPerIn2, unit: perInch}
	packageMass  = bound{limit: 6 * pound, unit: pounds}
	combinedMass = bound{limit: 12 * pound, unit: pounds}
	ropeForce    = bound{limit: 50 * lbf, unit: poundsForce}
)

// annual is the date of the texts of 14 CFR part 101 that were seen.
const annual = "edition of 1 January 2024"

// fromMemory is the date of a text that was not seen.
const fromMemory = "from memory"

// cfr is a paragraph of 14 CFR part 101.
func cfr(paragraph, date string, seen bool) Source {
	return Source{"14 CFR " + paragraph, date, seen}
}

// part101 holds the flight to the tests of 14 CFR 101.1(a)(4): beyond any of them
// it is under part 101.
func (f Flight) part101() ([]Class, []Result) {
	tests := []Result{
		f.densest(cfr("101.1(a)(4)(i)", annual, true), dense{ratioMass, ratioFace, squareInch}),
		f.heaviest(cfr("101.1(a)(4)(ii)", annual, true), packageMass),
		f.combined(),
		f.rope(cfr("101.1(a)(4)(iv)", annual, true), ropeForce),
	}
	switch verdict(tests) {
	case NotMet:
		return []Class{Part101}, tests
	case Met:
		return []Class{BelowPart101}, tests
	case CannotTell:
	}
	return []Class{BelowPart101, Part101}, tests
}

// verdict is that of results that have to be met together.
func verdict(results []Result) Verdict {
	v := Met
	for _, r := range results {
		v = worse(v, r.Verdict)
	}
	return v
}

// combined is the test of a payload of two packages or more.
func (f Flight) combined() Result {
	b, total := combinedMass, f.Payload()
	r := Result{
		Source: cfr("101.1(a)(4)(iii)", annual, true), Binds: Yes, Verdict: b.hold(exactly(total)),
		What: "payload of two or more packages", Limit: b.String(), Note: f.restNote(b), Change: b.change(total),
		Value: fmt.Sprintf("%s in %s", b.unit.text(total), counted(len(f.Packages), "package")),
	}
	if r.Verdict == Met {
		return r
	}
	switch f.several() {
	case No:
		r.Verdict, r.Change = Met, "a second package would exceed it"
	case Unknown:
		r.Verdict, r.Change = CannotTell, "say which parts make a package of their own"
	case Yes:
	}
	return r
}

// counted is a number of things in words.
func counted(n int, thing string) string {
	if n == 1 {
		return "1 " + thing
	}
	return fmt.Sprintf("%d %ss", n, thing)
}
