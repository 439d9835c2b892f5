package main

import (
	"cmp"
	"context"
	"encoding/hex"
	"net"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	collectorv1 "go.opentelemetry.io/proto/otlp/collector/trace/v1"
	commonv1 "go.opentelemetry.io/proto/otlp/common/v1"
	tracev1 "go.opentelemetry.io/proto/otlp/trace/v1"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	grpcstatus "google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/prototext"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// collector takes traces as one of an operator's does.
type collector struct {
	collectorv1.UnimplementedTraceServiceServer
	mutex sync.Mutex
	all   []*tracev1.ResourceSpans
}

// Export takes some.
func (c *collector) Export(_ context.Context, r *collectorv1.ExportTraceServiceRequest) (*collectorv1.ExportTraceServiceResponse, error) {
	c.mutex.Lock()
	defer c.mutex.Unlock()
	c.all = append(c.all, r.GetResourceSpans()...)
	return &collectorv1.ExportTraceServiceResponse{}, nil
}

// spans are what it took so far, with what it is told of whose they are.
func (c *collector) spans() (spans []*tracev1.Span, of []map[string]string) {
	c.mutex.Lock()
	defer c.mutex.Unlock()
	for _, r := range c.all {
		for _, s := range r.GetScopeSpans() {
			for _, span := range s.GetSpans() {
				spans, of = append(spans, span), append(of, texts(r.GetResource().GetAttributes()))
			}
		}
	}
	return spans, of
}

// texts are attributes as texts.
func texts(attributes []*commonv1.KeyValue) map[string]string {
	all := map[string]string{}
	for _, a := range attributes {
		all[a.GetKey()] = a.GetValue().GetStringValue()
	}
	return all
}

// A collector is sent a span of each call, as part of the trace that its caller names,
// and nothing of what was asked.
func TestServeSendsTraces(t *testing.T) {
	t.Setenv("OTEL_BSP_SCHEDULE_DELAY", "20") // ms between two exports
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	takes, server := &collector{}, grpc.NewServer()
	collectorv1.RegisterTraceServiceServer(server, takes)
	go func() { _ = server.Serve(listener) }()
	defer server.Stop()
	_, at, _ := served(t, onRealWinds(t)+"traces: http://"+listener.Addr().String()+"\n")
	conn, err := grpc.NewClient(at("msg=serving"), grpc.WithTransportCredentials(insecure.NewCredentials()))
	require.NoError(t, err)
	defer func() { _ = conn.Close() }()
	client := thistledownv1.NewPlannerClient(conn)

	// The example of Trace Context (W3C Recommendation of 23 November 2021), 3.2.
	const trace, parent = "4bf92f3577b34da6a3ce929d0e0e4736", "00f067aa0ba902b7"
	ctx := metadata.AppendToOutgoingContext(t.Context(), "traceparent", "00-"+trace+"-"+parent+"-01")
	asked := ask()
	asked.Plan.Name, asked.Plan.Site.Name = "Quiet Meadow", "Quiet Meadow"
	before := time.Now()
	_, err = client.Fly(ctx, asked)
	require.NoError(t, err)
	asked.Plan.Launch = nil
	_, err = client.Fly(ctx, asked)
	require.Equal(t, codes.InvalidArgument, grpcstatus.Code(err))

	var spans []*tracev1.Span
	var of []map[string]string
	require.Eventually(t, func() bool { spans, of = takes.spans(); return len(spans) >= 2 }, time.Minute, 10*time.Millisecond)
	require.Len(t, spans, 2)
	// They are sent as they end, the second perhaps before what is left of the first.
	slices.SortFunc(spans, func(a, b *tracev1.Span) int { return cmp.Compare(a.GetStartTimeUnixNano(), b.GetStartTimeUnixNano()) })
	for i, s := range spans {
		assert.Equal(t, "thistledown.v1.Planner/Fly", s.GetName())
		assert.Equal(t, tracev1.Span_SPAN_KIND_SERVER, s.GetKind())
		assert.Equal(t, trace, hex.EncodeToString(s.GetTraceId()))
		assert.Equal(t, parent, hex.EncodeToString(s.GetParentSpanId()))
		assert.Equal(t, []string{"OK", "INVALID_ARGUMENT"}[i], texts(s.GetAttributes())["rpc.response.status_code"])
		assert.Equal(t, "thistledown", of[i]["service.name"])
		assert.Equal(t, version, of[i]["service.version"])
		assert.NotContains(t, prototext.Format(s), "Meadow")
	}
	began, ended := int64(spans[0].GetStartTimeUnixNano()), int64(spans[0].GetEndTimeUnixNano()) //nolint:gosec // of today
	assert.LessOrEqual(t, before.UnixNano(), began)
	assert.Less(t, began, ended)
}
