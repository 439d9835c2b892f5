package rpc

import (
	"context"
	"crypto/rand"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
)

// requestHeader is the metadata, and the header of HTTP, that names a request.
const requestHeader = "x-request-id"

// requestKey is where a context has the request's id.
type requestKey struct{}

// requestID is the id of the request that a context is of.
func requestID(ctx context.Context) string {
	id, _ := ctx.Value(requestKey{}).(string)
	return id
}

// identified is the context of a request with its id: the caller's own, if it is one,
// else a new one.
func identified(ctx context.Context) context.Context {
	md, _ := metadata.FromIncomingContext(ctx)
	id := ""
	if given := md.Get(requestHeader); len(given) == 1 && isRequestID(given[0]) {
		id = given[0]
	} else {
		id = rand.Text()
	}
	return context.WithValue(ctx, requestKey{}, id)
}

// isRequestID reports whether a caller's id may stand in a log.
func isRequestID(id string) bool {
	const most = 64
	if id == "" || len(id) > most {
		return false
	}
	for _, c := range []byte(id) {
		switch {
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', c == '.', c == '-', c == '_':
		default:
			return false
		}
	}
	return true
}

// answer names the request, turns its error into a status, and keeps a bug in one
// call from ending all others.
func (p Planner) answer(ctx context.Context, request any, info *grpc.UnaryServerInfo, handle grpc.UnaryHandler) (answer any, err error) {
	ctx = p.Forecasts.seeing(identified(ctx))
	defer p.told(time.Now(), &ctx, info.FullMethod, &err)
	defer func() {
		if r := recover(); r != nil {
			answer, err = nil, p.panicked(ctx, info.FullMethod, r)
		}
	}()
	if err := grpc.SetHeader(ctx, metadata.Pairs(requestHeader, requestID(ctx))); err != nil {
		return nil, p.status(ctx, info.FullMethod, err)
	}
	if ctx, err = p.Guard.admitted(ctx, info.FullMethod); err == nil {
		answer, err = handle(ctx, request)
	}
	if err != nil {
		return nil, p.status(ctx, info.FullMethod, err)
	}
	return answer, nil
}

// told logs a call that has ended: whose it was and how it went stand in ctx and err by
// then. Of the request nothing is logged: it is the caller's.
func (p Planner) told(began time.Time, ctx *context.Context, method string, err *error) {
	p.Log.Info("call", "request", requestID(*ctx), "method", method, "caller", callerOf(*ctx),
		"code", status.Code(*err).String(), "took", time.Since(began).Round(time.Microsecond))
}

// answerStream is answer for calls that stream.
func (p Planner) answerStream(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo, handle grpc.StreamHandler) (err error) {
	ctx := p.Forecasts.seeing(identified(stream.Context()))
	defer p.told(time.Now(), &ctx, info.FullMethod, &err)
	defer func() {
		if r := recover(); r != nil {
			err = p.panicked(ctx, info.FullMethod, r)
		}
	}()
	if err := stream.SetHeader(metadata.Pairs(requestHeader, requestID(ctx))); err != nil {
		return p.status(ctx, info.FullMethod, err)
	}
	if ctx, err = p.Guard.admitted(ctx, info.FullMethod); err == nil {
		err = handle(server, identifiedStream{stream, ctx})
	}
	return p.status(ctx, info.FullMethod, err)
}

// identifiedStream is a stream whose context has the request's id.
type identifiedStream struct {
	grpc.ServerStream
	ctx context.Context
}

// Context is that.
func (s identifiedStream) Context() context.Context { return s.ctx }
