// Package fetch brings open forecasts and open ground data from where they are
// published: only the octets that flights need, and what was there before stays
// until the new is whole.
//
// It hides addresses, index files, ranges, retries, the order of downloads and
// what is kept between two of them. Where things are published is data, in
// sources.yaml or in a file of the user's own; what of a forecast is wanted is
// what package wind makes use of. What comes out is a file: a cube of package
// cube, or a GeoTIFF cut from larger ones.
//
// A message is believed only once it is here, whole, of the parameter, level,
// step and member that the index said, and has been unpacked. Its crop is then
// written down, so that a pull that is killed goes on where it was. One cycle is
// pulled whole or not at all, never mixed with another.
//
// Times are UTC. The clock, waiting and the connections are the caller's
// (Client), so that the package can be tested without a network.
package fetch

import (
	"context"
	"net/http"
	"os"
	"time"
)

// Client is what a pull works with.
type Client struct {
	HTTP *http.Client     // connections; must not be nil
	Now  func() time.Time // the clock; may jump
	// Wait waits, or returns the context's error once that is done.
	Wait func(ctx context.Context, d time.Duration) error
	// Patience is how long a server may send nothing at all before it is asked
	// again, above 0.
	Patience time.Duration

	write func(to *os.File, b []byte) error // in place of os.File.Write; nil for that
}

// NewClient is a client of the world: the system's clock and connections.
func NewClient() Client {
	return Client{
		HTTP: &http.Client{Transport: &http.Transport{
			Proxy: http.ProxyFromEnvironment, MaxIdleConnsPerHost: maxParallel,
			ResponseHeaderTimeout: 30 * time.Second, TLSHandshakeTimeout: 15 * time.Second,
			IdleConnTimeout: time.Minute,
		}},
		Now: time.Now, Wait: wait, Patience: 30 * time.Second,
	}
}

func wait(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}

// put writes octets to a file.
func (c Client) put(to *os.File, b []byte) error {
	if c.write != nil {
		return c.write(to, b)
	}
	_, err := to.Write(b)
	return err
}
