package fetch

import (
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// childOf is set in the process that TestPullGoesOnAfterAKill kills: the address
// of the server and the folder.
const childOf = "FETCH_TEST_CHILD"

// A pull that is killed in the middle leaves what was there as it was, and goes on
// where it was when it is started again.
func TestPullGoesOnAfterAKill(t *testing.T) {
	if where := os.Getenv(childOf); where != "" {
		address, folder, _ := strings.Cut(where, " ")
		c, _ := still(march)
		o := wider(&site{Server: &httptest.Server{URL: address}}, folder)
		_, err := c.Pull(t.Context(), sourcesOf(t, small), o, nil)
		require.NoError(t, err)
		return
	}
	folder, check := older(t)
	s := realSite(t)
	enough := make(chan struct{})
	hang := make(chan struct{})
	ranges := 0
	s.mutex.Lock() // which the child's connections are not ordered by but for this
	s.fault = func(_ http.ResponseWriter, r *http.Request, _ int) bool {
		if r.Header.Get("Range") == "" {
			return false
		}
		s.mutex.Lock()
		ranges++
		n := ranges
		s.mutex.Unlock()
		if n == 40 { // some files are half fetched then
			close(enough)
		}
		if n >= 40 {
			<-hang
		}
		return false
	}
	s.mutex.Unlock()
	child := exec.Command(os.Args[0], "-test.run", "^TestPullGoesOnAfterAKill$") //nolint:gosec // this test itself
	child.Env = append(os.Environ(), childOf+"="+s.URL+" "+folder)
	require.NoError(t, child.Start())
	ended := make(chan error, 1)
	go func() { ended <- child.Wait() }()
	select {
	case <-enough:
	case err := <-ended:
		t.Fatalf("the pull ended before it could be killed: %v", err)
	}
	require.NoError(t, child.Process.Signal(syscall.SIGKILL))
	require.Error(t, <-ended)
	close(hang)
	check(true)
	s.mutex.Lock()
	s.fault = nil
	first := s.sent
	s.sent = 0
	s.mutex.Unlock()
	c, _ := still(march)
	got, err := c.Pull(t.Context(), sourcesOf(t, small), wider(s, folder), nil)
	require.NoError(t, err)
	check(false)
	fieldOf(t, got.Link)
	assert.Greater(t, first, got.Octets/10, "octets of the first try")
	assert.Less(t, s.sent, got.Octets-first/2, "octets of the second try, of %d; the first had %d", got.Octets, first)
}
