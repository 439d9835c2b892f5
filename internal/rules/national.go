package rules

import (
	"fmt"
	"math"
	"time"
)

// The bounds of Australia and Canada.
var (
	smallAcross = bound{limit: 2, unit: metres}
	smallMass   = bound{limit: 0.050, unit: unit{name: "g", size: 0.001}}
	capacity    = bound{limit: 115 * foot3, unit: cubicFeet}
)

// casr is a paragraph of CASR 101.145, which was seen without a date.
func casr(which string) Source {
	return Source{"CASR 101.145, " + which, "as seen without a date", true}
}

// australian holds the flight to the classes small, light, medium and heavy. What
// a heavy package is was not seen: ICAO's figures, from memory.
func (f Flight) australian() ([]Class, []Result) {
	const assumed = "ICAO's figures, from memory"
	total := f.Payload()
	sum := func(what string, b bound) Result {
		return line{casr(what), Yes, "payload, for " + what}.quantity(b, total, "").noted(f.restNote(b))
	}
	across := line{casr("small"), Yes, "diameter at launch, for small"}.quantity(smallAcross, f.AtLaunch, "give the diameter at launch")
	tiny, light := sum("small", smallMass), sum("light", lightMass)
	heavy := []Result{
		sum("less than heavy", mediumMass),
		f.heaviest(Source{"CASR 101.145, heavy package", assumed, false}, onePackage),
		f.densest(Source{"CASR 101.145, heavy package", assumed, false}, dense{densePackage, packageFace, squareCm}),
		f.rope(casr("suspension"), separateForce),
	}
	var mild []Class
	switch small := worse(tiny.Verdict, across.Verdict); {
	case small == Met:
		mild = []Class{Small}
	case small == CannotTell:
		mild = []Class{Small, Light}
	case light.Verdict == Met:
		mild = []Class{Light}
	default:
		mild = []Class{Medium}
	}
	tests := append([]Result{across, tiny, light}, heavy...)
	switch verdict(heavy) {
	case NotMet:
		return []Class{Heavy}, tests
	case CannotTell:
		return append(mild, Heavy), tests
	case Met:
	}
	return mild, tests
}

// australianLimits is a note: the limits of each class were not seen.
func (f Flight) australianLimits() []Result {
	return []Result{
		line{Source{"CASR part 101", "at second hand", false}, Unknown, "application to the authority"}.
			duty("up to 28 days before", "ask by "+f.before(28*24*time.Hour)).
			noted("what binds each class was not seen"),
	}
}

// newZealandTexts are where its classes stand, which are taken to be ICAO's.
func newZealandTexts() classTexts {
	at := func(which string) Source {
		return Source{"New Zealand part 101, " + which, "as in SERA Appendix 2; not seen", false}
	}
	return classTexts{at("light"), at("heavy, combined mass"), at("heavy, package"), at("heavy, density"), at("heavy, suspension")}
}

// newZealandLimits is what was seen of subpart C.
func (f Flight) newZealandLimits(classes []Class) []Result {
	weighty, heavy := binds(classes, Medium, Heavy), binds(classes, Heavy)
	at := func(which string, binds Answer, what string) line {
		return line{Source{"New Zealand part 101, subpart C, " + which, "as seen without a date", true}, binds, what}
	}
	const services = "air traffic services authorize it"
	const strict = "read so that cloud alone, and visibility alone, is too much"
	e := f.Equipment
	return []Result{
		at("cloud", heavy, "sky covered below 60,000 ft").
			quantity(fourOktas, f.Weather.Cloud, giveWeather).unless(f.Leave.Services, services).noted(strict),
		at("visibility", heavy, "visibility below 60,000 ft").
			quantity(eightKm, f.Weather.Visibility, giveWeather).unless(f.Leave.Services, services).
			noted(strict + "; a forecast has it at the ground alone"),
		at("congested area", weighty, "flight below 1,000 ft over a congested area or an assembly").chance(f.Congested, No, ""),
		at("termination", heavy, "means that end the flight").count(max(e.CutDowns, e.Terminations), 2).
			noted("which classes carry them was not seen"),
		at("surveillance", heavy, "ADS-B in airspace where transponders are mandatory").
			answer(e.Transponder, "carried", "ask whether the path meets such airspace"),
		at("radar", heavy, "device or material that radar of 2,700 to 2,900 MHz sees").
			answer(e.Reflector, "carried", "carry one, or state that there is one"),
	}
}

// canadian holds the flight to the one test of size, with the volume at burst as
// what the envelope holds: the careful reading.
func (f Flight) canadian() ([]Class, []Result) {
	volume := math.Pi / 6 * f.AtBurst * f.AtBurst * f.AtBurst
	src := Source{"Canadian Aviation Regulations, 602.42", "at second hand", false}
	r := line{src, Yes, "volume of gas that the envelope holds"}.quantity(capacity, volume, "give the burst diameter")
	if r.Verdict != CannotTell {
		across := math.Cbrt(capacity.limit * 6 / math.Pi)
		r.Change = fmt.Sprintf("the limit is a burst diameter of %.4g m", across)
	}
	r.Note = "the volume at burst is taken for what it holds"
	switch r.Verdict {
	case Met:
		return []Class{NotLarge}, []Result{r}
	case NotMet:
		return []Class{LargeCanadian}, []Result{r}
	case CannotTell:
	}
	return []Class{NotLarge, LargeCanadian}, []Result{r}
}

// canadianLimits is the authorization of a large one, and what to do for others.
func (f Flight) canadianLimits(classes []Class) []Result {
	return []Result{
		line{Source{"Canadian Aviation Regulations, 602.42", "at second hand", false}, binds(classes, LargeCanadian), "authorization under 602.44"}.
			answer(f.Leave.State, "held", "ask the Minister's department, and state that it is held").
			noted("602.44, seen without a date: given where the public interest speaks for it and aviation is not likely to suffer"),
		line{Source{"practice for balloons that are not large", fromMemory, false}, binds(classes, NotLarge), "NOTAM and air traffic services"}.
			duty("told before the launch", "call the area control centre"),
	}
}
