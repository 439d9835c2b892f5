package rpc_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/realwind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// varied is a weighed plan of few flights that could be filled otherwise.
func varied() *thistledownv1.Plan {
	p := weighed()
	p.Sampling = &thistledownv1.Sampling{Scrambles: proto.Uint32(4), FlightsPerScramble: proto.Uint32(32)}
	p.Vary = &thistledownv1.Vary{Fill: &thistledownv1.FillRange{From: "3.4 m³", To: "4.2 m³", Steps: proto.Uint32(2)}}
	return p
}

// The plan as it stands gives what Fly says of it, and no unbeaten plan beats another.
func TestVaryPlanAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	got, err := client.VaryPlan(t.Context(), &thistledownv1.VaryPlanRequest{Plan: varied()})
	require.NoError(t, err)
	assert.EqualValues(t, 3, got.GetLookedAt())
	assert.EqualValues(t, 128, got.GetFlightsEach())
	assert.NotEmpty(t, got.GetCautions())
	require.NotEmpty(t, got.GetUnbeaten())

	plain, err := client.Fly(t.Context(), &thistledownv1.FlyRequest{Plan: varied()})
	require.NoError(t, err)
	own := got.GetAsItStands()
	assert.InDelta(t, plain.GetHazard().GetScore(), own.GetScore(), 1e-9)
	assert.InDelta(t, plain.GetTrain().GetNeckLiftKg(), own.GetNeckPullKg(), 1e-6)
	assert.Equal(t, plain.GetLanding().GetMostLikely().GetLatitude(), own.GetMostLikelyLatitudeDeg())
	assert.Nil(t, own.Gain, "it is no better than itself")
	for i, a := range got.GetUnbeaten() {
		for k, b := range got.GetUnbeaten() {
			assert.False(t, i != k && b.GetScore() <= a.GetScore() && b.GetGasM3() <= a.GetGasM3() && b.GetBurstHeightM() > a.GetBurstHeightM(),
				"%d beats %d", k, i)
		}
	}
	for _, c := range got.GetTold() {
		assert.NotNil(t, c.Gain)
	}
}

func TestVaryPlanRefuses(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	for name, spoil := range map[string]func(p *thistledownv1.Plan){
		"plan.train":                func(p *thistledownv1.Plan) { p.Train = nil },
		"plan.train.measured":       func(p *thistledownv1.Plan) { p.Train = request().GetPlan().GetTrain() },
		"plan.vary.leave_behind[0]": func(p *thistledownv1.Plan) { p.Vary.LeaveBehind = []string{"anchor"} },
		"plan.forecast.files":       func(p *thistledownv1.Plan) { p.Forecast = &thistledownv1.ForecastChoice{Files: []string{"x"}} },
	} {
		p := varied()
		spoil(p)
		_, err := client.VaryPlan(t.Context(), &thistledownv1.VaryPlanRequest{Plan: p})
		fields := violated(t, err)
		assert.Equal(t, []string{name}, fields)
	}
	_, err := client.VaryPlan(t.Context(), &thistledownv1.VaryPlanRequest{})
	assert.Equal(t, []string{"plan"}, violated(t, err))
	late := varied()
	late.Launch.Seconds += 1e7
	_, err = client.VaryPlan(t.Context(), &thistledownv1.VaryPlanRequest{Plan: late})
	assertCode(t, codes.OutOfRange, err)
}
