package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// few is a search with few flights, over what the demo plan's train could do.
func few(t *testing.T, args ...string) []string {
	t.Helper()
	return withForecast(t, append([]string{
		"vary", demoPlan, "--set", "sampling={scrambles: 4, flights_per_scramble: 16}",
		"--set", "vary.fill={from: 2.6 m3, to: 4.6 m3, steps: 3}", "--set", "vary.leave_behind=[camera box]",
	}, args...)...)
}

// What is printed is what is written, and names what to do otherwise; the table has
// the plan as it stands and those that no other beats.
func TestVary(t *testing.T) {
	dir := t.TempDir()
	code, out, errs := thistledown(few(t, "--out", dir)...)
	require.Equal(t, done, code, errs)
	assert.Empty(t, errs)
	for _, words := range []string{"Looked at   8 plans", "As it is    score ", "Plan 1      ", "leave behind: camera box", " rather than 3.18", "in as many fresh flights", "Always"} {
		assert.Contains(t, strings.Join(strings.Split(out, "\n            "), " "), words)
	}
	for line := range strings.SplitSeq(out, "\n") {
		assert.LessOrEqual(t, len([]rune(line)), 78, "line %q is too wide", line)
	}
	for _, word := range []string{"approved", "legal", "safe"} {
		assert.NotContains(t, strings.ToLower(out), word)
	}
	assert.Equal(t, out, mustRead(t, filepath.Join(dir, "vary.txt")))
	table := mustRead(t, filepath.Join(dir, "vary.csv"))
	assert.True(t, strings.HasPrefix(table, "told,score,burst_m,"))
	assert.Contains(t, table, "2017-03-22T07:00:00Z,Long Meadow")

	code, out, errs = thistledown(few(t, "--units", "us")...)
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, " ft³")
	assert.NotContains(t, out, " m³")
}

// Another launch time, and the best ones of a week.
func TestVaryAtOtherTimes(t *testing.T) {
	code, out, errs := thistledown(few(t, "--at", "2017-03-22T07:30:00+01:00")...)
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "Launch      Wed 22 Mar 2017, 07:30 CET (06:30 UTC) from Long Meadow")

	dir := t.TempDir()
	code, out, errs = thistledown(few(t, "--week", "--out", dir, "--set", "schedule.hours=[06:00-08:00]", "--set", "vary.leave_behind=")...)
	require.Equal(t, done, code, errs)
	assert.Equal(t, 2, strings.Count(out, "\nLaunch "), "launch times")
	for _, at := range []string{"06:00 CET", "07:00 CET"} {
		assert.Contains(t, out, "Launch      Wed 22 Mar 2017, "+at)
	}
	for _, name := range []string{"vary.csv", "vary-2.csv", "vary.txt"} {
		_, err := os.Stat(filepath.Join(dir, name))
		assert.NoError(t, err)
	}
}

func TestVaryBadInput(t *testing.T) {
	const weighed = "--set=train.envelope= --set=train.gas= --set=train.canopies= --set=train.measured={ascent_rate: 5 m/s, burst_altitude: 27 km, landing_speed: 5 m/s}"
	for _, test := range []struct {
		args []string
		want string
	}{
		{strings.Split(weighed, " --"), "thistledown: train.measured: a train that was measured: want weighed parts, envelope, gas and canopies: there is nothing to work out otherwise\n"},
		{[]string{"--set=vary.leave_behind=[anchor]"}, "thistledown: vary.leave_behind[0]: \"anchor\": want the name of one of train.parts\n"},
		{[]string{"--at=noon"}, "thistledown: --at: \"noon\": want RFC 3339 with an offset, such as 2017-03-22T11:00:00+01:00\n"},
		{[]string{"--forecast="}, "thistledown: --forecast: empty: want the name of a GRIB2 file, folder or cube\n"},
	} {
		args := []string{"vary", demoPlan}
		for i, arg := range test.args {
			if i > 0 && !strings.HasPrefix(arg, "--") {
				arg = "--" + arg
			}
			args = append(args, arg)
		}
		code, out, errs := thistledown(withForecast(t, args...)...)
		assert.Equal(t, badInput, code)
		assert.Empty(t, out)
		assert.Equal(t, test.want, errs)
	}
	code, _, errs := thistledown(withForecast(t, "vary", demoPlan, "--at", "2017-04-22T07:30:00+01:00")...)
	assert.Equal(t, noForecast, code)
	assert.Contains(t, errs, "launch: 2017-04-22T06:30:00Z")
}
