package rpc

import (
	"context"
	"net"

	"google.golang.org/grpc/peer"
)

// callerOf is whom a call is from.
func callerOf(ctx context.Context) string {
	if from, ok := peer.FromContext(ctx); ok {
		if host, _, err := net.SplitHostPort(from.Addr.String()); err == nil {
			return host
		}
	}
	return ""
}
