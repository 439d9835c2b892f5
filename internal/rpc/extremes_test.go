package rpc_test

import (
	"bytes"
	"context"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// fewFlights is a plan that is flown in no time.
func fewFlights(p *thistledownv1.Plan) *thistledownv1.Plan {
	p.Sampling = &thistledownv1.Sampling{Scrambles: proto.Uint32(2), FlightsPerScramble: proto.Uint32(8)}
	return p
}

// asks is a good request of every method, by the method's name.
func asks(t testing.TB) map[string]proto.Message {
	t.Helper()
	short := fewFlights(request().GetPlan())
	short.Schedule = &thistledownv1.Schedule{Hours: []string{"08:00-10:00"}}
	return map[string]proto.Message{
		"Fly":         &thistledownv1.FlyRequest{Plan: fewFlights(ruled())},
		"SizeTrain":   &thistledownv1.SizeTrainRequest{Plan: fewFlights(weighed())},
		"RankWindows": &thistledownv1.RankWindowsRequest{Plan: short},
		"VaryPlan":    &thistledownv1.VaryPlanRequest{Plan: fewFlights(varied())},
		"WriteNotice": &thistledownv1.WriteNoticeRequest{Plan: fewFlights(ruled()), Stage: "before"},
		"WriteReport": &thistledownv1.WriteReportRequest{
			Plan: fewFlights(ruled()), Formats: []thistledownv1.ReportFormat{thistledownv1.ReportFormat_REPORT_FORMAT_GEOJSON},
		},
		"ListForecasts": &thistledownv1.ListForecastsRequest{},
		"Narrow":        &thistledownv1.NarrowRequest{Plan: fewFlights(request().GetPlan()), Track: drifting(t, 3)},
		"Search":        &thistledownv1.SearchRequest{Plan: fewFlights(request().GetPlan()), Track: drifting(t, 3), Cell: "2 km"},
		"FollowFlight":  &thistledownv1.FollowFlightRequest{Part: &thistledownv1.FollowFlightRequest_Plan{Plan: fewFlights(request().GetPlan())}},
	}
}

// raw is octets that go over the wire as they are.
type raw struct{}

func (raw) Marshal(v any) ([]byte, error) { return *v.(*[]byte), nil } //nolint:errcheck // a bug of the test
func (raw) Unmarshal(b []byte, v any) error {
	*v.(*[]byte) = bytes.Clone(b) //nolint:errcheck // a bug of the test
	return nil
}
func (raw) Name() string { return "proto" }

// call sends octets to a method and reads its answers to the end.
func call(ctx context.Context, to *grpc.ClientConn, method string, request []byte) error {
	stream, err := to.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, "/thistledown.v1.Planner/"+method, grpc.ForceCodec(raw{}), grpc.MaxCallRecvMsgSize(32<<20))
	if err != nil {
		return err
	}
	if err := stream.SendMsg(&request); err != nil {
		return stream.RecvMsg(&[]byte{})
	}
	if err := stream.CloseSend(); err != nil {
		return err
	}
	for {
		var answer []byte
		if err := stream.RecvMsg(&answer); err != nil {
			if status.Code(err) == codes.Unknown && err.Error() == "EOF" {
				return nil
			}
			return err
		}
	}
}

// inside is what tells of the inside of the program.
var inside = regexp.MustCompile(`goroutine|\.go:\d|runtime error|0x[0-9a-f]{6}|/internal/|/tmp/|/root|proto:`)

// wellRefused reports whether an error is one that a caller may cause, and says no more
// than a caller should know.
func wellRefused(t *testing.T, what string, err error) {
	t.Helper()
	switch status.Code(err) {
	case codes.OK, codes.InvalidArgument, codes.FailedPrecondition, codes.OutOfRange, codes.ResourceExhausted, codes.DeadlineExceeded:
	default:
		t.Errorf("%s: %.500v", what, err)
	}
	st := status.Convert(err)
	if found := inside.FindString(st.Proto().String()); found != "" {
		t.Errorf("%s: tells %q: %.500v", what, found, err)
	}
	if size := proto.Size(st.Proto()); size > 16<<10 {
		t.Errorf("%s: an error of %d octets", what, size)
	}
	if st.Code() == codes.InvalidArgument {
		assert.NotEmpty(t, st.Details(), what)
	}
}

// extremes are what a field of a kind is set to, one after the other.
func extremes(f protoreflect.FieldDescriptor) []any {
	switch f.Kind() {
	case protoreflect.StringKind:
		return []any{
			"", " ", "\x00", "-", "NaN kg", "Inf m/s", "1e400 m", "-1e308 kg", "1e-320 m", "0 m", strings.Repeat("9", 400) + " m", "5 m/s ± 1e9 %", "../../etc/passwd",
			"&a [*a,*a]", strings.Repeat("é", 100000), "\u202e\ufeff", "<script>",
		}
	case protoreflect.DoubleKind:
		return []any{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64, 5e-324, math.Copysign(0, -1)}
	case protoreflect.Uint32Kind:
		return []any{uint32(0), uint32(1), uint32(math.MaxUint32)}
	case protoreflect.Uint64Kind:
		return []any{uint64(0), uint64(math.MaxUint64)}
	case protoreflect.Int32Kind:
		return []any{int32(math.MinInt32), int32(-1), int32(math.MaxInt32)}
	case protoreflect.Int64Kind:
		return []any{int64(math.MinInt64), int64(0), int64(math.MaxInt64)}
	case protoreflect.EnumKind:
		return []any{protoreflect.EnumNumber(-1), protoreflect.EnumNumber(0), protoreflect.EnumNumber(math.MaxInt32)}
	case protoreflect.BoolKind:
		return []any{true, false}
	}
	return nil
}

// spoil calls see with a request after each change to an extreme of each field of it,
// of the messages in it and of those that could be. The change is undone afterwards.
func spoil(m protoreflect.Message, path string, deep int, see func(what string)) {
	fields := m.Descriptor().Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		here := path + "." + string(f.Name())
		before, had := m.Get(f), m.Has(f)
		undo := func() {
			m.Clear(f)
			if had {
				m.Set(f, before)
			}
		}
		switch {
		case f.IsMap():
		case f.IsList():
			list := m.NewField(f).List()
			if had {
				for k := range before.List().Len() {
					list.Append(before.List().Get(k))
				}
			}
			m.Set(f, protoreflect.ValueOfList(list))
			if f.Kind() == protoreflect.MessageKind {
				if deep > 0 {
					if list.Len() == 0 {
						list.AppendMutable()
					}
					spoil(list.Get(0).Message(), here+"[0]", deep-1, see)
				}
				for range 20000 {
					list.AppendMutable()
				}
				see(here + ": 20,000")
			} else {
				for k, v := range extremes(f) {
					if list.Len() == 0 {
						list.Append(protoreflect.ValueOf(v))
					}
					list.Set(0, protoreflect.ValueOf(v))
					see(here + "[0] " + number(k))
				}
				for range 20000 {
					list.Append(list.Get(0))
				}
				see(here + ": 20,000")
			}
			undo()
		case f.Kind() == protoreflect.MessageKind:
			if had {
				m.Clear(f)
				see(here + ": none")
				undo()
			}
			inner := m.Mutable(f).Message()
			if !had {
				see(here + ": empty")
			}
			if deep > 0 {
				spoil(inner, here, deep-1, see)
			}
			undo()
		default:
			for k, v := range extremes(f) {
				m.Set(f, protoreflect.ValueOf(v))
				see(here + " " + number(k))
			}
			undo()
		}
	}
}

func number(k int) string { return "extreme " + string(rune('a'+k)) }

// Every field of every request at its extremes: refused as a caller's fault or answered,
// and the service goes on.
func TestEveryFieldAtItsExtremes(t *testing.T) {
	connection := dial(t, realwind.Field(t), t.TempDir())
	service := thistledownv1.File_thistledown_v1_planner_proto.Services().ByName("Planner").Methods()
	requests := asks(t)
	require.Len(t, requests, service.Len(), "every method has a request here")
	tried, answered := 0, 0
	for method, ask := range requests {
		deep := 1 // fields of the request and of the plan: what is below is the same plan
		if method == "Fly" {
			deep = 6
		} else if method == "Narrow" || method == "Search" {
			deep = 3 // into the track
		}
		spoil(ask.ProtoReflect(), method, deep, func(what string) {
			octets, err := proto.MarshalOptions{AllowPartial: true}.Marshal(ask)
			require.NoError(t, err)
			ctx, stop := context.WithTimeout(t.Context(), time.Second)
			defer stop()
			err = call(ctx, connection, method, octets)
			wellRefused(t, what, err)
			tried++
			if err == nil {
				answered++
			}
		})
	}
	t.Logf("%d requests, %d of them answered", tried, answered)
	assert.Greater(t, tried, 1500)
	assert.Greater(t, answered, 100)
	require.NoError(t, call(t.Context(), connection, "Fly", marshalled(t, request())))
}

func marshalled(t testing.TB, m proto.Message) []byte {
	t.Helper()
	octets, err := proto.Marshal(m)
	require.NoError(t, err)
	return octets
}

// Octets that are no message, or more than the service takes, are refused.
func TestOctetsThatAreNoRequest(t *testing.T) {
	connection := dial(t, realwind.Field(t), "")
	deep := []byte{}
	for range 15000 { // plan in plan in plan: field 1, with its length
		deep = protowire.AppendBytes(protowire.AppendTag(nil, 1, protowire.BytesType), deep)
		if len(deep) > 500000 {
			break
		}
	}
	for name, c := range map[string]struct {
		octets []byte
		codes  []codes.Code
	}{
		"nothing":   {nil, []codes.Code{codes.InvalidArgument}},
		"noise":     {bytes.Repeat([]byte{0xff}, 100), []codes.Code{codes.Internal, codes.InvalidArgument}}, // gRPC's own code for it is INTERNAL
		"cut off":   {marshalled(t, request())[:20], []codes.Code{codes.Internal, codes.InvalidArgument}},
		"deep":      {deep, []codes.Code{codes.Internal, codes.InvalidArgument}},
		"unknown":   {protowire.AppendBytes(protowire.AppendTag(marshalled(t, request()), 9999, protowire.BytesType), make([]byte, 1000)), []codes.Code{codes.OK}},
		"too large": {make([]byte, 1<<20+1), []codes.Code{codes.ResourceExhausted}},
	} {
		err := call(t.Context(), connection, "Fly", c.octets)
		assert.Contains(t, c.codes, status.Code(err), "%s: %.300v", name, err)
	}
	require.NoError(t, call(t.Context(), connection, "Fly", marshalled(t, request())))
}

// What a layer's file holds is bounded as well: a polygon of a million vertices is flown
// on or refused in bounded memory, and a file of another kind is refused.
func TestLayersThatAreTooMuch(t *testing.T) {
	folder := t.TempDir()
	var ring strings.Builder
	const vertices = 1_000_000
	for i := range vertices {
		turn := 2 * math.Pi * float64(i) / vertices
		ring.WriteString("[" + degrees(13+3*math.Cos(turn)) + "," + degrees(58+2*math.Sin(turn)) + "],")
	}
	for name, text := range map[string]string{
		"huge.geojson":  `{"type":"Polygon","coordinates":[[` + ring.String() + "[16,58]]]}",
		"deep.geojson":  strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 50000) + strings.Repeat("]}", 50000),
		"nan.geojson":   `{"type":"Polygon","coordinates":[[[NaN,58],[14,58],[14,59],[NaN,58]]]}`,
		"far.geojson":   `{"type":"Polygon","coordinates":[[[1e308,58],[14,58],[14,59],[1e308,58]]]}`,
		"bomb.geojson":  "a: &a [x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a,*a]\nc: &c [*b,*b,*b,*b,*b,*b,*b,*b,*b]\nd: &d [*c,*c,*c,*c,*c,*c,*c,*c,*c]\n",
		"empty.geojson": "",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600))
	}
	connection := dial(t, realwind.Field(t), folder)
	var before, after runtime.MemStats
	for _, name := range []string{"huge", "deep", "nan", "far", "bomb", "empty"} {
		ask := &thistledownv1.FlyRequest{Plan: fewFlights(request().GetPlan())}
		ask.Plan.Ground = &thistledownv1.Ground{Layers: []*thistledownv1.Layer{{Name: "x", Class: proto.String("forest"), File: name + ".geojson"}}}
		runtime.GC()
		runtime.ReadMemStats(&before)
		err := call(t.Context(), connection, "Fly", marshalled(t, ask))
		runtime.ReadMemStats(&after)
		wellRefused(t, name, err)
		if name != "huge" {
			assert.Equal(t, codes.InvalidArgument, status.Code(err), "%s: %v", name, err)
		}
		t.Logf("%s: %d MB allocated, %.200v", name, (after.TotalAlloc-before.TotalAlloc)>>20, err)
		assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(2<<30), name)
	}
}

func degrees(v float64) string { return strconv.FormatFloat(v, 'f', 7, 64) }

// FuzzRequests sends mutated requests through the real handlers, in protobuf's form and
// through the gateway in JSON.
func FuzzRequests(f *testing.F) {
	var methods []string
	requests := asks(f)
	for method, ask := range requests {
		methods = append(methods, method)
		text, err := protojson.Marshal(ask)
		require.NoError(f, err)
		f.Add(method, marshalled(f, ask), false)
		f.Add(method, text, true)
	}
	paths := map[string]string{
		"Fly": "/v1/fly", "SizeTrain": "/v1/size", "RankWindows": "/v1/week", "VaryPlan": "/v1/vary", "WriteNotice": "/v1/notice", "WriteReport": "/v1/report",
		"Narrow": "/v1/narrow", "Search": "/v1/search",
	}
	require.Len(f, methods, len(paths)+2, "but what is asked without a body, and what streams both ways")
	connection := dial(f, realwind.Field(f), f.TempDir())
	gateway, err := rpc.NewGateway(connection, nil)
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, method string, body []byte, asText bool) {
		path, ok := paths[method]
		if !ok {
			return
		}
		ctx, stop := context.WithTimeout(t.Context(), 20*time.Millisecond)
		defer stop()
		if asText {
			r := httptest.NewRequestWithContext(ctx, http.MethodPost, path, bytes.NewReader(body))
			answer := httptest.NewRecorder()
			gateway.ServeHTTP(answer, r)
			if answer.Code == http.StatusInternalServerError || answer.Code == http.StatusNotImplemented {
				t.Errorf("%d: %.500s", answer.Code, answer.Body)
			}
			if found := inside.FindString(answer.Body.String()); answer.Code != http.StatusOK && found != "" {
				t.Errorf("tells %q: %.500s", found, answer.Body)
			}
			return
		}
		if proto.Unmarshal(body, requests[method]) != nil {
			return // which gRPC refuses by itself
		}
		wellRefused(t, method, call(ctx, connection, method, body))
	})
}
