package rpc_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	reflectionv1 "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// dial starts a server on loopback and connects a client to it; both end with
// the test.
func dial(t testing.TB, field *wind.Field, layers string) *grpc.ClientConn {
	t.Helper()
	return dialOn(t, []*wind.Field{field}, layers)
}

// flownOn is a catalogue of one forecast.
func flownOn(winds []*wind.Field) *rpc.Catalogue {
	c := rpc.NewCatalogue(0, "now")
	c.Put("now", rpc.Forecast{Winds: winds})
	return c
}

// dialOn is dial for a forecast of several members.
func dialOn(t testing.TB, winds []*wind.Field, layers string) *grpc.ClientConn {
	t.Helper()
	_, client := started(t, rpc.Planner{Forecasts: flownOn(winds), Find: mission.Within(layers)})
	return client
}

// request is a plan on the morning that the real winds hold.
func request() *thistledownv1.FlyRequest {
	return &thistledownv1.FlyRequest{Plan: &thistledownv1.Plan{
		Name:   "Test",
		Site:   &thistledownv1.Site{Name: "Field", Latitude: proto.Float64(58.2), Longitude: proto.Float64(13.0), TimeZone: "Europe/Stockholm"},
		Launch: timestamppb.New(time.Date(2017, 3, 22, 7, 0, 0, 0, time.UTC)),
		Train: &thistledownv1.Train{Measured: &thistledownv1.MeasuredTrain{
			AscentRate: "5.2 m/s ± 8 %", BurstAltitude: "27 km ± 1.5 km", LandingSpeed: "5 m/s",
		}},
	}}
}

func TestFlyAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	ask := request()
	// What hangs for hours is up beyond the forecast's end.
	ask.Plan.Uncertainty = &thistledownv1.Uncertainty{OffNominal: &thistledownv1.OffNominal{Float: "0 %"}}
	got, err := client.Fly(t.Context(), ask)
	require.NoError(t, err)

	assert.EqualValues(t, 1024, got.GetFlown().GetFlights())
	assert.EqualValues(t, 8, got.GetFlown().GetScrambles())
	assert.EqualValues(t, 7, got.GetForecast().GetCentre()) // Common Code Table C-11: US NCEP
	assert.Equal(t, time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC), got.GetForecast().GetCycle().AsTime())
	assert.Equal(t, 7*3600.0, got.GetForecast().GetLeadS())
	require.Len(t, got.GetEndings(), 1)
	assert.Equal(t, thistledownv1.End_END_LANDED, got.GetEndings()[0].GetEnd())
	require.Len(t, got.GetLanding().GetRegions(), 3)
	likely := geo.Point{Lat: got.GetLanding().GetMostLikely().GetLatitude(), Lon: got.GetLanding().GetMostLikely().GetLongitude()}
	distance, bearing, _ := geo.Inverse(geo.Point{Lat: 58.2, Lon: 13}, likely)
	assert.InDelta(t, distance, got.GetLanding().GetDistanceM(), 1e-6)
	assert.InDelta(t, bearing, got.GetLanding().GetBearingDeg(), 1e-9)
	// Up 27 km at 5.2 m/s, less the ground, takes some 5,170 s; down from there
	// at 5 m/s at the ground some 2,600 s (reference: 2,749.8 s from 30 km).
	assert.InDelta(t, 5170+2600, got.GetLanding().GetTimeAloftMeanS(), 250)
	require.Len(t, got.GetHazard().GetClasses(), 6)
	assert.Equal(t, "water", got.GetHazard().GetClasses()[0].GetClass())
	assert.Nil(t, got.GetWeather().VisibilityM, "the forecast carries no visibility")
	assert.NotNil(t, got.GetWeather().WindSpeedMS)
	assert.NotEmpty(t, got.GetCautions())
	// Wind errors seven hours ahead, least at the site and greatest at 250 hPa, of
	// README's table.
	assert.InDelta(t, 1.375+0.683/18, got.GetFlown().GetWindErrorMS(), 1e-3)
	assert.InDelta(t, 1.75+1.322/18, got.GetFlown().GetWindErrorGreatestMS(), 1e-3)
	var courses []string
	hits := 0
	for _, c := range got.GetFlown().GetCourses() {
		courses = append(courses, c.GetCourse())
		hits += int(c.GetShare().GetHits())
	}
	assert.Equal(t, []string{"nominal", "early_burst", "canopy_fails", "canopy_fouled", "slow_leak"}, courses)
	assert.Equal(t, 1024, hits)
	assert.InDelta(t, 0.08, got.GetHazard().GetOffNominal().GetValue(), 0.01)
	assert.Greater(t, got.GetHazard().GetOffNominalPoints(), 0.0)
	assert.Less(t, got.GetHazard().GetOffNominalPoints(), got.GetHazard().GetScore())

	again, err := client.Fly(t.Context(), ask)
	require.NoError(t, err)
	assert.True(t, proto.Equal(got, again), "the same request twice gives two answers")
}

func TestFlyRefuses(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	for _, c := range []struct {
		name  string
		spoil func(p *thistledownv1.Plan)
		code  codes.Code
		field string // of the violation
		says  string
	}{
		{
			"bare number", func(p *thistledownv1.Plan) { p.Train.Measured.AscentRate = "5" },
			codes.InvalidArgument, "plan.train.measured.ascent_rate", `"5"`,
		},
		{
			"latitude", func(p *thistledownv1.Plan) { p.Site.Latitude = proto.Float64(95) },
			codes.InvalidArgument, "plan.site.latitude", "95",
		},
		{
			"NaN", func(p *thistledownv1.Plan) { p.Site.Longitude = proto.Float64(math.NaN()) },
			codes.InvalidArgument, "plan.site.longitude", "NaN",
		},
		{
			"no train", func(p *thistledownv1.Plan) { p.Train = nil },
			codes.InvalidArgument, "plan.train", "missing",
		},
		{"files", func(p *thistledownv1.Plan) {
			p.Forecast = &thistledownv1.ForecastChoice{Files: []string{"/etc/passwd"}}
		}, codes.InvalidArgument, "plan.forecast.files", "none"},
		{"layer without a catalogue", func(p *thistledownv1.Plan) {
			p.Ground = &thistledownv1.Ground{Layers: []*thistledownv1.Layer{{Name: "x", Class: proto.String("forest"), File: "woods.geojson"}}}
		}, codes.InvalidArgument, "plan.ground.layers[0].file", "without layers"},
		{"after the last step", func(p *thistledownv1.Plan) {
			p.Launch = timestamppb.New(time.Date(2017, 3, 22, 12, 0, 1, 0, time.UTC))
		}, codes.OutOfRange, "", "launch: 2017-03-22T12:00:01Z is after the forecast's last time: want 2017-03-22T00:00:00Z to 2017-03-22T12:00:00Z"},
		{"before the first", func(p *thistledownv1.Plan) {
			p.Launch = timestamppb.New(time.Date(2017, 3, 21, 23, 59, 0, 0, time.UTC))
		}, codes.OutOfRange, "", "before the forecast's first time"},
		{
			"pole", func(p *thistledownv1.Plan) { p.Site.Latitude = proto.Float64(89.9) },
			codes.FailedPrecondition, "", "within half a degree of a pole",
		},
	} {
		r := request()
		c.spoil(r.Plan)
		_, err := client.Fly(t.Context(), r)
		require.Error(t, err, c.name)
		st := status.Convert(err)
		assert.Equal(t, c.code, st.Code(), "%s: %v", c.name, err)
		assert.Contains(t, st.Message(), c.says, c.name)
		if c.field == "" {
			assert.NotContains(t, st.Message(), "\n", c.name)
			continue
		}
		require.Len(t, st.Details(), 1, c.name)
		violations := st.Details()[0].(*errdetails.BadRequest).GetFieldViolations() //nolint:errcheck // a panic fails the test as well
		require.Len(t, violations, 1, c.name)
		assert.Equal(t, c.field, violations[0].GetField(), c.name)
		assert.Contains(t, violations[0].GetDescription(), "want", c.name)
	}
	_, err := client.Fly(t.Context(), &thistledownv1.FlyRequest{})
	assert.Equal(t, codes.InvalidArgument, status.Code(err), "no plan")
	violations := status.Convert(err).Details()[0].(*errdetails.BadRequest).GetFieldViolations() //nolint:errcheck // a panic fails the test as well
	assert.Equal(t, "plan", violations[0].GetField())
}

func TestFlyOutsideTheArea(t *testing.T) {
	field, err := wind.New(wind.Axes{
		Grid:  geo.Grid{NX: 10, NY: 10, Lat0: 40, Lon0: 0, DLat: 1, DLon: 1},
		Start: time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC), Times: []float64{0, 43200}, Heights: []float64{0, 30000},
	}, func(_ geo.Point, z, _ float64) wind.Sample { return wind.Still(z) })
	require.NoError(t, err)
	client := thistledownv1.NewPlannerClient(dial(t, field, ""))
	_, err = client.Fly(t.Context(), request())
	assert.Equal(t, codes.FailedPrecondition, status.Code(err))
	assert.Equal(t, "site: latitude 58.2, longitude 13 is outside the forecast's area: want latitude 40 to 49, longitude 0 to 9, as far as it was read",
		status.Convert(err).Message())
}

func TestLayersByName(t *testing.T) {
	folder := t.TempDir()
	everywhere := `{"type":"Polygon","coordinates":[[[10,55],[20,55],[20,62],[10,62],[10,55]]]}`
	require.NoError(t, os.WriteFile(filepath.Join(folder, "closed.geojson"), []byte(everywhere), 0o600))
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), folder))
	r := request()
	r.Plan.Ground = &thistledownv1.Ground{Layers: []*thistledownv1.Layer{{Name: "range", Class: proto.String("closed"), File: "closed.geojson"}}}
	got, err := client.Fly(t.Context(), r)
	require.NoError(t, err)
	closed := got.GetHazard().GetClasses()[3]
	assert.Equal(t, "closed", closed.GetClass())
	assert.Equal(t, 1.0, closed.GetLanding().GetValue())
	for _, name := range []string{"../closed.geojson", filepath.Join(folder, "closed.geojson"), ".hidden", "a/b", ".."} {
		r.Plan.Ground.Layers[0].File = name
		_, err := client.Fly(t.Context(), r)
		assert.Equal(t, codes.InvalidArgument, status.Code(err), "file %q: %v", name, err)
	}
	require.NoError(t, os.WriteFile(filepath.Join(folder, "plan.yaml"), []byte("name: no GeoJSON"), 0o600))
	r.Plan.Ground.Layers[0].File = "plan.yaml"
	_, err = client.Fly(t.Context(), r)
	assert.Equal(t, codes.InvalidArgument, status.Code(err), "%v", err)
	r.Plan.Ground.Layers[0].File = "nothing.geojson"
	_, err = client.Fly(t.Context(), r)
	assert.Equal(t, codes.InvalidArgument, status.Code(err), "%v", err)
	assert.False(t, strings.Contains(status.Convert(err).Message(), folder), "the folder's path reaches the caller: %v", err)
}

func TestCancelledAndTooLate(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	r := request()
	r.Plan.Sampling = &thistledownv1.Sampling{Scrambles: proto.Uint32(4), FlightsPerScramble: proto.Uint32(65536)}
	ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
	defer cancel()
	_, err := client.Fly(ctx, r)
	assert.Equal(t, codes.DeadlineExceeded, status.Code(err), "%v", err)
}

func TestHealthAndReflection(t *testing.T) {
	connection := dial(t, realwind.Field(t), "")
	health, err := healthv1.NewHealthClient(connection).Check(t.Context(), &healthv1.HealthCheckRequest{Service: "thistledown.v1.Planner"})
	require.NoError(t, err)
	assert.Equal(t, healthv1.HealthCheckResponse_SERVING, health.GetStatus())

	stream, err := reflectionv1.NewServerReflectionClient(connection).ServerReflectionInfo(t.Context())
	require.NoError(t, err)
	require.NoError(t, stream.Send(&reflectionv1.ServerReflectionRequest{
		MessageRequest: &reflectionv1.ServerReflectionRequest_ListServices{ListServices: "*"},
	}))
	answer, err := stream.Recv()
	require.NoError(t, err)
	var names []string
	for _, s := range answer.GetListServicesResponse().GetService() {
		names = append(names, s.GetName())
	}
	assert.Contains(t, names, "thistledown.v1.Planner")
}

// until_half_width flies on until every interval is narrow enough; outside its
// range it is refused by name.
func TestFlyUntil(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	r := request()
	r.UntilHalfWidth = proto.Float64(0.02)
	got, err := client.Fly(t.Context(), r)
	require.NoError(t, err)
	until := got.GetFlown().GetUntil()
	assert.True(t, until.GetReached())
	assert.Equal(t, 0.02, until.GetHalfWidth())
	assert.LessOrEqual(t, until.GetWidest(), 0.02)
	assert.Equal(t, got.GetFlown().GetScrambles()*128, got.GetFlown().GetFlights())
	for _, v := range []float64{0, 0.0009, 0.6, math.NaN()} {
		r.UntilHalfWidth = proto.Float64(v)
		_, err := client.Fly(t.Context(), r)
		require.Equal(t, codes.InvalidArgument, status.Code(err), "%g: %v", v, err)
		details := status.Convert(err).Details()
		require.Len(t, details, 1)
		request, ok := details[0].(*errdetails.BadRequest)
		require.True(t, ok)
		violation := request.GetFieldViolations()[0]
		assert.Equal(t, "until_half_width", violation.GetField())
		assert.Contains(t, violation.GetDescription(), "want 0.001 to 0.5")
	}
}

// explain brings the explanation, and only explain does.
func TestFlyExplain(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	r := request()
	got, err := client.Fly(t.Context(), r)
	require.NoError(t, err)
	assert.Nil(t, got.GetExplanation())
	r.Explain = true
	got, err = client.Fly(t.Context(), r)
	require.NoError(t, err)
	e := got.GetExplanation()
	assert.InDelta(t, 990, e.GetRows(), 34, "sets of which all land: some that float do not")
	assert.EqualValues(t, 1024*8, e.GetFlights())
	require.Len(t, e.GetEffects(), 6, "a single forecast has no members to tell apart")
	sum := 0.0
	for _, effect := range e.GetEffects() {
		t.Logf("%s: %.3f (%.3f to %.3f), total %.3f", effect.GetCause(), effect.GetFirst(), effect.GetFirstLow(), effect.GetFirstHigh(), effect.GetTotal())
		sum += effect.GetFirst()
		assert.InDelta(t, math.Sqrt(1-max(effect.GetFirst(), 0)), effect.GetWidthWithout(), 1e-12)
	}
	assert.InDelta(t, 1, sum, 0.15, "what causes make alone is nearly all of it")
	assert.EqualValues(t, 1024, got.GetFlown().GetFlights(), "flights of the answer itself")
}

// A forecast of several members brings them side by side, and the sampling error
// of their number beside each class.
func TestFlyOnMembers(t *testing.T) {
	field := realwind.Field(t)
	got := flyOn(t, []*wind.Field{field, field, field})
	members := got.GetMembers()
	require.Len(t, members.GetMembers(), 3)
	flights := uint32(0)
	sum, square := 0.0, 0.0
	for i, m := range members.GetMembers() {
		assert.EqualValues(t, i+1, m.GetNumber())
		flights += m.GetFlights()
		require.Len(t, m.GetClasses(), 6)
		assert.Equal(t, "water", m.GetClasses()[0].GetClass())
		sum += m.GetClasses()[0].GetShare() / 3
		square += m.GetClasses()[0].GetShare() * m.GetClasses()[0].GetShare() / 3
	}
	assert.EqualValues(t, 1024, flights)
	// The standard deviation of three over the root of three.
	assert.InDelta(t, math.Sqrt((square-sum*sum)/2), got.GetHazard().GetClasses()[0].GetMemberError(), 1e-9)
	assert.Empty(t, members.GetGroups())
	alone := flyOn(t, []*wind.Field{field})
	assert.Nil(t, alone.GetMembers())
	assert.Nil(t, alone.GetHazard().GetClasses()[0].MemberError)
}

// flyOn is the answer to request on so many members.
func flyOn(t *testing.T, winds []*wind.Field) *thistledownv1.FlyResponse {
	t.Helper()
	got, err := thistledownv1.NewPlannerClient(dialOn(t, winds, "")).Fly(t.Context(), request())
	require.NoError(t, err)
	return got
}
