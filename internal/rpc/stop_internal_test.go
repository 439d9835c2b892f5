package rpc

import (
	"context"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

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
// that it does not ask after him. The plans are the usual and the largest.
func BenchmarkStop(b *testing.B) {
	s, call := working(b)
	usual := largest()
	usual.Sampling = nil
	half := largest()
	half.Sampling.FlightsPerScramble = proto.Uint32(256)
	week := largest()
	week.Sampling.Scrambles, week.Sampling.FlightsPerScramble = proto.Uint32(8), proto.Uint32(128)
	for _, c := range []struct {
		name string
		do   func(ctx context.Context) error
	}{
		{"Fly/flights=1024", func(ctx context.Context) error {
			_, err := s.Fly(ctx, &thistledownv1.FlyRequest{Plan: usual})
			return err
		}},
		{"Fly/flights=262144", func(ctx context.Context) error {
			_, err := s.Fly(ctx, &thistledownv1.FlyRequest{Plan: largest()})
			return err
		}},
		{"Fly/until,explain", func(ctx context.Context) error {
			_, err := s.Fly(ctx, &thistledownv1.FlyRequest{Plan: half, Explain: true, UntilHalfWidth: proto.Float64(0.001)})
			return err
		}},
		{"WriteReport/week", func(ctx context.Context) error {
			_, err := s.WriteReport(ctx, &thistledownv1.WriteReportRequest{Plan: week, Formats: []thistledownv1.ReportFormat{thistledownv1.ReportFormat_REPORT_FORMAT_WEEK_CSV}})
			return err
		}},
	} {
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
