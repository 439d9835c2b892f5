package plan

import (
	"math"
	"regexp"
	"slices"
	"strings"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/rules"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// Regulations is whose rules of the air a launch is held to, what a plan says of
// what they ask, and who is told.
type Regulations struct {
	Jurisdiction rules.Jurisdiction
	// Flight is as far as the plan itself says: packages, equipment, leave, launch.
	// What follows from the train and the forecast is not known in it.
	Flight  rules.Flight
	Antenna float64 // m of a trailing antenna, 0 to rules.MaxLength; NaN: not known

	Identification string // on the telephone; never empty
	Beacon         string // code, address or frequency; may be empty
	Region         string // location indicator of the flight information region; may be empty
	Owner          string // for the label; may be empty
	Reward         string // for the label; may be empty
	People         []Person
	Offices        []Office
}

// Person answers for the launch.
type Person struct{ Name, Role, Telephone string } // the last two may be empty

// Office is called.
type Office struct {
	Name, Telephone string     // the latter may be empty
	Notified        bool       // the notices go to it
	At              *geo.Point // nil: not known
}

// regulated is the rules of a plan, nil where it has none.
func (d *draft) regulated(p *Plan, m *thistledownv1.Rules) *Regulations {
	if m == nil {
		return nil
	}
	r := &Regulations{
		Jurisdiction: rules.Jurisdiction(m.GetJurisdiction()), Flight: rules.Unstated(), Antenna: math.NaN(),
		Identification: m.GetIdentification(), Beacon: m.GetBeacon(), Owner: m.GetOwner(), Reward: m.GetReward(),
	}
	if r.Identification == "" {
		r.Identification = p.Name
	}
	f := &r.Flight
	f.Launch, f.Balloons, f.Meteorological = p.Launch, int(or(m.Balloons, 1)), answer(m.Meteorological)
	if text := m.GetSeparatesAt(); text != "" {
		f.Break = d.quantity("rules.separates_at", text, separatesAtSpec).Centre
	}
	d.packages(f, p.Train.Parts, m)
	d.equipment(r, m.GetEquipment())
	l := m.GetLeave()
	if l == nil {
		l = &thistledownv1.Leave{}
	}
	f.Leave = rules.Leave{State: answer(l.State), Abroad: answer(l.Abroad), Closed: answer(l.Closed), Services: answer(l.Services)}
	r.Region = d.region(m.GetInformationRegion())
	for i, person := range m.GetPeople() {
		d.telephone(item("rules.people", i), person.GetTelephone())
		r.People = append(r.People, Person{person.GetName(), person.GetRole(), person.GetTelephone()})
	}
	for i, office := range m.GetOffices() {
		d.telephone(item("rules.offices", i), office.GetTelephone())
		o := Office{Name: office.GetName(), Telephone: office.GetTelephone(), Notified: office.GetNotified()}
		if office.Latitude != nil && office.Longitude != nil {
			o.At = &geo.Point{Lat: office.GetLatitude(), Lon: office.GetLongitude()}
		}
		r.Offices = append(r.Offices, o)
	}
	return r
}

// answer is what a plan says of a question.
func answer(b *bool) rules.Answer {
	switch {
	case b == nil:
		return rules.Unknown
	case *b:
		return rules.Yes
	}
	return rules.No
}

// packages fills in the packages and the rest: from the parts of the train, or
// from their own masses where it lists none.
func (d *draft) packages(f *rules.Flight, parts []balloon.Part, m *thistledownv1.Rules) {
	const path = "rules.packages"
	if !d.sound("train") || !d.intact("train") || !d.sound(path) {
		return
	}
	var containers []rules.Container
	var weighed []rules.Package
	first, in := map[string]int{}, map[string]string{}
	for i, p := range m.GetPackages() {
		at := item(path, i)
		d.once(first, p.GetName(), path, i)
		faces := d.faces(at, p)
		switch {
		case len(parts) > 0 && p.GetMass() != "":
			d.refuse(at+".mass", quote(p.GetMass()), "the names of its parts instead, as the train lists them with their masses")
		case len(parts) > 0 && len(p.GetParts()) == 0:
			d.refuse(at+".parts", missing, "the names of the parts in it")
		case len(parts) == 0 && len(p.GetParts()) > 0:
			d.refuse(at+".parts", quote(p.GetParts()[0]), "mass instead, as the train lists no parts")
		case len(parts) == 0 && p.GetMass() == "":
			d.refuse(at+".mass", missing, packageMassSpec.want())
		}
		for k, name := range p.GetParts() {
			d.packed(item(at+".parts", k), name, parts, in)
		}
		mass := d.quantity(at+".mass", p.GetMass(), packageMassSpec).Centre
		containers = append(containers, rules.Container{Name: p.GetName(), Parts: p.GetParts(), Faces: faces})
		weighed = append(weighed, rules.Package{Name: p.GetName(), Mass: mass, Least: mass, Faces: faces})
	}
	if text := m.GetRest(); text != "" && len(parts) > 0 {
		d.refuse("rules.rest", quote(text), "none of it, as the train lists its parts")
	}
	if len(parts) == 0 {
		f.Packages, f.Rest = weighed, d.quantity("rules.rest", m.GetRest(), restSpec).Centre
		return
	}
	if !d.intact(path) {
		return
	}
	var err error
	if f.Packages, f.Rest, err = rules.Pack(parts, containers); err != nil {
		d.refuse(path, err.Error(), "packages that the parts of the train fill")
	}
}

// packed refuses what is no part of the train, or in a package already.
func (d *draft) packed(path, name string, parts []balloon.Part, in map[string]string) {
	if len(parts) == 0 || !d.sound(path) {
		return
	}
	if !slices.ContainsFunc(parts, func(p balloon.Part) bool { return p.Name == name }) {
		names := make([]string, len(parts))
		for i, p := range parts {
			names[i] = p.Name
		}
		d.refuse(path, quote(name), "the name of a part of the train: "+clip(strings.Join(names, ", "), 200))
		return
	}
	if other, twice := in[name]; twice {
		d.refuse(path, quote(name), "a part that is not in "+other+" already")
		return
	}
	in[name] = parent(parent(path))
}

// faces is the surfaces of a package; none: not known.
func (d *draft) faces(at string, m *thistledownv1.Package) []float64 {
	if text := m.GetSmallestFace(); text != "" {
		return []float64{d.quantity(at+".smallest_face", text, faceSpec).Centre}
	}
	path, text := at+".box", m.GetBox()
	if text == "" || !d.sound(path) {
		return nil
	}
	const want = `three sides of 1 mm to 10 m, each with its unit, such as "30 cm x 20 cm x 15 cm"`
	words := by.Split(text, -1)
	if len(words) != 3 {
		d.refuse(path, quote(text), want)
		return nil
	}
	var sides [3]float64
	for i, word := range words {
		v, err := quantity.Length(strings.TrimSpace(word))
		if err != nil || !(v >= 1e-3 && v <= 10) {
			d.refuse(path, quote(text), want)
			return nil
		}
		sides[i] = v
	}
	return rules.Box(sides[0], sides[1], sides[2])
}

// by stands between the sides of a box.
var by = regexp.MustCompile(`\s+(?:x|×|by)\s+|×`)

// equipment is what the train carries.
func (d *draft) equipment(r *Regulations, m *thistledownv1.Equipment) {
	const path = "rules.equipment."
	e := &r.Flight.Equipment
	if m == nil {
		return
	}
	count := func(n *uint32) int {
		if n == nil {
			return -1
		}
		return int(*n)
	}
	read := func(name, text string, s spec) float64 {
		if text == "" {
			return math.NaN()
		}
		return d.quantity(path+name, text, s).Centre
	}
	e.CutDowns, e.Terminations = count(m.PayloadCutDowns), count(m.EnvelopeTerminations)
	e.ZeroPressure, e.Reflector, e.Transponder = answer(m.ZeroPressure), answer(m.RadarReflector), answer(m.Transponder)
	e.Lights, e.Banded, e.Pennants = answer(m.Lights), answer(m.Banded), answer(m.Pennants)
	e.Suspension = read("suspension", m.GetSuspension(), suspensionSpec)
	r.Antenna = read("antenna", m.GetAntenna(), trailingSpec)
	e.Antenna = read("antenna_breaks_at", m.GetAntennaBreaksAt(), breaksAtSpec)
	if r.Antenna == 0 && d.sound(path+"antenna") {
		if m.GetAntennaBreaksAt() != "" {
			d.refuse(path+"antenna_breaks_at", quote(m.GetAntennaBreaksAt()), "none of it, as none trails by antenna")
		}
		e.Antenna = 0
	}
}

// regionForm is a location indicator (ICAO Doc 7910: four letters).
var regionForm = regexp.MustCompile(`^[A-Z]{4}$`)

// region is a location indicator.
func (d *draft) region(text string) string {
	const path = "rules.information_region"
	if text != "" && d.sound(path) && !regionForm.MatchString(text) {
		d.refuse(path, quote(text), `four capital letters, such as "ZZZZ"`)
	}
	return text
}

// telephoneForm is digits, with what people put between them.
var telephoneForm = regexp.MustCompile(`^\+?[0-9 ().\-]{3,30}$`)

// telephone refuses what cannot be dialled.
func (d *draft) telephone(at, text string) {
	path := at + ".telephone"
	if text == "" || !d.sound(path) {
		return
	}
	digits := strings.Count(strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return '0'
		}
		return -1
	}, text), "0")
	if !telephoneForm.MatchString(text) || digits < 3 || digits > 15 {
		d.refuse(path, quote(text), `3 to 15 digits, with "+" before and blanks, brackets, full stops and dashes between them`)
	}
}

// Named holds that a plan has what a notice gives: rules, and a name and a
// telephone number for each of the first so many people (1 or more). The error is
// Faults.
func (p Plan) Named(people int) error {
	if p.Rules == nil {
		return Faults{{Field: "rules", Value: missing, Want: "whose rules it is held to, and the people who answer for it: {jurisdiction, people}"}}
	}
	var faults Faults
	for i := range max(people, len(p.Rules.People)) {
		at := item("rules.people", i)
		switch {
		case i >= len(p.Rules.People):
			faults = append(faults, Fault{Field: at, Value: missing, Want: "somebody to call, with name and telephone"})
		case p.Rules.People[i].Telephone == "":
			faults = append(faults, Fault{Field: at + ".telephone", Value: missing, Want: "the number on which " + p.Rules.People[i].Name + " answers"})
		}
	}
	if len(faults) > 0 {
		return faults
	}
	return nil
}
