package rules

import "time"

// The bounds of the appendix beside the classes; those of weather and of marking
// are from memory.
var (
	fourOktas      = bound{limit: 4.0 / 8, unit: percent}
	eightKm        = bound{limit: 8000, floor: true, unit: kilometres}
	fifteenMetres  = bound{limit: 15, unit: metres}
	antennaBreaks  = bound{limit: 230, unit: newtons}
	groupOfBritain = bound{limit: 1000, below: true, unit: unit{name: "balloons", size: 1}}
)

// edition is a text of the appendix and the dates of its parts.
type edition struct {
	title                               string
	classes, equipment, notice, unknown dated
}

// dated is the date of a text and whether it was seen.
type dated struct {
	date string
	seen bool
}

// at is a paragraph of the appendix.
func (e edition) at(paragraph string, d dated) Source {
	return Source{e.title + ", " + paragraph, d.date, d.seen}
}

// appendix is the edition that holds in a jurisdiction. What was seen is the
// text of the Union as the United Kingdom retained it, of 31 January 2020, for the
// classes and the leave; British of January 2022 for the equipment; German
// without a date for the notice. Of ICAO's own text nothing was seen.
func appendix(j Jurisdiction) edition {
	memory := dated{fromMemory, false}
	switch j {
	case Europe:
		return edition{
			"SERA Appendix 2",
			dated{"Regulation (EU) 923/2012 as of 31 January 2020", true},
			dated{"as the United Kingdom has it, January 2022", false},
			dated{"German text without a date", true},
			memory,
		}
	case Britain:
		return edition{
			"SERA Appendix 2 (retained)",
			dated{"as of 31 January 2020", true},
			dated{"consolidation of January 2022", true},
			dated{"as the European Union has it, without a date", false},
			memory,
		}
	default:
		as := dated{"as in SERA Appendix 2; the text of ICAO was not seen", false}
		return edition{"ICAO Annex 2, appendix on unmanned free balloons", as, as, as, memory}
	}
}

// appendixLimits holds the flight to the appendix, and in Britain to the order.
func (f Flight) appendixLimits(j Jurisdiction, classes []Class) []Result {
	in := appendix(j)
	every := binds(classes, Light, Medium, Heavy)
	weighty := binds(classes, Medium, Heavy)
	heavy := binds(classes, Heavy)
	const services = "air traffic services authorize it"
	limits := []Result{
		line{in.at("2.1 to 2.3, State of launch", in.classes), every, "authorization of the State that it is launched in"}.
			answer(f.Leave.State, "held, for every class", "ask the authority, and state that it is held"),
		f.border(in, classes),
		f.closed(j),
		line{in.at("3, cloud", in.unknown), heavy, "sky covered below 18,000 m (60,000 ft) of pressure altitude"}.
			quantity(fourOktas, f.Weather.Cloud, giveWeather).unless(f.Leave.Services, services),
		line{in.at("3, visibility", in.unknown), heavy, "horizontal visibility below 18,000 m (60,000 ft) of pressure altitude"}.
			quantity(eightKm, f.Weather.Visibility, giveWeather).unless(f.Leave.Services, services).
			noted("a forecast has it at the ground alone"),
		line{in.at("3, congested area", in.unknown), weighty, "flight below 300 m (1,000 ft) over a congested area or an assembly in the open"}.
			chance(f.Congested, No, ""),
	}
	limits = append(limits, f.appendixEquipment(in, heavy)...)
	limits = append(limits,
		line{in.at("5.1.1", in.notice), weighty, "early notice to air traffic services"}.
			duty("7 days or more before", "give it by "+f.before(7*24*time.Hour)),
		line{in.at("position", in.unknown), heavy, "time between recorded positions, at and below 18,000 m"}.
			quantity(twoHours, f.Equipment.Fixes, givePosition).noted("above 18,000 m every 24 h"),
	)
	if j == Britain {
		limits = append(limits, f.britishLimits()...)
	}
	return limits
}

// border is the leave of States overflown. A light balloon that serves nothing but
// meteorology, flown as its own authority prescribes, needs none.
func (f Flight) border(in edition, classes []Class) Result {
	l := line{in.at("2.1 to 2.3, other States", in.classes), Yes, "flights that cross a border"}
	const lets = "the other State has authorized it before the launch"
	const spared = "a light balloon that serves nothing but meteorology is spared, as its authority prescribes"
	switch light := binds(classes, Light); {
	case light == Yes && f.Meteorological == Yes:
		l.binds = No
	case light != No && f.Meteorological != No:
		l.binds = Unknown
	}
	return l.chance(f.Border, f.Leave.Abroad, lets).noted(spared)
}

// closed is the leave for closed volumes, which the appendix itself does not
// speak of.
func (f Flight) closed(j Jurisdiction) Result {
	src := Source{"ICAO Annex 2, 3.1.10", fromMemory, false}
	if j != International {
		src.Paragraph = "SERA.3145"
	}
	return line{src, Yes, "prohibited and restricted areas entered"}.
		chance(f.Closed, f.Leave.Closed, "the State that the area belongs to permits it")
}

// appendixEquipment is what a heavy balloon carries.
func (f Flight) appendixEquipment(in edition, heavy Answer) []Result {
	e := f.Equipment
	at := func(paragraph string, d dated, what string) line { return line{in.at(paragraph, d), heavy, what} }
	const gear = "3.3 to 3.4, "
	envelope := at(gear+"envelope", in.equipment, "means that end the flight of a zero-pressure polyethylene envelope").count(e.Terminations, 2)
	switch {
	case e.ZeroPressure == No:
		envelope.Verdict, envelope.Change = Met, "asked for of zero-pressure polyethylene alone"
	case e.ZeroPressure == Unknown && envelope.Verdict == NotMet:
		envelope.Verdict, envelope.Change = CannotTell, "state whether the envelope is zero-pressure polyethylene"
	}
	return []Result{
		at(gear+"payload", in.equipment, "means that end the flight of the payload").count(e.CutDowns, 2),
		envelope,
		at(gear+"radar", in.equipment, "device or material that radar of 200 to 2,700 MHz sees").
			answer(e.Reflector, "carried, or a device for continuous tracking", "carry one, or state that there is one"),
		at(gear+"transponder", in.equipment, "transponder that reports the pressure altitude").
			answer(e.Transponder, "carried, where secondary radar is used", "ask air traffic services whether secondary radar is used there"),
		at("3, lights", in.unknown, "lights by night").
			carried(f.Night.verdict(), f.Night.String(), e.Lights, "on balloon, attachments and payload, also once separated"),
		at("3, antenna", in.unknown, "trailing antenna that takes more than 230 N of impact to break").
			carried(antennaBreaks.hold(exactly(e.Antenna)), antennaBreaks.unit.text(e.Antenna), e.Pennants, "pennants or streamers every 15 m"),
		at("3, suspension", in.unknown, "suspension longer than 15 m").
			carried(fifteenMetres.hold(exactly(e.Suspension)), fifteenMetres.unit.text(e.Suspension), e.Banded, "bands of alternate colours or pennants"),
	}
}

// britishLimits is what the United Kingdom has beside the appendix.
func (f Flight) britishLimits() []Result {
	group := line{Source{"Air Navigation Order 2016, article 93", "S.I. 2016/765, as seen without a date", true}, Yes, "balloons let go together"}.
		quantity(groupOfBritain, float64(f.Balloons), "")
	if group.Verdict == NotMet {
		group.Verdict = CannotTell
		group.Change = "read the article: groups of 1,000 and more are bound by number, place and hour, with notice of 28 days"
	}
	return []Result{
		group,
		line{Source{"Civil Aviation Authority, permission and NOTAM", fromMemory, false}, Yes, "permission and NOTAM"}.
			duty("asked for about 28 days before", "ask by "+f.before(28*24*time.Hour)),
		line{Source{"small balloon, 2 m in any dimension at any stage", "at second hand", false}, No, "greatest diameter"}.
			quantity(bound{limit: 2, unit: metres}, f.AtBurst, "give the burst diameter").
			noted("a balloon that is small may be spared some of the above: ask"),
	}
}
