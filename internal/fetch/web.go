package fetch

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

// How often and how patiently a server is asked again.
const (
	tries     = 6
	firstWait = time.Second
	longest   = 5 * time.Minute // wait, also where a server asks for more
)

// What may be wrong with an answer, for those who go on differently.
var (
	errAbsent  = errors.New("is not there")
	errChanged = errors.New("changed while it was fetched")
	errWrong   = errors.New("is not what its index says")
	errPage    = errors.New("is a web page or empty: want the data")
)

// again is an error after which the same may be asked for again.
type again struct {
	err   error
	after time.Duration // that the server asks for; 0 if it does not
}

func (a again) Error() string { return a.err.Error() }
func (a again) Unwrap() error { return a.err }

// web asks servers for octets, politely: so many requests a minute, and none
// while a server has asked to wait.
type web struct {
	c    Client
	pace func(host string) int // requests a minute

	mutex sync.Mutex
	next  map[string]time.Time // by host: when the next request may start
	date  time.Time            // of a server's answer, when Now was seen
	seen  time.Time
}

// turn waits until a host may be asked. The clock may have jumped: no wait is
// longer than it would be by the number of those that ask.
func (w *web) turn(ctx context.Context, host string) error {
	gap := time.Minute / time.Duration(w.pace(host))
	w.mutex.Lock()
	now := w.c.Now()
	at := w.next[host]
	if at.Before(now) || at.Sub(now) > longest {
		at = now
	}
	if w.next == nil {
		w.next = map[string]time.Time{}
	}
	w.next[host] = at.Add(gap)
	w.mutex.Unlock()
	if d := at.Sub(now); d > 0 {
		return w.c.Wait(ctx, d)
	}
	return ctx.Err()
}

// hold keeps every request from a host for a while.
func (w *web) hold(host string, d time.Duration) {
	w.mutex.Lock()
	defer w.mutex.Unlock()
	if until := w.c.Now().Add(d); w.next[host].Before(until) {
		w.next[host] = until
	}
}

// ask sends a request, and hands the answer to take, until that is content or
// it makes no sense to ask again. Where the header has changed from one try to
// the next something came of it, and tries count anew.
func (w *web) ask(ctx context.Context, address string, header func() http.Header, take func(*http.Response, io.Reader) error) error {
	u, err := url.Parse(address)
	if err != nil {
		return fmt.Errorf("%s: %w", named(address), err)
	}
	spec := ""
	for n := 0; ; n++ {
		if err := w.turn(ctx, u.Host); err != nil {
			return err
		}
		h := header()
		if now := h.Get("Range"); now != spec {
			spec, n = now, 0
		}
		err := w.once(ctx, address, h, take)
		if err == nil {
			return nil
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		var a again
		if !errors.As(err, &a) {
			return fmt.Errorf("%s: %w", named(address), err)
		}
		if most := triesFor(err); n+1 >= most {
			return fmt.Errorf("%s: %w (asked %d times)", named(address), err, most)
		}
		pause := firstWait << n
		if a.after > 0 {
			w.hold(u.Host, min(a.after, longest))
			pause = a.after
		}
		if err := w.c.Wait(ctx, min(pause, longest)); err != nil {
			return err
		}
	}
}

// named is an address as errors name it: of a long question only the start.
func named(address string) string {
	const most = 160
	if len(address) > most {
		return address[:most] + "…"
	}
	return address
}

// triesFor is how often it makes sense to ask: where there is no such host, or
// nobody listens, a network is down or an address wrong, and another may serve.
func triesFor(err error) int {
	var name *net.DNSError
	if errors.Is(err, syscall.ECONNREFUSED) || errors.As(err, &name) && !name.IsTimeout {
		return 2
	}
	return tries
}

// once sends one request. A server that falls silent is hung up on.
func (w *web) once(ctx context.Context, address string, header http.Header, take func(*http.Response, io.Reader) error) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	silent := time.AfterFunc(w.c.Patience, func() { cancel(fmt.Errorf("sent nothing for %v", w.c.Patience)) })
	defer silent.Stop()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return err
	}
	for k, v := range header {
		request.Header[k] = v
	}
	request.Header.Set("User-Agent", "thistledown")
	request.Header.Set("Accept-Encoding", "identity") // octets are counted
	answer, err := w.c.HTTP.Do(request)
	if err != nil {
		return again{err: plain(ctx, err)}
	}
	defer func() { _ = answer.Body.Close() }()
	if date, err := http.ParseTime(answer.Header.Get("Date")); err == nil {
		w.mutex.Lock()
		w.date, w.seen = date, w.c.Now()
		w.mutex.Unlock()
	}
	if err := w.judge(answer); err != nil {
		return err
	}
	err = take(answer, &watched{r: answer.Body, each: func() { silent.Reset(w.c.Patience) }})
	var cut bodyError
	if errors.As(err, &cut) {
		return again{err: plain(ctx, cut.err)}
	}
	return err
}

// plain leaves the address out of an error, which is named anyhow, and says why
// a context was ended.
func plain(ctx context.Context, err error) error {
	if cause := context.Cause(ctx); cause != nil && errors.Is(err, context.Canceled) {
		return cause
	}
	var u *url.Error
	if errors.As(err, &u) {
		return u.Err
	}
	return err
}

// judge sorts answers by their status.
func (w *web) judge(a *http.Response) error {
	switch a.StatusCode {
	case http.StatusOK, http.StatusPartialContent:
		return nil
	case http.StatusNotFound, http.StatusGone, http.StatusForbidden:
		return fmt.Errorf("%w: status %s", errAbsent, a.Status)
	case http.StatusRequestedRangeNotSatisfiable:
		return fmt.Errorf("%w: it ends before the octets asked for", errChanged)
	case http.StatusTooManyRequests, http.StatusInternalServerError, http.StatusBadGateway,
		http.StatusServiceUnavailable, http.StatusGatewayTimeout, http.StatusRequestTimeout:
		return again{fmt.Errorf("status %s", a.Status), w.after(a.Header.Get("Retry-After"), a.Header.Get("Date"))}
	}
	return fmt.Errorf("status %s: want 200 or 206", a.Status)
}

// after reads how long a server asks to wait: seconds, or a time, which is
// measured on the server's own clock.
func (w *web) after(s, date string) time.Duration {
	if n, err := strconv.Atoi(strings.TrimSpace(s)); err == nil && n > 0 {
		return min(time.Duration(min(n, 1<<20))*time.Second, longest)
	}
	until, err := http.ParseTime(s)
	if err != nil {
		return 0
	}
	now, err := http.ParseTime(date)
	if err != nil {
		now = w.c.Now()
	}
	return min(max(until.Sub(now), 0), longest)
}

// bodyError is an error of reading an answer's body.
type bodyError struct{ err error }

func (b bodyError) Error() string { return b.err.Error() }
func (b bodyError) Unwrap() error { return b.err }

// watched is a body of which each piece is noticed.
type watched struct {
	r    io.Reader
	each func()
}

func (b *watched) Read(p []byte) (int, error) {
	n, err := b.r.Read(p)
	if n > 0 {
		b.each()
	}
	if err != nil && !errors.Is(err, io.EOF) {
		err = bodyError{err}
	}
	return n, err
}

// whole fetches a file that fits in memory. What begins as a web page is asked for
// again: it may be an error page of a server under load. So is what is not fit, if that
// is not nil.
func (w *web) whole(ctx context.Context, address string, limit int64, fit func(text []byte) error) ([]byte, error) {
	var text []byte
	err := w.ask(ctx, address, func() http.Header { return nil }, func(a *http.Response, body io.Reader) error {
		if a.StatusCode != http.StatusOK {
			return fmt.Errorf("status %s: want 200", a.Status)
		}
		var err error
		if text, err = io.ReadAll(io.LimitReader(body, limit+1)); err != nil {
			return err
		}
		switch {
		case int64(len(text)) > limit:
			return fmt.Errorf("more than %d octets", limit)
		case a.ContentLength >= 0 && int64(len(text)) != a.ContentLength:
			return again{err: fmt.Errorf("broke off after %d of %d octets", len(text), a.ContentLength)}
		case looksLikePage(text):
			return again{err: errPage}
		}
		if fit != nil {
			if err := fit(text); err != nil {
				return again{err: err}
			}
		}
		return nil
	})
	return text, err
}

func looksLikePage(b []byte) bool {
	s := strings.TrimLeft(string(b[:min(len(b), 256)]), " \t\r\n\ufeff")
	return s == "" || s[0] == '<'
}

// remote is a file that is read by ranges: what is known of it, so that a change
// between two of them is noticed.
type remote struct {
	address string
	mutex   sync.Mutex
	tag     string // ETag, or Last-Modified; "" before the first answer, or if there is neither
	size    int64  // octets; 0 before the first answer
}

// span is the octets from first to last, or to the end of the file if last is
// below 0.
type span struct{ first, last int64 }

// octets fetches a span and hands it to take as it comes, which must read it to
// its end. The span is asked for at each try: what has come need not come again.
func (w *web) octets(ctx context.Context, r *remote, left func() span, take func(body io.Reader, length int64) error) error {
	var want span
	header := func() http.Header {
		want = left()
		spec := fmt.Sprintf("bytes=%d-", want.first)
		if want.last >= 0 {
			spec += strconv.FormatInt(want.last, 10)
		}
		h := http.Header{"Range": {spec}}
		r.mutex.Lock()
		defer r.mutex.Unlock()
		if r.tag != "" && !strings.HasPrefix(r.tag, "W/") { // a weak one is not fit for it (RFC 9110, 13.1.5)
			h.Set("If-Range", r.tag)
		}
		return h
	}
	return w.ask(ctx, r.address, header, func(a *http.Response, body io.Reader) error {
		length, err := r.agree(a, want, body)
		if err != nil {
			return err
		}
		limited := &io.LimitedReader{R: body, N: length}
		err = take(limited, length)
		if !errors.Is(err, errWrong) && (errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, io.EOF)) {
			return again{err: fmt.Errorf("broke off after %d of %d octets", length-limited.N, length)}
		}
		return err
	})
}

// agree checks that an answer is the range that was asked for, of the file that
// was there before, and returns its length.
func (r *remote) agree(a *http.Response, want span, body io.Reader) (int64, error) {
	if a.StatusCode != http.StatusPartialContent {
		head := make([]byte, 256)
		n, _ := io.ReadFull(body, head)
		switch {
		case looksLikePage(head[:n]):
			return 0, again{err: errPage}
		case a.Request.Header.Get("If-Range") != "":
			return 0, errChanged
		}
		return 0, errors.New("sent the whole file: want a server that sends ranges")
	}
	var from, to, size int64
	if n, _ := fmt.Sscanf(a.Header.Get("Content-Range"), "bytes %d-%d/%d", &from, &to, &size); n != 3 || size < 1 {
		return 0, fmt.Errorf("Content-Range %q: want such as bytes 0-9/100", a.Header.Get("Content-Range"))
	}
	if want.last < 0 {
		want.last = size - 1
	}
	tag := a.Header.Get("Etag")
	if tag == "" {
		tag = a.Header.Get("Last-Modified")
	}
	r.mutex.Lock()
	defer r.mutex.Unlock()
	if r.size == 0 {
		r.size, r.tag = size, tag
	}
	switch {
	case r.size != size || r.tag != tag:
		return 0, errChanged
	case want.last >= size:
		return 0, fmt.Errorf("%w: the file ends at octet %d: its index has more", errWrong, size)
	case from != want.first || to != want.last:
		return 0, fmt.Errorf("sent octets %d to %d: want %d to %d", from, to, want.first, want.last)
	}
	return to - from + 1, nil
}
