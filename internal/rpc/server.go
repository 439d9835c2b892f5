// Package rpc answers the Planner service's calls.
//
// It hides protobuf and gRPC: requests become values for mission, answers
// become messages, errors become status codes with details. It computes
// nothing, and tells a caller nothing of the inside of the program: what is
// not the caller's fault is logged, and answered with a bare INTERNAL.
package rpc

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/health"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/reflection"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// maxRequest bounds a request message, octets: a plan is a few thousand.
const maxRequest = 1 << 20

// Planner is what the service answers from.
type Planner struct {
	Forecasts *Catalogue
	Built     *mission.Built // what is built in of the ground, of the whole Earth
	Find      mission.Finder // of the files that plans may name
	Limits    Limits         // none: DefaultLimits
	Version   string         // of the program
	Log       *slog.Logger
}

// Server is the service and what goes with it.
type Server struct {
	*grpc.Server
	health *health.Server
}

// NewServer makes a gRPC server with the Planner service, health for it and
// for the server as a whole, and reflection. Both are healthy while there is a
// forecast that is not too old.
func NewServer(p Planner) *Server {
	if p.Limits == (Limits{}) {
		p.Limits = DefaultLimits()
	}
	work := &service{planner: p, admission: newAdmission(p.Limits), stall: sendStall}
	s := &Server{
		Server: grpc.NewServer(grpc.MaxRecvMsgSize(maxRequest), grpc.UnaryInterceptor(p.answer), grpc.StreamInterceptor(p.answerStream)),
		health: health.NewServer(),
	}
	thistledownv1.RegisterPlannerServer(s, work)
	p.Forecasts.onChange(func() {
		state := healthv1.HealthCheckResponse_NOT_SERVING
		if p.Forecasts.fit(time.Now()) {
			state = healthv1.HealthCheckResponse_SERVING
		}
		for _, name := range []string{"", thistledownv1.Planner_ServiceDesc.ServiceName} {
			s.health.SetServingStatus(name, state)
		}
	})
	healthv1.RegisterHealthServer(s, s.health)
	reflection.Register(s)
	return s
}

// Leaving says in all answers of health that nothing is served, from now on and
// whatever happens: so callers go elsewhere while calls under way end.
func (s *Server) Leaving() { s.health.Shutdown() }

type service struct {
	thistledownv1.UnimplementedPlannerServer
	planner   Planner
	admission *admission
	stall     time.Duration // how long a reader may let a part of an answer lie
}

// Fly flies one plan's launch.
func (s *service) Fly(ctx context.Context, request *thistledownv1.FlyRequest) (*thistledownv1.FlyResponse, error) {
	p, err := s.plan(request.GetPlan())
	if err != nil {
		return nil, err
	}
	options, err := s.options(request)
	if err != nil {
		return nil, err
	}
	l, err := s.fly(ctx, p, options)
	if err != nil {
		return nil, err
	}
	return Response(l), nil
}

// fly flies a plan's launch when it is its turn.
func (s *service) fly(ctx context.Context, p plan.Plan, o mission.Options) (report.Launch, error) {
	leave, err := s.admit(ctx, flightsOf(p, 1, o))
	if err != nil {
		return report.Launch{}, err
	}
	defer leave()
	worlds, err := s.worlds(ctx, []plan.Plan{p})
	if err != nil {
		return report.Launch{}, err
	}
	return mission.Fly(ctx, worlds[p.Site.At], p, o)
}

// plan is the plan of a request.
func (s *service) plan(m *thistledownv1.Plan) (plan.Plan, error) {
	p, err := plan.Check(m)
	if err == nil {
		err = ownForecast(p)
	}
	if err != nil {
		return plan.Plan{}, err
	}
	return p, nil
}

// ownForecast refuses a plan that names files of a forecast.
func ownForecast(p plan.Plan) error {
	const want = "none: the service flies on its own forecast"
	switch {
	case len(p.ForecastFiles) > 0:
		return plan.Faults{{Field: "forecast.files", Value: fmt.Sprintf("%q", p.ForecastFiles[0]), Want: want}}
	case len(p.ForecastAbove) > 0:
		return plan.Faults{{Field: "forecast.above", Value: fmt.Sprintf("%q", p.ForecastAbove[0]), Want: want}}
	}
	return nil
}

// options is what a request says beside its plan.
func (s *service) options(request *thistledownv1.FlyRequest) (mission.Options, error) {
	o := mission.Options{Version: s.planner.Version, Explain: request.GetExplain()}
	if request.UntilHalfWidth != nil {
		o.Until = request.GetUntilHalfWidth()
		if err := mission.CheckUntil(o.Until); err != nil {
			return o, refused("until_half_width", "until_half_width: "+err.Error())
		}
	}
	return o, nil
}
