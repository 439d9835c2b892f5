package rpc_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"

	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// token makes one of a scope.
func token(t *testing.T, name string, scope rpc.Scope) (string, rpc.Token) {
	t.Helper()
	text, hash := rpc.NewToken()
	return text, rpc.Token{Name: name, Scope: scope, Hash: hash}
}

func TestTokens(t *testing.T) {
	reads, one := token(t, "page", rpc.ReadScope)
	full, two := token(t, "lead", rpc.FullScope)
	server, conn := started(t, rpc.Planner{
		Forecasts: flownOn([]*wind.Field{realwind.Field(t)}),
		Guard:     rpc.Guard{Tokens: []rpc.Token{one, two}, Certificates: true},
	})
	client := thistledownv1.NewPlannerClient(conn)
	fly := func(ctx context.Context) error { _, err := client.Fly(ctx, small()); return err }
	vary := func(ctx context.Context) error {
		stream, err := client.RankWindows(ctx, &thistledownv1.RankWindowsRequest{Plan: weekly()})
		if err != nil {
			return err
		}
		_, err = stream.Recv()
		return err
	}
	list := func(ctx context.Context) error {
		_, err := client.ListForecasts(ctx, &thistledownv1.ListForecastsRequest{})
		return err
	}
	notice := func(ctx context.Context) error {
		_, err := client.WriteNotice(ctx, &thistledownv1.WriteNoticeRequest{})
		return err
	}
	for _, c := range []struct {
		name, header string
		do           func(context.Context) error
		want         codes.Code
	}{
		{"none", "", fly, codes.Unauthenticated},
		{"none, a week", "", vary, codes.Unauthenticated},
		{"none, the list", "", list, codes.Unauthenticated},
		{"another", "Bearer " + strings.Repeat("A", 26), fly, codes.Unauthenticated},
		{"empty", "Bearer ", fly, codes.Unauthenticated},
		{"its beginning", "Bearer " + full[:len(full)-1], fly, codes.Unauthenticated},
		{"more than it", "Bearer " + full + "A", fly, codes.Unauthenticated},
		{"another scheme", "Basic " + full, fly, codes.Unauthenticated},
		{"bare", full, fly, codes.Unauthenticated},
		{"read", "Bearer " + reads, fly, codes.OK},
		{"read, the list", "bearer " + reads, list, codes.OK},
		{"read, a week", "Bearer " + reads, vary, codes.PermissionDenied},
		{"read, a notice", "Bearer " + reads, notice, codes.PermissionDenied},
		{"full", "Bearer " + full, fly, codes.OK},
		{"full, a week", "Bearer " + full, vary, codes.OK},
		{"full, a notice of nothing", "Bearer " + full, notice, codes.InvalidArgument},
	} {
		ctx := t.Context()
		if c.header != "" {
			ctx = metadata.AppendToOutgoingContext(ctx, "authorization", c.header)
		}
		// What the gateway says through memory means nothing from the network.
		ctx = metadata.AppendToOutgoingContext(ctx, "thistledown-certificate", "anybody", "thistledown-address", "127.0.0.1")
		err := c.do(ctx)
		assert.Equal(t, c.want, status.Code(err), "%s: %v", c.name, err)
		if err != nil {
			assert.NotContains(t, err.Error(), full[:8], c.name)
		}
	}
	health, err := healthv1.NewHealthClient(conn).Check(t.Context(), &healthv1.HealthCheckRequest{})
	require.NoError(t, err, "probes have no token")
	assert.Equal(t, healthv1.HealthCheckResponse_SERVING, health.GetStatus())

	face, end, err := server.Gateway(nil)
	require.NoError(t, err)
	defer func() { require.NoError(t, end()) }()
	web := httptest.NewServer(face)
	defer web.Close()
	body, err := protojson.Marshal(small())
	require.NoError(t, err)
	for header, want := range map[string]int{"": http.StatusUnauthorized, "Bearer no": http.StatusUnauthorized, "Bearer " + reads: http.StatusOK} {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, web.URL+"/v1/fly", bytes.NewReader(body))
		require.NoError(t, err)
		r.Header.Set("Thistledown-Certificate", "anybody")
		r.Header.Set("Grpc-Metadata-Thistledown-Certificate", "anybody")
		if header != "" {
			r.Header.Set("Authorization", header)
		}
		got, err := http.DefaultClient.Do(r)
		require.NoError(t, err)
		text, err := io.ReadAll(got.Body)
		require.NoError(t, err)
		require.NoError(t, got.Body.Close())
		assert.Equal(t, want, got.StatusCode, "%q: %.200s", header, text)
	}
}

func TestNewToken(t *testing.T) {
	a, hash := rpc.NewToken()
	b, _ := rpc.NewToken()
	assert.NotEqual(t, a, b)
	assert.GreaterOrEqual(t, len(a), 26, "130 bits in base 32")
	assert.Equal(t, sha256.Sum256([]byte(a)), hash)
}

// Too many open calls are refused before anything of them is read.
func TestOpenCallsAreBounded(t *testing.T) {
	forecasts := rpc.NewCatalogue(0, "now")
	_, conn := started(t, rpc.Planner{Forecasts: forecasts})
	var streams []grpc.ClientStream
	for range 64 { // on one connection
		ctx, stop := context.WithCancel(t.Context())
		defer stop()
		s, err := conn.NewStream(ctx, &grpc.StreamDesc{}, thistledownv1.Planner_Fly_FullMethodName)
		require.NoError(t, err)
		streams = append(streams, s)
	}
	ctx, stop := context.WithTimeout(t.Context(), 300e6)
	defer stop()
	_, err := thistledownv1.NewPlannerClient(conn).Fly(ctx, small())
	assert.Equal(t, codes.DeadlineExceeded, status.Code(err), "a 65th call on the connection waits: %v", err)
	assert.Len(t, streams, 64)
}
