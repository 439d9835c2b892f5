package rpc_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"example.org/thistledown/internal/realwind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// A train that was measured leaves nothing to vary, and too many plans are refused.
func TestVaryPlanRefuses(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	for name, edit := range map[string]func(p *thistledownv1.Plan) string{
		"nothing": func(p *thistledownv1.Plan) string {
			p.Train = nil
			return "plan.train"
		},
		"measured": func(p *thistledownv1.Plan) string {
			p.Train = &thistledownv1.Train{Measured: &thistledownv1.MeasuredTrain{AscentRate: "5 m/s", BurstAltitude: "25 km", LandingSpeed: "5 m/s"}}
			return "plan.train.measured"
		},
	} {
		p := request().Plan
		field := edit(p)
		_, err := client.VaryPlan(t.Context(), &thistledownv1.VaryPlanRequest{Plan: p})
		assert.Equal(t, codes.InvalidArgument, status.Code(err), name)
		assert.Contains(t, status.Convert(err).Message(), field[len("plan."):], name)
	}
	_, err := client.VaryPlan(t.Context(), &thistledownv1.VaryPlanRequest{})
	assert.Equal(t, codes.InvalidArgument, status.Code(err))
}
