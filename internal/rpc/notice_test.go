package rpc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/realwind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// ruled is a request's plan with rules. Ada Reed is invented, her number is of the
// series that Sweden keeps for fiction (from memory).
func ruled() *thistledownv1.Plan {
	p := weighed()
	p.Rules = &thistledownv1.Rules{
		Jurisdiction: "us", SeparatesAt: "60 lbf",
		Packages: []*thistledownv1.Package{{Name: "box", Parts: []string{"box"}, SmallestFace: "30 in2"}},
		People:   []*thistledownv1.Person{{Name: "Ada Reed", Telephone: "+46 70 174 06 05"}},
	}
	return p
}

// Fly and SizeTrain carry the checks; a plan without rules has none.
func TestChecksAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	sized, err := client.SizeTrain(t.Context(), &thistledownv1.SizeTrainRequest{Plan: ruled()})
	require.NoError(t, err)
	flown, err := client.Fly(t.Context(), &thistledownv1.FlyRequest{Plan: ruled()})
	require.NoError(t, err)
	assert.Nil(t, flown.GetTrain().GetRules(), "they are the launch's")
	for _, checks := range []*thistledownv1.RuleChecks{sized.GetTrain().GetRules(), flown.GetRules()} {
		require.NotNil(t, checks)
		assert.Equal(t, "us", checks.GetJurisdiction())
		// 14 CFR 101.1(a)(4)(iv), edition of 1 January 2024: over 50 lbf of impact force.
		assert.Equal(t, []string{"unmanned free balloon under 14 CFR part 101, subpart D"}, checks.GetClasses())
		require.Len(t, checks.GetTests(), 4)
		rope := checks.GetTests()[3]
		assert.Equal(t, "14 CFR 101.1(a)(4)(iv)", rope.GetParagraph())
		assert.Equal(t, []string{"not met", "yes", "seen", "60 lbf (266.9 N)", "at most 50 lbf (222.4 N)"},
			[]string{rope.GetVerdict(), rope.GetBinds(), rope.GetStatus(), rope.GetValue(), rope.GetLimit()})
		assert.NotEmpty(t, rope.GetDate())
		assert.NotEmpty(t, rope.GetChange())
		assert.NotEmpty(t, rope.GetNote())
		assert.Greater(t, len(checks.GetLimits()), 10)
		assert.Contains(t, checks.GetSummary(), "The local authority decides; check the current text.")
	}
	plain, err := client.Fly(t.Context(), &thistledownv1.FlyRequest{Plan: weighed()})
	require.NoError(t, err)
	assert.Nil(t, plain.GetRules())
}

func TestWriteNoticeAsAClient(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	got, err := client.WriteNotice(t.Context(), &thistledownv1.WriteNoticeRequest{Plan: ruled(), Stage: "before"})
	require.NoError(t, err)
	require.Len(t, got.GetNotices(), 1)
	n := got.GetNotices()[0]
	assert.Equal(t, []string{"14 CFR 101.37(a)", "from memory", "check current text", "yes"},
		[]string{n.GetParagraph(), n.GetDate(), n.GetStatus(), n.GetBinds()})
	for _, i := range n.GetItems() {
		assert.Contains(t, got.GetText(), i.GetNumber())
		if i.GetWhat() == "Payload" {
			assert.Equal(t, "4.0 lb (1.81 kg)", i.GetValue())
		}
		// The plan says nothing of an antenna.
		assert.Equal(t, i.GetWhat() == "Trailing antenna", i.GetBlank(), i.GetWhat())
	}
	assert.Contains(t, got.GetNotam(), "/QWLLW/IV/M/W/000/")
	assert.Contains(t, got.GetText(), "Ada Reed, +46 70 174 06 05")
	require.NotEmpty(t, got.GetAirfields())
	for _, a := range got.GetAirfields() {
		assert.Contains(t, []string{"large", "medium"}, a.GetSize())
		assert.NotNil(t, a.FromLandingM)
	}

	lost, err := client.WriteNotice(t.Context(), &thistledownv1.WriteNoticeRequest{
		Plan: ruled(), Stage: "lost", At: timestamppb.New(time.Date(2017, 3, 22, 8, 5, 0, 0, time.UTC)),
		Latitude: proto.Float64(58.25), Longitude: proto.Float64(13), HeightM: proto.Float64(15240),
	})
	require.NoError(t, err)
	assert.Equal(t, "22 Mar 2017 08:05 UTC, 5815N 01300E, 50 000 ft AMSL", lost.GetNotices()[0].GetItems()[1].GetValue())
	assert.Empty(t, lost.GetNotam())
}

func TestWriteNoticeRefuses(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	for _, test := range []struct {
		name   string
		change func(r *thistledownv1.WriteNoticeRequest)
		field  string
		want   string
	}{
		{"no stage", func(r *thistledownv1.WriteNoticeRequest) { r.Stage = "" }, "stage", `stage "": want before, launched, delayed`},
		{"no plan", func(r *thistledownv1.WriteNoticeRequest) { r.Plan = nil }, "plan", "missing: want a plan"},
		{"no rules", func(r *thistledownv1.WriteNoticeRequest) { r.Plan.Rules = nil }, "plan.rules", "missing: want whose rules"},
		{"no telephone", func(r *thistledownv1.WriteNoticeRequest) { r.Plan.Rules.People[0].Telephone = "" }, "plan.rules.people[0].telephone", "missing: want the number on which Ada Reed answers"},
		{"no such jurisdiction", func(r *thistledownv1.WriteNoticeRequest) { r.Plan.Rules.Jurisdiction = "mars" }, "plan.rules.jurisdiction", `"mars": want us, icao, eu, uk, au, nz or ca`},
		{"forecast of its own", func(r *thistledownv1.WriteNoticeRequest) {
			r.Plan.Forecast = &thistledownv1.ForecastChoice{Files: []string{"x"}}
		}, "plan.forecast.files", "want none"},
		{"no time", func(r *thistledownv1.WriteNoticeRequest) { r.At = &timestamppb.Timestamp{Nanos: -1} }, "at", "want a time"},
		{"year 2200", func(r *thistledownv1.WriteNoticeRequest) {
			r.At = timestamppb.New(time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC))
		}, "at", "want a time"},
		{"half a place", func(r *thistledownv1.WriteNoticeRequest) { r.Longitude = proto.Float64(1) }, "latitude", "want it and longitude"},
		{"beyond a pole", func(r *thistledownv1.WriteNoticeRequest) {
			r.Latitude, r.Longitude = proto.Float64(90.1), proto.Float64(1)
		}, "latitude", "want -90 to 90"},
		{"beyond the date line", func(r *thistledownv1.WriteNoticeRequest) {
			r.Latitude, r.Longitude = proto.Float64(90), proto.Float64(180.1)
		}, "longitude", "want -180 to 180"},
		{"in space", func(r *thistledownv1.WriteNoticeRequest) { r.HeightM = proto.Float64(60001) }, "height_m", "want -500 to 60000"},
	} {
		t.Run(test.name, func(t *testing.T) {
			r := &thistledownv1.WriteNoticeRequest{Plan: ruled(), Stage: "before"}
			test.change(r)
			_, err := client.WriteNotice(t.Context(), r)
			require.Equal(t, codes.InvalidArgument, status.Code(err), err)
			bad, ok := status.Convert(err).Details()[0].(*errdetails.BadRequest)
			require.True(t, ok)
			found := bad.GetFieldViolations()
			require.Len(t, found, 1)
			assert.Equal(t, test.field, found[0].GetField())
			assert.Contains(t, found[0].GetDescription(), test.want)
		})
	}
	late := &thistledownv1.WriteNoticeRequest{Plan: ruled(), Stage: "before"}
	late.Plan.Launch = timestamppb.New(time.Date(2026, 6, 1, 7, 0, 0, 0, time.UTC))
	_, err := client.WriteNotice(t.Context(), late)
	assert.Equal(t, codes.OutOfRange, status.Code(err))
}
