package rpc_test

import (
	"context"
	"errors"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/realwind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// weekly is the request's plan at every full hour of every day.
func weekly() *thistledownv1.Plan {
	p := request().Plan
	p.Schedule = &thistledownv1.Schedule{Hours: []string{"00:00-24:00"}}
	p.Sampling = &thistledownv1.Sampling{Scrambles: proto.Uint32(2), FlightsPerScramble: proto.Uint32(32)}
	return p
}

// Each launch time comes in order, as Fly has it, and then the ranking of all.
func TestRankWindowsAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	stream, err := client.RankWindows(t.Context(), &thistledownv1.RankWindowsRequest{Plan: weekly()})
	require.NoError(t, err)
	var windows []*thistledownv1.Window
	var ranking *thistledownv1.Ranking
	for {
		m, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		require.Nil(t, ranking, "the ranking is the last")
		assert.Equal(t, uint32(13), m.GetTotal())
		if ranking = m.GetRanking(); ranking != nil {
			continue
		}
		windows = append(windows, m.GetWindow())
		assert.Equal(t, len(windows), int(m.GetDone()))
	}
	require.NotNil(t, ranking)
	require.Len(t, windows, 13, "0 to 12 UTC")
	require.Len(t, ranking.GetWindows(), 13)
	assert.NotEmpty(t, ranking.GetCautions())
	for i, w := range windows {
		assert.Equal(t, time.Date(2017, 3, 22, i, 0, 0, 0, time.UTC), w.GetLaunch().AsTime())
		assert.Equal(t, w.GetNotCovered() == "", w.GetAnswer() != nil)
	}
	p := weekly()
	p.Launch = windows[3].GetLaunch()
	alone, err := client.Fly(t.Context(), &thistledownv1.FlyRequest{Plan: p})
	require.NoError(t, err)
	assert.True(t, proto.Equal(alone.GetHazard(), windows[3].GetAnswer().GetHazard()))
	assert.True(t, proto.Equal(alone.GetLanding(), windows[3].GetAnswer().GetLanding()))
	last := windows[ranking.GetWindows()[12]]
	assert.NotEmpty(t, last.GetNotCovered())
}

func TestRankWindowsRefuses(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	code := func(p *thistledownv1.Plan) (codes.Code, string) {
		stream, err := client.RankWindows(t.Context(), &thistledownv1.RankWindowsRequest{Plan: p})
		require.NoError(t, err)
		_, err = stream.Recv()
		return status.Code(err), status.Convert(err).Message()
	}
	got, _ := code(nil)
	assert.Equal(t, codes.InvalidArgument, got)
	p := weekly()
	p.Schedule.Hours = []string{"Mon 06:00-07:00"} // the forecast is of a Wednesday
	got, text := code(p)
	assert.Equal(t, codes.InvalidArgument, got)
	assert.Contains(t, text, "no launch time from 2017-03-22T00:00:00Z to 2017-03-22T12:00:00Z")
	p = weekly()
	p.Forecast = &thistledownv1.ForecastChoice{Files: []string{"a.grib2"}}
	got, _ = code(p)
	assert.Equal(t, codes.InvalidArgument, got)
}

// Who goes away in the middle ends the work, and the next has its turn.
func TestRankWindowsCancelled(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	p := weekly()
	p.Schedule.Step = "5 min"
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	stream, err := client.RankWindows(ctx, &thistledownv1.RankWindowsRequest{Plan: p})
	require.NoError(t, err)
	first, err := stream.Recv()
	require.NoError(t, err)
	assert.Equal(t, uint32(145), first.GetTotal())
	stop()
	for err == nil {
		_, err = stream.Recv()
	}
	assert.Equal(t, codes.Canceled, status.Code(err))
	again, err := client.RankWindows(t.Context(), &thistledownv1.RankWindowsRequest{Plan: weekly()})
	require.NoError(t, err)
	_, err = again.Recv()
	require.NoError(t, err)
}
