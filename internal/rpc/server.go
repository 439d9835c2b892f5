// Package rpc answers the Planner service's calls.
//
// It hides protobuf and gRPC: requests become values for mission, answers
// become messages, errors become status codes with details. It computes
// nothing, and tells a caller nothing of the inside of the program: what is
// not the caller's fault is logged, and answered with a bare INTERNAL.
package rpc

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/health"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/status"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/wind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// maxRequest bounds a request message, octets: a plan is a few thousand.
const maxRequest = 1 << 20

// Planner is what the service answers from. It is read-only.
type Planner struct {
	Winds    []*wind.Field  // of each member of the forecast
	Warnings []string       // what the forecast lacks
	Built    *ground.World  // what is built in of the ground, of the whole Earth
	Find     mission.Finder // of the files that plans may name
	Version  string         // of the program
	Log      *slog.Logger
}

// NewServer makes a gRPC server with the Planner service, health for it and
// for the server as a whole, and reflection.
func NewServer(p Planner) *grpc.Server {
	s := grpc.NewServer(grpc.MaxRecvMsgSize(maxRequest), grpc.UnaryInterceptor(p.recover), grpc.StreamInterceptor(p.recoverStream))
	thistledownv1.RegisterPlannerServer(s, &service{planner: p, turns: make(chan struct{}, atOnce), weeks: make(chan struct{}, weeksAtOnce)})
	h := health.NewServer()
	h.SetServingStatus(thistledownv1.Planner_ServiceDesc.ServiceName, healthv1.HealthCheckResponse_SERVING)
	healthv1.RegisterHealthServer(s, h)
	reflection.Register(s)
	return s
}

// recover keeps a bug in one call from ending all others.
func (p Planner) recover(ctx context.Context, request any, info *grpc.UnaryServerInfo, handle grpc.UnaryHandler) (answer any, err error) {
	defer func() {
		if r := recover(); r != nil {
			answer, err = nil, p.panicked(info.FullMethod, r)
		}
	}()
	return handle(ctx, request)
}

// recoverStream is recover for calls that stream.
func (p Planner) recoverStream(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handle grpc.StreamHandler) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = p.panicked(info.FullMethod, r)
		}
	}()
	return handle(server, stream)
}

// panicked logs a panic, of which the caller learns nothing.
func (p Planner) panicked(method string, what any) error {
	p.Log.Error("panic", "method", method, "what", fmt.Sprint(what), "stack", string(debug.Stack()))
	return status.Error(codes.Internal, "internal error")
}

// atOnce is how many calls are worked on at the same time; others wait, as long
// as their deadline lets them. Each uses every processor and the memory of its
// own layers.
const atOnce = 2

// weeksAtOnce is how many calls for a week are worked on at the same time, beside
// those for single launches, which a week must not hold up.
const weeksAtOnce = 1

type service struct {
	thistledownv1.UnimplementedPlannerServer
	planner Planner
	turns   chan struct{}
	weeks   chan struct{}
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
	leave, err := s.wait(ctx, s.turns)
	if err != nil {
		return nil, err
	}
	defer leave()
	worlds, err := s.worlds(ctx, []plan.Plan{p})
	if err != nil {
		return nil, s.status(err)
	}
	l, err := mission.Fly(ctx, worlds[p.Site.At], p, options)
	if err != nil {
		return nil, s.status(err)
	}
	return Response(l), nil
}

// plan is the plan of a request; the error is a status.
func (s *service) plan(m *thistledownv1.Plan) (plan.Plan, error) {
	p, err := plan.Check(m)
	if err == nil {
		err = ownForecast(p)
	}
	if err != nil {
		return plan.Plan{}, s.status(err)
	}
	return p, nil
}

// wait waits for one of some turns, which ends with leave; the error is a status.
func (s *service) wait(ctx context.Context, turns chan struct{}) (leave func(), err error) {
	select {
	case turns <- struct{}{}:
		return func() { <-turns }, nil
	case <-ctx.Done():
		return nil, s.status(ctx.Err())
	}
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
			return o, violations("until_half_width: "+err.Error(), &errdetails.BadRequest_FieldViolation{Field: "until_half_width", Description: err.Error()})
		}
	}
	return o, nil
}

// status is an error as gRPC has it.
func (s *service) status(err error) error {
	var faults plan.Faults
	var notCovered *mission.NotCovered
	switch {
	case errors.As(err, &faults):
		return invalid(faults)
	case errors.As(err, &notCovered):
		code := codes.FailedPrecondition
		if notCovered.Outcome == wind.BeforeFirst || notCovered.Outcome == wind.AfterLast {
			code = codes.OutOfRange
		}
		return status.Error(code, notCovered.Error())
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return status.FromContextError(err).Err()
	}
	s.planner.Log.Error("internal error", "error", err)
	return status.Error(codes.Internal, "internal error")
}

// description says what is wrong with a field and, where that is known, what
// would be right.
func description(f plan.Fault) string {
	if f.Want == "" {
		return f.Value
	}
	return f.Value + ": want " + f.Want
}

// invalid is INVALID_ARGUMENT with a violation for each fault.
func invalid(faults plan.Faults) error {
	var found []*errdetails.BadRequest_FieldViolation
	for _, f := range faults {
		found = append(found, &errdetails.BadRequest_FieldViolation{
			Field: strings.TrimSuffix("plan."+f.Field, "."), Description: description(f),
		})
	}
	return violations(faults.Error(), found...)
}

// refused is INVALID_ARGUMENT for one field of a request beside its plan.
func refused(field, what string) error {
	return violations(what, &errdetails.BadRequest_FieldViolation{Field: field, Description: what})
}

func violations(message string, found ...*errdetails.BadRequest_FieldViolation) error {
	st := status.New(codes.InvalidArgument, message)
	if with, err := st.WithDetails(&errdetails.BadRequest{FieldViolations: found}); err == nil {
		st = with
	}
	return st.Err()
}
