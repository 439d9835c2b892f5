package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/realwind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// weighed is a request's plan with a weighed train instead of a measured one.
func weighed() *thistledownv1.Plan {
	p := request().GetPlan()
	p.Train = &thistledownv1.Train{
		Parts:    []*thistledownv1.Part{{Name: "box", Mass: "4 lb"}},
		Envelope: &thistledownv1.Envelope{Mass: "600 g"},
		Gas:      &thistledownv1.Gas{Helium: "99 %", AscentRate: "4.5 m/s"},
		Canopies: []*thistledownv1.Canopy{{Shape: "flat circular", Size: "1.2 m"}},
	}
	return p
}

// A train is sized in the forecast's air where that reaches, and in the standard
// atmosphere, with a warning, where it does not.
func TestSizeTrainAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	got, err := client.SizeTrain(t.Context(), &thistledownv1.SizeTrainRequest{Plan: weighed()})
	require.NoError(t, err)
	train := got.GetTrain()
	assert.InDelta(t, 4*0.45359237, train.GetLoad().GetMassKg(), 1e-9)
	assert.InDelta(t, 4.5, train.GetAscentRateMS(), 1e-6)
	assert.InDelta(t, train.GetFreeLiftKg(), train.GetNeckLiftKg()-train.GetLoad().GetMassKg(), 1e-9)
	assert.InDelta(t, 25e3, train.GetBurstHeightM(), 2e3)
	require.Len(t, train.GetTouchdowns(), 3)
	assert.False(t, train.GetStandardAir())
	assert.NotEmpty(t, train.GetCauses())
	assert.NotEmpty(t, train.GetCautions())

	flown, err := client.Fly(t.Context(), &thistledownv1.FlyRequest{Plan: weighed()})
	require.NoError(t, err)
	assert.InDelta(t, train.GetBurstHeightM(), flown.GetTrain().GetBurstHeightM(), 1e-6)
	assert.InDelta(t, train.GetBurstHeightM(), flown.GetLanding().GetBurstHeightMeanM(), 1000, "with early bursts and floats, and a law that is bent")

	later := weighed()
	later.Launch = timestamppb.New(time.Date(2026, 6, 1, 7, 0, 0, 0, time.UTC))
	got, err = client.SizeTrain(t.Context(), &thistledownv1.SizeTrainRequest{Plan: later})
	require.NoError(t, err)
	assert.True(t, got.GetTrain().GetStandardAir())
	warnings := got.GetTrain().GetWarnings()
	assert.Contains(t, warnings[len(warnings)-1], "The forecast does not reach: launch")
}

func TestSizeTrainRefuses(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	for name, spoil := range map[string]func(p *thistledownv1.Plan){
		"a measured train": func(p *thistledownv1.Plan) { p.Train = request().GetPlan().GetTrain() },
		"no mass":          func(p *thistledownv1.Plan) { p.Train.Parts[0].Mass = "0 g" },
		"too high":         func(p *thistledownv1.Plan) { p.Train.Gas = &thistledownv1.Gas{Helium: "99 %", BurstsNear: "40 km"} },
		"a file": func(p *thistledownv1.Plan) {
			p.Forecast = &thistledownv1.ForecastChoice{Files: []string{"/etc/passwd"}}
		},
	} {
		p := weighed()
		spoil(p)
		_, err := client.SizeTrain(t.Context(), &thistledownv1.SizeTrainRequest{Plan: p})
		assert.Equal(t, codes.InvalidArgument, status.Code(err), "%s: %v", name, err)
		assert.NotEmpty(t, status.Convert(err).Details(), name)
	}
	_, err := client.SizeTrain(t.Context(), &thistledownv1.SizeTrainRequest{})
	assert.Equal(t, codes.InvalidArgument, status.Code(err))
}
