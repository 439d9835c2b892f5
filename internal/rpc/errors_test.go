package rpc_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"regexp"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

func assertCode(t *testing.T, want codes.Code, err error) {
	t.Helper()
	assert.Equal(t, want, status.Code(err), "%v", err)
}

// detail is the one detail of a kind that an error carries.
func detail[D proto.Message](t *testing.T, err error) D {
	t.Helper()
	var found []D
	for _, d := range status.Convert(err).Details() {
		if one, ok := d.(D); ok {
			found = append(found, one)
		}
	}
	require.Len(t, found, 1, "%v", err)
	return found[0]
}

// violated is the fields that an INVALID_ARGUMENT names.
func violated(t *testing.T, err error) []string {
	t.Helper()
	require.Equal(t, codes.InvalidArgument, status.Code(err), "%v", err)
	var fields []string
	for _, v := range detail[*errdetails.BadRequest](t, err).GetFieldViolations() {
		fields = append(fields, v.GetField())
		assert.NotEmpty(t, v.GetDescription())
	}
	return fields
}

// What the forecast does not reach is refused with what it does reach, by gRPC and in
// JSON.
func TestBeyondTheForecastSaysWhatThereIs(t *testing.T) {
	connection := dial(t, realwind.Field(t), "")
	handler, err := rpc.NewGateway(connection, nil)
	require.NoError(t, err)
	server := httptest.NewServer(handler)
	defer server.Close()
	late, pole := request(), request()
	late.Plan.Launch = timestamppb.New(time.Date(2017, 3, 25, 0, 0, 0, 0, time.UTC))
	pole.Plan.Site.Latitude = proto.Float64(-89.8)
	for _, c := range []struct {
		ask             *thistledownv1.FlyRequest
		code            codes.Code
		reason, subject string
	}{
		{late, codes.OutOfRange, "FORECAST_NOT_THEN", "plan.launch"},
		{pole, codes.FailedPrecondition, "FORECAST_NOT_HERE", "plan.site"},
	} {
		_, byGRPC := thistledownv1.NewPlannerClient(connection).Fly(t.Context(), c.ask)
		answer, text := post(t, server.URL+"/v1/fly", asJSON(t, c.ask))
		assert.Equal(t, http.StatusBadRequest, answer.StatusCode)
		for _, err := range []error{byGRPC, status.FromProto(told(t, text)).Err()} {
			assertCode(t, c.code, err)
			info := detail[*errdetails.ErrorInfo](t, err)
			assert.Equal(t, c.reason, info.GetReason())
			assert.Equal(t, "thistledown", info.GetDomain())
			// The forecast of 22 March 2017 is of the whole Earth.
			assert.Equal(t, map[string]string{
				"south": "-90", "north": "90", "west": "-180", "east": "180",
				"first": "2017-03-22T00:00:00Z", "last": "2017-03-22T12:00:00Z", "cycle": "2017-03-22T00:00:00Z",
			}, info.GetMetadata())
			violations := detail[*errdetails.PreconditionFailure](t, err).GetViolations()
			require.Len(t, violations, 1)
			assert.Equal(t, c.subject, violations[0].GetSubject())
			assert.Contains(t, violations[0].GetDescription(), "want")
		}
	}
}

// logged is a log that may be read while it is written.
type logged struct {
	mutex sync.Mutex
	text  bytes.Buffer
}

func (l *logged) Write(b []byte) (int, error) {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.Write(b)
}

func (l *logged) String() string {
	l.mutex.Lock()
	defer l.mutex.Unlock()
	return l.text.String()
}

// failing is a service whose files cannot be found for a reason of its own, and the
// log of it.
func failing(t *testing.T, find func(string) (string, error)) (*grpc.ClientConn, *logged) {
	t.Helper()
	log := &logged{}
	_, client := started(t, rpc.Planner{
		Forecasts: flownOn([]*wind.Field{realwind.Field(t)}), Find: find, Log: slog.New(slog.NewTextHandler(log, nil)),
	})
	return client, log
}

// A bug of the service reaches the log beside the request's id, and of it nothing but
// the id the caller.
func TestNothingInternalIsTold(t *testing.T) {
	connection, log := failing(t, func(string) (string, error) { panic("secret of the inside") })
	client := thistledownv1.NewPlannerClient(connection)
	layered := request()
	layered.Plan.Ground = &thistledownv1.Ground{Layers: []*thistledownv1.Layer{{Name: "x", Class: proto.String("forest"), File: "woods.geojson"}}}
	ctx := metadata.AppendToOutgoingContext(t.Context(), "x-request-id", "club-7")
	var header metadata.MD
	_, err := client.Fly(ctx, layered, grpc.Header(&header))
	assertCode(t, codes.Internal, err)
	assert.Equal(t, "internal error", status.Convert(err).Message())
	assert.Equal(t, "club-7", detail[*errdetails.RequestInfo](t, err).GetRequestId())
	assert.Equal(t, []string{"club-7"}, header.Get("x-request-id"))
	assert.Contains(t, log.String(), "request=club-7")
	assert.Contains(t, log.String(), "secret of the inside")
	assert.NotContains(t, status.Convert(err).Proto().String(), "secret")

	stream, err := client.RankWindows(ctx, &thistledownv1.RankWindowsRequest{Plan: layered.Plan})
	require.NoError(t, err)
	_, err = stream.Recv()
	assertCode(t, codes.Internal, err)
	assert.NotContains(t, status.Convert(err).Proto().String(), "secret")
	for _, method := range []string{"Fly", "RankWindows"} {
		told := regexp.MustCompile(`msg=call request=club-7 method=/thistledown.v1.Planner/` + method + ` caller=127.0.0.1 code=(\w+) `)
		require.Eventually(t, func() bool { return told.MatchString(log.String()) }, time.Minute, time.Millisecond, "%s", method)
		assert.Equal(t, "Internal", told.FindStringSubmatch(log.String())[1], method)
	}

	handler, err := rpc.NewGateway(connection, nil)
	require.NoError(t, err)
	server := httptest.NewServer(handler)
	defer server.Close()
	answer, text := post(t, server.URL+"/v1/fly", asJSON(t, layered), "X-Request-Id", "club-8")
	assert.Equal(t, http.StatusInternalServerError, answer.StatusCode)
	assert.Equal(t, "club-8", answer.Header.Get("X-Request-Id"))
	assert.NotContains(t, string(text), "secret")
	assert.Contains(t, string(text), "club-8")

	// Each call that panicked has given its place back: more of them than there are places
	// hold up nobody.
	track := drifting(t, 2)
	told := ruled()
	told.Ground = layered.GetPlan().GetGround()
	soon, stop := context.WithTimeout(ctx, time.Minute)
	defer stop()
	for range 2 {
		_, err = client.Narrow(soon, &thistledownv1.NarrowRequest{Plan: layered.GetPlan(), Track: track})
		assertCode(t, codes.Internal, err)
		_, err = client.Search(soon, &thistledownv1.SearchRequest{Plan: layered.GetPlan(), Track: track})
		assertCode(t, codes.Internal, err)
		_, err = client.WriteNotice(soon, &thistledownv1.WriteNoticeRequest{Plan: told, Stage: "before"})
		assertCode(t, codes.Internal, err)
	}
	_, err = client.Fly(soon, request())
	assert.NoError(t, err, "the service is still there")
}

// A request's id that could forge a line of the log is not taken over.
func TestRequestIDs(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	ask := func(given ...string) string {
		ctx := t.Context()
		for _, id := range given {
			ctx = metadata.AppendToOutgoingContext(ctx, "x-request-id", id)
		}
		var header metadata.MD
		_, err := client.ListForecasts(ctx, &thistledownv1.ListForecastsRequest{}, grpc.Header(&header))
		require.NoError(t, err)
		require.Len(t, header.Get("x-request-id"), 1)
		return header.Get("x-request-id")[0]
	}
	long := string(bytes.Repeat([]byte("x"), 64))
	for _, good := range []string{"a", "Morning-1.b_c", long} {
		assert.Equal(t, good, ask(good))
	}
	for _, bad := range []string{"", "a b", "a=b", `"`, long + "x"} {
		made := ask(bad)
		assert.NotEqual(t, bad, made)
		assert.NotEmpty(t, made)
	}
	assert.NotEqual(t, ask(), ask())
	assert.NotEqual(t, "b", ask("a", "b"))
}

// A caller whose time is up, or who went away, hears so in either form.
func TestTimeIsUp(t *testing.T) {
	client := thistledownv1.NewPlannerClient(dial(t, realwind.Field(t), ""))
	long := request()
	long.Plan.Sampling = &thistledownv1.Sampling{Scrambles: proto.Uint32(4), FlightsPerScramble: proto.Uint32(65536)}
	ctx, cancel := context.WithCancelCause(t.Context())
	time.AfterFunc(50*time.Millisecond, func() { cancel(errors.New("gone")) })
	_, err := client.Fly(ctx, long)
	assertCode(t, codes.Canceled, err)
	answer, text := post(t, web(t)+"/v1/fly", asJSON(t, long), "Grpc-Timeout", "50m")
	assert.Equal(t, http.StatusGatewayTimeout, answer.StatusCode)
	assertCode(t, codes.DeadlineExceeded, status.FromProto(told(t, text)).Err())
}
