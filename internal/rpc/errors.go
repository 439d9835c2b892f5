package rpc

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"
	"strconv"
	"strings"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/wind"
)

// errorDomain is whose reasons an ErrorInfo gives.
const errorDomain = "thistledown"

// status is an error as gRPC has it. What is nobody's fault but the service's own is
// logged beside the request's id, which alone the caller learns.
func (p Planner) status(ctx context.Context, method string, err error) error {
	var faults plan.Faults
	var notCovered *mission.NotCovered
	var track *mission.TrackFault
	switch {
	case err == nil:
		return nil
	case errors.As(err, &faults):
		return invalid("plan.", faults)
	case errors.As(err, &track):
		return refused(track.Field, err.Error())
	case errors.As(err, &notCovered):
		return elsewhere(notCovered)
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return status.FromContextError(err).Err()
	}
	if st, ok := status.FromError(err); ok {
		return st.Err()
	}
	p.Log.Error("internal error", "request", requestID(ctx), "method", method, "error", err)
	return internal(ctx)
}

// panicked logs a panic, of which the caller learns nothing but the request's id.
func (p Planner) panicked(ctx context.Context, method string, what any) error {
	p.Log.Error("panic", "request", requestID(ctx), "method", method, "what", fmt.Sprint(what), "stack", string(debug.Stack()))
	return internal(ctx)
}

// internal is all that a caller learns of a fault of the service.
func internal(ctx context.Context) error {
	return detailed(codes.Internal, "internal error", &errdetails.RequestInfo{RequestId: requestID(ctx)})
}

// elsewhere is the status for a place or a time that the forecast does not reach.
func elsewhere(e *mission.NotCovered) error {
	code, reason := codes.FailedPrecondition, "FORECAST_NOT_HERE"
	if e.Outcome == wind.BeforeFirst || e.Outcome == wind.AfterLast {
		code, reason = codes.OutOfRange, "FORECAST_NOT_THEN"
	}
	degrees := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	b, first, last := e.Box, e.First.UTC(), e.Last.UTC()
	return detailed(code, e.Error(),
		&errdetails.PreconditionFailure{Violations: []*errdetails.PreconditionFailure_Violation{
			{Type: reason, Subject: "plan." + e.Field, Description: e.Error()},
		}},
		&errdetails.ErrorInfo{Reason: reason, Domain: errorDomain, Metadata: map[string]string{
			"south": degrees(b.South), "north": degrees(b.North), "west": degrees(b.West), "east": degrees(b.East),
			"first": first.Format(time.RFC3339), "last": last.Format(time.RFC3339), "cycle": e.Cycle.UTC().Format(time.RFC3339),
		}},
	)
}

// description says what is wrong with a field and, where that is known, what
// would be right.
func description(f plan.Fault) string {
	if f.Want == "" {
		return f.Value
	}
	return f.Value + ": want " + f.Want
}

// invalid is INVALID_ARGUMENT with a violation for each fault in a part of the request,
// such as "plan.".
func invalid(part string, faults plan.Faults) error {
	var found []*errdetails.BadRequest_FieldViolation
	for _, f := range faults {
		found = append(found, &errdetails.BadRequest_FieldViolation{
			Field: strings.TrimSuffix(part+f.Field, "."), Description: description(f),
		})
	}
	return violations(faults.Error(), found...)
}

// refused is INVALID_ARGUMENT for one field of a request beside its plan.
func refused(field, what string) error {
	return violations(what, &errdetails.BadRequest_FieldViolation{Field: field, Description: what})
}

func violations(message string, found ...*errdetails.BadRequest_FieldViolation) error {
	return detailed(codes.InvalidArgument, message, &errdetails.BadRequest{FieldViolations: found})
}

// detailed is a status with details.
func detailed(code codes.Code, message string, details ...protoadapt.MessageV1) error {
	st := status.New(code, message)
	if with, err := st.WithDetails(details...); err == nil {
		st = with
	}
	return st.Err()
}
