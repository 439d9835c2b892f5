package report

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/quantity"
)

// One foot is 0.3048 m and one pound 0.45359237 kg, both exactly (NIST Handbook 44,
// appendix C).
func TestRestate(t *testing.T) {
	for _, c := range []struct{ sentence, si, us string }{
		{
			"It floats at 733 m, 1.74 m across.",
			"It floats at 733 m, 1.74 m across.", "It floats at 2400 ft, 5.7 ft across.",
		},
		{"more than 43858 m: it may", "more than 43 900 m: it may", "more than 143 900 ft: it may"},
		{"want 1064 g more", "want 1064 g more", "want 2.35 lb more"},
		{"a load of 2.5 kg (or 1 m³)", "a load of 2500 g (or 1.00 m³)", "a load of 5.51 lb (or 35.3 ft³)"},
		{"rising at 2.9 m/s; 60 km away", "rising at 2.9 m/s; 60.0 km away", "rising at 570 ft/min; 37.3 mi away"},
		{`Layer "50 m line" and "5 g" at 3 points`, `Layer "50 m line" and "5 g" at 3 points`, `Layer "50 m line" and "5 g" at 3 points`},
		{"wind at the site: 6.0 m/s, limit 5.0 m/s", "wind at the site: 6.0 m/s, limit 5.0 m/s", "wind at the site: 13 mph, limit 11 mph"},
		{"rain at the site: 2.5 mm/h", "rain at the site: 2.5 mm/h", "rain at the site: 0.10 in/h"},
		{"limit 0.1 mm/h", "limit 0.1 mm/h", "limit 0.004 in/h"},
		{"a map at 1:10 million, 15 % off", "a map at 1:10 million, 15 % off", "a map at 1:10 million, 15 % off"},
	} {
		assert.Equal(t, c.si, Restate(c.sentence, quantity.SI), "Restate(%q, si)", c.sentence)
		assert.Equal(t, c.us, Restate(c.sentence, quantity.US), "Restate(%q, us)", c.sentence)
	}
}

// What floats comes down nobody can tell when, so that no time aloft is promised.
func TestFloatingTrainPromisesNoTimeAloft(t *testing.T) {
	r := Train{
		Plan: "Floats", Ending: balloon.Floats, Burst: Spread{Centre: 9000}, Up: 3600, Down: 1200,
		Heights:  []Passing{{}},
		Landings: []Touchdown{{Speed: 5, Energy: 20}},
		Causes:   []TrainCause{{Name: "gas", Spread: "3 %", Burst: 400}},
		Trackers: []TrackerSight{{Kind: balloon.SatelliteTracker, Interval: 86400, Apart: 432e3}},
	}
	var b bytes.Buffer
	require.NoError(t, WriteTrain(&b, r, quantity.SI))
	out := strings.Join(strings.Fields(b.String()), " ")
	assert.NotContains(t, out, "in all")
	assert.Contains(t, out, "aloft for as long as it floats")
	assert.Contains(t, out, "gas, 3 % more: floats 400 m higher")
	assert.NotContains(t, out, "432 000 m of fall", "more than there is to fall")

	b.Reset()
	require.NoError(t, WriteSweep(&b, []SweepPoint{
		{Gas: 1000, Neck: 90, Free: 80, Ascent: 7.5, Top: 39e3, Aloft: 44 * 3600, Floats: true, TooFull: true},
		{Gas: 1, Neck: 1, Free: 1, Ascent: 5, Top: 9e3, Aloft: 7200, TooFull: true},
	}, quantity.US))
	assert.Contains(t, b.String(), "open")
	assert.NotContains(t, b.String(), "44 h", "what floats")
	for _, words := range []string{"~! ", "~  floats at its top", "!  fuller"} {
		assert.Contains(t, b.String(), words)
	}
	assert.NotContains(t, b.String(), "*", "none is the plan's")
	for line := range strings.SplitSeq(b.String(), "\n") {
		assert.LessOrEqual(t, len([]rune(line)), width, "line %q", line)
	}
}

// On launch morning the question is whether it is still a go.
func TestChangeTellsTheVerdict(t *testing.T) {
	before, after := answer(t), answer(t)
	before.Verdict, after.Verdict = launch.Go, launch.NoGo
	floats := Train{Ending: balloon.Floats, Up: 3600, Down: 60}
	before.Train, after.Train = &Train{Ending: balloon.Bursts, Up: 3600, Down: 1800}, &floats
	var b bytes.Buffer
	require.NoError(t, WriteChange(&b, before, after, quantity.SI))
	assert.Contains(t, b.String(), "verdict go → no-go")
	assert.Contains(t, b.String(), "aloft in still air 1 h 30 min → open")
	b.Reset()
	few := answer(t)
	few.Endings = []Ending{{flight.Landed, hazard.Probability{Value: 0.04}}}
	few.Zone = time.UTC
	require.NoError(t, WriteChange(&b, before, few, quantity.SI))
	assert.Contains(t, b.String(), "flights that land in the forecast 20 % → 4 %")
	b.Reset()
	require.NoError(t, WriteText(&b, few, quantity.SI))
	assert.Contains(t, b.String(), "Wed 22 Mar 2017, 07:00 UTC from")
	b.Reset()
	require.NoError(t, WriteText(&b, after, quantity.SI))
	assert.Contains(t, b.String(), "floating at 27 000 m")
	b.Reset()
	require.NoError(t, WriteChange(&b, before, before, quantity.SI))
	assert.NotContains(t, b.String(), "verdict")
}

// A gauge that reads too little on launch morning is a consequence.
func TestChangeTellsThatCylindersAreShort(t *testing.T) {
	before, after := answer(t), answer(t)
	before.Train = &Train{Bill: &Bill{Cylinders: 1, Usable: 200}}
	after.Train = &Train{Bill: &Bill{Cylinders: 1, Usable: 35, Bill: balloon.Bill{Short: 65}}}
	var b bytes.Buffer
	require.NoError(t, WriteTrainChange(&b, *before.Train, *after.Train, quantity.SI))
	assert.Contains(t, strings.Join(strings.Fields(b.String()), " "), "the cylinders give all of the gas → 35 % of the gas")
}

// Another envelope is a consequence too: it may have been found and not given.
func TestChangeTellsTheEnvelope(t *testing.T) {
	before := Train{Envelope: balloon.Envelope{Mass: 0.6, Burst: 6}}
	after := Train{Envelope: balloon.Envelope{Mass: 1.2, Burst: 8}}
	var b bytes.Buffer
	require.NoError(t, WriteTrainChange(&b, before, after, quantity.SI))
	assert.Contains(t, b.String(), "envelope 600 g → 1200 g")
	assert.Contains(t, b.String(), "burst diameter 6.00 m → 8.00 m")
	b.Reset()
	require.NoError(t, WriteTrainChange(&b, before, before, quantity.US))
	assert.NotContains(t, b.String(), "envelope")
}

// A mass without a spread has no ±, in the words of an envelope that was found
// neither, whichever way it was looked for.
func TestTrainWordsOfWhatWasFound(t *testing.T) {
	r := Train{
		Plan: "Found", Ending: balloon.Bursts, Burst: Spread{Centre: 30e3}, Up: 3600, Down: 1200,
		Load: balloon.Weighed{Mass: 2.5}, Lifted: balloon.Weighed{Mass: 3.7},
		Falling: balloon.Weighed{Mass: 2.5}, Landing: balloon.Weighed{Mass: 2.5},
		Envelope: balloon.Envelope{Mass: 1.2, Burst: 8}, Gas: GasAmount{Volume: 5},
		Heights: []Passing{{}}, Landings: []Touchdown{{Speed: 5, Energy: 20}},
	}
	for words, found := range map[string]*FoundEnvelope{
		"Envelope of 1200 g is the smallest of all from 100 g to 3000 g that carries 2500 g to 30 000 m at 5.0 m/s, and needs 5.00 m³ Gas": {Burst: 30e3, Rate: 5},
		"Envelope of 1200 g is the smallest of the 3 at hand that carries 2500 g to at least 30 000 m on 5.00 m³ of gas Gas":               {Owned: 3, Burst: 30e3, Gas: 5},
		"Envelope of 1200 g is the one at hand that carries 2500 g to at least 30 000 m with 900 g more lift than hangs on it, and needs":  {Owned: 1, Burst: 30e3, Free: 0.9},
	} {
		r.Found = found
		var b bytes.Buffer
		require.NoError(t, WriteTrain(&b, r, quantity.SI))
		assert.Contains(t, strings.Join(strings.Fields(b.String()), " "), words)
		assert.NotContains(t, b.String(), "± 0 g")
		for line := range strings.SplitSeq(b.String(), "\n") {
			assert.LessOrEqual(t, len([]rune(line)), narrow, "line %q", line)
		}
	}
}

// A reason of the wind is in units of wind, and one of a layer keeps its name.
func TestReasonInUnits(t *testing.T) {
	us := text{units: quantity.US}
	assert.Equal(t, "wind at the site: 13\u00a0mph, limit 11\u00a0mph", us.reason(launch.Reason{What: "wind at the site", Value: "6.0 m/s", Limit: "5.0 m/s"}))
	assert.Equal(t, "flights through 5 km zone: 3.0\u00a0%, limit 1.0\u00a0%", us.reason(launch.Reason{What: "flights through 5 km zone", Value: "3.0 %", Limit: "1.0 %"}))
}
