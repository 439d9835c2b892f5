package rpc

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// waiting waits until so many calls wait.
func waiting(t *testing.T, a *admission, want int) {
	t.Helper()
	require.Eventually(t, func() bool { n, _ := a.waits(); return n == want }, time.Minute, time.Millisecond)
}

func TestAdmissionBounds(t *testing.T) {
	a := newAdmission(Limits{Waiting: 3, PerCaller: 4, Flights: 100_000})
	ctx, stop := context.WithCancel(t.Context())
	var group sync.WaitGroup
	hold := make(chan struct{})
	for i := range atOnce + 3 {
		group.Go(func() {
			leave, err := a.enter(ctx, fmt.Sprint("caller ", i), 1000)
			if err == nil {
				<-hold
				leave()
				leave() // which does no harm
			}
		})
	}
	waiting(t, a, 3)
	_, err := a.enter(t.Context(), "one more", 1000)
	require.Equal(t, codes.ResourceExhausted, status.Code(err), "%v", err)
	var retry *errdetails.RetryInfo
	for _, d := range status.Convert(err).Details() {
		if r, ok := d.(*errdetails.RetryInfo); ok {
			retry = r
		}
	}
	require.NotNil(t, retry, "when to come again")
	assert.GreaterOrEqual(t, retry.GetRetryDelay().AsDuration(), soonestRetry)
	assert.LessOrEqual(t, retry.GetRetryDelay().AsDuration(), latestRetry)

	// Long calls have a place of their own.
	leave, err := a.enter(t.Context(), "long", longFrom)
	require.NoError(t, err)
	leave()
	_, err = a.enter(t.Context(), "longer", 100_001)
	require.Equal(t, codes.ResourceExhausted, status.Code(err))
	assert.Contains(t, err.Error(), "want at most 100000")

	stop() // those who wait go
	waiting(t, a, 0)
	close(hold)
	group.Wait()
	_, running := a.waits()
	assert.Zero(t, running)
	assert.Empty(t, a.callers, "callers are forgotten")
	assert.Empty(t, a.short.running)
	assert.Zero(t, a.short.ahead)
}

func TestAdmissionPerCaller(t *testing.T) {
	a := newAdmission(Limits{Waiting: 100, PerCaller: 2, Flights: 100_000})
	var leaves []func()
	for range 2 {
		leave, err := a.enter(t.Context(), "greedy", 1)
		require.NoError(t, err)
		leaves = append(leaves, leave)
	}
	_, err := a.enter(t.Context(), "greedy", 1)
	require.Equal(t, codes.ResourceExhausted, status.Code(err))
	leaves[0]()
	leave, err := a.enter(t.Context(), "other", 1)
	require.NoError(t, err)
	leave()
	leaves[1]()
}

// A caller of many calls does not come before one who has none under way.
func TestAdmissionIsFair(t *testing.T) {
	a := newAdmission(Limits{Waiting: 100, PerCaller: 100, Flights: 100_000})
	first, err := a.enter(t.Context(), "many", 1)
	require.NoError(t, err)
	second, err := a.enter(t.Context(), "many", 1)
	require.NoError(t, err)
	var mutex sync.Mutex
	var order []string
	var group sync.WaitGroup
	for i, caller := range []string{"many", "many", "many", "few"} {
		group.Go(func() {
			leave, err := a.enter(t.Context(), caller, 1)
			if !assert.NoError(t, err) {
				return
			}
			mutex.Lock()
			order = append(order, caller)
			mutex.Unlock()
			leave()
		})
		waiting(t, a, i+1)
	}
	first()
	group.Wait()
	second()
	assert.Equal(t, "few", order[0], "%q", order)
}

// working is a service on the real winds, whose methods are called without a network.
func working(t testing.TB) (*service, context.Context) {
	t.Helper()
	built, err := mission.BuiltIn(geo.Box{South: -90, North: 90, West: -180, East: 180})
	require.NoError(t, err)
	c := NewCatalogue(0, "now")
	c.Put("now", Forecast{Winds: []*wind.Field{realwind.Field(t)}})
	s := &service{
		planner:   Planner{Forecasts: c, Built: built, Find: mission.Within(""), Log: slog.New(slog.DiscardHandler)},
		admission: newAdmission(DefaultLimits()), stall: sendStall,
	}
	return s, c.seeing(t.Context())
}

// largest is a plan of as many flights as there may be.
func largest() *thistledownv1.Plan {
	return &thistledownv1.Plan{
		Name:   "Test",
		Site:   &thistledownv1.Site{Name: "Field", Latitude: proto.Float64(58.2), Longitude: proto.Float64(13.0), TimeZone: "Europe/Stockholm"},
		Launch: timestamppb.New(time.Date(2017, 3, 22, 7, 0, 0, 0, time.UTC)),
		Train: &thistledownv1.Train{Measured: &thistledownv1.MeasuredTrain{
			AscentRate: "5.2 m/s ± 8 %", BurstAltitude: "27 km ± 1.5 km", LandingSpeed: "5 m/s",
		}},
		Schedule: &thistledownv1.Schedule{Hours: []string{"00:00-24:00"}},
		Sampling: &thistledownv1.Sampling{Scrambles: proto.Uint32(4), FlightsPerScramble: proto.Uint32(65536)},
	}
}
