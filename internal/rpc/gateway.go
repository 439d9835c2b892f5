package rpc

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

const (
	// maxBody bounds a request in JSON, octets: it is about as long as in protobuf's
	// own form, names of fields besides.
	maxBody = 4 * maxRequest
	// maxAnswer bounds an answer that the gateway takes from the service, octets.
	maxAnswer = 2 * maxReport
	// anyOrigin in a gateway's list lets the pages of every origin call it.
	anyOrigin = "*"
	// openAPIPath is where the description of the interface lies.
	openAPIPath = "/v1/openapi.json"
)

// NewGateway makes the JSON face of the Planner service that a connection leads to:
// each method at the path that the schema gives it, a stream as one object a line, and
// the OpenAPI description at /v1/openapi.json. The bearer token, the request's id and
// the header Grpc-Timeout, such as 30S, go on to the service.
//
// Pages of the named origins, such as https://club.example, and those from the
// gateway's own host may call it from a browser; "*" stands for all. A call that
// names another origin is refused, since it comes from a page that its visitor did not
// mean to let in.
func NewGateway(to grpc.ClientConnInterface, origins []string) (http.Handler, error) {
	for _, origin := range origins {
		if err := checkOrigin(origin); err != nil {
			return nil, err
		}
	}
	mux := runtime.NewServeMux(
		runtime.WithMarshalerOption(runtime.MIMEWildcard, &lines{runtime.JSONPb{
			MarshalOptions: protojson.MarshalOptions{UseProtoNames: true, EmitDefaultValues: true},
		}}),
		runtime.WithIncomingHeaderMatcher(forwarded), // the gateway sends Authorization on by itself
		runtime.WithOutgoingHeaderMatcher(forwarded),
		runtime.WithOutgoingTrailerMatcher(func(string) (string, bool) { return "", false }),
		runtime.WithErrorHandler(tellError),
		runtime.WithDisablePathLengthFallback(),
	)
	client := thistledownv1.NewPlannerClient(roomy{to})
	if err := thistledownv1.RegisterPlannerHandlerClient(context.Background(), mux, client); err != nil {
		return nil, err
	}
	err := mux.HandlePath(http.MethodGet, openAPIPath, func(w http.ResponseWriter, _ *http.Request, _ map[string]string) {
		w.Header().Set("Content-Type", "application/json")
		_, _ = io.WriteString(w, thistledownv1.OpenAPI()) // a reader that went away
	})
	if err != nil {
		return nil, err
	}
	return &gateway{mux: mux, origins: origins}, nil
}

// checkOrigin reports what keeps a text from being an origin.
func checkOrigin(origin string) error {
	if origin == anyOrigin {
		return nil
	}
	u, err := url.Parse(origin)
	if err != nil || u.Host == "" || (u.Scheme != "https" && u.Scheme != "http") || origin != u.Scheme+"://"+u.Host {
		return fmt.Errorf("origin %q: want scheme and host alone, such as https://club.example, or *", origin)
	}
	return nil
}

// gateway lets in whom it may, and no more at a time than it must.
type gateway struct {
	mux     *runtime.ServeMux
	origins []string
}

// ServeHTTP answers one request.
func (g *gateway) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("X-Content-Type-Options", "nosniff")
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Add("Vary", "Origin")
	if origin := r.Header.Get("Origin"); origin != "" {
		if !g.allows(origin, r.Host) {
			g.refuse(w, r, status.Error(codes.PermissionDenied, "origin: this service does not answer pages from there: want one that its operator names"))
			return
		}
		w.Header().Set("Access-Control-Allow-Origin", origin)
		w.Header().Set("Access-Control-Expose-Headers", requestHeader+", Retry-After")
		if r.Method == http.MethodOptions && r.Header.Get("Access-Control-Request-Method") != "" {
			w.Header().Set("Access-Control-Allow-Methods", "GET, POST")
			w.Header().Set("Access-Control-Allow-Headers", "Authorization, Content-Type, Grpc-Timeout, "+requestHeader)
			w.Header().Set("Access-Control-Max-Age", "600") // s
			w.WriteHeader(http.StatusNoContent)
			return
		}
	}
	r.Body = http.MaxBytesReader(w, r.Body, maxBody)
	g.mux.ServeHTTP(w, r)
}

// allows reports whether pages of an origin may call a host.
func (g *gateway) allows(origin, host string) bool {
	if slices.Contains(g.origins, anyOrigin) || slices.Contains(g.origins, origin) {
		return true
	}
	u, err := url.Parse(origin)
	return err == nil && u.Host != "" && strings.EqualFold(u.Host, host)
}

// refuse answers without asking the service.
func (g *gateway) refuse(w http.ResponseWriter, r *http.Request, err error) {
	_, out := runtime.MarshalerForRequest(g.mux, r)
	runtime.HTTPError(r.Context(), g.mux, out, w, r, err)
}

// forwarded is the header that goes through the gateway under its own name.
func forwarded(header string) (string, bool) {
	return requestHeader, strings.EqualFold(header, requestHeader)
}

// tellError answers with an error: a google.rpc.Status, and the code of HTTP that fits
// it.
func tellError(ctx context.Context, mux *runtime.ServeMux, out runtime.Marshaler, w http.ResponseWriter, r *http.Request, err error) {
	// The gateway gives what a decoder says as a text.
	st := status.Convert(err)
	var wanted *runtime.HTTPStatusError
	switch what, unread := strings.CutPrefix(st.Message(), unreadable); {
	case errors.As(err, &wanted):
	case unread && what == tooLarge:
		err = &runtime.HTTPStatusError{HTTPStatus: http.StatusRequestEntityTooLarge, Err: status.Error(codes.ResourceExhausted, what)}
	case unread:
		err = refused("", what)
	}
	for _, d := range st.Details() {
		if retry, ok := d.(*errdetails.RetryInfo); ok {
			seconds := int64(retry.GetRetryDelay().AsDuration().Seconds() + 0.999)
			w.Header().Set("Retry-After", strconv.FormatInt(max(seconds, 1), 10))
		}
	}
	runtime.DefaultHTTPErrorHandler(ctx, mux, out, w, r, err)
}

// unreadable begins the text of an error for a body that is no message.
const unreadable = "unreadable "

// tooLarge is what is wrong with a body beyond maxBody.
const tooLarge = "body: more than 4 MiB: want less"

// lines is JSON, a stream as an object a line.
type lines struct{ runtime.JSONPb }

// StreamContentType is that of a stream.
func (*lines) StreamContentType(any) string { return "application/x-ndjson" }

// NewDecoder reads one message, and nothing after it.
func (l *lines) NewDecoder(r io.Reader) runtime.Decoder {
	return runtime.DecoderFunc(func(v any) error {
		text, err := io.ReadAll(r)
		var large *http.MaxBytesError
		switch {
		case errors.As(err, &large):
			return errors.New(unreadable + tooLarge)
		case err != nil:
			return errors.New(unreadable + "body: it broke off")
		case len(text) == 0:
			return errors.New(unreadable + "body: empty: want the request as JSON")
		case !json.Valid(text):
			return errors.New(unreadable + "body: no JSON, or more than one object: want the request as JSON")
		}
		if err := l.Unmarshal(text, v); err != nil {
			return errors.New(unreadable + "body: " + plainly(err))
		}
		return nil
	})
}

// plainly is what protobuf says of JSON, without its own name before it.
func plainly(err error) string {
	text := strings.ReplaceAll(err.Error(), "\u00a0", " ")
	return strings.TrimSpace(strings.TrimPrefix(text, "proto:"))
}

// roomy is a connection that takes large answers.
type roomy struct{ grpc.ClientConnInterface }

// Invoke is one call.
func (c roomy) Invoke(ctx context.Context, method string, request, answer any, options ...grpc.CallOption) error {
	return c.ClientConnInterface.Invoke(ctx, method, request, answer, append(options, grpc.MaxCallRecvMsgSize(maxAnswer))...)
}

// NewStream is one that streams.
func (c roomy) NewStream(ctx context.Context, of *grpc.StreamDesc, method string, options ...grpc.CallOption) (grpc.ClientStream, error) {
	return c.ClientConnInterface.NewStream(ctx, of, method, append(options, grpc.MaxCallRecvMsgSize(maxAnswer))...)
}
