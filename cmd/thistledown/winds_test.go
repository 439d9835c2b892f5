package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/realwind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// A cube gives the same answer as the files that it was packed from, to what is
// printed.
func TestFlyOnACube(t *testing.T) {
	cube := filepath.Join(t.TempDir(), "demo.cube")
	code, out, errs := thistledown(append([]string{"winds", "pack", "--plan", demoPlan, "--out", cube}, realwind.Files(t)...)...)
	require.Equal(t, done, code, errs)
	for _, says := range []string{"31, from 1000 to 1 hPa", "3, from 22 Mar 00:00 to 22 Mar 12:00 UTC", "Missing     visibility", cube} {
		assert.Contains(t, out, says)
	}
	answer := func(args ...string) *thistledownv1.FlyResponse {
		code, out, errs := thistledown(append(args, "--json")...)
		require.Equal(t, done, code, errs)
		r := &thistledownv1.FlyResponse{}
		require.NoError(t, protojson.Unmarshal([]byte(out), r))
		return r
	}
	files, packed := answer(withForecast(t, "fly", demoPlan)...), answer("fly", demoPlan, "--forecast", cube)
	assert.True(t, proto.Equal(files.GetForecast(), packed.GetForecast()), "%v\n%v", files.GetForecast(), packed.GetForecast())
	// Winds are rounded to some thousandths of a metre a second: over two hours
	// that moves a flight by a few metres, and one in a thousand over a shore.
	assert.InDelta(t, files.GetHazard().GetScore(), packed.GetHazard().GetScore(), 0.5)
	a, b := files.GetLanding().GetMean(), packed.GetLanding().GetMean()
	assert.InDelta(t, a.GetLatitude(), b.GetLatitude(), 1e-4)
	assert.InDelta(t, a.GetLongitude(), b.GetLongitude(), 1e-4)
	code, _, errs = thistledown("winds", "check", cube)
	assert.Equal(t, done, code, errs)

	// A forecast put above itself changes nothing but what is said of it.
	code, above, errs := thistledown("fly", demoPlan, "--forecast", cube, "--set", `forecast.above=["`+cube+`"]`)
	assert.Equal(t, badInput, code)
	assert.Contains(t, errs, "the upper forecast ends at 1 hPa: want levels above the 1 hPa of the lower")
	assert.Empty(t, above)
}

// A row has what the manual says it has, in file order; --stats adds the values.
func TestListAsJSON(t *testing.T) {
	file := realwind.Files(t)[1]
	code, out, errs := thistledown("winds", "list", "--json", "--stats", file)
	require.Equal(t, done, code, errs)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	require.Len(t, lines, 415)
	var row map[string]any
	require.NoError(t, json.Unmarshal([]byte(lines[22]), &row))
	// grib_get of ecCodes 2.28: gh at 5 hPa, 33859.575 to 36034.135, average 35325.6743.
	for key, want := range map[string]any{
		"file": file, "message": 23.0, "field": 1.0, "parameter": "HGT", "level_type": "isobaric", "level": 5.0, "level_unit": "hPa",
		"step_hours": 6.0, "member": nil, "packing": "5.3", "points": 10512.0, "missing": 0.0,
	} {
		got, ok := row[key]
		assert.True(t, ok, "%s is not in %s", key, lines[22])
		assert.Equal(t, want, got, key)
	}
	assert.InDelta(t, 33859.575, row["min"], 0.01)
	assert.InDelta(t, 36034.135, row["max"], 0.01)
	assert.InDelta(t, 35325.6743, row["mean"], 0.01)
	code, out, errs = thistledown("winds", "list", "--json", file)
	require.Equal(t, done, code, errs)
	assert.NotContains(t, out, `"min"`)
}

func TestListAsATable(t *testing.T) {
	code, out, errs := thistledown(append([]string{"winds", "list"}, realwind.Files(t)...)...)
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "cycle of 22 Mar 2017 00:00 UTC")
	for _, words := range [][]string{
		{"HGT", "31 from 1000 to 1 hPa", "3 from 0 to 12 h", "5.3", "93"},
		{"UGRD", "10 m above ground", "3 from 0 to 12 h", "5.3", "3"},
		{"PRATE", "ground", "2 from 6 to 12 h"},
	} {
		found := false
		for line := range strings.SplitSeq(out, "\n") {
			all := true
			for _, w := range words {
				all = all && strings.Contains(line, w)
			}
			found = found || all
		}
		assert.True(t, found, "no line with %q in\n%s", words, out)
	}
	_, all, _ := thistledown(append([]string{"winds", "list", "--all"}, realwind.Files(t)...)...)
	assert.Greater(t, strings.Count(all, "\n"), 3*strings.Count(out, "\n"))
}

// Each kind of bad input to winds: one line each on what is wrong, the status,
// and nothing written.
func TestWindsBadInput(t *testing.T) {
	folder := t.TempDir()
	page := filepath.Join(folder, "page.grib2")
	require.NoError(t, os.WriteFile(page, []byte("<!DOCTYPE html><html>404</html>"), 0o600))
	files := realwind.Files(t)
	surface := filepath.Join(filepath.Dir(files[0]), "template5_0.grib2")
	out := filepath.Join(folder, "out.cube")
	pack := func(args ...string) []string { return append([]string{"winds", "pack", "--out", out}, args...) }
	for _, c := range []struct {
		name string
		args []string
		code int
		says []string
	}{
		{"list a page", []string{"winds", "list", page}, badInput, []string{page, "want GRIB2 files or a cube"}},
		{"list nothing", []string{"winds", "list", folder + "/none"}, badInput, []string{folder + "/none", "no such file"}},
		{"stats alone", []string{"winds", "list", "--stats", files[0]}, badInput, []string{"--stats", "--json"}},
		{"check a page", []string{"winds", "check", page}, badInput, []string{page, "no usable wind", "want"}},
		{"check surface fields", []string{"winds", "check", surface}, badInput, []string{surface, "no usable wind"}},
		{"pack without a box", pack(files[0]), badInput, []string{"--plan", "--box"}},
		{"pack with two", pack("--box", "south=1,north=2,west=3,east=4", "--plan", demoPlan, files[0]), badInput, []string{"--plan", "--box"}},
		{"a box upside down", pack("--box", "south=60,north=50,west=3,east=4", files[0]), badInput, []string{"--box", "60", "50", "want"}},
		{"a box with no west", pack("--box", "south=60,north=70,east=4", files[0]), badInput, []string{"--box", "west"}},
		{"a box twice south", pack("--box", "south=60,south=61,north=70,west=1,east=4", files[0]), badInput, []string{"--box", "south=61"}},
		{"a box in words", pack("--box", "south=sixty,north=70,west=1,east=4", files[0]), badInput, []string{"south=sixty", "want"}},
		{"pack no winds", pack("--plan", demoPlan, surface), noForecast, []string{surface, "no usable wind"}},
		{"pack another cycle", pack("--plan", demoPlan, "--cycle", "2017-03-22T06:00:00Z", files[0]), badInput, []string{"2017-03-22T06:00:00Z", "2017-03-22T00:00:00Z"}},
		{"pack at no time", pack("--plan", demoPlan, "--cycle", "noon", files[0]), badInput, []string{"--cycle noon", "want"}},
	} {
		code, _, errs := thistledown(c.args...)
		assert.Equal(t, c.code, code, "%s: %s", c.name, errs)
		assert.Equal(t, 1, strings.Count(errs, "\n"), "%s: want one line: %s", c.name, errs)
		for _, word := range c.says {
			assert.Contains(t, errs, word, c.name)
		}
		assert.NoFileExists(t, out, c.name)
	}
}
