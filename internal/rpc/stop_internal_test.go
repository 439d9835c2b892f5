package rpc

import (
	"context"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// longCall is one that goes on for a while.
type longCall struct {
	name string
	do   func(ctx context.Context) error
}

// longCalls are launches of the usual and of as many flights as there may be, without and
// with causes and half-widths, and a week.
func longCalls(s *service) []longCall {
	flown := func(name string, scrambles, each uint32, causes bool) longCall {
		ask := &thistledownv1.FlyRequest{Plan: largest(), Explain: causes}
		ask.Plan.Sampling.Scrambles, ask.Plan.Sampling.FlightsPerScramble = &scrambles, &each
		if causes {
			ask.UntilHalfWidth = proto.Float64(0.001)
		}
		return longCall{name, func(ctx context.Context) error {
			_, err := s.Fly(ctx, ask)
			return err
		}}
	}
	many := largest()
	many.Sampling.Scrambles, many.Sampling.FlightsPerScramble = proto.Uint32(8), proto.Uint32(1024)
	return []longCall{
		flown("Fly/flights=1024", 8, 128, false),
		flown("Fly/flights=262144", 4, 65536, false),
		flown("Fly/flights=262144,causes", 4, 65536, true),
		flown("Fly/until,causes", 4, 256, true),
		{"WriteReport/week", func(ctx context.Context) error {
			_, err := s.WriteReport(ctx, &thistledownv1.WriteReportRequest{Plan: many, Formats: []thistledownv1.ReportFormat{thistledownv1.ReportFormat_REPORT_FORMAT_WEEK_CSV}})
			return err
		}},
	}
}

// Whoever goes away in the midst of a call, at any moment of it, leaves nothing under way.
// How long it took is told and not held, as this machine may be shared: flying stops within
// a block of flights, what is worked out of them within a step; BenchmarkStop has the longest.
func TestCancelStopsTheWork(t *testing.T) {
	s, call := working(t)
	for _, c := range longCalls(s) {
		var late []time.Duration
		for i := range 12 {
			ctx, stop := context.WithCancel(call)
			went := make(chan time.Time, 1)
			time.AfterFunc(time.Duration(20+i*170)*time.Millisecond, func() { went <- time.Now(); stop() })
			err := c.do(ctx)
			ended := time.Now()
			if err == nil { // it was done before
				stop()
				break
			}
			require.ErrorIs(t, err, context.Canceled, "%s", c.name)
			late = append(late, ended.Sub(<-went))
		}
		slices.Sort(late)
		t.Logf("%s: ended after the caller by %v", c.name, late)
		waits, running := s.admission.waits()
		assert.Zero(t, waits+running, c.name)
	}
}

// watched is a context that keeps how long at most it was not asked whether it is done.
type watched struct {
	context.Context
	mutex   sync.Mutex
	last    time.Time
	longest time.Duration
}

func (w *watched) Err() error {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	now := time.Now()
	w.longest, w.last = max(w.longest, now.Sub(w.last)), now
	return w.Context.Err()
}

// BenchmarkStop is how long at most a call goes on once its caller has gone: the longest
// that it does not ask after him.
func BenchmarkStop(b *testing.B) {
	s, call := working(b)
	for _, c := range longCalls(s) {
		b.Run(c.name, func(b *testing.B) {
			longest := time.Duration(0)
			for b.Loop() {
				w := &watched{Context: call, last: time.Now()}
				require.NoError(b, c.do(w))
				require.NoError(b, w.Err()) // the last part, too
				longest = max(longest, w.longest)
			}
			b.ReportMetric(float64(longest.Microseconds())/1000, "longest-ms")
		})
	}
}
