package rpc

import (
	"context"
	"net"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/mission"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// reader is a caller's side of a stream, who reads so many parts and then none.
type reader struct {
	grpc.ServerStream
	ctx   context.Context //nolint:containedctx // that of the stream
	reads int64
	got   atomic.Int64
}

func (r *reader) Context() context.Context { return r.ctx }

func (r *reader) Send(*thistledownv1.RankWindowsResponse) error {
	if r.got.Load() == r.reads {
		<-r.ctx.Done() // as flow control does
		return r.ctx.Err()
	}
	r.got.Add(1)
	return nil
}

// Whoever stops reading loses its call, and the long calls' one place is free again.
func TestSlowReaderHoldsNobodyUp(t *testing.T) {
	s, call := working(t)
	s.stall = 200 * time.Millisecond
	p := largest()
	p.Schedule.Step = "10 min"
	p.Sampling.FlightsPerScramble = proto.Uint32(256) // a long call all the same
	ctx, stop := context.WithCancel(call)
	defer stop()
	slow := &reader{ctx: ctx, reads: 2}
	err := s.RankWindows(&thistledownv1.RankWindowsRequest{Plan: p}, slow)
	require.Equal(t, codes.ResourceExhausted, status.Code(err), "%v", err)
	assert.Contains(t, err.Error(), "not read for 200ms")
	assert.EqualValues(t, 2, slow.got.Load())
	leave, err := s.admit(call, longFrom)
	require.NoError(t, err)
	leave()

	quick := &reader{ctx: ctx, reads: 1 << 20}
	require.NoError(t, s.RankWindows(&thistledownv1.RankWindowsRequest{Plan: p}, quick))
	asked, err := s.plan(p)
	require.NoError(t, err)
	launches, err := s.launches(call, asked)
	require.NoError(t, err)
	assert.EqualValues(t, len(launches)+1, quick.got.Load())
	assert.GreaterOrEqual(t, flightsOf(asked, len(launches), mission.Options{}), float64(longFrom))
}

// The same over a connection: a caller who does not read a week on has as much of it as
// flow control lets lie between the two, then loses the call, and hears why once it
// reads after all.
func TestSlowReaderOverAConnection(t *testing.T) {
	s, call := working(t)
	server := NewServer(s.planner)
	server.work.stall = time.Second
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	go func() { _ = server.Serve(listener) }()
	defer server.Stop()
	const window = 64 << 10 // octets, the least that there is
	conn, err := grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithInitialWindowSize(window), grpc.WithInitialConnWindowSize(window))
	require.NoError(t, err)
	defer conn.Close()
	p := largest()
	p.Schedule.Step = "10 min"
	p.Sampling.FlightsPerScramble = proto.Uint32(128) // a long call all the same
	stream, err := thistledownv1.NewPlannerClient(conn).RankWindows(t.Context(), &thistledownv1.RankWindowsRequest{Plan: p})
	require.NoError(t, err)
	first, err := stream.Recv()
	require.NoError(t, err)

	// It reads no more until the service has taken the place back.
	within, stop := context.WithTimeout(call, 2*time.Minute)
	defer stop()
	leave, err := server.work.admit(within, longFrom)
	require.NoError(t, err)
	leave()

	read, octets := 1, proto.Size(first)
	for {
		part, err := stream.Recv()
		if err != nil {
			require.Equal(t, codes.ResourceExhausted, status.Code(err), "after %d parts of %d, %d octets: %v", read, first.GetTotal()+1, octets, err)
			assert.Contains(t, err.Error(), "not read for 1s")
			break
		}
		read, octets = read+1, octets+proto.Size(part)
	}
	t.Logf("%d parts of %d lay between the two, %d octets", read, first.GetTotal()+1, octets)
	assert.Less(t, read, int(first.GetTotal()))
}
