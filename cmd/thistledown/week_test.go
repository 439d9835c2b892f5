package main

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/realwind"
)

// invented is a packed week of invented weather around the demo's site.
func invented(tb testing.TB, options ...string) string {
	tb.Helper()
	const box = "south=48,north=68,west=-6,east=32"
	folder := tb.TempDir()
	files, packed := filepath.Join(folder, "files"), filepath.Join(folder, "week.cube")
	code, _, errs := thistledown(append([]string{"winds", "invent", "--box", box, "--start", "2017-03-22T00:00:00Z", "--hours", "174", "--out", files}, options...)...)
	require.Equal(tb, done, code, errs)
	code, _, errs = thistledown("winds", "pack", "--box", box, "--out", packed, files)
	require.Equal(tb, done, code, errs)
	require.NoError(tb, os.RemoveAll(files))
	return packed
}

// measured is the demo's plan with a measured train, at every hour.
func measured(tb testing.TB) string {
	tb.Helper()
	name := filepath.Join(tb.TempDir(), "plan.yaml")
	require.NoError(tb, os.WriteFile(name, []byte(`name: Every hour
site: {name: Long Meadow, latitude: 58.22, longitude: 12.80, elevation: 95 m, time_zone: Etc/UTC}
launch: 2017-03-22T08:00:00Z
train:
  measured: {ascent_rate: 5 m/s, burst_altitude: 27 km, landing_speed: 5 m/s}
schedule: {hours: ["00:00-24:00"]}
limits: {score: 30, water: 10 %}
`), 0o600))
	return name
}

// The files of --out, --earlier and --gate.
func TestWeekCommand(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out")
	code, text, errs := thistledown(withForecast(t, "week", demoPlan, "--out", out)...)
	require.Equal(t, done, code, errs)
	assert.Equal(t, text, mustRead(t, filepath.Join(out, "week.txt")))
	table := strings.Split(strings.TrimSpace(mustRead(t, filepath.Join(out, "week.csv"))), "\r\n")
	require.Len(t, table, 1+7, "07:00 to 13:00 by the clock at the site")
	assert.True(t, strings.HasPrefix(table[0], "rank,launch_utc,site,verdict,score,"), table[0])
	assert.True(t, strings.HasPrefix(table[1], "1,2017-03-22T06:00:00Z,Long Meadow,no-go,"), table[1])
	assert.True(t, strings.HasPrefix(table[7], "7,2017-03-22T12:00:00Z,Long Meadow,not covered,"), table[7])
	page := strings.ReplaceAll(mustRead(t, filepath.Join(out, "index.html")), "\u00a0", " ")
	for _, want := range []string{
		"Every launch time is a no-go. The least bad:", "07:00 CET (06:00 UTC) from Long Meadow", "data-box=", `class="base b-water"`, `class="base b-air"`,
		"Invented woods", "Crew sheet", "Skövde Airport", "camera box", "Wind over the site at the launch",
	} {
		assert.Contains(t, page, want)
	}
	assert.Contains(t, mustRead(t, filepath.Join(out, "summary.txt")), "07:00 CET (06:00 UTC)", "the best launch time's own answer")

	code, text, errs = thistledown(withForecast(t, "week", demoPlan, "--set", "train.gas.neck_lift=2600 g")...)
	require.Equal(t, done, code, errs)
	assert.Contains(t, text, "Without what was set, and with it, at the best launch time:")
	assert.Regexp(t, `neck pulls with .*2800 g → 2600 g|2800 g → 2600 g`, text)
	out = filepath.Join(t.TempDir(), "ruled")
	code, _, errs = thistledown(withForecast(t, "week", "../../testdata/demo/ruled.yaml", "--out", out)...)
	require.Equal(t, done, code, errs)
	assert.Contains(t, mustRead(t, filepath.Join(out, "index.html")), "HARMLESS", "the payload's label is on the crew's sheet")
	code, _, _ = thistledown(withForecast(t, "week", demoPlan, "--gate")...)
	assert.Equal(t, noGo, code)
	code, _, errs = thistledown(withForecast(t, "week", demoPlan, "--set", `schedule.hours=["Mon 06:00-12:00"]`)...)
	assert.Equal(t, badInput, code)
	assert.Contains(t, errs, "schedule.hours: no launch time from 2017-03-22T00:00:00Z to 2017-03-22T12:00:00Z")
	files := withForecast(t, "week", demoPlan)
	code, _, errs = thistledown(append(files, "--earlier", files[len(files)-1])...)
	assert.Equal(t, badInput, code)
	assert.Contains(t, errs, "--earlier: ")
	for _, word := range []string{"safe", "legal", "approved"} {
		assert.NotContains(t, text, word)
	}
}

// BenchmarkWeek is 168 launch times and more of 1,024 flights, from the start of
// the command to its last line, from a cube.
func BenchmarkWeek(b *testing.B) {
	for name, options := range map[string][]string{
		"single":           nil,
		"members=31/deg=1": {"--members", "0..30", "--spacing", "1", "--every", "6"},
	} {
		b.Run(name, func(b *testing.B) {
			forecast, plan := invented(b, options...), measured(b)
			var before, after runtime.MemStats
			for b.Loop() {
				runtime.ReadMemStats(&before)
				code, out, errs := thistledown("week", plan, "--forecast", forecast)
				require.Equal(b, done, code, errs)
				runtime.ReadMemStats(&after)
				b.ReportMetric(float64(strings.Count(out, "km²  ")), "windows")
			}
			b.ReportMetric(float64(after.HeapSys)/(1<<20), "MiB-heap")
		})
	}
}

// Where no launch time is go the page says what to change, as vary does for the best.
func TestWeekPageSaysWhatToChange(t *testing.T) {
	dir := t.TempDir()
	few := []string{"--set=sampling={scrambles: 4, flights_per_scramble: 32}", "--set=schedule.hours=[07:00-08:00]"}
	code, _, errs := thistledown(withForecast(t, append([]string{"week", demoPlan, "--out", dir}, few...)...)...)
	require.Equal(t, done, code, errs)
	page := strings.ReplaceAll(mustRead(t, filepath.Join(dir, "index.html")), "\u00a0", " ")
	assert.Contains(t, page, "What to change")
	assert.Contains(t, page, "8 plans, all with the same draws")
	code, _, errs = thistledown(withForecast(t, append([]string{"week", demoPlan, "--out", dir, "--set=limits="}, few...)...)...)
	require.Equal(t, done, code, errs)
	assert.NotContains(t, mustRead(t, filepath.Join(dir, "index.html")), "What to change")
}

// stopping ends a context once a text was written to it.
type stopping struct {
	text bytes.Buffer
	at   string
	stop context.CancelFunc
}

func (s *stopping) Write(b []byte) (int, error) {
	n, err := s.text.Write(b)
	if strings.Contains(s.text.String(), s.at) {
		s.stop()
	}
	return n, err
}

// An interrupt leaves what was looked at until then, on the terminal and as files.
func TestWeekThatIsStopped(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	dir := t.TempDir()
	out := &stopping{at: "\n01:00 ", stop: stop}
	k := week{
		Plan: demoPlan, Forecast: realwind.Files(t), Out: dir, Units: "si",
		Set: []string{"schedule.hours=[00:00-24:00]", "schedule.step=15 min", "sampling={scrambles: 16, flights_per_scramble: 256}"},
	}
	err := k.Run(ctx, &streams{out, io.Discard})
	require.ErrorIs(t, err, context.Canceled)
	assert.Equal(t, interrupted, status(err))
	text := out.text.String()
	assert.Contains(t, text, "not looked at, as it was stopped")
	assert.Contains(t, text, "Always")
	assert.Equal(t, text, mustRead(t, filepath.Join(dir, "week.txt")))
	page := mustRead(t, filepath.Join(dir, "index.html"))
	assert.True(t, strings.HasSuffix(strings.TrimSpace(page), "</html>"))
	assert.Contains(t, page, "not looked at, as it was stopped")
}
