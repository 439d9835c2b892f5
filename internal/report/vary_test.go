package report_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
)

// asItStands is a plan as it stands; all numbers are invented.
func asItStands() report.Choice {
	return report.Choice{
		Site: "Field", Time: time.Date(2017, 3, 22, 7, 0, 0, 0, time.UTC),
		Parts:    []balloon.Part{{Name: "box", Mass: 1, Count: 1}, {Name: "camera", Mass: 0.4, Count: 1}, {Name: "lamp", Mass: 0.1, Count: 2}},
		Envelope: balloon.Envelope{Mass: 0.6, Burst: 6},
		Canopies: []balloon.Canopy{{Shape: balloon.Shapes()[0], Outline: balloon.Square, Size: 1.2, Count: 1}},
		Gas:      3.2, Pull: 2.8, Height: 26000, Falls: 5.2, Score: 18.4,
		Launch: &report.Launch{
			Verdict: launch.Marginal, Reasons: []launch.Reason{{Verdict: launch.Marginal, What: "landings in water", Value: "9.0 % (8.0 % to 11.0 %)", Limit: "10.0 %"}},
			Landing: &report.Landing{
				Distribution: landing.Distribution{Regions: []landing.Region{{Share: 0.8, Area: 500e6}}}, Distance: 80e3, Bearing: 90,
				Late: time.Date(2017, 3, 22, 10, 0, 0, 0, time.UTC),
			},
		},
	}
}

// other is that plan with something done otherwise.
func other(change func(c *report.Choice)) report.Choice {
	c := asItStands()
	c.Gain, c.GainHalfWidth, c.Score = 9.2, 1.1, 9.1
	change(&c)
	return c
}

func variedText(t *testing.T, v report.Varied, units quantity.System) string {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, report.WriteVaried(&b, v, units))
	for line := range strings.SplitSeq(b.String(), "\n") {
		assert.LessOrEqual(t, len([]rune(line)), 78, line)
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// The words say what is done otherwise, and nothing of what is not.
func TestVariedInWords(t *testing.T) {
	phrases := map[string]string{
		"fill":     "fill 2.60 m³ (the neck pulls with 2200 g) rather than 3.20 m³ (the neck pulls with 2800 g)",
		"envelope": "the envelope of 800 g that bursts at 7.00 m across rather than the envelope of 600 g that bursts at 6.00 m across",
		"canopy":   "canopy, square of 1.50 m rather than the " + balloon.Shapes()[0].Name + " canopy, square of 1.20 m",
		"load":     "leave behind: camera, lamp",
		"hour":     "2 h later, at Wed 22 Mar 2017, 09:00 UTC",
		"earlier":  "1 h 30 min earlier, at Wed 22 Mar 2017, 05:30 UTC",
		"site":     "from East Field rather than Field",
		"height":   "bursts at 31 000 m, 5000 m higher",
		"gas":      "19 % less gas",
		"fall":     "comes down at 4.1 m/s rather than 5.2 m/s",
		"verdict":  "verdict go (as it is: marginal)",
		"worse":    "no-go, which the plan as it stands is not: landings in water",
	}
	tests := []struct {
		says   []string
		change func(c *report.Choice)
	}{
		{[]string{"fill", "gas"}, func(c *report.Choice) { c.Gas, c.Pull = 2.6, 2.2 }},
		{[]string{"envelope"}, func(c *report.Choice) { c.Envelope = balloon.Envelope{Mass: 0.8, Burst: 7} }},
		{[]string{"canopy", "fall"}, func(c *report.Choice) { c.Canopies[0].Size, c.Falls = 1.5, 4.1 }},
		{[]string{"load"}, func(c *report.Choice) { c.Parts = c.Parts[:1] }},
		{[]string{"hour"}, func(c *report.Choice) { c.Time = c.Time.Add(2 * time.Hour) }},
		{[]string{"earlier"}, func(c *report.Choice) { c.Time = c.Time.Add(-90 * time.Minute) }},
		{[]string{"site"}, func(c *report.Choice) { c.Site = "East Field" }},
		{[]string{"site", "height", "hour"}, func(c *report.Choice) { c.Site, c.Height, c.Time = "East Field", 31000, c.Time.Add(2*time.Hour) }},
		{[]string{"site", "verdict"}, func(c *report.Choice) {
			c.Site, c.Launch.Verdict, c.Launch.Reasons = "East Field", launch.Go, nil
		}},
		{[]string{"site", "worse"}, func(c *report.Choice) {
			c.Site, c.Launch.Verdict = "East Field", launch.NoGo
			c.Launch.Reasons = []launch.Reason{{Verdict: launch.NoGo, What: "landings in water", Value: "30.0 %", Limit: "10.0 %"}}
		}},
	}
	for _, test := range tests {
		t.Run(strings.Join(test.says, " "), func(t *testing.T) {
			told := other(test.change)
			text := variedText(t, report.Varied{Plan: "Test", Looked: 12, AsItStands: asItStands(), Unbeaten: []report.Choice{told}, Told: []report.Choice{told}}, quantity.SI)
			said := map[string]bool{}
			for _, name := range test.says {
				said[name] = true
			}
			for name, phrase := range phrases {
				assert.Equal(t, said[name], strings.Contains(text, phrase), "%q in %s", phrase, text)
			}
			assert.Contains(t, text, "9.1 rather than 18.4 in the flights of the search; in as many fresh flights, by which nothing was chosen, it is 9.2 ± 1.1 points lower: that is sure")
		})
	}
}

// How sure a gain is follows from its interval.
func TestVariedGain(t *testing.T) {
	for _, test := range []struct {
		gain, half float64
		want       string
	}{
		{9, 1, "it is 9.0 ± 1.0 points lower: that is sure"},
		{-3, 0.5, "it is 3.0 ± 0.5 points higher: that is sure"},
		{0.4, 0.6, "it is 0.4 ± 0.6 points lower: no difference that is sure"},
		{-0.4, 0.6, "it is 0.4 ± 0.6 points higher: no difference that is sure"},
		{math.NaN(), math.Inf(1), "; how sure that is is not known"},
	} {
		told := other(func(c *report.Choice) { c.Site, c.Gain, c.GainHalfWidth = "East", test.gain, test.half })
		text := variedText(t, report.Varied{AsItStands: asItStands(), Told: []report.Choice{told}, Unbeaten: []report.Choice{told}}, quantity.SI)
		assert.Contains(t, text, test.want)
	}
}

// What else there is to say of a search, in either system of units.
func TestVariedRest(t *testing.T) {
	base := asItStands()
	base.LeftOut = "would float, or might"
	told := other(func(c *report.Choice) { c.Gas, c.Pull = 2.6, 2.2 })
	v := report.Varied{
		Plan: "Test", Looked: 40, Fully: 9, Flights: 1024, LeftOut: []report.LeftOut{{"too full at release", 1}, {"would float, or might", 3}},
		AsItStands: base, Told: []report.Choice{told}, Unbeaten: []report.Choice{told, told, told},
	}
	text := variedText(t, v, quantity.SI)
	for _, want := range []string{
		"40 plans, all with the same draws, 9 of them with all 1024 flights 1 plan left out: too full at release 3 plans left out: would float, or might",
		"as it stands it would itself be left out: would float, or might", "Besides 2 plans that no other beats either",
		"marginal: landings in water: 9.0 % (8.0 % to 11.0 %), limit 10.0 %",
		"lands most likely 80.0 km away toward 090°, by 10:00 UTC nineteen times in twenty; 80 % within 500 km²",
	} {
		assert.Contains(t, text, want)
	}
	assert.Contains(t, variedText(t, v, quantity.US), "fill 91.8 ft³ (the neck pulls with 4.85 lb) rather than 113 ft³ (the neck pulls with 6.17 lb)")
	base.LeftOut, base.Unbeaten = "", true
	text = variedText(t, report.Varied{AsItStands: base, Unbeaten: []report.Choice{base}}, quantity.SI)
	assert.Contains(t, text, "no other plan beats it Otherwise none of the other plans that are looked at gives more Better is")

	nowhere := asItStands()
	nowhere.Score, nowhere.Launch.Landing = math.NaN(), nil
	text = variedText(t, report.Varied{AsItStands: nowhere}, quantity.SI)
	assert.Contains(t, text, "As it is score not known; bursts at 26 000 m; filled with 3.20 m³ (the neck pulls with 2800 g) no flight landed within the forecast")

	var b bytes.Buffer
	require.NoError(t, report.WriteVariedCSV(&b, v))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 5)
	assert.Equal(t, []string{"0", "18.40", "26000", "3.200", "2.800", "5.20", "2017-03-22T07:00:00Z", "Field", "0.600", "6.00"}, rows[1][:10])
	assert.Equal(t, []string{"1", "9.10"}, rows[2][:2])
	assert.Equal(t, []string{"box; camera; lamp", "9.20", "1.10", "marginal"}, rows[2][11:])
}

// The page of a week says what to change, in the words of the text, names escaped; and
// nothing of it where nothing was looked for.
func TestPageSaysWhatToChange(t *testing.T) {
	told := other(func(c *report.Choice) { c.Site, c.Gain, c.GainHalfWidth = "East <b>field", 9, 1 })
	varied := report.Varied{AsItStands: asItStands(), Told: []report.Choice{told}, Unbeaten: []report.Choice{told}}
	shown := func(p report.Page) string {
		var b strings.Builder
		require.NoError(t, report.WritePage(&b, p, quantity.SI))
		return strings.ReplaceAll(b.String(), "\u00a0", " ")
	}
	week := report.Week{Plan: "Spring", Zone: time.UTC, Asked: 1}
	assert.NotContains(t, shown(report.Page{Week: week}), "What to change")
	page := shown(report.Page{Week: week, Varied: &varied})
	for _, want := range []string{"What to change", "<dt>Plan 1</dt>", "from East &lt;b&gt;field rather than Field", "9.0 ± 1.0 points lower: that is sure"} {
		assert.Contains(t, page, want)
	}
}
