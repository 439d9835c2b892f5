package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

const demoPlan = "../../testdata/demo/plan.yaml"

// thistledown runs the program and gives its exit status and what it wrote.
func thistledown(args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	code = run(args, &o, &e)
	return code, o.String(), e.String()
}

// withForecast is a fly command on the real forecast.
func withForecast(t *testing.T, args ...string) []string {
	t.Helper()
	return append(args, forecastFlags(t, realwind.Files(t))...)
}

func forecastFlags(t *testing.T, files []string) []string {
	t.Helper()
	var flags []string
	for _, file := range files {
		flags = append(flags, "--forecast", file)
	}
	return flags
}

func TestFlyTheDemoPlan(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	code, out, errs := thistledown(withForecast(t, "fly", demoPlan, "--out", dir)...)
	require.Equal(t, done, code, errs)
	assert.Empty(t, errs)
	for _, word := range []string{"Launch", "Comes down", "How sure", "Hazard", "water", "Always"} {
		assert.Contains(t, out, word)
	}
	for _, word := range []string{"approved", "legal"} {
		assert.NotContains(t, strings.ToLower(out), word)
	}
	for _, line := range strings.Split(out, "\n") {
		assert.LessOrEqual(t, len([]rune(line)), 78, "line %q is too wide", line)
	}
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	assert.Equal(t, []string{"answer.json", "landing.geojson", "landing.gpx", "landing.kml", "landings.csv", "summary.txt"}, names)
	summary, err := os.ReadFile(filepath.Join(dir, "summary.txt"))
	require.NoError(t, err)
	assert.Equal(t, out, string(summary))
	geojson, err := os.ReadFile(filepath.Join(dir, "landing.geojson"))
	require.NoError(t, err)
	assert.True(t, json.Valid(geojson))
	table := mustRead(t, filepath.Join(dir, "landings.csv"))
	assert.Equal(t, 1+1024, strings.Count(table, "\r\n"), "a line for each flight")
	for _, name := range []string{"landing.kml", "landing.gpx"} {
		assert.Contains(t, mustRead(t, filepath.Join(dir, name)), "Most likely landing")
	}
}

func TestFlyPrintsOnlyTheMessageWithJSON(t *testing.T) {
	code, out, errs := thistledown(withForecast(t, "fly", demoPlan, "--json", "--set", "sampling.seed=7")...)
	require.Equal(t, done, code, errs)
	var answer thistledownv1.FlyResponse
	require.NoError(t, protojson.Unmarshal([]byte(out), &answer))
	assert.EqualValues(t, 7, answer.GetFlown().GetSeed())
	assert.NotNil(t, answer.GetLanding())
}

func TestUnits(t *testing.T) {
	code, out, errs := thistledown(withForecast(t, "fly", demoPlan, "--units", "us")...)
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, " mi ")
	assert.Contains(t, out, " ft")
	assert.NotContains(t, strings.ReplaceAll(strings.Join(strings.Fields(out), " "), "60,000 ft, which is 18 km", ""), " km")
}

// A flight with something set also says what that changed, and one that sets
// nothing new that it changed nothing.
func TestSetSaysWhatItChanges(t *testing.T) {
	code, out, errs := thistledown(withForecast(t, "fly", demoPlan, "--set", "train.gas.neck_lift=2500 g")...)
	require.Equal(t, done, code, errs)
	before, after, ok := strings.Cut(out, "Thistle Seed Club")
	require.True(t, ok)
	for _, words := range []string{"Changed ", "neck pulls 2800 g → 2500 g", "rises at 4.6 m/s → ", "most likely place moves by", "hazard "} {
		assert.Contains(t, before, words)
	}
	assert.Contains(t, after, "Comes down")
	code, out, errs = thistledown("size", demoPlan, "--set", "train.gas.neck_lift=2800 g")
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "Changed     nothing of what is shown here")
}

// A train is sized with or without a forecast, and in either system of units.
func TestSize(t *testing.T) {
	code, out, errs := thistledown("size", demoPlan, "--units", "us", "--sweep")
	require.Equal(t, done, code, errs)
	for _, words := range []string{"Weighed     camera box 1.85 lb", "standard atmosphere", "ft/min", "With another fill"} {
		assert.Contains(t, out, words)
	}
	for _, line := range strings.Split(out, "\n") {
		assert.LessOrEqual(t, len([]rune(line)), 78, "line %q is too wide", line)
	}
	dir := t.TempDir()
	code, out, errs = thistledown(withForecast(t, "size", demoPlan, "--sweep", "--out", dir)...)
	require.Equal(t, done, code, errs)
	assert.NotContains(t, out, "standard atmosphere, not a forecast")
	assert.Equal(t, out, mustRead(t, filepath.Join(dir, "train.txt")))
	assert.Contains(t, mustRead(t, filepath.Join(dir, "sweep.svg")), "</svg>")
	rows, err := csv.NewReader(strings.NewReader(mustRead(t, filepath.Join(dir, "sweep.csv")))).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 26)

	code, out, errs = thistledown("size", demoPlan, "--json")
	require.Equal(t, done, code, errs)
	var answer thistledownv1.SizeTrainResponse
	require.NoError(t, protojson.Unmarshal([]byte(out), &answer))
	assert.InDelta(t, 2.8, answer.GetTrain().GetNeckLiftKg(), 1e-9)
	assert.InDelta(t, 1.76, answer.GetTrain().GetLoad().GetMassKg(), 1e-9)

	for set, want := range map[string]string{
		"train.gas.neck_lift=1500 g":     "it will not leave the ground: add 261 g of lift or more",
		"train.envelope.bursts_at=1.2 m": "bursts on the ground before it lifts",
		"train.canopies[0].size=0 m":     "want 0.1 m to 60 m",
	} {
		code, out, errs = thistledown("size", demoPlan, "--set", set)
		assert.Equal(t, badInput, code, set)
		assert.Empty(t, out, set)
		assert.Contains(t, errs, want, set)
		assert.Equal(t, 1, strings.Count(errs, "\n"), errs)
	}
}

// Each kind of bad input: one line that names file or field, value and what was
// wanted, the right exit status, and nothing written.
func TestBadInput(t *testing.T) {
	folder := t.TempDir()
	write := func(name, content string) string {
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
		return path
	}
	files := realwind.Files(t)
	onReal := func(args ...string) []string { return append(args, forecastFlags(t, files)...) }
	whole, err := os.ReadFile(files[0])
	require.NoError(t, err)
	truncated := write("truncated.grib2", string(whole[:100_000]))
	html := write("page.grib2", "<!DOCTYPE html><html><body>404 Not Found</body></html>")
	grib1 := write("old.grib", "GRIB\x00\x00\x20\x01"+strings.Repeat("\x00", 20)+"7777")
	empty := write("empty.grib2", "")
	onlySurface := filepath.Join(filepath.Dir(files[0]), "template5_0.grib2")
	yaml, err := os.ReadFile(demoPlan)
	require.NoError(t, err)
	bare := write("bare.yaml", strings.Replace(string(yaml), "mass: 840 g", "mass: 840", 1))
	require.NotEqual(t, string(yaml), mustRead(t, bare))

	forecast := func(file string) []string { return []string{"fly", demoPlan, "--forecast", file} }
	for _, c := range []struct {
		name string
		args []string
		code int
		says []string
	}{
		{"truncated file", forecast(truncated), badInput, []string{truncated, "want"}},
		{"HTML page", forecast(html), badInput, []string{html, "want", "DOCTYPE html"}},
		{"GRIB1 file", forecast(grib1), badInput, []string{grib1, "edition 1", "want"}},
		{"empty file", forecast(empty), badInput, []string{empty, "want"}},
		{"folder with a GRIB1 file in it", forecast(folder), badInput, []string{grib1, "edition 1", "want"}},
		{"folder with nothing in it", forecast(t.TempDir()), badInput, []string{"no file in it", "want"}},
		{"device", forecast(os.DevNull), badInput, []string{os.DevNull, "want a file"}},
		{"no such file", forecast(folder + "/nothing"), badInput, []string{folder + "/nothing", "no such file"}},
		{"no isobaric winds", forecast(onlySurface), noForecast, []string{onlySurface, "isobaric", "want"}},
		{"no forecast at all", []string{"fly", demoPlan}, badInput, []string{demoPlan, "forecast.files", "want"}},
		{"bare number", onReal("fly", bare), badInput, []string{bare + ":", "train.parts[0].mass", `"840"`, "want"}},
		{
			"bare number by --set", onReal("fly", demoPlan, "--set", "train.gas.neck_lift=2.8"), badInput,
			[]string{"--set train.gas.neck_lift=2.8", "want"},
		},
		{"latitude 95", onReal("fly", demoPlan, "--set", "site.latitude=95"), badInput, []string{"site.latitude=95", "want", "-90", "90"}},
		{"NaN", onReal("fly", demoPlan, "--set", "site.longitude=.nan"), badInput, []string{"site.longitude", "want"}},
		{
			"after the last step", onReal("fly", demoPlan, "--set", "launch=2017-03-22T13:00:00Z"), noForecast,
			[]string{"launch", "2017-03-22T13:00:00Z", "want 2017-03-22T00:00:00Z to 2017-03-22T12:00:00Z"},
		},
		{"near a pole", onReal("fly", demoPlan, "--set", "site.latitude=-89.9"), noForecast, []string{"site", "-89.9", "want"}},
		{"unknown flag", []string{"fly", demoPlan, "--no-such-flag"}, badInput, []string{"no-such-flag"}},
		{"unknown units", onReal("fly", demoPlan, "--units", "imperial"), badInput, []string{"units", "imperial"}},
		{"until what cannot be", onReal("fly", demoPlan, "--until", "0.05%"), badInput, []string{"--until", `"0.05%"`, "want a percentage from 0.1% to 50%"}},
		{"until no percentage", onReal("fly", demoPlan, "--until", "1"), badInput, []string{"--until", `"1"`, "want a percentage"}},
		{"no plan", []string{"fly", folder + "/nothing.yaml"}, badInput, []string{folder + "/nothing.yaml", "no such file"}},
	} {
		out := filepath.Join(t.TempDir(), "out")
		args := c.args
		if len(args) > 2 {
			args = append(args, "--out", out)
		}
		code, stdout, errs := thistledown(args...)
		assert.Equal(t, c.code, code, "%s: %s", c.name, errs)
		assert.Empty(t, stdout, c.name)
		assert.Equal(t, 1, strings.Count(errs, "\n"), "%s: want one line: %s", c.name, errs)
		for _, word := range c.says {
			assert.Contains(t, errs, word, c.name)
		}
		assert.NoDirExists(t, out, c.name)
	}
}

// A result that can only be placed in part is not placed at all.
func TestOutIsAllOrNone(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(dir, "answer.json", "x"), 0o750))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "summary.txt"), []byte("old"), 0o600))
	code, _, errs := thistledown(withForecast(t, "fly", demoPlan, "--out", dir)...)
	assert.Equal(t, badInput, code)
	assert.Contains(t, errs, "answer.json is a folder")
	assert.Equal(t, "old", mustRead(t, filepath.Join(dir, "summary.txt")))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 2)
}

// One octet changed in a forecast that gives winds no air has is refused.
func TestDamagedForecastIsNotFlown(t *testing.T) {
	files := realwind.Files(t)
	content, err := os.ReadFile(files[1])
	require.NoError(t, err)
	content[945044] ^= 0x80 // the decimal scale of the eastward wind at 250 hPa
	damaged := filepath.Join(t.TempDir(), "damaged.grib2")
	require.NoError(t, os.WriteFile(damaged, content, 0o600))
	code, out, errs := thistledown("fly", demoPlan, "--forecast", files[0], "--forecast", damaged, "--forecast", files[2])
	assert.Equal(t, badInput, code)
	assert.Empty(t, out)
	assert.Contains(t, errs, damaged)
	assert.Contains(t, errs, "UGRD")
	assert.Contains(t, errs, "want -250 to 250 m/s")
}

// A folder that cannot be written to leaves nothing half-written behind.
func TestOutThatCannotBeWritten(t *testing.T) {
	blocked := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(blocked, []byte("x"), 0o600))
	code, stdout, errs := thistledown(withForecast(t, "fly", demoPlan, "--out", blocked)...)
	assert.Equal(t, badInput, code)
	assert.Empty(t, stdout)
	assert.Contains(t, errs, "--out "+blocked)
	assert.Equal(t, "x", mustRead(t, blocked))
}

func mustRead(t *testing.T, name string) string {
	t.Helper()
	content, err := os.ReadFile(name)
	require.NoError(t, err)
	return string(content)
}

// README.md shows the example plan and what flying it prints, to the letter.
func TestReadmeShowsWhatTheProgramPrints(t *testing.T) {
	readme := mustRead(t, "../../README.md")
	shows := func(block string) bool { return strings.Contains(readme, block+"```\n") }
	assert.True(t, shows("```yaml\n"+mustRead(t, demoPlan)), "README.md does not show %s as it is", demoPlan)
	code, out, errs := thistledown(withForecast(t, "fly", demoPlan)...)
	require.Equal(t, done, code, errs)
	assert.True(t, shows("```\n"+out), "README.md does not show what the program prints:\n%s", out)
	code, out, errs = thistledown(withForecast(t, "size", demoPlan)...)
	require.Equal(t, done, code, errs)
	assert.True(t, shows("```\n"+out), "README.md does not show what size prints:\n%s", out)
	code, out, errs = thistledown(withForecast(t, "week", demoPlan)...)
	require.Equal(t, done, code, errs)
	head, _, cut := strings.Cut(out, "\n\nOf these")
	assert.True(t, cut && shows("```\n"+head+"\n"), "README.md does not show what week prints first:\n%s", head)
	code, out, errs = thistledown("size", "--help")
	require.Equal(t, done, code, errs)
	for _, option := range []string{"--set", "--forecast", "--sweep", "--out", "--json", "--units"} {
		assert.Contains(t, out, option)
		assert.True(t, strings.Contains(readme, "| `"+option), "README.md does not tell of %s", option)
	}
	code, out, errs = thistledown("fly", "--help")
	require.Equal(t, done, code, errs)
	for _, option := range []string{"--set", "--forecast", "--out", "--json", "--units", "--until", "--explain"} {
		assert.Contains(t, out, option)
		assert.True(t, strings.Contains(readme, "| `"+option), "README.md does not tell of %s", option)
	}
	for _, name := range []string{"summary.txt", "answer.json", "landing.geojson", "landing.kml", "landing.gpx", "landings.csv"} {
		assert.Contains(t, strings.Join(strings.Fields(out), " "), name)
		assert.True(t, strings.Contains(readme, "- `"+name+"`"), "README.md does not tell of %s", name)
	}
}

// service is a client of a service that flies on the real forecast, as much of it as
// the command line keeps of it for some plans: another area is the same to rounding.
func service(t *testing.T, plans ...plan.Plan) thistledownv1.PlannerClient {
	t.Helper()
	built, err := mission.BuiltIn(geo.Box{South: -90, North: 90, West: -180, East: 180})
	require.NoError(t, err)
	fields, _, err := mission.Forecast(t.Context(), realwind.Files(t), nil, mission.NeedsOf(plans))
	require.NoError(t, err)
	forecasts := rpc.NewCatalogue(0, "now")
	forecasts.Put("now", rpc.Forecast{Winds: fields})
	server := rpc.NewServer(rpc.Planner{
		Forecasts: forecasts, Built: built, Find: mission.Within(filepath.Dir(demoPlan)),
		Version: version, Log: slog.New(slog.DiscardHandler),
	})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	go func() { _ = server.Serve(listener) }()
	t.Cleanup(server.Stop)
	connection, err := grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, connection.Close()) })
	return thistledownv1.NewPlannerClient(connection)
}

// printed is what a command prints as JSON, a message a line if it prints several.
func printed[M proto.Message](t *testing.T, empty func() M, args ...string) []M {
	t.Helper()
	code, out, errs := thistledown(args...)
	require.Equal(t, done, code, errs)
	var all []M
	for read := json.NewDecoder(strings.NewReader(out)); read.More(); {
		var one json.RawMessage
		require.NoError(t, read.Decode(&one))
		m := empty()
		require.NoError(t, protojson.Unmarshal(one, m))
		all = append(all, m)
	}
	return all
}

// The service gives the same answers to the example's request as the command line to
// the example's plan.
func TestServiceAndCommandLineAgree(t *testing.T) {
	request := &thistledownv1.FlyRequest{}
	require.NoError(t, protojson.Unmarshal([]byte(mustRead(t, "../../testdata/demo/request.json")), request))
	_, p, err := plan.Read(demoPlan, []byte(mustRead(t, demoPlan)), nil)
	require.NoError(t, err)
	served, err := service(t, p).Fly(t.Context(), request)
	require.NoError(t, err)
	flown := printed(t, func() *thistledownv1.FlyResponse { return &thistledownv1.FlyResponse{} }, withForecast(t, "fly", demoPlan, "--json")...)
	require.Len(t, flown, 1)
	assert.True(t, proto.Equal(flown[0], served), "the two answers differ")

	var launches []plan.Plan
	for hour := range 7 {
		one := p
		one.Launch = p.Launch.Add(time.Duration(hour) * time.Hour)
		launches = append(launches, one)
	}
	client := service(t, launches...)
	stream, err := client.RankWindows(t.Context(), &thistledownv1.RankWindowsRequest{Plan: request.Plan})
	require.NoError(t, err)
	lines := printed(t, func() *thistledownv1.RankWindowsResponse { return &thistledownv1.RankWindowsResponse{} }, withForecast(t, "week", demoPlan, "--json")...)
	require.Len(t, lines, 8)
	for i, line := range lines {
		m, err := stream.Recv()
		require.NoError(t, err)
		assert.True(t, proto.Equal(line, m), "line %d differs", i+1)
	}

	others, err := mission.Variants(p)
	require.NoError(t, err)
	found, err := service(t, others...).VaryPlan(t.Context(), &thistledownv1.VaryPlanRequest{Plan: request.Plan})
	require.NoError(t, err)
	varied := printed(t, func() *thistledownv1.VaryPlanResponse { return &thistledownv1.VaryPlanResponse{} }, withForecast(t, "vary", demoPlan, "--json")...)
	require.Len(t, varied, 1)
	assert.True(t, proto.Equal(varied[0], found), "the two answers differ")
	assert.Equal(t, 8, int(found.GetLookedAt()))
	require.NotEmpty(t, found.GetTold())
	assert.Contains(t, found.GetTold()[0].GetChanges()[0], "rather than 3.18 m³")
}

// With --units us nothing that is made for reading is in SI, faults of a train and
// warnings included; limits of plan fields and what users wrote stay as they are.
func TestUSUnitsThroughout(t *testing.T) {
	si := regexp.MustCompile(`[0-9] (m|km|g|kg|m³|kg/m³|m/s|bar|Pa|mol|J[ ,;.]|N[ ,;.]|°C|km²)\b`)
	dir := t.TempDir()
	for _, c := range []struct {
		name string
		set  []string
		code int
	}{
		{"as it is", nil, done},
		{"floats", []string{"train.gas.neck_lift=1775 g"}, done},
		{"overfilled", []string{"train.gas.neck_lift=42 kg", "train.envelope.fullest=3 m3"}, done},
		{"from memory", []string{"train.envelope.bursts_at="}, done},
		{"elevation", []string{"site.elevation=1700 m", "limits.distance=30 km"}, done},
		{"too little", []string{"train.gas.neck_lift=900 g"}, badInput},
		{"too high", []string{"train.gas.neck_lift=", "train.gas.bursts_near=44 km"}, badInput},
	} {
		args := []string{"--units", "us"}
		for _, s := range c.set {
			args = append(args, "--set", s)
		}
		for _, command := range []string{"size", "fly"} {
			code, out, errs := thistledown(withForecast(t, append([]string{command, demoPlan, "--out", filepath.Join(dir, c.name, command)}, args...)...)...)
			require.Equal(t, c.code, code, "%s %s: %s", command, c.name, errs)
			said, _, _ := strings.Cut(out, "Always ")
			assert.Empty(t, si.FindAllString(said+errs, -1), "%s %s: %s", command, c.name, said+errs)
			for line := range strings.SplitSeq(said, "\n") {
				assert.LessOrEqual(t, len([]rune(line)), 78, "line %q is too wide", line)
			}
		}
	}
}
