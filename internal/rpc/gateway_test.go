package rpc_test

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	statuspb "google.golang.org/genproto/googleapis/rpc/status"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// web starts a gateway to a service of the real winds on loopback, and gives its URL.
func web(t *testing.T, origins ...string) string {
	t.Helper()
	handler, err := rpc.NewGateway(dial(t, realwind.Field(t), ""), origins)
	require.NoError(t, err)
	server := httptest.NewServer(handler)
	t.Cleanup(server.Close)
	return server.URL
}

// post sends a body, with headers as name and value in turn, and gives the answer
// read to its end.
func post(t *testing.T, url, body string, headers ...string) (*http.Response, []byte) {
	t.Helper()
	return send(t, http.MethodPost, url, body, headers...)
}

func send(t *testing.T, method, url, body string, headers ...string) (*http.Response, []byte) {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, url, strings.NewReader(body))
	require.NoError(t, err)
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	answer, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return answer, text
}

// asJSON is a message as a caller writes it.
func asJSON(t *testing.T, m proto.Message) string {
	t.Helper()
	text, err := protojson.Marshal(m)
	require.NoError(t, err)
	return string(text)
}

// told is an error as the gateway tells it.
func told(t *testing.T, text []byte) *statuspb.Status {
	t.Helper()
	st := &statuspb.Status{}
	require.NoError(t, protojson.Unmarshal(text, st), "%.300s", text)
	return st
}

// JSON brings the same answer as gRPC.
func TestGatewaySaysWhatTheServiceSays(t *testing.T) {
	connection := dial(t, realwind.Field(t), "")
	handler, err := rpc.NewGateway(connection, nil)
	require.NoError(t, err)
	server := httptest.NewServer(handler)
	defer server.Close()
	want, err := thistledownv1.NewPlannerClient(connection).Fly(t.Context(), request())
	require.NoError(t, err)

	answer, text := post(t, server.URL+"/v1/fly", asJSON(t, request()), "X-Request-Id", "morning-1")
	require.Equal(t, http.StatusOK, answer.StatusCode, "%.300s", text)
	assert.Equal(t, "application/json", answer.Header.Get("Content-Type"))
	assert.Equal(t, "morning-1", answer.Header.Get("X-Request-Id"))
	assert.Contains(t, string(text), `"landing_speed_mean_m_s"`, "names as in the schema")
	got := &thistledownv1.FlyResponse{}
	require.NoError(t, protojson.Unmarshal(text, got))
	assert.True(t, proto.Equal(want, got))
}

// A week comes as one object a line, each as it is done, and the ranking last.
func TestGatewayStreamsLines(t *testing.T) {
	ask := &thistledownv1.RankWindowsRequest{Plan: weekly()}
	answer, text := post(t, web(t)+"/v1/week", asJSON(t, ask))
	require.Equal(t, http.StatusOK, answer.StatusCode, "%.300s", text)
	assert.Equal(t, "application/x-ndjson", answer.Header.Get("Content-Type"))
	assert.NotEmpty(t, answer.Header.Get("X-Request-Id"))
	lines := bufio.NewScanner(bytes.NewReader(text))
	lines.Buffer(nil, 1<<20)
	var last *thistledownv1.RankWindowsResponse
	count := uint32(0)
	for lines.Scan() {
		var line struct{ Result json.RawMessage }
		require.NoError(t, json.Unmarshal(lines.Bytes(), &line))
		last = &thistledownv1.RankWindowsResponse{}
		require.NoError(t, protojson.Unmarshal(line.Result, last))
		count++
	}
	require.NoError(t, lines.Err())
	assert.Equal(t, last.GetTotal()+1, count)
	assert.Len(t, last.GetRanking().GetWindows(), int(last.GetTotal()))
}

func TestGatewayErrors(t *testing.T) {
	url := web(t)
	good := asJSON(t, request())
	for _, c := range []struct {
		name, path, body string
		status           int
		code             codes.Code
		says             string
	}{
		{"nothing", "/v1/fly", "", 400, codes.InvalidArgument, "body: empty"},
		{"no JSON", "/v1/fly", "plan: x", 400, codes.InvalidArgument, "body: no JSON"},
		{"two objects", "/v1/fly", good + good, 400, codes.InvalidArgument, "or more than one object"},
		{"deep", "/v1/fly", strings.Repeat(`{"plan":`, 20000) + "{}" + strings.Repeat("}", 20000), 400, codes.InvalidArgument, "body: no JSON"},
		{"unknown field", "/v1/fly", `{"plane":{}}`, 400, codes.InvalidArgument, `unknown field "plane"`},
		{"twice", "/v1/fly", `{"explain":true,"explain":true}`, 400, codes.InvalidArgument, `duplicate field "explain"`},
		{"wrong kind", "/v1/fly", `{"explain":"yes"}`, 400, codes.InvalidArgument, "bool"},
		{"NaN", "/v1/fly", strings.Replace(good, "58.2", `"NaN"`, 1), 400, codes.InvalidArgument, "latitude"},
		{"infinity", "/v1/fly", strings.Replace(good, "58.2", `"Infinity"`, 1), 400, codes.InvalidArgument, "latitude"},
		{"a number too large", "/v1/fly", strings.Replace(good, "58.2", `1e400`, 1), 400, codes.InvalidArgument, "1e400"},
		{"no plan", "/v1/fly", "{}", 400, codes.InvalidArgument, "plan"},
		{"too late", "/v1/fly", strings.Replace(good, "2017-03-22", "2027-03-22", 1), 400, codes.OutOfRange, "after the forecast's last time"},
		{"pole", "/v1/fly", strings.Replace(good, "58.2", "89.9", 1), 400, codes.FailedPrecondition, "pole"},
		{"too large", "/v1/fly", `{"plan":{"name":"` + strings.Repeat("x", 5<<20) + `"}}`, 413, codes.ResourceExhausted, "body: more than 4 MiB"},
		{"no such method", "/v1/flee", good, 404, codes.NotFound, "Not Found"},
		{"unknown format", "/v1/report", strings.Replace(good, "{", `{"formats":["REPORT_FORMAT_STONE"],`, 1), 400, codes.InvalidArgument, "formats"},
		{"format of another number", "/v1/report", strings.Replace(good, "{", `{"formats":[77],`, 1), 400, codes.InvalidArgument, "formats[0]"},
		{"no such format", "/v1/report", strings.Replace(good, "{", `{"formats":[0],`, 1), 400, codes.InvalidArgument, "formats[0]"},
		{"no files", "/v1/report", good, 400, codes.InvalidArgument, "formats"},
		{"measured", "/v1/vary", good, 400, codes.InvalidArgument, "train.measured"},
		{"a week after a stream's error", "/v1/week", "{}", 400, codes.InvalidArgument, "plan"},
	} {
		answer, text := post(t, url+c.path, c.body)
		assert.Equal(t, c.status, answer.StatusCode, "%s: %.300s", c.name, text)
		assert.Equal(t, "application/json", answer.Header.Get("Content-Type"), c.name)
		if c.path == "/v1/week" { // which streams, an error too
			text = bytes.TrimSuffix(bytes.TrimPrefix(text, []byte(`{"error":`)), []byte("}\n"))
		}
		st := told(t, text)
		assert.Equal(t, int32(c.code), st.GetCode(), c.name) //nolint:gosec // codes are few
		assert.Contains(t, st.GetMessage(), c.says, c.name)
		assert.NotContains(t, st.GetMessage(), "proto:", c.name)
		if c.code == codes.InvalidArgument {
			require.Len(t, st.GetDetails(), 1, c.name)
			bad := &errdetails.BadRequest{}
			require.NoError(t, st.GetDetails()[0].UnmarshalTo(bad), c.name)
			assert.NotEmpty(t, bad.GetFieldViolations(), c.name)
		}
	}
	answer, text := send(t, http.MethodGet, url+"/v1/fly", "")
	assert.Equal(t, http.StatusNotImplemented, answer.StatusCode, "%s", text)
	answer, text = post(t, url+"/v1/fly", good, "Grpc-Timeout", "1m") // a thousandth of a second
	assert.Equal(t, http.StatusGatewayTimeout, answer.StatusCode, "%s", text)
	assert.Equal(t, int32(codes.DeadlineExceeded), told(t, text).GetCode())
}

// Pages of foreign origins are refused before any work, those of named ones let in.
func TestGatewayOrigins(t *testing.T) {
	url := web(t, "https://club.example")
	body := asJSON(t, request())
	preflight := []string{"Access-Control-Request-Method", "POST", "Access-Control-Request-Headers", "authorization,content-type"}
	for _, origin := range []string{"https://club.example", url} {
		answer, _ := send(t, http.MethodOptions, url+"/v1/fly", "", append(preflight, "Origin", origin)...)
		assert.Equal(t, http.StatusNoContent, answer.StatusCode)
		assert.Equal(t, origin, answer.Header.Get("Access-Control-Allow-Origin"))
		assert.Contains(t, answer.Header.Get("Access-Control-Allow-Headers"), "Authorization")
		answer, _ = post(t, url+"/v1/fly", body, "Origin", origin)
		assert.Equal(t, http.StatusOK, answer.StatusCode)
		assert.Equal(t, "Origin", answer.Header.Get("Vary"))
	}
	for _, origin := range []string{"https://elsewhere.example", "http://club.example", "https://club.example.elsewhere.example", "https://club.example:444", "null"} {
		answer, text := post(t, url+"/v1/fly", body, "Origin", origin)
		assert.Equal(t, http.StatusForbidden, answer.StatusCode, origin)
		assert.Empty(t, answer.Header.Get("Access-Control-Allow-Origin"), origin)
		assert.Equal(t, int32(codes.PermissionDenied), told(t, text).GetCode())
	}
	answer, _ := post(t, web(t, "*")+"/v1/size", "{}", "Origin", "https://elsewhere.example")
	assert.Equal(t, "https://elsewhere.example", answer.Header.Get("Access-Control-Allow-Origin"))
	for _, wrong := range []string{"club.example", "https://club.example/", "https://club.example/page", "ftp://club.example", "https://", ""} {
		_, err := rpc.NewGateway(nil, []string{wrong})
		assert.ErrorContains(t, err, "want scheme and host alone", wrong)
	}
}

// busy is a service that has no room, and keeps what it was told besides the request.
type busy struct {
	thistledownv1.UnimplementedPlannerServer
	asked chan metadata.MD
}

func (b busy) Fly(ctx context.Context, _ *thistledownv1.FlyRequest) (*thistledownv1.FlyResponse, error) {
	md, _ := metadata.FromIncomingContext(ctx)
	b.asked <- md
	st, err := status.New(codes.ResourceExhausted, "busy").WithDetails(&errdetails.RetryInfo{RetryDelay: durationpb.New(2500 * time.Millisecond)})
	if err != nil {
		return nil, err
	}
	return nil, st.Err()
}

// The token and the request's id go on to the service, other headers do not; when to try
// again comes back in the details and in the header that browsers know.
func TestGatewayForwards(t *testing.T) {
	server := grpc.NewServer()
	asked := make(chan metadata.MD, 1)
	thistledownv1.RegisterPlannerServer(server, busy{asked: asked})
	client := connected(t, listening(t, server.Serve, server.Stop))
	handler, err := rpc.NewGateway(client, nil)
	require.NoError(t, err)
	web := httptest.NewServer(handler)
	defer web.Close()

	answer, text := post(t, web.URL+"/v1/fly", "{}", "Authorization", "Bearer abc", "X-Request-Id", "r-1", "Cookie", "a=b", "Grpc-Metadata-Admin", "yes")
	got := <-asked
	assert.Equal(t, []string{"Bearer abc"}, got.Get("authorization"))
	assert.Equal(t, []string{"r-1"}, got.Get("x-request-id"))
	for _, name := range []string{"cookie", "admin", "grpc-metadata-admin", "grpcgateway-cookie"} {
		assert.Empty(t, got.Get(name), name)
	}
	assert.Equal(t, http.StatusTooManyRequests, answer.StatusCode)
	assert.Equal(t, "3", answer.Header.Get("Retry-After"), "whole seconds, rounded up")
	err = status.FromProto(told(t, text)).Err()
	assertCode(t, codes.ResourceExhausted, err)
	assert.Equal(t, 2500*time.Millisecond, detail[*errdetails.RetryInfo](t, err).GetRetryDelay().AsDuration())
}
