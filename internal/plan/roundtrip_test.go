package plan_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"buf.build/go/protoyaml"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/plan"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// invented makes a valid plan, each optional part of it in half the cases.
func invented(r *rand.Rand) *thistledownv1.Plan {
	half := func() bool { return r.IntN(2) == 0 }
	number := func(low, high float64) *float64 { return proto.Float64(low + (high-low)*r.Float64()) }
	text := func(s string) string { // or nothing
		if half() {
			return ""
		}
		return s
	}
	names := []string{"plain", "null", "~", "true", "1e3", "- a", "a: b", "# c", "é ü 風", `"q"`, "'", "0x1F", "2017-03-22", " spaced "}
	name := func() string { return names[r.IntN(len(names))] }
	m := &thistledownv1.Plan{
		Name: name(),
		Site: &thistledownv1.Site{
			Name: name(), Latitude: number(-90, 90), Longitude: number(-180, 180),
			Elevation: text(fmt.Sprintf("%d ft", r.IntN(3000))), TimeZone: "Africa/Nairobi",
		},
		Launch: timestamppb.New(time.Unix(r.Int64N(4e9), r.Int64N(1e9))),
		Train:  inventedTrain(r),
	}
	if half() {
		m.Uncertainty = &thistledownv1.Uncertainty{
			OffNominal:  &thistledownv1.OffNominal{EarlyBurst: text("5 %"), CanopyFails: text("0 %"), CanopyFouled: text("12.5%"), SlowLeak: text("3 %"), Float: text("20 %")},
			LaunchDelay: text("-1 h 30 min ± 10 min"), WindError: text("4 kn"), WindErrorHeightScale: text("1.5 km"),
		}
	}
	if half() {
		m.Forecast = &thistledownv1.ForecastChoice{Files: slices.Repeat([]string{name()}, r.IntN(4)), HoldAboveTop: half(), Above: slices.Repeat([]string{name()}, r.IntN(3))}
	}
	if half() {
		m.Sampling = &thistledownv1.Sampling{Scrambles: proto.Uint32(2 + r.Uint32N(63)), FlightsPerScramble: proto.Uint32(8 << r.IntN(10)), Seed: proto.Uint64(r.Uint64()), Draws: proto.String([]string{"sobol", "random"}[r.IntN(2)])}
	}
	if half() {
		m.Vary = inventedVary(chooser{r}, m.GetTrain().GetParts())
	}
	if half() {
		m.Ground, m.Limits = inventedGround(chooser{r}, name)
	}
	if half() {
		m.Schedule = inventedSchedule(chooser{r})
	}
	return m
}

// A plan written as YAML by another program reads as the message that it was,
// under both kinds of field names.
func TestRoundTrip(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	weighed := 0
	for i := range 500 {
		m := invented(r)
		if m.GetTrain().GetMeasured() == nil {
			weighed++
		}
		checked, err := plan.Check(m)
		require.NoError(t, err, "Check(%v)", m)
		text, err := protoyaml.MarshalOptions{UseProtoNames: i%2 == 0}.Marshal(m)
		require.NoError(t, err)
		got, p, err := plan.Read("p.yaml", text, nil)
		require.NoError(t, err, "Read(%s)", text)
		require.True(t, proto.Equal(m, got), "Read(%s) = %v, want %v", text, got, m)
		require.Equal(t, printed(checked), printed(p))
		sane(t, p)
	}
	assert.True(t, weighed > 150 && weighed < 350, "%d of 500 trains weighed", weighed)
}

// sane checks what Plan's comments promise.
func sane(t *testing.T, p plan.Plan) {
	t.Helper()
	within := func(what string, v, low, high float64) {
		assert.True(t, v >= low && v <= high, "%s: %v, want %v to %v", what, v, low, high)
	}
	within("latitude", p.Site.At.Lat, -90, 90)
	within("longitude", p.Site.At.Lon, -180, 180)
	if !math.IsNaN(p.Site.Elevation) {
		within("elevation", p.Site.Elevation, -430, 6000)
		if p.Train.Weighed == nil {
			assert.Greater(t, p.Burst.Centre, p.Site.Elevation)
		}
	}
	if !math.IsNaN(p.WindError) {
		within("wind error", p.WindError, 0, 30)
	}
	if !math.IsNaN(p.WindScale) {
		within("wind scale", p.WindScale, 1000, 30000)
	}
	for _, chance := range [...]float64{p.OffNominal.EarlyBurst, p.OffNominal.CanopyFails, p.OffNominal.CanopyFouled, p.OffNominal.SlowLeak, p.OffNominal.Float} {
		within("chance", chance, 0, 0.2)
	}
	within("chances", p.OffNominal.Sum(), 0, 1+1e-9)
	saneTrain(t, p)
	if p.Train.Weighed == nil {
		within("ascent", p.Ascent.Centre, 0.5, 15)
		within("ascent spread", p.Ascent.Spread, 0, 7.5+1e-9)
		within("burst", p.Burst.Centre, 1000, 45000)
		within("burst spread", p.Burst.Spread, 0, 15000+1e-6)
		within("landing", p.Landing.Centre, 0.5, 30)
		within("landing spread", p.Landing.Spread, 0, 15+1e-9)
	}
	within("delay", p.Delay.Centre, -6*3600, 24*3600)
	within("delay spread", p.Delay.Spread, 0, 6*3600+1e-6)
	for _, s := range [...]float64{p.Severity.Water, p.Severity.Forest, p.Severity.BuiltUp, p.Severity.Closed, p.Severity.Airfield, p.Severity.Abroad, p.Severity.Airspace} {
		within("severity", s, 0, 1)
	}
	within("flights", float64(p.Scrambles*p.PerScramble), 16, 262144)
	within("launch year", float64(p.Launch.Year()), 1950, 2199)
	assert.Equal(t, time.UTC, p.Launch.Location())
	assert.NotNil(t, p.Site.Zone)
	assert.NotEmpty(t, p.Name)
	saneGround(t, p)
	saneSchedule(t, p)
}

// FuzzRead: a text is a plan that holds what Plan promises and that reads the
// same when written again, or it has faults, each in one line that points into
// the text.
func FuzzRead(f *testing.F) {
	for _, text := range []string{full, least, weighed, bare, grounded, ruled, ruledByMass, "a: &a [x]\nb: *a\n", "? [a]\n: b\n", "\tx", "---\n---\n", strings.ReplaceAll(full, "5", "-"), "name: |\n  a\n  b\n"} {
		for _, set := range []string{"", "site.latitude=5", "ground.layers[2]={name: x, class: water, file: y}", "forecast.files=[a, *b]", "train=null", "train.parts[0]=", "train.gas.volume=3 m3 ± 5 %", "schedule.sites[0]={name: x, latitude: 173, longitude: 5}"} {
			f.Add([]byte(text), set)
		}
	}
	f.Fuzz(func(t *testing.T, text []byte, set string) {
		var sets []string
		if set != "" {
			sets = append(sets, set)
		}
		m, p, err := plan.Read("p.yaml", text, sets)
		if err != nil {
			var found plan.Faults
			require.ErrorAs(t, err, &found)
			require.NotEmpty(t, found)
			lines := 1 + strings.Count(string(text), "\n") + strings.Count(string(text), "\r")
			for i, fault := range found {
				assert.False(t, strings.ContainsAny(fault.String(), "\n\r\x1b\x00"), "%q", fault)
				assert.True(t, fault.Line >= 0 && fault.Line <= lines, "%v: the text has %d lines", fault, lines)
				assert.True(t, i == 0 || found[i-1].Line <= fault.Line || i == 100, "%v after %v", fault, found[max(0, i-1)])
			}
			return
		}
		sane(t, p)
		again, err := protoyaml.Marshal(m)
		require.NoError(t, err)
		same, q, err := plan.Read("p.yaml", again, nil)
		require.NoError(t, err)
		assert.True(t, proto.Equal(m, same), "%v, want %v", same, m)
		assert.Equal(t, printed(p), printed(q))
		// What YAML calls null leaves a field out here; protoyaml takes it for
		// text, or refuses it.
		if len(sets) == 0 && !hasNull(t, text) {
			other := &thistledownv1.Plan{}
			require.NoError(t, protoyaml.Unmarshal(text, other))
			assert.True(t, proto.Equal(m, other), "%v, protoyaml reads %v", m, other)
		}
	})
}

// hasNull reports whether a YAML text has a null in it.
func hasNull(t *testing.T, text []byte) bool {
	t.Helper()
	var root yaml.Node
	require.NoError(t, yaml.Unmarshal(text, &root))
	var in func(n *yaml.Node) bool
	in = func(n *yaml.Node) bool {
		return n.Tag == "!!null" || slices.ContainsFunc(n.Content, in)
	}
	return in(&root)
}
