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
	"slices"
	"sync/atomic"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/health"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/stats"
	"google.golang.org/grpc/tap"
	"google.golang.org/protobuf/types/known/durationpb"

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
	Guard     Guard          // none: everybody may ask for everything
	Version   string         // of the program
	Log       *slog.Logger
	Seen      stats.Handler // told of every call; may be nil
}

// What one caller, or all together, can make the server hold.
const (
	maxStreams = 64       // calls on one connection
	maxOpen    = 1024     // calls on all of them: so many requests may lie in memory
	maxHeaders = 16 << 10 // octets
	shakeHands = 10 * time.Second
)

// Server is the service and what goes with it.
type Server struct {
	*grpc.Server
	inside *grpc.Server // the same for the gateway, through memory
	health *health.Server
	work   *service
}

// NewServer makes a gRPC server with the Planner service, health for it and
// for the server as a whole, and reflection. Both are healthy while there is a
// forecast that is not too old. The options, such as credentials, are for calls from
// the network.
func NewServer(p Planner, options ...grpc.ServerOption) *Server {
	if p.Limits == (Limits{}) {
		p.Limits = DefaultLimits()
	}
	door := &door{}
	common := []grpc.ServerOption{
		grpc.MaxRecvMsgSize(maxRequest), grpc.MaxHeaderListSize(maxHeaders),
		grpc.UnaryInterceptor(p.answer), grpc.StreamInterceptor(p.answerStream),
		grpc.InTapHandle(door.open), grpc.StatsHandler(door),
	}
	if p.Seen != nil {
		common = append(common, grpc.StatsHandler(p.Seen))
	}
	s := &Server{
		inside: grpc.NewServer(common...),
		Server: grpc.NewServer(slices.Concat(common, []grpc.ServerOption{
			grpc.MaxConcurrentStreams(maxStreams), grpc.ConnectionTimeout(shakeHands),
			grpc.KeepaliveParams(keepalive.ServerParameters{MaxConnectionIdle: 10 * time.Minute, Time: time.Minute, Timeout: 20 * time.Second}),
			grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: 10 * time.Second, PermitWithoutStream: true}),
		}, options)...),
		health: health.NewServer(),
		work:   &service{planner: p, admission: newAdmission(p.Limits), stall: sendStall},
	}
	thistledownv1.RegisterPlannerServer(s, s.work)
	thistledownv1.RegisterPlannerServer(s.inside, s.work)
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

// State is what a service does.
type State struct {
	Waiting, Running int                      // calls
	Refused          int64                    // calls, for want of room
	Flights          int64                    // of calls that were let in and have ended
	Ages             map[string]time.Duration // of the forecasts' cycles, by name
	Kept, Made       int64                    // times that ground abroad was at hand, and was put together
}

// State is what the service does now.
func (s *Server) State() State {
	a := s.work.admission
	now := State{Ages: map[string]time.Duration{}}
	now.Waiting, now.Running = a.waits()
	a.mutex.Lock()
	now.Refused, now.Flights = a.refused, int64(a.flights)
	a.mutex.Unlock()
	all := s.work.planner.Forecasts.now.Load()
	for i, f := range all.forecasts {
		if f != nil {
			now.Ages[all.names[i]] = time.Since(f.Winds[0].Cycle())
		}
	}
	now.Kept, now.Made = s.work.planner.Built.Counts()
	return now
}

// Stop ends the server at once.
func (s *Server) Stop() {
	s.inside.Stop()
	s.Server.Stop()
}

// GracefulStop ends the server once no call is under way; calls that begin now are
// refused. Those through the gateway end with its own listener, before this.
func (s *Server) GracefulStop() {
	s.Server.GracefulStop()
	s.inside.GracefulStop()
}

// door counts the calls that are open, and opens for no more than maxOpen.
type door struct{ calls atomic.Int64 }

// open is asked before anything of a call is read.
func (d *door) open(ctx context.Context, _ *tap.Info) (context.Context, error) {
	if d.calls.Load() >= maxOpen {
		return nil, detailed(codes.ResourceExhausted, fmt.Sprintf("%d calls open: come again later", maxOpen),
			&errdetails.RetryInfo{RetryDelay: durationpb.New(soonestRetry)})
	}
	return ctx, nil
}

// HandleRPC counts.
func (d *door) HandleRPC(_ context.Context, event stats.RPCStats) {
	switch event.(type) {
	case *stats.Begin:
		d.calls.Add(1)
	case *stats.End:
		d.calls.Add(-1)
	}
}

// TagRPC does nothing.
func (*door) TagRPC(ctx context.Context, _ *stats.RPCTagInfo) context.Context { return ctx }

// TagConn does nothing.
func (*door) TagConn(ctx context.Context, _ *stats.ConnTagInfo) context.Context { return ctx }

// HandleConn does nothing.
func (*door) HandleConn(context.Context, stats.ConnStats) {}

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
func (s *service) fly(ctx context.Context, p plan.Plan, o mission.Options) (l report.Launch, err error) {
	err = s.inTurn(ctx, p, o, func(w mission.World) error {
		l, err = mission.Fly(ctx, w, p, o)
		return err
	})
	return l, err
}

// inTurn does what flies a plan's launch in the world that it is flown in, when it is
// its turn. Its place is given back even if that panics.
func (s *service) inTurn(ctx context.Context, p plan.Plan, o mission.Options, do func(mission.World) error) error {
	leave, err := s.admit(ctx, flightsOf(p, 1, o))
	if err != nil {
		return err
	}
	defer leave()
	worlds, err := s.worlds(ctx, []plan.Plan{p})
	if err != nil {
		return err
	}
	return do(worlds[p.Site.At])
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
