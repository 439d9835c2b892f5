package rpc

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"crypto/x509"
	"net"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// Scope is what a caller may ask for.
type Scope uint8

// The scopes. Read is for what one launch comes to; full adds whatever takes long or
// writes: weeks, other plans, files and notices, following a flight. What is new is full's.
const (
	ReadScope Scope = iota + 1
	FullScope
)

// ParseScope reads the name of a scope.
func ParseScope(name string) (Scope, bool) {
	i := slices.Index([]string{"read", "full"}, name)
	return Scope(i + 1), i >= 0 //nolint:gosec // 0 to 2
}

// readable are the methods of the read scope.
func readable(method string) bool {
	switch method {
	case thistledownv1.Planner_Fly_FullMethodName,
		thistledownv1.Planner_Narrow_FullMethodName,
		thistledownv1.Planner_Search_FullMethodName,
		thistledownv1.Planner_SizeTrain_FullMethodName,
		thistledownv1.Planner_ListForecasts_FullMethodName:
		return true
	}
	return false
}

// Token is a bearer token as it is kept: by its hash alone. A token has 130 random bits,
// so a fast hash will do.
type Token struct {
	Name  string // of whom it was given to, for logs and for what is under way
	Scope Scope
	Hash  [sha256.Size]byte
}

// NewToken invents a token, and its hash.
func NewToken() (token string, hash [sha256.Size]byte) {
	token = rand.Text()
	return token, sha256.Sum256([]byte(token))
}

// Guard says who may call. With neither it lets everybody in.
type Guard struct {
	Tokens       []Token
	Certificates bool // whoever shows a certificate that TLS has verified may ask for everything
}

// locked reports whether a caller has to show something.
func (g Guard) locked() bool { return len(g.Tokens) > 0 || g.Certificates }

// caller is whom a call is from.
type caller struct {
	name  string // a token's or certificate's, or else an address
	scope Scope
}

type callerKey struct{}

// callerOf is the name of whom a call is from.
func callerOf(ctx context.Context) string {
	c, _ := ctx.Value(callerKey{}).(caller)
	return c.name
}

// admitted is the context of a call whose caller may make it; else the error is a
// status, and says no more of why than which of two reasons it is. Health is open to
// everybody: it tells nothing else, and probes have no token.
func (g Guard) admitted(ctx context.Context, method string) (context.Context, error) {
	who, err := g.who(ctx)
	if strings.HasPrefix(method, "/"+healthv1.Health_ServiceDesc.ServiceName+"/") {
		return ctx, nil
	}
	if err != nil {
		return ctx, err
	}
	if who.scope < FullScope && !readable(method) {
		return context.WithValue(ctx, callerKey{}, who), status.Error(codes.PermissionDenied, "token: of the read scope: want one of the full scope for this method")
	}
	return context.WithValue(ctx, callerKey{}, who), nil
}

// who finds out whom a call is from.
func (g Guard) who(ctx context.Context) (caller, error) {
	address, certificate := origin(ctx)
	if !g.locked() {
		return caller{address, FullScope}, nil
	}
	if g.Certificates && certificate != "" {
		return caller{"certificate " + certificate, FullScope}, nil
	}
	md, _ := metadata.FromIncomingContext(ctx)
	for _, header := range md.Get("authorization") {
		const scheme = "bearer "
		if len(header) < len(scheme) || !strings.EqualFold(header[:len(scheme)], scheme) {
			continue
		}
		if t, ok := g.token(header[len(scheme):]); ok {
			return caller{"token " + t.Name, t.Scope}, nil
		}
	}
	return caller{}, status.Error(codes.Unauthenticated, "authorization: none that is known here: want a bearer token, or a certificate where those are taken")
}

// token finds a token, in a time that does not depend on which there are.
func (g Guard) token(text string) (found Token, ok bool) {
	sum := sha256.Sum256([]byte(text))
	for _, t := range g.Tokens {
		if subtle.ConstantTimeCompare(sum[:], t.Hash[:]) == 1 {
			found, ok = t, true
		}
	}
	return found, ok
}

// origin is where a call comes from: its address, and the name in its certificate if it
// showed one that TLS has verified.
func origin(ctx context.Context) (address, certificate string) {
	from, ok := peer.FromContext(ctx)
	if !ok {
		return "", ""
	}
	if from.Addr.Network() == insideNetwork { // the gateway says whom it speaks for
		md, _ := metadata.FromIncomingContext(ctx)
		return strings.Join(md.Get(insideAddress), ""), strings.Join(md.Get(insideCertificate), "")
	}
	if host, _, err := net.SplitHostPort(from.Addr.String()); err == nil {
		address = host
	}
	if info, ok := from.AuthInfo.(credentials.TLSInfo); ok && len(info.State.VerifiedChains) > 0 {
		certificate = certificateName(info.State.VerifiedChains[0][0])
	}
	return address, certificate
}

// certificateName is whom a certificate is of, never empty.
func certificateName(c *x509.Certificate) string {
	if c.Subject.CommonName != "" {
		return c.Subject.CommonName
	}
	return c.SerialNumber.String()
}
