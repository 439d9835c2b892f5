package rules_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/rules"
)

// The units of the tests are written out, so that the package's own are held
// against them: NIST SP 811 (2008), B.8 and B.9.
const (
	lb     = 0.45359237      // kg
	oz     = 0.028349523125  // kg
	in2    = 6.4516e-4       // m²
	lbf    = 4.4482216152605 // N
	ft     = 0.3048          // m
	mi     = 1609.344        // m
	ft3    = 0.028316846592  // m³
	cm2    = 1e-4            // m²
	hour   = 3600.0          // s
	plenty = 1.0             // m², a face on which nothing is dense
)

var nan = math.NaN()

// stated is a flight with packages of masses in kg on large faces, a weak line,
// and nothing else known.
func stated(masses ...float64) rules.Flight {
	f := rules.Unstated()
	f.Break = 1
	for _, m := range masses {
		f.Packages = append(f.Packages, rules.Package{Name: "box", Mass: m, Least: m, Faces: []float64{plenty}})
	}
	return f
}

// faced is stated with one package with faces in m².
func faced(mass float64, faces ...float64) rules.Flight {
	f := stated(mass)
	f.Packages[0].Faces = faces
	return f
}

// with changes a flight.
func with(f rules.Flight, change func(*rules.Flight)) rules.Flight {
	change(&f)
	return f
}

// assess fails the test on a fault.
func assess(t *testing.T, j rules.Jurisdiction, f rules.Flight) rules.Assessment {
	t.Helper()
	a, err := rules.Assess(j, f)
	require.NoError(t, err)
	return a
}

// find is the one result whose paragraph ends so.
func find(t *testing.T, a rules.Assessment, paragraph string) rules.Result {
	t.Helper()
	var found []rules.Result
	for _, list := range [][]rules.Result{a.Tests, a.Limits} {
		for _, r := range list {
			if strings.HasSuffix(r.Source.Paragraph, paragraph) {
				found = append(found, r)
			}
		}
	}
	require.Len(t, found, 1, "results of %s", paragraph)
	return found[0]
}

func TestUnknownJurisdictionListsTheKnown(t *testing.T) {
	_, err := rules.Assess("atlantis", stated(1))
	require.EqualError(t, err, `jurisdiction "atlantis": want one of us, icao, eu, uk, au, nz, ca`)
	for _, j := range rules.Jurisdictions() {
		require.NoError(t, j.Check())
	}
}

func TestFaultsOfAFlight(t *testing.T) {
	tests := []struct {
		name   string
		change func(*rules.Flight)
		want   string
	}{
		{"mass", func(f *rules.Flight) { f.Packages[0].Mass = nan }, `package 1 "box": mass NaN kg: want above 0 to 1000 kg`},
		{"nothing", func(f *rules.Flight) { f.Packages[0].Mass = 0 }, "mass 0 kg: want above 0"},
		{"least", func(f *rules.Flight) { f.Packages[0].Least = 2 }, "mass in one package for sure 2 kg: want above 0 to its mass"},
		{"no least", func(f *rules.Flight) { f.Packages[0].Least = 0 }, "mass in one package for sure 0 kg"},
		{"face", func(f *rules.Flight) { f.Packages[0].Faces = []float64{1, 0} }, "face 2 of 0 m²: want 1e-06 to 100 m²"},
		{"faces", func(f *rules.Flight) { f.Packages[0].Faces = make([]float64, 101) }, "faces 101: want at most 100"},
		{"packages", func(f *rules.Flight) { f.Packages = make([]rules.Package, 201) }, "packages 201: want at most 200"},
		{"name", func(f *rules.Flight) { f.Packages[0].Name = strings.Repeat("x", 1001) }, "name of 1001 octets"},
		{"rest", func(f *rules.Flight) { f.Rest = -1 }, "rest of the payload -1 kg: want 0 to 1000 kg"},
		{"rest not known", func(f *rules.Flight) { f.Rest = nan }, "rest of the payload NaN kg"},
		{"break", func(f *rules.Flight) { f.Break = -1 }, "impact force that separates -1 N"},
		{"balloons", func(f *rules.Flight) { f.Balloons = 0 }, "balloons 0: want 1 to 1000000"},
		{"at launch", func(f *rules.Flight) { f.AtLaunch = -1 }, "diameter at launch -1 m"},
		{"at burst", func(f *rules.Flight) { f.AtBurst = math.Inf(1) }, "greatest diameter +Inf m"},
		{"cloud", func(f *rules.Flight) { f.Weather.Cloud = 62 }, "cloud 62 (share): want 0 to 1 (share), or NaN"},
		{"visibility", func(f *rules.Flight) { f.Weather.Visibility = -1 }, "visibility -1 m"},
		{"night", func(f *rules.Flight) { f.Night = rules.Chance{Value: 0.5, Low: 0.6, High: 1} }, "night: share 0.5 in 0.6 to 1"},
		{"congested", func(f *rules.Flight) { f.Congested = rules.Chance{Value: 2, High: 2} }, "congested area: share 2"},
		{"surface", func(f *rules.Flight) { f.SurfaceArea = rules.Chance{Value: 0.5, Low: nan, High: 1} }, "surface area: share 0.5"},
		{"border", func(f *rules.Flight) { f.Border = rules.Chance{Value: -0.1, Low: -0.2} }, "border: share -0.1"},
		{"closed", func(f *rules.Flight) { f.Closed = rules.Chance{Value: 0.5, High: 0.4} }, "closed volume: share 0.5"},
		{"meteorological", func(f *rules.Flight) { f.Meteorological = 3 }, "meteorological: Answer(3): want yes, no or not known"},
		{"cut-downs", func(f *rules.Flight) { f.Equipment.CutDowns = -2 }, "ways to cut the payload off -2: want −1, not known, to 200"},
		{"terminations", func(f *rules.Flight) { f.Equipment.Terminations = 201 }, "ways to end the envelope's flight 201"},
		{"suspension", func(f *rules.Flight) { f.Equipment.Suspension = -1 }, "suspension -1 m"},
		{"antenna", func(f *rules.Flight) { f.Equipment.Antenna = 1e6 }, "impact force that breaks the antenna 1e+06 N"},
		{"fixes", func(f *rules.Flight) { f.Equipment.Fixes = 0 }, "time between positions 0 s: want above 0"},
		{"blind", func(f *rules.Flight) { f.Equipment.Blind = -1 }, "time without a position -1 s"},
		{"zero pressure", func(f *rules.Flight) { f.Equipment.ZeroPressure = 9 }, "zero pressure: Answer(9)"},
		{"reflector", func(f *rules.Flight) { f.Equipment.Reflector = 9 }, "reflector: Answer(9)"},
		{"transponder", func(f *rules.Flight) { f.Equipment.Transponder = 9 }, "transponder: Answer(9)"},
		{"lights", func(f *rules.Flight) { f.Equipment.Lights = 9 }, "lights: Answer(9)"},
		{"banded", func(f *rules.Flight) { f.Equipment.Banded = 9 }, "banded: Answer(9)"},
		{"pennants", func(f *rules.Flight) { f.Equipment.Pennants = 9 }, "pennants: Answer(9)"},
		{"state", func(f *rules.Flight) { f.Leave.State = 9 }, "leave of the State: Answer(9)"},
		{"abroad", func(f *rules.Flight) { f.Leave.Abroad = 9 }, "leave of States overflown: Answer(9)"},
		{"leave closed", func(f *rules.Flight) { f.Leave.Closed = 9 }, "leave for closed volumes: Answer(9)"},
		{"services", func(f *rules.Flight) { f.Leave.Services = 9 }, "leave of air traffic services: Answer(9)"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := rules.Assess(rules.UnitedStates, with(stated(1), test.change))
			require.ErrorContains(t, err, test.want)
		})
	}
	_, err := rules.Assess("mars", with(stated(1), func(f *rules.Flight) { f.Rest, f.Break = -1, -1 }))
	for _, want := range []string{"jurisdiction", "rest of the payload", "impact force"} {
		require.ErrorContains(t, err, want, "all faults at once")
	}
}

// launchAt is a time of launch for deadlines.
var launchAt = time.Date(2026, 3, 10, 9, 30, 0, 0, time.FixedZone("", 3600))
