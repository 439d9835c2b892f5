package rpc

import (
	"context"
	"net"
	"net/http"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/test/bufconn"
)

// The gateway calls the service through memory, and says there whom it speaks for. What
// comes that way is believed; from elsewhere the same headers mean nothing.
const (
	insideNetwork     = "bufconn"
	insideAddress     = "thistledown-address"
	insideCertificate = "thistledown-certificate"
	insideBuffer      = 256 << 10 // octets
)

// Gateway makes the JSON face of the server, as NewGateway does, for a listener of its
// own. close ends it.
func (s *Server) Gateway(origins []string) (face http.Handler, end func() error, fault error) {
	listener := bufconn.Listen(insideBuffer)
	go func() { _ = s.inside.Serve(listener) }() // ends with the server
	conn, err := grpc.NewClient("passthrough:///inside",
		grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }))
	if err != nil {
		return nil, nil, err
	}
	inner, err := NewGateway(speaking{conn}, origins)
	if err != nil {
		return nil, nil, err
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		inner.ServeHTTP(w, r.WithContext(context.WithValue(r.Context(), speakerKey{}, spokenFor(r))))
	}), conn.Close, nil
}

// speakerKey is where a context has whom the gateway speaks for.
type speakerKey struct{}

// spokenFor is whom a request is from.
func spokenFor(r *http.Request) []string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	said := []string{insideAddress, host}
	if r.TLS != nil && len(r.TLS.VerifiedChains) > 0 {
		said = append(said, insideCertificate, certificateName(r.TLS.VerifiedChains[0][0]))
	}
	return said
}

// speaking is a connection that says whom it speaks for.
type speaking struct{ *grpc.ClientConn }

func said(ctx context.Context) context.Context {
	pairs, _ := ctx.Value(speakerKey{}).([]string)
	return metadata.AppendToOutgoingContext(ctx, pairs...)
}

// Invoke is one call.
func (c speaking) Invoke(ctx context.Context, method string, request, answer any, options ...grpc.CallOption) error {
	return c.ClientConn.Invoke(said(ctx), method, request, answer, options...)
}

// NewStream is one that streams.
func (c speaking) NewStream(ctx context.Context, of *grpc.StreamDesc, method string, options ...grpc.CallOption) (grpc.ClientStream, error) {
	return c.ClientConn.NewStream(said(ctx), of, method, options...)
}
