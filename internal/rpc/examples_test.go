package rpc_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/rpc"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

const examples = "../../scripts/examples"

// run runs a program for a minute at most.
func run(t *testing.T, name string, args ...string) (out, errs string, err error) {
	t.Helper()
	ctx, stop := context.WithTimeout(t.Context(), time.Minute)
	defer stop()
	c := exec.CommandContext(ctx, name, args...)
	var said, complained strings.Builder
	c.Stdout, c.Stderr = &said, &complained
	err = c.Run()
	return said.String(), complained.String(), err
}

// The same question by grpcurl, curl and Python brings the answer that a Go client
// gets, and bad input one line that names the field.
func TestExamplesOfCallers(t *testing.T) {
	connection := dial(t, realwind.Field(t), "")
	handler, err := rpc.NewGateway(connection, nil)
	require.NoError(t, err)
	web := httptest.NewServer(handler)
	defer web.Close()
	question, err := os.ReadFile(filepath.Join(examples, "fly.json"))
	require.NoError(t, err)
	ask := &thistledownv1.FlyRequest{}
	require.NoError(t, protojson.Unmarshal(question, ask))
	want, err := thistledownv1.NewPlannerClient(connection).Fly(t.Context(), ask)
	require.NoError(t, err)
	bad := filepath.Join(t.TempDir(), "bad.json")
	require.NoError(t, os.WriteFile(bad, []byte(strings.Replace(string(question), "58.2", "158.2", 1)), 0o600))

	for script, at := range map[string]string{"with-curl": web.URL, "with-grpcurl": connection.Target(), "with-python": connection.Target()} {
		t.Run(script, func(t *testing.T) {
			lacks := map[string]func() bool{
				"with-curl": func() bool { _, err := exec.LookPath("curl"); return err != nil },
				"with-grpcurl": func() bool {
					_, here := os.Stat("../../.bin/grpcurl")
					_, there := exec.LookPath("grpcurl")
					return here != nil && there != nil
				},
				"with-python": func() bool {
					return exec.Command("/usr/bin/python3", "-c", "import grpc, google.protobuf").Run() != nil
				},
			}
			if lacks[script]() {
				t.Skip("left out: " + script + ", for want of its tool")
			}
			out, errs, err := run(t, filepath.Join(examples, script), at)
			require.NoError(t, err, "%.500s", errs)
			got := &thistledownv1.FlyResponse{}
			require.NoError(t, protojson.Unmarshal([]byte(out), got), "%.300s", out)
			assert.True(t, proto.Equal(want, got))
			out, errs, err = run(t, filepath.Join(examples, script), at, bad)
			assert.Error(t, err)
			assert.Contains(t, out+errs, "site.latitude", "%.500s", out+errs)
		})
	}
}

// The page asks for a launch and reads a week line by line, from an origin of its own.
func TestExampleOfAPage(t *testing.T) {
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		t.Skip("left out: the page in a real browser, for want of Debian's chromium")
	}
	files := httptest.NewServer(http.FileServer(http.Dir(examples)))
	defer files.Close()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.DisableGPU, // root has no sandbox
		chromedp.WSURLReadTimeout(time.Minute), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"))
	within, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	ctx, stop := chromedp.NewExecAllocator(within, options...)
	defer stop()
	ctx, stop = chromedp.NewContext(ctx)
	defer stop()
	see := func(service string) string {
		require.NoError(t, chromedp.Do(ctx, chromedp.Navigate(files.URL+"/page.html?service="+service)))
		shown, err := chromedp.Run(ctx, chromedp.Evaluate[string](`new Promise((done) => {
			const look = () => document.body.dataset.done
				? done(document.body.dataset.done + ": " + document.querySelector("#launch").textContent + document.querySelector("#week").textContent)
				: setTimeout(look, 50);
			look();
		})`, chromedp.EvalAwaitPromise))
		require.NoError(t, err)
		return shown
	}
	shown := see(web(t, files.URL))
	assert.True(t, strings.HasPrefix(shown, "all: "), shown)
	assert.Contains(t, shown, "km from the site, 95 % within")
	assert.Equal(t, 4, strings.Count(shown, "hazard score"), "06, 07, 08 and 09 in Sweden: %s", shown)
	assert.Contains(t, shown, "2017-03-22T05:00:00Z: hazard", "in March Sweden is an hour ahead of UTC")
	assert.Contains(t, see(web(t)), "error: The service says: Failed to fetch", "an origin that was not let in")
}
