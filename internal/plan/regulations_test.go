package plan_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"buf.build/go/protoyaml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/rules"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// ruled is a plan that says everything of rules that a train with parts lets it.
// People are invented; the telephone numbers are of ranges kept for fiction: 555
// 0100 to 0199 of the North American plan (from memory).
const ruled = `# Whose rules, and who is told.
name: Ruled
site: {name: Reed meadow, latitude: 55.5, longitude: -3.25, elevation: 120 m, time_zone: UTC}
launch: 2017-03-22T07:00:00Z
train:
  measured: {ascent_rate: 5 m/s, burst_altitude: 30 km, landing_speed: 4 m/s}
  parts:
    - {name: camera box, mass: 640 g}
    - {name: egg in a cup, mass: 100 g, count: 2}
    - {name: canopy, mass: 150 g, hangs: line}
rules:
  jurisdiction: us
  packages:
    - {name: camera, parts: [camera box], box: 6 in x 5 in x 4 in}
    - {name: eggs, parts: [egg in a cup], smallest_face: 24 in2}
  separates_at: 40 lbf
  balloons: 2
  meteorological: false
  equipment:
    payload_cut_downs: 2
    envelope_terminations: 0
    zero_pressure: false
    radar_reflector: true
    transponder: false
    lights: true
    suspension: 49 ft
    banded: true
    antenna: 3 m
    antenna_breaks_at: 20 N
    pennants: false
  leave: {state: true, abroad: false, closed: true, services: false}
  identification: Thistle one
  beacon: 144.8 MHz
  information_region: ZZZZ
  owner: Thistle Seed Club
  reward: A jar of honey
  people:
    - {name: Ada Reed, role: launch director, telephone: +1 (207) 555-0142}
    - {name: Ben Rush, telephone: 207.555.0143}
  offices:
    - {name: Control, telephone: 207 555 0150, notified: true}
    - {name: Meadow field, latitude: 55.6, longitude: -3.1}
`

// ruledByMass is one of a train without parts.
const ruledByMass = `name: Ruled by mass
site: {name: Reed meadow, latitude: 55.5, longitude: -3.25, elevation: 120 m, time_zone: UTC}
launch: 2017-03-22T07:00:00Z
train:
  measured: {ascent_rate: 5 m/s, burst_altitude: 30 km, landing_speed: 4 m/s}
rules:
  jurisdiction: icao
  packages:
    - {name: box, mass: 5 lb, smallest_face: 24 in2}
  rest: 120 g
`

func TestReadRules(t *testing.T) {
	r := read(t, ruled).Rules
	require.NotNil(t, r)
	assert.Equal(t, rules.UnitedStates, r.Jurisdiction)
	f := r.Flight
	require.NoError(t, f.Check())
	require.Len(t, f.Packages, 2)
	assert.Equal(t, "camera", f.Packages[0].Name)
	assert.InDelta(t, 0.640, f.Packages[0].Mass, 1e-12)
	assert.InDelta(t, 0.2, f.Packages[1].Mass, 1e-12, "two eggs")
	assert.InDelta(t, 0.15, f.Rest, 1e-12, "the canopy")
	const inch = 0.0254 // m, NIST SP 811, B.8
	require.Len(t, f.Packages[0].Faces, 3)
	require.Len(t, f.Packages[1].Faces, 1)
	assert.InDeltaSlice(t, []float64{30 * inch * inch, 20 * inch * inch, 24 * inch * inch}, f.Packages[0].Faces, 1e-12)
	assert.InDeltaSlice(t, []float64{24 * inch * inch}, f.Packages[1].Faces, 1e-12)
	assert.InDelta(t, 40*4.4482216, f.Break, 1e-4, "NIST SP 811, B.8")
	assert.Equal(t, 2, f.Balloons)
	assert.Equal(t, rules.No, f.Meteorological)
	assert.Equal(t, rules.Leave{State: rules.Yes, Abroad: rules.No, Closed: rules.Yes, Services: rules.No}, f.Leave)
	e := f.Equipment
	assert.Equal(t, []int{2, 0}, []int{e.CutDowns, e.Terminations})
	assert.Equal(t, []rules.Answer{rules.No, rules.Yes, rules.No, rules.Yes, rules.Yes, rules.No},
		[]rules.Answer{e.ZeroPressure, e.Reflector, e.Transponder, e.Lights, e.Banded, e.Pennants})
	assert.InDelta(t, 49*0.3048, e.Suspension, 1e-12)
	assert.InDelta(t, 20, e.Antenna, 0)
	assert.InDelta(t, 3, r.Antenna, 0)
	assert.Equal(t, []string{"Thistle one", "144.8 MHz", "ZZZZ", "Thistle Seed Club", "A jar of honey"},
		[]string{r.Identification, r.Beacon, r.Region, r.Owner, r.Reward})
	assert.Equal(t, []plan.Person{{"Ada Reed", "launch director", "+1 (207) 555-0142"}, {"Ben Rush", "", "207.555.0143"}}, r.People)
	assert.Equal(t, []plan.Office{
		{Name: "Control", Telephone: "207 555 0150", Notified: true},
		{Name: "Meadow field", At: &geo.Point{Lat: 55.6, Lon: -3.1}},
	}, r.Offices)
}

func TestReadRulesDefaults(t *testing.T) {
	assert.Nil(t, read(t, least).Rules)
	r := read(t, least, "rules.jurisdiction=eu").Rules
	require.NotNil(t, r)
	assert.Equal(t, "Spring morning", r.Identification)
	f := r.Flight
	assert.Empty(t, f.Packages)
	assert.Equal(t, 1, f.Balloons)
	assert.Equal(t, rules.Unknown, f.Meteorological)
	assert.Equal(t, []int{-1, -1}, []int{f.Equipment.CutDowns, f.Equipment.Terminations})
	assert.True(t, math.IsNaN(f.Break) && math.IsNaN(f.Equipment.Suspension) && math.IsNaN(f.Equipment.Antenna) && math.IsNaN(r.Antenna))
	require.NoError(t, f.Check())

	r = read(t, ruledByMass).Rules
	assert.InDelta(t, 5*0.45359237, r.Flight.Packages[0].Mass, 1e-12)
	assert.InDelta(t, 0.12, r.Flight.Rest, 1e-12)

	// Parts in no package are one together; no antenna needs no force.
	r = read(t, weighed, "rules.jurisdiction=us", "rules.equipment.antenna=0 m").Rules
	require.Len(t, r.Flight.Packages, 1)
	assert.Equal(t, rules.Unboxed, r.Flight.Packages[0].Name)
	assert.Zero(t, r.Flight.Equipment.Antenna)
}

const (
	wantBox   = `want three sides of 1 mm to 10 m, each with its unit, such as "30 cm x 20 cm x 15 cm"`
	wantPhone = `want 3 to 15 digits, with "+" before and blanks, brackets, full stops and dashes between them`
)

var ruleFaults = []faultCase{
	{"no such jurisdiction", "jurisdiction: us", "jurisdiction: usa", `p.yaml:12: rules.jurisdiction: "usa": want us, icao, eu, uk, au, nz or ca`},
	{"none", "  jurisdiction: us\n", "", "p.yaml:11: rules.jurisdiction: missing: want us, icao, eu, uk, au, nz or ca"},
	{"part that is none", "[camera box]", "[camera]", `p.yaml:14: rules.packages[0].parts[0]: "camera": want the name of a part of the train: camera box, egg in a cup, canopy`},
	{"part in two packages", "[egg in a cup]", "[camera box]", `p.yaml:15: rules.packages[1].parts[0]: "camera box": want a part that is not in rules.packages[0] already`},
	{"package of no parts", "parts: [egg in a cup], ", "", "p.yaml:15: rules.packages[1].parts: missing: want the names of the parts in it"},
	{"package with a mass beside parts", "parts: [egg in a cup]", "parts: [egg in a cup], mass: 200 g", `p.yaml:15: rules.packages[1].mass: "200 g": want the names of its parts instead, as the train lists them with their masses`},
	{"package twice", "name: eggs", "name: camera", `p.yaml:15: rules.packages[1].name: "camera": want a name other than that of rules.packages[0]`},
	{"face and box", "smallest_face: 24 in2", "smallest_face: 24 in2, box: 1 m x 1 m x 1 m", `p.yaml:15: rules.packages[1]: smallest_face and box: want one of them`},
	{"flat box", "6 in x 5 in x 4 in", "6 in x 5 in", `p.yaml:14: rules.packages[0].box: "6 in x 5 in": ` + wantBox},
	{"bare box", "6 in x 5 in x 4 in", "6 x 5 x 4 in", `p.yaml:14: rules.packages[0].box: "6 x 5 x 4 in": ` + wantBox},
	{"box of a needle", "6 in x 5 in x 4 in", "6 in × 5 in × 0.9 mm", `p.yaml:14: rules.packages[0].box: "6 in × 5 in × 0.9 mm": ` + wantBox},
	{"length of a face", "24 in2", "24 in", `p.yaml:15: rules.packages[1].smallest_face: "24 in": in is a unit of length: want an area with its unit, such as "240 cm2"`},
	{"mass for a force", "40 lbf", "40 lb", `p.yaml:16: rules.separates_at: "40 lb": lb is a unit of mass: want a force with its unit, such as "180 N"`},
	{"rest beside parts", "  balloons: 2", "  rest: 100 g\n  balloons: 2", `p.yaml:17: rules.rest: "100 g": want none of it, as the train lists its parts`},
	{"force of an antenna that does not trail", "antenna: 3 m", "antenna: 0 m", `p.yaml:29: rules.equipment.antenna_breaks_at: "20 N": want none of it, as none trails by antenna`},
	{"region in words", "ZZZZ", "Oslo", `p.yaml:34: rules.information_region: "Oslo": want four capital letters, such as "ZZZZ"`},
	{"number that cannot be dialled", "207.555.0143", "555 HELP", `p.yaml:39: rules.people[1].telephone: "555 HELP": ` + wantPhone},
	{"number of two digits", "207.555.0143", `"(2) 0"`, `p.yaml:39: rules.people[1].telephone: "(2) 0": ` + wantPhone},
	{"number of sixteen digits", "207 555 0150", `"1234567890123456"`, `p.yaml:41: rules.offices[0].telephone: "1234567890123456": ` + wantPhone},
	{"half a place", ", longitude: -3.1", "", "p.yaml:42: rules.offices[1]: one of latitude and longitude: want both or neither"},
	{"the other half", "latitude: 55.6, longitude: -3.1", "longitude: -3.1", "p.yaml:42: rules.offices[1]: one of latitude and longitude: want both or neither"},
}

func TestReadRuleFaults(t *testing.T) {
	testFaults(t, ruled, ruleFaults)
	testFaults(t, ruledByMass, []faultCase{
		{"package of no mass", "mass: 5 lb, ", "", `p.yaml:9: rules.packages[0].mass: missing: want a mass with its unit, such as "840 g"`},
		{"parts that are not listed", "mass: 5 lb", "mass: 5 lb, parts: [box]", `p.yaml:9: rules.packages[0].parts: "box": want mass instead, as the train lists no parts`},
	})
}

// What a notice needs is not asked for before.
func TestNamed(t *testing.T) {
	require.NoError(t, read(t, ruled).Named(2))
	for _, test := range []struct {
		text, from, to string
		people         int
		want           string
	}{
		{least, "", "", 1, "rules: missing: want whose rules it is held to, and the people who answer for it: {jurisdiction, people}"},
		{ruledByMass, "", "", 1, "rules.people[0]: missing: want somebody to call, with name and telephone"},
		{ruled, ", telephone: 207.555.0143", "", 1, "rules.people[1].telephone: missing: want the number on which Ben Rush answers"},
		{ruled, "    - {name: Ben Rush, telephone: 207.555.0143}\n", "", 2, "rules.people[1]: missing: want somebody to call, with name and telephone"},
	} {
		p := read(t, strings.Replace(test.text, test.from, test.to, 1))
		require.EqualError(t, p.Named(test.people), test.want)
	}
}

// printedRules is rules without their NaNs, as printed has a plan.
func printedRules(r *plan.Regulations) *plan.Regulations {
	if r == nil {
		return nil
	}
	c := *r
	f := &c.Flight
	for _, v := range []*float64{
		&c.Antenna, &f.Break, &f.AtLaunch, &f.AtBurst, &f.Weather.Cloud, &f.Weather.Visibility,
		&f.Night.Value, &f.Congested.Value, &f.SurfaceArea.Value, &f.Border.Value, &f.Closed.Value,
		&f.Equipment.Suspension, &f.Equipment.Antenna, &f.Equipment.Fixes, &f.Equipment.Blind,
	} {
		if math.IsNaN(*v) {
			*v = -9999
		}
	}
	return &c
}

// inventedRules makes valid rules for a train that lists no parts.
func inventedRules(c chooser) *thistledownv1.Rules {
	flag := func() *bool {
		if c.half() {
			return nil
		}
		b := c.half()
		return &b
	}
	r := &thistledownv1.Rules{
		Jurisdiction: c.of("us", "icao", "eu", "uk", "au", "nz", "ca"), Rest: c.or("120 g", "1 lb"), SeparatesAt: c.or("180 N", "40 lbf"),
		Balloons: c.count(1000000), Meteorological: flag(), Identification: c.or("One", "- a", "é 風"), Beacon: c.or("7000"),
		InformationRegion: c.or("ZZZZ"), Owner: c.or("a: b"), Reward: c.or("# c"),
	}
	if c.half() {
		r.Packages = []*thistledownv1.Package{{Name: c.of("box", "null"), Mass: "1 lb 7 oz", SmallestFace: c.or("24 in2", "1 mm²")}, {Name: "other", Mass: "1 g", Box: c.or("30 cm x 20 cm x 15 cm", "1 ft by 2 ft by 3 ft")}}
	}
	if c.half() {
		r.Equipment = &thistledownv1.Equipment{
			PayloadCutDowns: c.count(200), EnvelopeTerminations: c.count(200), ZeroPressure: flag(), RadarReflector: flag(), Transponder: flag(),
			Lights: flag(), Suspension: c.or("12 m", "0 ft"), Banded: flag(), Antenna: c.or("0 m"), Pennants: flag(),
		}
		r.Leave = &thistledownv1.Leave{State: flag(), Abroad: flag(), Closed: flag(), Services: flag()}
	}
	if c.half() {
		r.People = []*thistledownv1.Person{{Name: "Ada Reed", Role: c.or("lead"), Telephone: c.or("112", "+46 70 174 06 05")}}
		r.Offices = []*thistledownv1.Office{{Name: "Field", Notified: c.half(), Latitude: c.between(-90, 90)}, {Name: "Control"}}
		if r.Offices[0].Latitude != nil {
			r.Offices[0].Longitude = proto.Float64(-180)
		}
	}
	return r
}

// Rules written as YAML by another program read as the message that they were, and are
// a flight that can be held to them.
func TestRulesRoundTrip(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	base, _, err := plan.Read("p.yaml", []byte(least), nil)
	require.NoError(t, err)
	for i := range 500 {
		m, ok := proto.Clone(base).(*thistledownv1.Plan)
		require.True(t, ok)
		m.Rules = inventedRules(chooser{r})
		checked, err := plan.Check(m)
		require.NoError(t, err, "Check(%v)", m.Rules)
		text, err := protoyaml.MarshalOptions{UseProtoNames: i%2 == 0}.Marshal(m)
		require.NoError(t, err)
		got, p, err := plan.Read("p.yaml", text, nil)
		require.NoError(t, err, "Read(%s)", text)
		require.True(t, proto.Equal(m, got), "Read(%s) = %v, want %v", text, got, m)
		require.Equal(t, printedRules(checked.Rules), printedRules(p.Rules))
		a, err := rules.Assess(p.Rules.Jurisdiction, p.Rules.Flight)
		require.NoError(t, err, "%s", text)
		require.NotEmpty(t, a.Classes)
		require.NotEmpty(t, p.Rules.Identification)
	}
}

// ruleQuantities are those of rules.
var ruleQuantities = [...]bounded{
	{
		"thistledown.v1.Rules.rest", "rules.rest",
		[]string{"0 g to 200 kg", "Default 0 g"},
		[]string{"0 g", "200 kg", "3 lb"},
		[]string{"200.1 kg", "441 lb"},
		nil, nil,
		[]string{"kg", "lb"},
	},
	{
		"thistledown.v1.Rules.separates_at", "rules.separates_at",
		[]string{"0 N to 100,000 N"},
		[]string{"0 N", "100000 N", "50 lbf"},
		[]string{"100001 N"},
		nil, nil,
		[]string{"N", "lbf"},
	},
	{
		"thistledown.v1.Package.mass", "rules.packages[0].mass",
		[]string{"1 g to 200 kg"},
		[]string{"1 g", "200 kg", "6 lb"},
		[]string{"0.9 g", "200.1 kg", "0 g"},
		nil, nil,
		[]string{"kg", "g", "lb"},
	},
	{
		"thistledown.v1.Package.smallest_face", "rules.packages[0].smallest_face",
		[]string{"1 mm² to 10 m²"},
		[]string{"1 mm2", "10 m2", "24 in²"},
		[]string{"0.9 mm2", "10.01 m2", "0 cm2"},
		nil, nil,
		[]string{"cm2", "in2", "m²"},
	},
	{
		"thistledown.v1.Equipment.suspension", "rules.equipment.suspension",
		[]string{"0 m to 10 km"},
		[]string{"0 m", "10 km", "50 ft"},
		[]string{"10.01 km", "-1 m"},
		nil, nil,
		[]string{"m", "ft"},
	},
	{
		"thistledown.v1.Equipment.antenna", "rules.equipment.antenna",
		[]string{"0 m to 10 km", `"0 m": none trails`},
		[]string{"0 m", "10 km", "50 ft"},
		[]string{"10.01 km", "-1 m"},
		nil, nil,
		[]string{"m", "ft"},
	},
	{
		"thistledown.v1.Equipment.antenna_breaks_at", "rules.equipment.antenna_breaks_at",
		[]string{"0 N to 100,000 N"},
		[]string{"0 N", "100000 N", "50 lbf"},
		[]string{"100001 N"},
		nil, nil,
		[]string{"N", "lbf"},
	},
}
