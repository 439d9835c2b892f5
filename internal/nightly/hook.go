package nightly

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"path/filepath"
	"sync"
	"time"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/logbook"
)

// How often and how long it is tried to tell of a site.
const (
	tellTries = 3
	tellTry   = 10 * time.Second
	tellAll   = time.Minute
	maxSecret = 4096 // octets of the key's file
)

// Signature is the header that has the HMAC-SHA256 of a webhook's body, in hexadecimal
// after "sha256=".
const Signature = "Thistledown-Signature"

// message is the body of a webhook.
type message struct {
	Site    string    `json:"site"`
	Cycle   time.Time `json:"cycle"`
	Launch  time.Time `json:"launch"`
	From    string    `json:"from"`
	Verdict string    `json:"verdict"`
	Score   float64   `json:"score"`
	Page    string    `json:"page"` // from the folder of all pages
}

// tell tells the webhook of every site with a launch time that is go, of which it was not
// told on the same cycle. All at once, and for a minute at most: what could not be told is
// said, and holds nothing else up.
func (n *night) tell(ctx context.Context) {
	hook := n.sites.Webhook
	if hook == nil || n.options.Post == nil {
		return
	}
	say := func(format string, args ...any) {
		_, _ = fmt.Fprintf(n.options.Out, "Webhook     "+format+"\n", args...) // it is said on the lines of the sites, too
	}
	secret, err := archive.ReadFile(hook.Secret, maxSecret)
	if err == nil {
		if secret = bytes.TrimSpace(secret); len(secret) < 16 {
			err = fmt.Errorf("%d characters: want 16 or more, such as of openssl rand -hex 32", len(secret))
		}
	}
	if err != nil {
		say("nobody was told: webhook.secret_file: %s: %v", hook.Secret, err)
		return
	}
	ctx, stop := context.WithTimeout(ctx, tellAll)
	defer stop()
	var all sync.WaitGroup
	results := make([]error, len(n.pieces))
	for i, p := range n.pieces {
		if !p.good() || n.wasTold(ctx, p.run) {
			continue
		}
		all.Go(func() {
			if results[i] = n.post(ctx, hook.URL, secret, p.run); results[i] == nil && n.book != nil {
				results[i] = n.book.Tell(context.WithoutCancel(ctx), p.run.Site, p.run.Cycle)
			}
		})
	}
	all.Wait()
	for i, err := range results {
		if err != nil {
			say("%s: not told, it is tried again the next night: %v", n.pieces[i].site.Name, err)
		}
	}
}

func (n *night) wasTold(ctx context.Context, r logbook.Run) bool {
	if n.book == nil {
		return false
	}
	told, err := n.book.Told(ctx, r.Site, r.Cycle)
	return err == nil && told
}

// post sends the message of a run, and again where nobody took it.
func (n *night) post(ctx context.Context, address string, secret []byte, r logbook.Run) error {
	w, _ := best(r)
	body, err := json.Marshal(message{r.Site, r.Cycle, w.Launch, w.From, w.Verdict, w.Score, filepath.ToSlash(r.Page) + "/index.html"})
	if err != nil {
		return err
	}
	mac := hmac.New(sha256.New, secret)
	mac.Write(body)
	signature := "sha256=" + hex.EncodeToString(mac.Sum(nil))
	var last error
	for try := range tellTries {
		if try > 0 {
			select {
			case <-ctx.Done():
				return errors.Join(last, ctx.Err())
			case <-time.After(time.Second << (2 * try)): // 4 s, 16 s
			}
		}
		if last = n.try(ctx, address, signature, body); last == nil {
			return nil
		}
	}
	return fmt.Errorf("%w (%d times)", last, tellTries)
}

func (n *night) try(ctx context.Context, address, signature string, body []byte) error {
	ctx, stop := context.WithTimeout(ctx, tellTry)
	defer stop()
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, address, bytes.NewReader(body))
	if err != nil {
		return err
	}
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("User-Agent", "thistledown")
	request.Header.Set(Signature, signature)
	answer, err := n.options.Post(request)
	if err != nil {
		return err
	}
	_, _ = io.CopyN(io.Discard, answer.Body, 1<<16) // so that the connection can be used again
	_ = answer.Body.Close()
	if answer.StatusCode < 200 || answer.StatusCode > 299 {
		return fmt.Errorf("status %s: want 200 to 299", answer.Status)
	}
	return nil
}
