package rpc_test

import (
	"context"
	"io"
	"log/slog"
	"net"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// started is a server on loopback that ends with the test, and a connection to it.
func started(t testing.TB, p rpc.Planner) (*rpc.Server, *grpc.ClientConn) {
	t.Helper()
	var err error
	if p.Built == nil {
		p.Built, err = mission.BuiltIn(geo.Box{South: -90, North: 90, West: -180, East: 180})
		require.NoError(t, err)
	}
	if p.Find == nil {
		p.Find = mission.Within("")
	}
	if p.Log == nil {
		p.Log = slog.New(slog.NewTextHandler(io.Discard, nil))
	}
	p.Version = "test"
	server := rpc.NewServer(p)
	return server, connected(t, listening(t, server.Serve, server.Stop))
}

// listening is where a server is reached on loopback until the test ends.
func listening(t testing.TB, serve func(net.Listener) error, stop func()) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	go func() { _ = serve(listener) }()
	t.Cleanup(stop)
	return listener.Addr().String()
}

// connected is a connection that ends with the test.
func connected(t testing.TB, address string, with ...grpc.DialOption) *grpc.ClientConn {
	t.Helper()
	client, err := grpc.NewClient(address, append(with, grpc.WithTransportCredentials(insecure.NewCredentials()))...)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, client.Close()) })
	return client
}

// another is the real forecast again, in memory of its own.
func another(t testing.TB) []*wind.Field {
	t.Helper()
	fields, _, err := mission.Forecast(context.Background(), realwind.Files(t), nil, wind.Part{Box: geo.Box{South: 50, North: 65, West: 0, East: 30}})
	require.NoError(t, err)
	return fields
}

// healthOf is the health of a service, or of the server as a whole.
func healthOf(t *testing.T, client *grpc.ClientConn, name string) healthv1.HealthCheckResponse_ServingStatus {
	t.Helper()
	got, err := healthv1.NewHealthClient(client).Check(t.Context(), &healthv1.HealthCheckRequest{Service: name})
	require.NoError(t, err)
	return got.GetStatus()
}

// small is a request of few flights.
func small() *thistledownv1.FlyRequest {
	r := request()
	r.Plan.Sampling = &thistledownv1.Sampling{Scrambles: proto.Uint32(2), FlightsPerScramble: proto.Uint32(32)}
	return r
}

const serviceName = "thistledown.v1.Planner"

// A forecast that was replaced stays with the call that began on it, is used by no
// later one, and is let go when that call has ended, not before.
func TestForecastsTurnOver(t *testing.T) {
	forecasts := rpc.NewCatalogue(0, "now")
	_, conn := started(t, rpc.Planner{Forecasts: forecasts})
	client := thistledownv1.NewPlannerClient(conn)

	_, err := client.Fly(t.Context(), request())
	require.Equal(t, codes.Unavailable, status.Code(err), "before there is a forecast: %v", err)

	old := another(t)
	var gone atomic.Bool
	runtime.AddCleanup(old[0], func(*struct{}) { gone.Store(true) }, nil)
	forecasts.Put("now", rpc.Forecast{Winds: old, Warnings: []string{"This is the old one."}})
	old = nil //nolint:ineffassign,wastedassign // the test itself holds it no longer

	// A week of many launch times, of which the first arrives: it flies on the old one.
	long := weekly()
	long.Schedule.Step = "10 min"
	stream, err := client.RankWindows(t.Context(), &thistledownv1.RankWindowsRequest{Plan: long})
	require.NoError(t, err)
	first, err := stream.Recv()
	require.NoError(t, err)
	assert.Contains(t, first.GetWindow().GetAnswer().GetWarnings(), "This is the old one.")

	forecasts.Put("now", rpc.Forecast{Winds: another(t), Warnings: []string{"This is the new one."}})
	got, err := client.Fly(t.Context(), request())
	require.NoError(t, err)
	assert.Contains(t, got.GetWarnings(), "This is the new one.")
	assert.NotContains(t, got.GetWarnings(), "This is the old one.")
	assert.Equal(t, realwind.Field(t).Cycle(), got.GetForecast().GetCycle().AsTime(), "the answer names its cycle")

	windows := 1
	for {
		part, err := stream.Recv()
		require.NoError(t, err)
		if part.GetRanking() != nil {
			break
		}
		if windows++; part.GetWindow().GetAnswer() != nil {
			require.Contains(t, part.GetWindow().GetAnswer().GetWarnings(), "This is the old one.", "window %d", windows)
		}
		require.False(t, gone.Load(), "let go while a call flies on it")
	}
	require.Greater(t, windows, 5)
	_, err = stream.Recv()
	require.ErrorIs(t, err, io.EOF)
	assert.Eventually(t, func() bool { runtime.GC(); return gone.Load() }, time.Minute, 10*time.Millisecond, "the old forecast is still held")
}

// Callers that fly while forecasts are swapped under them see one or the other, whole.
func TestSwapUnderLoad(t *testing.T) {
	forecasts := rpc.NewCatalogue(0, "now")
	two := [2][]*wind.Field{another(t), another(t)}
	put := func(i int) {
		forecasts.Put("now", rpc.Forecast{Winds: two[i%2], Warnings: []string{[]string{"Even.", "Odd."}[i%2]}})
	}
	put(0)
	_, conn := started(t, rpc.Planner{Forecasts: forecasts})
	client := thistledownv1.NewPlannerClient(conn)
	ctx, stop := context.WithTimeout(t.Context(), time.Minute) // where the machine is that slow
	defer stop()
	var callers sync.WaitGroup
	var seen [2]atomic.Int64
	for range 4 {
		callers.Go(func() {
			for ctx.Err() == nil {
				got, err := client.Fly(t.Context(), small())
				if !assert.NoError(t, err) {
					return
				}
				count := 0
				for _, w := range got.GetWarnings() {
					switch w {
					case "Even.":
						count++
						seen[0].Add(1)
					case "Odd.":
						count++
						seen[1].Add(1)
					}
				}
				assert.Equal(t, 1, count, "an answer of one forecast: %q", got.GetWarnings())
			}
		})
	}
	began := time.Now()
	for i := 1; ctx.Err() == nil; i++ {
		put(i)
		time.Sleep(20 * time.Millisecond)
		if time.Since(began) > 2*time.Second && seen[0].Load() > 0 && seen[1].Load() > 0 {
			stop()
		}
	}
	callers.Wait()
	assert.Positive(t, seen[0].Load())
	assert.Positive(t, seen[1].Load())
}

func TestHealthFollowsTheForecast(t *testing.T) {
	built, err := mission.BuiltIn(realwind.Field(t).Grid().Box())
	require.NoError(t, err)
	age := time.Since(realwind.Field(t).Cycle())
	forecasts := rpc.NewCatalogue(age+24*time.Hour, "now")
	_, conn := started(t, rpc.Planner{Forecasts: forecasts, Built: built})
	for _, name := range []string{"", serviceName} {
		assert.Equal(t, healthv1.HealthCheckResponse_NOT_SERVING, healthOf(t, conn, name), "%q before there is a forecast", name)
	}
	forecasts.Put("now", rpc.Forecast{Winds: []*wind.Field{realwind.Field(t)}})
	for _, name := range []string{"", serviceName} {
		assert.Equal(t, healthv1.HealthCheckResponse_SERVING, healthOf(t, conn, name), "%q with one", name)
	}
	got, err := thistledownv1.NewPlannerClient(conn).Fly(t.Context(), small())
	require.NoError(t, err)
	assert.NotContains(t, got.GetWarnings()[0], "h old")

	// How it comes to be too old while it is served: TestAForecastGrowsTooOld.
	forecasts = rpc.NewCatalogue(age-24*time.Hour, "now")
	_, conn = started(t, rpc.Planner{Forecasts: forecasts, Built: built})
	forecasts.Put("now", rpc.Forecast{Winds: []*wind.Field{realwind.Field(t)}})
	assert.Equal(t, healthv1.HealthCheckResponse_NOT_SERVING, healthOf(t, conn, serviceName), "the newest is too old")
	got, err = thistledownv1.NewPlannerClient(conn).Fly(t.Context(), small())
	require.NoError(t, err)
	assert.Contains(t, got.GetWarnings()[0], "h old, more than the", "an old forecast is flown on, and told")

	fresh := rpc.NewCatalogue(0, "now")
	fresh.Put("now", rpc.Forecast{Winds: []*wind.Field{realwind.Field(t)}})
	server, conn := started(t, rpc.Planner{Forecasts: fresh})
	assert.Equal(t, healthv1.HealthCheckResponse_SERVING, healthOf(t, conn, ""))
	server.Leaving()
	fresh.Put("now", rpc.Forecast{Winds: []*wind.Field{realwind.Field(t)}}) // comes too late
	for _, name := range []string{"", serviceName} {
		assert.Equal(t, healthv1.HealthCheckResponse_NOT_SERVING, healthOf(t, conn, name), "%q while it leaves", name)
	}
}

func TestForecastsByName(t *testing.T) {
	forecasts := rpc.NewCatalogue(0, "first", "second", "third")
	forecasts.Put("first", rpc.Forecast{Winds: []*wind.Field{realwind.Field(t)}, Warnings: []string{"First."}})
	forecasts.Put("second", rpc.Forecast{Winds: []*wind.Field{realwind.Field(t)}, Warnings: []string{"Second."}})
	_, conn := started(t, rpc.Planner{Forecasts: forecasts})
	client := thistledownv1.NewPlannerClient(conn)
	for _, c := range []struct {
		name, want string
		code       codes.Code
	}{
		{"", "First.", codes.OK},
		{"second", "Second.", codes.OK},
		{"third", "forecast third: not loaded yet", codes.Unavailable},
		{"../second", `forecast.name: "../second": want one of this service's: first, second, third`, codes.InvalidArgument},
		{"https://example.org/x", "want one of this service's", codes.InvalidArgument},
	} {
		ask := small()
		ask.Plan.Forecast = &thistledownv1.ForecastChoice{Name: c.name}
		got, err := client.Fly(t.Context(), ask)
		require.Equal(t, c.code, status.Code(err), "%q: %v", c.name, err)
		if err != nil {
			assert.Contains(t, err.Error(), c.want)
			continue
		}
		assert.Contains(t, got.GetWarnings(), c.want)
	}
	list, err := client.ListForecasts(t.Context(), &thistledownv1.ListForecastsRequest{})
	require.NoError(t, err)
	require.Len(t, list.GetForecasts(), 2)
	assert.Equal(t, "second", list.GetForecasts()[1].GetName())
}
