package rpc

import (
	"context"
	"math"

	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// VaryPlan looks for better plans than one.
func (s *service) VaryPlan(ctx context.Context, request *thistledownv1.VaryPlanRequest) (*thistledownv1.VaryPlanResponse, error) {
	p, err := s.plan(request.GetPlan())
	if err != nil {
		return nil, err
	}
	plans, err := mission.Variants(p)
	if err != nil {
		return nil, err
	}
	leave, err := s.admit(ctx, flightsOf(p, len(plans), mission.Options{}))
	if err != nil {
		return nil, err
	}
	defer leave()
	worlds, err := s.worlds(ctx, mission.Outermost(plans))
	if err != nil {
		return nil, err
	}
	found, err := mission.Vary(ctx, worlds, plans, mission.Options{Version: s.planner.Version})
	if err != nil {
		return nil, err
	}
	return VaryResponse(found), nil
}

// VaryResponse is what was found as the schema has it.
func VaryResponse(v report.Varied) *thistledownv1.VaryPlanResponse {
	m := &thistledownv1.VaryPlanResponse{
		PlanName: v.Plan, LookedAt: uint32(v.Looked), FullyFlown: uint32(v.Fully), FlightsEach: uint32(v.Flights), //nolint:gosec // at most mission.MaxVariants, ensemble.MaxFlights
		AsItStands: choice(v.AsItStands), AsItStandsLeftOut: v.AsItStands.LeftOut, AsItStandsUnbeaten: v.AsItStands.Unbeaten,
		Cautions: v.Cautions,
	}
	if v.AsItStands.Launch != nil {
		m.Warnings = v.AsItStands.Launch.Warnings
	}
	for _, out := range v.LeftOut {
		m.LeftOut = append(m.LeftOut, &thistledownv1.LeftOut{Why: out.Why, Plans: uint32(out.Plans)}) //nolint:gosec // at most mission.MaxVariants
	}
	for _, c := range v.Told {
		one := choice(c)
		one.Changes = v.Changes(c, quantity.SI)
		one.Gain, one.GainHalfWidth = known(c.Gain), known(c.GainHalfWidth)
		m.Told = append(m.Told, one)
	}
	for _, c := range v.Unbeaten {
		one := choice(c)
		one.Changes = v.Changes(c, quantity.SI)
		m.Unbeaten = append(m.Unbeaten, one)
	}
	return m
}

// choice is one plan.
func choice(c report.Choice) *thistledownv1.Choice {
	m := &thistledownv1.Choice{
		SiteName: c.Site, Launch: timestamppb.New(c.Time), Parts: c.Carried(), Canopies: c.Worn(),
		EnvelopeMassKg: c.Envelope.Mass, EnvelopeBurstsAtM: c.Envelope.Burst, GasM3: c.Gas, NeckPullKg: c.Pull,
		BurstHeightM: c.Height, LandingSpeedMS: c.Falls, Score: known(c.Score),
	}
	if c.Launch == nil {
		return m
	}
	m.Verdict = c.Launch.Verdict.String()
	if l := c.Launch.Landing; l != nil {
		m.MostLikelyLatitudeDeg, m.MostLikelyLongitudeDeg = &l.MostLikely.Lat, &l.MostLikely.Lon
		m.Area_80M2 = known(c.Launch.Area(0.8))
	}
	return m
}

// known is a number, or nothing where it is none.
func known(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}
