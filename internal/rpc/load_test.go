package rpc_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// took is how long calls of one kind took.
type took struct {
	mutex   sync.Mutex
	all     []time.Duration
	refused int
}

func (t *took) add(d time.Duration, err error) {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	if status.Code(err) == codes.ResourceExhausted {
		t.refused++
		return
	}
	t.all = append(t.all, d)
}

// answered is how many calls were.
func (t *took) answered() int {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	return len(t.all)
}

// String tells the middle and the slowest hundredth.
func (t *took) String() string {
	slices.Sort(t.all)
	if len(t.all) == 0 {
		return fmt.Sprintf("none answered, %d refused", t.refused)
	}
	return fmt.Sprintf("%d answered, %d refused, p50 %v, p99 %v", len(t.all), t.refused,
		t.all[len(t.all)/2].Round(time.Millisecond), t.all[len(t.all)*99/100].Round(time.Millisecond))
}

// held is the memory in use once what can be let go was, octets.
func held() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// loadSpan is how long make load lasts; 0 where it is not that.
func loadSpan(t *testing.T) time.Duration {
	t.Helper()
	text := os.Getenv("THISTLEDOWN_LOAD")
	if text == "" {
		return 0
	}
	span, err := time.ParseDuration(text)
	require.NoError(t, err)
	return span
}

// 64 callers, three quarters of them for single launches and a quarter for weeks, while
// the forecast is swapped: nothing but refusals for want of room goes wrong, and memory
// does not grow. Six seconds, or as long as THISTLEDOWN_LOAD says (make load); where this
// machine is so slow that no call of a kind was answered by then, two minutes more at most.
func TestLoad(t *testing.T) {
	span, swap := 6*time.Second, time.Second
	if long := loadSpan(t); long > 0 {
		span, swap = long, 20*time.Second
	}
	forecasts := rpc.NewCatalogue(0, "now")
	forecasts.Put("now", rpc.Forecast{Winds: another(t)})
	server, first := started(t, rpc.Planner{Forecasts: forecasts, Limits: rpc.Limits{Waiting: 48, PerCaller: 64, Flights: 1 << 20}})
	const patience = 2 * time.Minute
	ctx, stop := context.WithTimeout(t.Context(), span+patience)
	defer stop()
	var flies, weeks took
	week := weekly()
	week.Sampling.Scrambles, week.Sampling.FlightsPerScramble = proto.Uint32(4), proto.Uint32(1024) // 53,248 flights: a long one
	var callers sync.WaitGroup
	for i := range 64 {
		client := thistledownv1.NewPlannerClient(connected(t, first.Target()))
		callers.Go(func() {
			for ctx.Err() == nil {
				began := time.Now()
				of, err := &flies, error(nil)
				if i%4 == 3 {
					of, err = &weeks, readWeek(ctx, client, week)
				} else {
					_, err = client.Fly(ctx, request())
				}
				if ctx.Err() != nil {
					return
				}
				if code := status.Code(err); code != codes.OK && !assert.Equal(t, codes.ResourceExhausted, code, "%v", err) {
					return
				}
				if of.add(time.Since(began), err); err != nil {
					time.Sleep(200 * time.Millisecond)
				}
			}
		})
	}
	var memory []uint64
	end := time.Now().Add(span)
	for next := time.Now().Add(swap); ctx.Err() == nil; {
		if time.Now().After(end) && flies.answered() > 0 && weeks.answered() > 0 {
			stop()
		}
		time.Sleep(min(swap, time.Second) / 2)
		memory = append(memory, held())
		if time.Now().After(next) {
			forecasts.Put("now", rpc.Forecast{Winds: another(t)})
			next = next.Add(swap)
		}
	}
	callers.Wait()
	t.Logf("%v on %d processors: Fly %v; RankWindows %v", span, runtime.GOMAXPROCS(0), &flies, &weeks)
	third := len(memory) / 3
	early, late := slices.Max(memory[third:2*third]), slices.Max(memory[2*third:])
	t.Logf("memory in use at most: %d MiB in the second third, %d MiB in the last", early>>20, late>>20)
	assert.Less(t, float64(late), 1.25*float64(early)+8e6, "memory grows: %d", memory)
	assert.NotEmpty(t, flies.all)
	assert.NotEmpty(t, weeks.all, "weeks go on beside single launches")

	// What bad callers leave behind: slow readers, those who go, messages too large.
	client := thistledownv1.NewPlannerClient(first)
	for range 16 {
		slow, leave := context.WithCancel(t.Context())
		stream, err := client.RankWindows(slow, &thistledownv1.RankWindowsRequest{Plan: week})
		require.NoError(t, err)
		_, _ = stream.Recv() // and then no more
		leave()
	}
	large := small()
	large.Plan.Name = strings.Repeat("x", 2<<20)
	_, err := client.Fly(t.Context(), large)
	assert.Equal(t, codes.ResourceExhausted, status.Code(err), "an oversized message: %v", err)
	require.Eventually(t, func() bool { now := server.State(); return now.Waiting+now.Running == 0 }, 2*time.Minute, 50*time.Millisecond, "calls of callers who went are still there")
	_, err = client.Fly(t.Context(), small())
	require.NoError(t, err, "the service answers as before")
}

// More callers than there is room for, first without a thought for what they are told,
// then coming again when they are told to: each refusal says when that is, and each caller
// is answered in the end. Afterwards the service is as it was. The first part goes on until
// 200 were refused, and under make load, with ten times as many, for a sixth of its time.
func TestLoadBeyondRoom(t *testing.T) {
	const enough = 200
	callers, end := 24, time.Now()
	if long := loadSpan(t); long > 0 {
		callers, end = 256, end.Add(long/6)
	}
	server, first := started(t, rpc.Planner{
		Forecasts: flownOn([]*wind.Field{realwind.Field(t)}), Limits: rpc.Limits{Waiting: 4, PerCaller: 2 * callers, Flights: 1 << 20},
	})
	client := thistledownv1.NewPlannerClient(first)
	want, err := client.Fly(t.Context(), small())
	require.NoError(t, err)
	before := held()
	ctx, stop := context.WithDeadline(t.Context(), end.Add(4*time.Minute))
	defer stop()
	var refused, answered, again atomic.Int64
	// once asks for a launch, and tells how long to wait where it was refused.
	once := func(client thistledownv1.PlannerClient) (wait time.Duration, ok bool) {
		got, err := client.Fly(ctx, small())
		if err == nil {
			answered.Add(1)
			return 0, assert.True(t, proto.Equal(want, got), "another answer than before")
		}
		if !assert.Equal(t, codes.ResourceExhausted, status.Code(err), "%v", err) {
			return 0, false
		}
		refused.Add(1)
		for _, d := range status.Convert(err).Details() {
			if retry, is := d.(*errdetails.RetryInfo); is {
				wait = retry.GetRetryDelay().AsDuration()
			}
		}
		return wait, assert.GreaterOrEqual(t, wait, time.Second) && assert.LessOrEqual(t, wait, time.Minute)
	}
	var group sync.WaitGroup
	for i := range callers {
		if i%8 == 0 { // callers share connections, which have room for them
			client = thistledownv1.NewPlannerClient(connected(t, first.Target()))
		}
		shared := client
		group.Go(func() {
			for {
				wait, ok := once(shared)
				switch {
				case !ok:
					return
				case refused.Load() < enough || time.Now().Before(end):
					continue
				case wait == 0: // it was answered
					return
				}
				again.Add(1)
				select {
				case <-time.After(wait):
				case <-ctx.Done():
					assert.Fail(t, "a caller who came again as told was never answered")
					return
				}
			}
		})
	}
	for refused.Load() == 0 && ctx.Err() == nil && !t.Failed() {
		time.Sleep(time.Millisecond)
	}
	assert.Equal(t, healthv1.HealthCheckResponse_SERVING, healthOf(t, first, serviceName), "having no room is no ill health")
	group.Wait()
	t.Logf("%d answered, %d refused; %d times a caller came again as told", answered.Load(), refused.Load(), again.Load())
	assert.GreaterOrEqual(t, refused.Load(), int64(enough))
	assert.Positive(t, again.Load(), "whoever was refused last came again")

	now := server.State()
	assert.Equal(t, refused.Load(), now.Refused, "refusals are counted")
	assert.Zero(t, now.Waiting+now.Running)
	got, err := thistledownv1.NewPlannerClient(first).Fly(t.Context(), small())
	require.NoError(t, err)
	assert.True(t, proto.Equal(want, got), "the service answers as before")
	after := held()
	t.Logf("memory in use: %d MiB before, %d MiB after", before>>20, after>>20)
	assert.Less(t, float64(after), 1.25*float64(before)+8e6, "memory grew")
}

// readWeek reads all of a week.
func readWeek(ctx context.Context, client thistledownv1.PlannerClient, p *thistledownv1.Plan) error {
	stream, err := client.RankWindows(ctx, &thistledownv1.RankWindowsRequest{Plan: p})
	for err == nil {
		_, err = stream.Recv()
	}
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// BenchmarkFly is 16 callers' launches of 1,024 flights through the service, beside the
// same launches flown without it by as many goroutines as are let in at once.
func BenchmarkFly(b *testing.B) {
	winds := []*wind.Field{realwind.Field(b)}
	built, err := mission.BuiltIn(geo.Box{South: -90, North: 90, West: -180, East: 180})
	require.NoError(b, err)
	forecasts := rpc.NewCatalogue(0, "now")
	forecasts.Put("now", rpc.Forecast{Winds: winds})
	_, conn := started(b, rpc.Planner{Forecasts: forecasts, Built: built})
	client := thistledownv1.NewPlannerClient(conn)
	p, err := plan.Check(request().GetPlan())
	require.NoError(b, err)
	for _, c := range []struct {
		name    string
		callers int
		fly     func() error
	}{
		{"service/callers=16", 16, func() error { _, err := client.Fly(b.Context(), request()); return err }},
		{"alone/callers=2", 2, func() error {
			worlds, err := mission.WorldsOver(b.Context(), []plan.Plan{p}, mission.World{Winds: winds}, built, mission.Within(""))
			if err == nil {
				_, err = mission.Fly(b.Context(), worlds[p.Site.At], p, mission.Options{})
			}
			return err
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			var all took
			var group sync.WaitGroup
			turns := make(chan struct{}, b.N)
			for range b.N {
				turns <- struct{}{}
			}
			close(turns)
			began := time.Now()
			for range c.callers {
				group.Go(func() {
					for range turns {
						start := time.Now()
						err := c.fly()
						if err != nil {
							b.Error(err)
							return
						}
						all.add(time.Since(start), nil)
					}
				})
			}
			group.Wait()
			slices.Sort(all.all)
			b.ReportMetric(float64(b.N)*1024/time.Since(began).Seconds(), "flights/s")
			b.ReportMetric(float64(all.all[len(all.all)/2].Microseconds())/1000, "p50-ms")
			b.ReportMetric(float64(all.all[len(all.all)*99/100].Microseconds())/1000, "p99-ms")
		})
	}
}
