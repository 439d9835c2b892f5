package main

import (
	"encoding/json"
	"encoding/xml"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/plan"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

const demoFixes = "../../testdata/demo/fixes.csv"

func TestReadmeShowsTheChase(t *testing.T) {
	readme := mustRead(t, "../../README.md")
	code, out, errs := thistledown(withForecast(t, "chase", demoPlan, "--fixes", demoFixes)...)
	require.Equal(t, done, code, errs)
	head, _, cut := strings.Cut(out, "\n\nMind")
	assert.True(t, cut && strings.Contains(readme, "```\n"+head+"\n```\n"), "README.md does not show what chase prints first:\n%s", head)
	code, out, errs = thistledown("chase", "--help")
	require.Equal(t, done, code, errs)
	for _, option := range []string{"--fixes", "--follow", "--search", "--cell", "--searched", "--out", "--json"} {
		assert.Contains(t, out, option)
		assert.True(t, strings.Contains(readme, "| `"+option), "README.md does not tell of %s", option)
	}
}

// The service gives the same answers to the example's plan and fixes as the command line.
func TestServiceAndCommandLineAgreeOnTheChase(t *testing.T) {
	content, err := os.ReadFile(demoPlan)
	require.NoError(t, err)
	m, p, err := plan.Read(demoPlan, content, nil)
	require.NoError(t, err)
	m.Forecast = nil
	fixes, err := plan.ReadFixes(demoFixes, []byte(mustRead(t, demoFixes)))
	require.NoError(t, err)
	track := &thistledownv1.Track{}
	for _, f := range fixes {
		track.Fixes = append(track.Fixes, &thistledownv1.Fix{
			Time: timestamppb.New(f.Time), Latitude: &f.At.Lat, Longitude: &f.At.Lon, Height: metres(f.Height),
		})
	}
	client := service(t, p)
	got, err := client.Narrow(t.Context(), &thistledownv1.NarrowRequest{Plan: m, Track: track})
	require.NoError(t, err)
	own := printed(t, func() *thistledownv1.NarrowResponse { return &thistledownv1.NarrowResponse{} },
		withForecast(t, "chase", demoPlan, "--fixes", demoFixes, "--json")...)
	require.Len(t, own, 1)
	assert.True(t, proto.Equal(own[0], got), "%v\n%v", own[0].GetAnswer().GetLanding(), got.GetAnswer().GetLanding())

	found, err := client.Search(t.Context(), &thistledownv1.SearchRequest{Plan: m, Track: track, Cell: "250 m"})
	require.NoError(t, err)
	cells := printed(t, func() *thistledownv1.SearchResponse { return &thistledownv1.SearchResponse{} },
		withForecast(t, "chase", demoPlan, "--fixes", demoFixes, "--search", "--cell", "250 m", "--json")...)
	assert.True(t, proto.Equal(cells[0], found))
}

func metres(v float64) string { text, _ := json.Marshal(v); return string(text) + " m" } //nolint:errchkjson // a number

// --out writes files that other programs read, whole.
func TestChaseWritesFiles(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	code, out, errs := thistledown(withForecast(t, "chase", demoPlan, "--fixes", demoFixes, "--search", "--units", "us", "--out", dir,
		"--searched", "58.351,14.041,0.1 mi,80%")...)
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, " ft")
	assert.Contains(t, strings.Join(strings.Fields(out), " "), "where it was looked for it would have been found by now with")
	assert.Equal(t, out, mustRead(t, filepath.Join(dir, "chase.txt")))
	var c struct {
		Type     string
		Features []struct {
			Geometry   struct{ Type string }
			Properties map[string]any
		}
	}
	require.NoError(t, json.Unmarshal([]byte(mustRead(t, filepath.Join(dir, "chase.geojson"))), &c))
	parts := map[string]int{}
	last := 0.0
	for _, f := range c.Features {
		part, _ := f.Properties["part"].(string)
		parts[part]++
		if part == "search cell" {
			contained, _ := f.Properties["contained"].(float64)
			assert.Greater(t, contained, last)
			last = contained
		}
	}
	assert.Equal(t, 3, parts["landing region"])
	assert.Equal(t, 26, parts["fix"])
	assert.Equal(t, 1, parts["rejected fix"])
	assert.Equal(t, 1, parts["track"])
	assert.Equal(t, 1, parts["most likely landing"])
	assert.GreaterOrEqual(t, last, 0.95)
	var gpx struct {
		Waypoints []struct {
			Name string `xml:"name"`
		} `xml:"wpt"`
		Points []struct{} `xml:"trk>trkseg>trkpt"`
	}
	require.NoError(t, xml.Unmarshal([]byte(mustRead(t, filepath.Join(dir, "chase.gpx"))), &gpx))
	assert.Equal(t, []string{"Last fix", "Most likely landing", "Look 1"}, []string{gpx.Waypoints[0].Name, gpx.Waypoints[1].Name, gpx.Waypoints[2].Name})
	assert.Len(t, gpx.Points, 26)
	// What it writes is what it reads.
	code, _, errs = thistledown(withForecast(t, "chase", demoPlan, "--fixes", filepath.Join(dir, "chase.gpx"))...)
	require.Equal(t, done, code, errs)
	require.NoError(t, json.Unmarshal([]byte(mustRead(t, filepath.Join(dir, "chase.json"))), &map[string]any{}))
}

// Lines are answered as they come; one that cannot be read is told, and the next is read.
func TestChaseFollows(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(mustRead(t, demoFixes)), "\n")
	lines = append(lines[:6], "2017-03-22T08:10:00Z,nowhere,1,2", lines[6])
	in, err := os.CreateTemp(t.TempDir(), "")
	require.NoError(t, err)
	_, err = in.WriteString(strings.Join(lines, "\n"))
	require.NoError(t, err)
	_, err = in.Seek(0, 0)
	require.NoError(t, err)
	old := os.Stdin
	os.Stdin = in
	defer func() { os.Stdin = old }()
	code, out, errs := thistledown(withForecast(t, "chase", demoPlan, "--fixes", "-", "--follow")...)
	require.Equal(t, done, code, errs)
	answers := strings.Split(strings.TrimSpace(out), "\n")
	require.Len(t, answers, 6)
	for _, a := range answers {
		assert.Regexp(t, `^08:\d\d:00 climbing at [\d ]+ m: down near 58\.\d{4}° N 1[34]\.\d{4}° E about \d\d:\d\d, 95 % within [\d.]+ km$`, a)
	}
	assert.Contains(t, errs, `line 7: standard input:2: latitude: "nowhere"`)
}

func TestChaseRefuses(t *testing.T) {
	dir := t.TempDir()
	file := func(name, content string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
		return path
	}
	head := "time,latitude,longitude,height_m\n"
	elsewhere := file("elsewhere.csv", head+"2017-03-22T08:10:00Z,-89,1,2\n")
	for says, args := range map[string][]string{
		"no such file":                             {"--fixes", filepath.Join(dir, "none")},
		"bare.csv:2: height: missing":              {"--fixes", file("bare.csv", head+"2017-03-22T08:10:00Z,58,13,\n")},
		"missing flags: --fixes=FILE":              {},
		"--cell: without --search":                 {"--fixes", demoFixes, "--cell", "100 m"},
		`--cell: "5": want a length with its unit`: {"--fixes", demoFixes, "--search", "--cell", "5"},
		"--follow: want --fixes -":                 {"--fixes", demoFixes, "--follow"},
		`--searched: "here": want LATITUDE`:        {"--fixes", demoFixes, "--search", "--searched", "here"},
		`--searched[0].radius: "5": want a length`: {"--fixes", demoFixes, "--search", "--searched", "58,13,5,50 %"},
		"--searched[0].latitude: 158: want -90":    {"--fixes", demoFixes, "--search", "--searched", "158,13,5 m,50 %"},
		"track.fixes: none of 1 fixes is believed: fix 1 lies outside the forecast: want one of the flight, inside the forecast, which is from 2017-03-22T00:00:00Z to": {"--fixes", elsewhere},
	} {
		code, out, errs := thistledown(withForecast(t, append([]string{"chase", demoPlan}, args...)...)...)
		assert.Equal(t, badInput, code, says)
		assert.Empty(t, out)
		assert.Contains(t, errs, says)
		assert.Equal(t, 1, strings.Count(strings.TrimSpace(errs), "\n")+1, "one line: %s", errs)
	}
}
