package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const ruledPlan = "../../testdata/demo/ruled.yaml"

// flat is a text on one line.
func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// README.md shows the plan's rules and what notice prints, and tells of the options.
func TestReadmeShowsNotices(t *testing.T) {
	readme := mustRead(t, "../../README.md")
	own, ok := strings.CutPrefix(mustRead(t, ruledPlan), mustRead(t, demoPlan))
	require.True(t, ok, "%s is not %s and something more", ruledPlan, demoPlan)
	assert.True(t, strings.Contains(readme, "```yaml\n"+own+"```\n"), "README.md does not show the rules of %s", ruledPlan)
	code, out, errs := thistledown(withForecast(t, "notice", ruledPlan, "--stage", "before")...)
	require.Equal(t, done, code, errs)
	assert.True(t, strings.Contains(readme, "```\n"+out+"```\n"), "README.md does not show what notice prints:\n%s", out)
	code, out, errs = thistledown("notice", "--help")
	require.Equal(t, done, code, errs)
	for _, option := range []string{"--stage", "--set", "--forecast", "--at", "--latitude", "--longitude", "--height", "--out", "--json"} {
		assert.Contains(t, out, option)
		assert.True(t, strings.Contains(readme, "`"+option), "README.md does not tell of %s", option)
	}
}

// A plan with rules says the same of everything else as one without.
func TestRulesOnlyAdd(t *testing.T) {
	for _, command := range []string{"fly", "size"} {
		_, without, _ := thistledown(withForecast(t, command, demoPlan)...)
		code, with, errs := thistledown(withForecast(t, command, ruledPlan)...)
		require.Equal(t, done, code, errs)
		assert.NotContains(t, without, "Rules")
		require.Contains(t, with, "\nRules  ")
		rest := with
		for line := range strings.Lines(without) {
			i := strings.Index(rest, line)
			require.GreaterOrEqual(t, i, 0, "%s: with rules it does not print %q there", command, line)
			rest = rest[i+len(line):]
		}
	}
}

// The worked example of the ratio rule, from the plan to the text: 14 CFR
// 101.1(a)(4)(i), edition of 1 January 2024: a package over 4 lb and over 3 ounces to
// the square inch of its smallest surface. 5 lb is 80 oz: on 6 in × 4 in it is
// 80/24 = 3.33, on 6 in × 5 in 80/30 = 2.67.
func TestRatioRuleFromThePlan(t *testing.T) {
	const start = "package with the most mass on its smallest face: 5 lb (2.268 kg), "
	for _, test := range []struct{ face, verdict, value, change string }{
		{", smallest_face: 24 in2", "not met", "3.3333 oz/in² ", "a smallest face of at least 26.667 in²"},
		{", smallest_face: 30 in2", "met", "2.6667 oz/in² ", "a smallest face under 26.667 in²"},
		{", box: 6 in x 4 in x 9 in", "not met", "3.3333 oz/in² ", "a smallest face of at least 26.667 in²"},
		{", box: 6 in x 5 in x 9 in", "met", "2.6667 oz/in² ", "a smallest face under 26.667 in²"},
		{"", "cannot tell", `not known of "box"`, `give the smallest face of "box": of 26.667 in² (172 cm²) or more it is within`},
	} {
		plan := filepath.Join(t.TempDir(), "plan.yaml")
		require.NoError(t, os.WriteFile(plan, []byte(`name: Ratio
site: {name: Meadow, latitude: 58.22, longitude: 12.8, elevation: 95 m, time_zone: UTC}
launch: 2017-03-22T07:00:00Z
train:
  parts: [{name: box, mass: 5 lb}]
  envelope: {mass: 1200 g, bursts_at: 8 m}
  gas: {helium: 99 %, free_lift: 1200 g}
  canopies: [{shape: flat circular, size: 1.5 m}]
rules:
  jurisdiction: us
  separates_at: 40 lbf
  packages: [{name: box, parts: [box]`+test.face+"}]\n"), 0o600))
		code, out, errs := thistledown("size", plan)
		require.Equal(t, done, code, errs)
		assert.Contains(t, flat(out), " "+test.verdict+" "+start+test.value, "%s", test.face)
		assert.Contains(t, flat(out), test.change, "%s", test.face)
		code, out, errs = thistledown("size", plan, "--json")
		require.Equal(t, done, code, errs)
		var message struct {
			Train struct {
				Rules struct {
					Classes []string
					Tests   []struct{ Paragraph, Verdict, Status string }
				}
			}
		}
		require.NoError(t, json.Unmarshal([]byte(out), &message))
		r := message.Train.Rules
		assert.Equal(t, "14 CFR 101.1(a)(4)(i)", r.Tests[0].Paragraph)
		assert.Equal(t, test.verdict, r.Tests[0].Verdict)
		assert.Equal(t, "seen", r.Tests[0].Status)
		classes := map[string][]string{
			"not met":     {"unmanned free balloon under 14 CFR part 101, subpart D"},
			"met":         {"below the limits of 14 CFR 101.1(a)(4)"},
			"cannot tell": {"below the limits of 14 CFR 101.1(a)(4)", "unmanned free balloon under 14 CFR part 101, subpart D"},
		}
		assert.Equal(t, classes[test.verdict], r.Classes)
	}
}

// What the program prints never says that a flight may take place: in any of its
// texts and messages, for each jurisdiction and stage.
func TestNoLeaveIsGiven(t *testing.T) {
	never := regexp.MustCompile(`(?i)\b(safe|safely|legal|legally|approved|approval|permitted)\b`)
	check := func(t *testing.T, out string) {
		t.Helper()
		assert.Empty(t, never.FindAllString(out, -1))
		assert.Contains(t, flat(out), "The local authority decides")
	}
	for _, j := range []string{"us", "icao", "eu", "uk", "au", "nz", "ca"} {
		set := "--set=rules.jurisdiction=" + j
		for _, command := range [][]string{{"size"}, {"fly"}, {"size", "--json"}, {"fly", "--json"}} {
			code, out, errs := thistledown(withForecast(t, append(command, ruledPlan, set, "--set=sampling.scrambles=2", "--set=sampling.flights_per_scramble=8")...)...)
			require.Equal(t, done, code, errs)
			check(t, out)
		}
		for _, stage := range []string{"before", "delayed", "cancelled", "launched", "descending", "lost", "found", "ended"} {
			code, out, errs := thistledown("notice", ruledPlan, "--stage", stage, set, "--set=launch=2017-03-22T09:00:00+01:00")
			require.Equal(t, done, code, errs)
			check(t, out)
		}
	}
	for _, command := range [][]string{
		{"notice", ruledPlan, "--stage", "before", "--json"},
		{"week", ruledPlan, "--set=sampling.scrambles=2", "--set=sampling.flights_per_scramble=8"},
	} {
		code, out, errs := thistledown(withForecast(t, command...)...)
		require.Equal(t, done, code, errs)
		check(t, out)
	}
	dir := t.TempDir()
	code, out, errs := thistledown("label", ruledPlan, "--out", dir)
	require.Equal(t, done, code, errs)
	assert.Empty(t, never.FindAllString(out+mustRead(t, filepath.Join(dir, "label.html")), -1))
	for _, help := range []string{"notice", "label", "size", "fly"} {
		_, out, _ = thistledown(help, "--help")
		assert.Empty(t, never.FindAllString(out, -1), help)
	}
}

// What a --set changes of how a flight stands to rules is said.
func TestSetSaysHowRulesChange(t *testing.T) {
	code, out, errs := thistledown("size", ruledPlan, "--set", "rules.separates_at=230 N")
	require.Equal(t, done, code, errs)
	out = flat(out)
	assert.True(t, strings.HasPrefix(out, "Changed class light → heavy impact force that separates payload and balloon (SERA Appendix 2, 1, heavy (4)): met → not met "), out)
	code, out, errs = thistledown("size", demoPlan, "--set", "rules.jurisdiction=us")
	require.Equal(t, done, code, errs)
	assert.True(t, strings.HasPrefix(flat(out), "Changed held to no rules → rules of United States, 14 CFR part 101 Thistle"), out)
}

func TestNoticeBadInput(t *testing.T) {
	forecast := withForecast(t)
	for _, test := range []struct {
		name string
		args []string
		want string
	}{
		{"put off to the same time", []string{"notice", ruledPlan, "--stage", "delayed"}, "--stage delayed: no new launch time: want it, by --set launch=TIME"},
		{"no such stage", []string{"notice", ruledPlan, "--stage", "after"}, `--stage must be one of "before","launched","delayed","cancelled","descending","lost","found","ended" but got "after"`},
		{"no stage", []string{"notice", ruledPlan}, "missing flags: --stage=STAGE"},
		{"no rules", []string{"notice", demoPlan, "--stage", "before"}, demoPlan + ": rules: missing: want whose rules it is held to, and the people who answer for it: {jurisdiction, people}"},
		{"no rules, with a forecast", append([]string{"notice", demoPlan, "--stage", "before"}, forecast...), demoPlan + ": rules: missing: want whose rules it is held to, and the people who answer for it: {jurisdiction, people}"},
		{"no telephone", []string{"notice", ruledPlan, "--stage", "lost", "--set", "rules.people[1].telephone="}, demoPlan[:len(demoPlan)-len("plan.yaml")] + "ruled.yaml: rules.people[1].telephone: missing: want the number on which Ben Rush answers"},
		{"unknown jurisdiction", []string{"notice", ruledPlan, "--stage", "lost", "--set", "rules.jurisdiction=mars"}, `--set rules.jurisdiction=mars: want us, icao, eu, uk, au, nz or ca`},
		{"no time", []string{"notice", ruledPlan, "--stage", "lost", "--at", "noon"}, `--at: "noon": want RFC 3339 with an offset, such as 2017-03-22T08:00:00+01:00`},
		{"half a place", []string{"notice", ruledPlan, "--stage", "lost", "--latitude", "50"}, "--latitude and --longitude: one of them alone: want both or neither"},
		{"beyond a pole", []string{"notice", ruledPlan, "--stage", "lost", "--latitude", "91", "--longitude", "0"}, "--latitude: 91: want -90 to 90"},
		{"no height", []string{"notice", ruledPlan, "--stage", "lost", "--height", "30000"}, `--height: "30000": want a length with its unit`},
		{"in space", []string{"notice", ruledPlan, "--stage", "lost", "--height", "100 km"}, `--height: "100 km": want -500 m to 60000 m`},
		{"label of one number", []string{"label", ruledPlan, "--out", "x", "--set", "rules.people[1]="}, "ruled.yaml: rules.people[1]: missing: want somebody to call, with name and telephone"},
		{"label without rules", []string{"label", demoPlan, "--out", "x"}, "plan.yaml: rules: missing: "},
	} {
		t.Run(test.name, func(t *testing.T) {
			code, out, errs := thistledown(test.args...)
			assert.Equal(t, badInput, code, errs)
			assert.Empty(t, out)
			assert.Contains(t, errs, test.want)
		})
	}
	_, err := os.Stat("x")
	assert.ErrorIs(t, err, os.ErrNotExist, "nothing is written")
}

// What was said of when and where it took place stands in the notice; without it,
// and without a forecast, there are blanks.
func TestNoticeIsFilledIn(t *testing.T) {
	dir := t.TempDir()
	code, out, errs := thistledown("notice", ruledPlan, "--stage", "lost", "--set", "rules.jurisdiction=us", "--at", "2017-03-22T09:05:00+01:00",
		"--latitude=58.25", "--longitude=-13.5", "--height", "18300 m", "--out", dir)
	require.Equal(t, done, code, errs)
	assert.Contains(t, flat(out), "(c) Last position: 22 Mar 2017 08:05 UTC, 5815N 01330W, 60 000 ft AMSL")
	assert.Contains(t, out, "(c) Forecast trajectory: ________")
	assert.Equal(t, out, mustRead(t, filepath.Join(dir, "notice-lost.txt")))
	code, out, errs = thistledown("notice", ruledPlan, "--stage", "ended")
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "Came down: ________")
}
