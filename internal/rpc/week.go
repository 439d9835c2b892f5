package rpc

import (
	"context"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// RankWindows flies every launch time of a plan's schedule.
func (s *service) RankWindows(request *thistledownv1.RankWindowsRequest, stream grpc.ServerStreamingServer[thistledownv1.RankWindowsResponse]) error {
	p, err := s.plan(request.GetPlan())
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(stream.Context())
	defer stop()
	launches, err := s.launches(ctx, p)
	if err != nil {
		return err
	}
	leave, err := s.admit(ctx, flightsOf(p, len(launches), mission.Options{}))
	if err != nil {
		return err
	}
	defer leave() // even if it panics
	out := sending(stream, stop, s.stall)
	week, err := mission.Week(ctx, s.worlds, launches, mission.WeekOptions{Version: s.planner.Version, Each: func(done int, w report.Window) {
		out.send(WindowResponse(w, done, len(launches)))
	}})
	leave() // what is left to be read holds up nobody
	if err == nil {
		out.send(RankingResponse(week))
	}
	if broken := out.end(); broken != nil {
		return broken
	}
	return err
}

// WindowResponse is a launch time as it is sent, so many of all being done.
func WindowResponse(w report.Window, done, total int) *thistledownv1.RankWindowsResponse {
	return &thistledownv1.RankWindowsResponse{
		Part: &thistledownv1.RankWindowsResponse_Window{Window: window(w)},
		Done: uint32(done), Total: uint32(total), //nolint:gosec // at most mission.MaxLaunches
	}
}

// RankingResponse is what is sent last.
func RankingResponse(week report.Week) *thistledownv1.RankWindowsResponse {
	total := uint32(len(week.Windows)) //nolint:gosec // at most mission.MaxLaunches
	return &thistledownv1.RankWindowsResponse{
		Part: &thistledownv1.RankWindowsResponse_Ranking{Ranking: ranking(week)}, Done: total, Total: total,
	}
}

// launches are the launch times of a plan's schedule that the forecast covers.
func (s *service) launches(ctx context.Context, p plan.Plan) ([]plan.Plan, error) {
	on, err := s.forecast(ctx, p)
	if err != nil {
		return nil, err
	}
	first, last := on.Winds[0].Covers()
	launches, err := mission.Launches(p, first, last)
	if err != nil {
		return nil, plan.Faults{{Field: "schedule", Value: err.Error()}}
	}
	return launches, nil
}

// worlds are the forecast that a plan's launches are flown on over the ground of each site.
func (s *service) worlds(ctx context.Context, launches []plan.Plan) (map[geo.Point]mission.World, error) {
	on, err := s.forecast(ctx, launches[0]) // one plan's, which names one forecast
	if err != nil {
		return nil, err
	}
	return mission.WorldsOver(ctx, launches, s.world(on), s.planner.Built, s.planner.Find)
}

// window is one launch time as the schema has it.
func window(w report.Window) *thistledownv1.Window {
	m := &thistledownv1.Window{SiteName: w.Site, Launch: timestamppb.New(w.Time), NotCovered: w.NotCovered}
	if w.NotCovered == "" {
		m.Answer = Response(w.Launch)
	}
	return m
}

// ranking is the order of a week.
func ranking(k report.Week) *thistledownv1.Ranking {
	m := &thistledownv1.Ranking{Warnings: k.Warnings, Cautions: k.Cautions}
	for _, i := range k.Ranked {
		m.Windows = append(m.Windows, uint32(i)) //nolint:gosec // at most mission.MaxLaunches
	}
	return m
}
