package rpc_test

import (
	"fmt"
	"io"
	"math"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// drifting is a track of the request's plan: one fix each five minutes, so many of them, of
// something that rises at 5 m/s in the forecast's own wind, stepped by Euler's rule.
func drifting(t testing.TB, fixes int) *thistledownv1.Track {
	t.Helper()
	field := realwind.Field(t)
	p := request().GetPlan()
	at := geo.Point{Lat: p.GetSite().GetLatitude(), Lon: p.GetSite().GetLongitude()}
	start := p.GetLaunch().AsTime()
	track := &thistledownv1.Track{}
	const step = 10.0 // s
	for s := 0.0; len(track.Fixes) < fixes; s += step {
		z := 150 + 5*s
		if math.Mod(s, 300) == 0 && s > 0 {
			track.Fixes = append(track.Fixes, &thistledownv1.Fix{
				Time: timestamppb.New(start.Add(time.Duration(s) * time.Second)), Latitude: proto.Float64(at.Lat), Longitude: proto.Float64(at.Lon),
				Height: fmt.Sprintf("%.0f m", z),
			})
		}
		air, _ := field.At(at, atmos.Geometric(z), start.Sub(field.Start()).Seconds()+s)
		at = geo.Direct(at, math.Atan2(air.East, air.North)*180/math.Pi, step*math.Hypot(air.East, air.North))
	}
	return track
}

// Narrow goes on from the last fix with less doubt than Fly has, tells the wrong fix, and
// gives the same answer as JSON.
func TestNarrowAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	plan := request().GetPlan()
	plain, err := client.Fly(t.Context(), &thistledownv1.FlyRequest{Plan: plan})
	require.NoError(t, err)
	track := drifting(t, 8)
	wrong := proto.CloneOf(track.Fixes[4])
	wrong.Latitude, wrong.Longitude, wrong.Time = wrong.Longitude, wrong.Latitude, timestamppb.New(wrong.GetTime().AsTime().Add(time.Minute))
	track.Fixes = append(track.Fixes, wrong)
	ask := &thistledownv1.NarrowRequest{Plan: plan, Track: track}
	got, err := client.Narrow(t.Context(), ask)
	require.NoError(t, err)
	assert.Equal(t, thistledownv1.Phase_PHASE_CLIMBING, got.GetPhase())
	assert.EqualValues(t, 8, got.GetBelieved())
	require.Len(t, got.GetRejected(), 1)
	assert.EqualValues(t, 8, got.GetRejected()[0].GetNumber())
	assert.NotEmpty(t, got.GetRejected()[0].GetWhy())
	assert.EqualValues(t, 7, got.GetLast().GetNumber())
	assert.InDelta(t, 12150, got.GetLast().GetHeightM(), 1)
	assert.InDelta(t, 5, got.GetAscentRateMS(), 0.3, "what it rose at")
	assert.Less(t, got.GetAnswer().GetLanding().GetRadius95M(), 0.8*plain.GetLanding().GetRadius95M())
	distance, _, _ := geo.Inverse(point(got.GetLast().GetPosition()), point(got.GetAnswer().GetLanding().GetMostLikely()))
	assert.InDelta(t, distance, got.GetDistanceM(), 1)
	assert.Nil(t, got.GetAnswer().GetDecision(), "whether to launch is no question any more")
	assert.NotEmpty(t, got.GetAnswer().GetCautions())

	answer, text := post(t, web(t)+"/v1/narrow", asJSON(t, ask))
	require.Equal(t, http.StatusOK, answer.StatusCode, "%s", text)
	same := &thistledownv1.NarrowResponse{}
	require.NoError(t, protojson.Unmarshal(text, same))
	assert.True(t, proto.Equal(got, same), "the same as JSON")
}

func point(p *thistledownv1.Position) geo.Point {
	return geo.Point{Lat: p.GetLatitude(), Lon: p.GetLongitude()}
}

// A flight that is followed is answered fix by fix as Narrow answers for all so far; what
// cannot be believed at first ends nothing.
func TestFollowFlightAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	plan := request().GetPlan()
	stream, err := client.FollowFlight(t.Context())
	require.NoError(t, err)
	require.NoError(t, stream.Send(&thistledownv1.FollowFlightRequest{Part: &thistledownv1.FollowFlightRequest_Plan{Plan: plan}}))
	send := func(fixes ...*thistledownv1.Fix) *thistledownv1.NarrowResponse {
		require.NoError(t, stream.Send(&thistledownv1.FollowFlightRequest{Part: &thistledownv1.FollowFlightRequest_Track{Track: &thistledownv1.Track{Fixes: fixes}}}))
		got, err := stream.Recv()
		require.NoError(t, err)
		return got.GetNarrowed()
	}
	track := drifting(t, 6)
	nowhere := proto.CloneOf(track.Fixes[0])
	nowhere.Latitude = proto.Float64(-89.9)
	got := send(nowhere)
	assert.Zero(t, got.GetBelieved())
	assert.Len(t, got.GetRejected(), 1)
	assert.Nil(t, got.GetAnswer())
	all := []*thistledownv1.Fix{nowhere}
	for _, some := range [][]*thistledownv1.Fix{track.Fixes[2:4], track.Fixes[:2], track.Fixes[4:]} { // some of them late
		all = append(all, some...)
		got = send(some...)
		want, err := client.Narrow(t.Context(), &thistledownv1.NarrowRequest{Plan: plan, Track: &thistledownv1.Track{Fixes: all}})
		require.NoError(t, err)
		assert.True(t, proto.Equal(want, got), "after %d", len(all))
	}
	require.NoError(t, stream.CloseSend())
	_, err = stream.Recv()
	assert.ErrorIs(t, err, io.EOF)
}

func TestFollowFlightRefuses(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	planned := &thistledownv1.FollowFlightRequest{Part: &thistledownv1.FollowFlightRequest_Plan{Plan: fewFlights(request().GetPlan())}}
	seen := func(track *thistledownv1.Track) *thistledownv1.FollowFlightRequest {
		return &thistledownv1.FollowFlightRequest{Part: &thistledownv1.FollowFlightRequest_Track{Track: track}}
	}
	one := drifting(t, 1)
	bare := proto.CloneOf(one)
	bare.Fixes[0].Height = "1000"
	many := &thistledownv1.Track{}
	for range 6000 {
		many.Fixes = append(many.Fixes, one.Fixes[0])
	}
	for says, messages := range map[string][]*thistledownv1.FollowFlightRequest{
		"plan: none before the first fix":                      {seen(one)},
		"plan: a second one":                                   {planned, planned},
		"part: neither a plan nor fixes":                       {planned, {}},
		`fixes[0].height: "1000": want a length with its unit`: {planned, seen(bare)},
		"track.fixes: more than 10800 of one flight":           {planned, seen(many), seen(many)},
		"fixes: 0 items: want 1 to 10800":                      {planned, seen(&thistledownv1.Track{})},
		`site.latitude: missing`:                               {{Part: &thistledownv1.FollowFlightRequest_Plan{Plan: &thistledownv1.Plan{Site: &thistledownv1.Site{Name: "x"}}}}},
	} {
		stream, err := client.FollowFlight(t.Context())
		require.NoError(t, err)
		for _, m := range messages {
			if stream.Send(m) != nil {
				break
			}
		}
		for err == nil {
			_, err = stream.Recv()
		}
		assert.Equal(t, codes.InvalidArgument, status.Code(err), "%s: %v", says, err)
		assert.ErrorContains(t, err, says)
		assert.NotEmpty(t, status.Convert(err).Details())
	}
}

// A search gives cells that hold what they say in order, and less where it was looked for.
func TestSearchAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	ask := &thistledownv1.SearchRequest{Plan: request().GetPlan(), Track: drifting(t, 8), Cell: "2 km"}
	got, err := client.Search(t.Context(), ask)
	require.NoError(t, err)
	require.NotEmpty(t, got.GetCells())
	assert.InDelta(t, 2000, got.GetCellM(), 1e-9)
	sum := 0.0
	for i, c := range got.GetCells() {
		sum += c.GetShare()
		assert.InDelta(t, sum, c.GetContained(), 1e-9)
		if i > 0 {
			assert.LessOrEqual(t, c.GetShare(), got.GetCells()[i-1].GetShare())
		}
	}
	assert.GreaterOrEqual(t, sum, 0.95)
	first := got.GetCells()[0]

	ask.Track.Searched = []*thistledownv1.Searched{{
		Latitude: &first.Middle.Latitude, Longitude: &first.Middle.Longitude, Radius: "6 km", Detection: "90 %",
	}}
	after, err := client.Search(t.Context(), ask)
	require.NoError(t, err)
	assert.Greater(t, after.GetSearched(), 3*first.GetShare())
	moved, _, _ := geo.Inverse(point(first.GetMiddle()), point(after.GetCells()[0].GetMiddle()))
	assert.Greater(t, moved, 5000.0, "one looks elsewhere then")

	answer, text := post(t, web(t)+"/v1/search", asJSON(t, ask))
	require.Equal(t, http.StatusOK, answer.StatusCode, "%s", text)
	same := &thistledownv1.SearchResponse{}
	require.NoError(t, protojson.Unmarshal(text, same))
	assert.True(t, proto.Equal(after, same), "the same as JSON")

	for says, edit := range map[string]func(r *thistledownv1.SearchRequest){
		`cell: "1 m": want 10 m to 5000 m`: func(r *thistledownv1.SearchRequest) { r.Cell = "1 m" },
		"cell: cells of 10 m: too small":   func(r *thistledownv1.SearchRequest) { r.Cell = "10 m" },
		"track.searched: it would have been found": func(r *thistledownv1.SearchRequest) {
			r.Track.Searched[0].Radius, r.Track.Searched[0].Detection = "20 km", "100 %"
			for i := range 24 {
				at := geo.Direct(point(first.GetMiddle()), float64(i*15), 25e3)
				r.Track.Searched = append(r.Track.Searched, &thistledownv1.Searched{Latitude: &at.Lat, Longitude: &at.Lon, Radius: "20 km", Detection: "100 %"})
			}
		},
		"track: missing": func(r *thistledownv1.SearchRequest) { r.Track = nil },
		"track.fixes: none of 1 fixes is believed": func(r *thistledownv1.SearchRequest) {
			r.Track.Fixes = r.Track.Fixes[:1]
			r.Track.Fixes[0].Time = timestamppb.New(time.Date(2030, 1, 1, 0, 0, 0, 0, time.UTC))
		},
	} {
		bad := proto.CloneOf(ask)
		edit(bad)
		_, err := client.Search(t.Context(), bad)
		assert.Equal(t, codes.InvalidArgument, status.Code(err), "%s: %v", says, err)
		assert.ErrorContains(t, err, says)
	}
}
