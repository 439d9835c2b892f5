package fetch

import (
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"example.org/thistledown/internal/wind"
)

// older is a folder with a cube of an older cycle in it, to which the name that
// stays leads; check sees that it is there as it was, or that it is not.
func older(t *testing.T) (folder string, check func(stays bool)) {
	t.Helper()
	s := realSite(t)
	c, _ := still(march)
	folder = t.TempDir()
	got, err := c.Pull(t.Context(), sourcesOf(t, small), orderOf(s, folder), nil)
	require.NoError(t, err)
	// The day before: the same octets but for the cycle, put there by hand.
	content, err := os.ReadFile(got.File)
	require.NoError(t, err)
	return folder, func(stays bool) {
		t.Helper()
		now, err := os.ReadFile(filepath.Join(folder, "gfs.cube"))
		require.NoError(t, err)
		assert.Equal(t, stays, string(now) == string(content), "what was there stays as it was")
	}
}

// wider is an order that what is there does not answer.
func wider(s *site, folder string) Order {
	o := orderOf(s, folder)
	o.Box.West = 4
	return o
}

// say answers with a text; whoever asked may be gone.
func say(w http.ResponseWriter, text string) { _, _ = fmt.Fprint(w, text) }

// flush sends what there is; whoever asked may be gone.
func flush(w http.ResponseWriter) { _ = http.NewResponseController(w).Flush() }

// Each fault that goes away is got over, and the cube is whole; the server is
// asked again no sooner than it wants.
func TestPullGetsOver(t *testing.T) {
	data := func(r *http.Request) bool { return strings.HasSuffix(r.URL.Path, ".f006") }
	index := func(r *http.Request) bool { return strings.HasSuffix(r.URL.Path, ".f006.idx") }
	status := func(code int, header ...string) func(http.ResponseWriter) {
		return func(w http.ResponseWriter) {
			for i := 0; i < len(header); i += 2 {
				w.Header().Set(header[i], header[i+1])
			}
			w.WriteHeader(code)
		}
	}
	page := func(w http.ResponseWriter) { say(w, "<!DOCTYPE html><html>Please try later</html>") }
	cut := func(w http.ResponseWriter) {
		w.WriteHeader(http.StatusOK)
		flush(w)
		panic(http.ErrAbortHandler)
	}
	for name, test := range map[string]struct {
		where  func(*http.Request) bool
		answer func(http.ResponseWriter)
		times  int
		waits  time.Duration // at least once
	}{
		"429 of data":           {data, status(429, "Retry-After", "17"), 2, 17 * time.Second},
		"503 of data":           {data, status(503), 3, 4 * time.Second},
		"503 until a time":      {data, status(503, "Date", "Wed, 22 Mar 2017 05:00:00 GMT", "Retry-After", "Wed, 22 Mar 2017 05:00:40 GMT"), 1, 40 * time.Second},
		"503 of an index":       {index, status(503), 2, 2 * time.Second},
		"500 of data":           {data, status(500), 1, time.Second},
		"a web page for data":   {data, page, 2, 2 * time.Second},
		"a web page for an idx": {index, page, 1, time.Second},
		"a long wait is cut":    {data, status(429, "Retry-After", "86400"), 1, 5 * time.Minute},
		"an index cut off":      {index, cut, 2, 2 * time.Second},
	} {
		t.Run(name, func(t *testing.T) {
			s := realSite(t)
			count := 0
			var mutex sync.Mutex
			s.fault = func(w http.ResponseWriter, r *http.Request, _ int) bool {
				mutex.Lock()
				ours := test.where(r) && count < test.times
				if ours {
					count++
				}
				mutex.Unlock()
				if ours {
					test.answer(w)
				}
				return ours
			}
			c, waited := still(march)
			folder := t.TempDir()
			got, err := c.Pull(t.Context(), sourcesOf(t, small), orderOf(s, folder), nil)
			require.NoError(t, err)
			assert.Empty(t, got.Notes)
			assert.Equal(t, test.times, count)
			most := time.Duration(0)
			for _, d := range *waited {
				most = max(most, d)
			}
			// As long as is asked for, or as the tries say; and then in turn.
			assert.GreaterOrEqual(t, most, test.waits, "longest wait")
			assert.Less(t, most, test.waits+500*time.Millisecond, "longest wait")
			fieldOf(t, got.Link)
		})
	}
}

// cutting lets bodies of ranges through to so many octets, and then hangs up.
type cutting struct {
	http.ResponseWriter
	left int
}

func (c *cutting) Write(b []byte) (int, error) {
	if len(b) > c.left {
		_, _ = c.ResponseWriter.Write(b[:c.left])
		panic(http.ErrAbortHandler)
	}
	c.left -= len(b)
	return c.ResponseWriter.Write(b)
}

// Where every long body is cut, what came of it is not fetched again.
func TestPullGoesOnBehindACut(t *testing.T) {
	s := realSite(t)
	inner := s.Config.Handler
	s.Config.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Header.Get("Range") != "" {
			w = &cutting{w, 60_000}
		}
		inner.ServeHTTP(w, r)
	})
	c, _ := still(march)
	got, err := c.Pull(t.Context(), sourcesOf(t, small), orderOf(s, t.TempDir()), nil)
	require.NoError(t, err)
	fieldOf(t, got.Link)
	assert.Less(t, s.octets(), got.Octets*3/2, "octets sent, for %d", got.Octets)
}

// A server that falls silent in the middle is hung up on and asked again.
func TestPullDoesNotWaitForEver(t *testing.T) {
	s := realSite(t)
	release := make(chan struct{})
	t.Cleanup(func() { close(release) })
	s.fault = func(w http.ResponseWriter, r *http.Request, before int) bool {
		if !strings.HasSuffix(r.URL.Path, ".f006") || before > 0 {
			return false
		}
		first, last, _ := strings.Cut(strings.TrimPrefix(r.Header.Get("Range"), "bytes="), "-")
		a, _ := strconv.Atoi(first)
		b, _ := strconv.Atoi(last)
		w.Header().Set("Content-Range", fmt.Sprintf("bytes %d-%d/4321292", a, b))
		w.Header().Set("ETag", s.tags[r.URL.Path])
		w.Header().Set("Content-Length", strconv.Itoa(b-a+1))
		w.WriteHeader(http.StatusPartialContent)
		flush(w)
		select {
		case <-release:
		case <-r.Context().Done():
		}
		return true
	}
	c, _ := still(march)
	c.Patience = time.Second
	got, err := c.Pull(t.Context(), sourcesOf(t, small), orderOf(s, t.TempDir()), nil)
	require.NoError(t, err)
	fieldOf(t, got.Link)
}

// Each fault that stays ends the pull with a line that says what and where, and
// what was there before stays.
func TestPullKeepsWhatWasThere(t *testing.T) {
	shift := func(idx []byte) []byte { // every octet by one message too far
		lines := strings.Split(strings.TrimSpace(string(idx)), "\n")
		out := ""
		for i := range lines[:len(lines)-1] {
			part := strings.SplitN(lines[i], ":", 3)
			next := strings.SplitN(lines[i+1], ":", 3)
			out += part[0] + ":" + next[1] + ":" + part[2] + "\n"
		}
		return []byte(out)
	}
	for name, test := range map[string]struct {
		spoil func(s *site)
		says  []string
	}{
		"403 everywhere": {func(s *site) {
			s.fault = func(w http.ResponseWriter, _ *http.Request, _ int) bool { w.WriteHeader(403); return true }
		}, []string{"no complete cycle", "403"}},
		"404 of data only": {func(s *site) { delete(s.files, gfsPath(6)) }, []string{"no complete cycle", "f006", "404"}},
		"503 for ever": {func(s *site) {
			s.fault = func(w http.ResponseWriter, _ *http.Request, _ int) bool { w.WriteHeader(503); return true }
		}, []string{"503", "asked 6 times"}},
		"pages for ever": {func(s *site) {
			s.fault = func(w http.ResponseWriter, _ *http.Request, _ int) bool { say(w, "<html>"); return true }
		}, []string{"web page"}},
		"an index one message off": {
			func(s *site) { s.files[gfsPath(6)+".idx"] = shift(s.files[gfsPath(6)+".idx"]) },
			[]string{"f006", "octets", "is not what its index says", "want"},
		},
		"an index of another step": {
			func(s *site) { s.files[gfsPath(6)+".idx"] = s.files[gfsPath(12)+".idx"] },
			[]string{"f006.idx", "is not what its index says", "want the step 6 h"},
		},
		"an index beyond the file": {
			func(s *site) { s.files[gfsPath(6)] = s.files[gfsPath(6)][:2_000_000] },
			[]string{"f006", "it ends before the octets asked for"},
		},
		"damage in a message": {func(s *site) { // the one that follows a wanted one, and is wanted too
			b := []byte(strings.Clone(string(s.files[gfsPath(6)])))
			_, line, _ := strings.Cut(string(s.files[gfsPath(6)+".idx"]), ":UGRD:500 mb:") // the one before it ends here
			at, err := strconv.Atoi(strings.Split(strings.Split(line, "\n")[1], ":")[1])
			require.NoError(t, err)
			copy(b[at+16:], make([]byte, 30)) // its first section
			s.files[gfsPath(6)] = b
		}, []string{"f006", "is not what its index says"}},
		"a server without ranges": {func(s *site) {
			s.fault = func(w http.ResponseWriter, r *http.Request, _ int) bool {
				r.Header.Del("Range")
				return false
			}
		}, []string{"want a server that sends ranges"}},
		"JSON for lines": {func(s *site) { s.files[gfsPath(6)+".idx"] = []byte(`{"error": "none"}`) }, []string{"f006.idx: line 1", "want number, octet"}},
	} {
		t.Run(name, func(t *testing.T) {
			folder, check := older(t)
			s := realSite(t)
			test.spoil(s)
			c, _ := still(march)
			_, err := c.Pull(t.Context(), sourcesOf(t, small), wider(s, folder), nil)
			require.Error(t, err)
			for _, says := range append(test.says, "kept as it was: "+filepath.Join(folder, "gfs-20170322T0000Z.cube")) {
				assert.ErrorContains(t, err, says)
			}
			check(true)
		})
	}
}

// The last step of the newest cycle is missing: the one before is pulled, which
// is said, and nothing of the newer is in it.
func TestPullTakesTheCycleBefore(t *testing.T) {
	s := realSite(t)
	for step, content := range realFiles(t) {
		if step < 12 {
			s.put(t, fmt.Sprintf("/gfs.20170322/06/atmos/gfs.t06z.pgrb2.0p25.f%03d", step), content)
		}
	}
	s.date = time.Date(2017, 3, 22, 11, 30, 0, 0, time.UTC)
	c, _ := still(s.date)
	o := orderOf(s, t.TempDir())
	o.From, o.To, o.Lead = time.Time{}, time.Time{}, 12*time.Hour
	got, err := c.Pull(t.Context(), sourcesOf(t, small), o, nil)
	require.NoError(t, err)
	require.Len(t, got.Notes, 1)
	assert.Contains(t, got.Notes[0], "The cycle of 22 Mar 2017 06:00 UTC is not complete")
	assert.Contains(t, got.Notes[0], "f012.idx")
	assert.Equal(t, time.Date(2017, 3, 22, 0, 0, 0, 0, time.UTC), got.Cycle)
	assert.Equal(t, got.Cycle, got.Packed.Axes.Cycle)
	assert.Zero(t, s.asked("gfs.t06z.pgrb2.0p25.f000"), "data of the cycle that is not complete")
}

// A file that is replaced between two ranges is fetched anew, with its new index.
func TestPullNoticesAChange(t *testing.T) {
	s := realSite(t)
	files := realFiles(t)
	padded := append(make([]byte, 512), files[6]...) // the same messages elsewhere
	changed := false
	s.fault = func(_ http.ResponseWriter, r *http.Request, _ int) bool {
		s.mutex.Lock()
		ranges := 0
		for _, k := range s.requests {
			if strings.HasPrefix(k, gfsPath(6)+" ") {
				ranges++
			}
		}
		s.mutex.Unlock()
		if !changed && ranges == 3 {
			changed = true
			s.put(t, gfsPath(6), padded)
		}
		return false
	}
	c, _ := still(march)
	o := orderOf(s, t.TempDir())
	one := strings.Replace(small, "parallel: 3", "parallel: 1", 1)
	got, err := c.Pull(t.Context(), sourcesOf(t, one), o, nil)
	require.NoError(t, err)
	assert.True(t, changed)
	assert.Equal(t, 2, s.asked("f006.idx"), "index read anew")
	fieldOf(t, got.Link)
	// One that changes whenever it is looked at is given up on.
	n := 0
	s.fault = func(_ http.ResponseWriter, r *http.Request, _ int) bool {
		if r.URL.Path == gfsPath(6) {
			s.mutex.Lock()
			n++
			s.tags[gfsPath(6)] = fmt.Sprintf("%q", fmt.Sprint(n))
			s.mutex.Unlock()
		}
		return false
	}
	_, err = c.Pull(t.Context(), sourcesOf(t, one), wider(s, o.Folder), nil)
	require.ErrorIs(t, err, errChanged)
	require.ErrorContains(t, err, "kept as it was")
	fieldOf(t, got.Link)
}

// A full disk ends the pull, and so does one that fills up in the midst of a
// crop; what was there stays, and with room again the pull goes on.
func TestPullOnAFullDisk(t *testing.T) {
	folder, check := older(t)
	s := realSite(t)
	c, _ := still(march)
	room := 40_000
	var mutex sync.Mutex
	c.write = func(to *os.File, b []byte) error {
		mutex.Lock()
		defer mutex.Unlock()
		n := min(len(b), room)
		room -= n
		_, err := to.Write(b[:n])
		if n < len(b) {
			err = errors.Join(err, &os.PathError{Op: "write", Path: to.Name(), Err: unix.ENOSPC})
		}
		return err
	}
	_, err := c.Pull(t.Context(), sourcesOf(t, small), wider(s, folder), nil)
	require.ErrorIs(t, err, unix.ENOSPC)
	require.ErrorContains(t, err, "kept as it was")
	check(true)
	first := s.octets()
	c.write = nil
	got, err := c.Pull(t.Context(), sourcesOf(t, small), wider(s, folder), nil)
	require.NoError(t, err)
	check(false)
	assert.Greater(t, first, got.Octets/10)
	assert.Less(t, s.octets(), got.Octets*5/4, "octets sent in both tries, for %d", got.Octets)
}

// A clock that is wrong by days is found out by the server's, and one that jumps
// in the midst of a pull neither hangs it nor ends it.
func TestPullWithAClockThatJumps(t *testing.T) {
	s := realSite(t)
	s.date = march
	c, _ := still(march.AddDate(0, 1, 3))
	o := orderOf(s, t.TempDir())
	o.From, o.To, o.Lead = time.Time{}, time.Time{}, 12*time.Hour
	got, err := c.Pull(t.Context(), sourcesOf(t, small), o, nil)
	require.NoError(t, err)
	require.NotEmpty(t, got.Notes)
	assert.Equal(t, "This machine's clock says 25 Apr 2017 05:00 UTC, the server's 22 Mar 2017 05:00 UTC: the server's was taken.", got.Notes[0])
	assert.Equal(t, 2017, got.Cycle.Year())
	assert.Equal(t, 22, got.Cycle.Day())

	c, waited := still(march)
	n := 0
	var mutex sync.Mutex
	c.Now = func() time.Time { // an hour forth, two back, and so on
		mutex.Lock()
		defer mutex.Unlock()
		n++
		if n < 3 {
			return march
		}
		return march.Add([]time.Duration{time.Hour, -2 * time.Hour, 0}[n%3])
	}
	o = orderOf(s, t.TempDir())
	got, err = c.Pull(t.Context(), sourcesOf(t, small), o, func(p Progress) {
		if p.Left > 0 {
			assert.LessOrEqual(t, p.Left, mostLeft)
		}
	})
	require.NoError(t, err)
	fieldOf(t, got.Link)
	for _, d := range *waited {
		assert.LessOrEqual(t, d, longest)
	}
}

// Winds that no cycle reaches are no usable forecast.
func TestPullOfTimesThatAreNotCovered(t *testing.T) {
	s := realSite(t)
	c, _ := still(march)
	o := orderOf(s, t.TempDir())
	o.To = o.To.AddDate(0, 0, 9)
	_, err := c.Pull(t.Context(), sourcesOf(t, small), o, nil)
	require.ErrorIs(t, err, wind.ErrNoWind)
	require.ErrorContains(t, err, "gfs, cycle of 22 Mar 2017 00:00 UTC, reaches from 22 Mar 2017 00:00 UTC to 22 Mar 2017 12:00 UTC")
	assert.Zero(t, s.asked(""))
}

// The next address serves where the first is down.
func TestPullFromTheNextAddress(t *testing.T) {
	s := realSite(t)
	down := newSite(t)
	down.Close()
	text := strings.Replace(small, "https://forecasts.example.org", down.URL+", "+s.URL, 1)
	c, _ := still(march)
	o := orderOf(s, t.TempDir())
	o.Root = ""
	got, err := c.Pull(t.Context(), sourcesOf(t, text), o, nil)
	require.NoError(t, err)
	require.Len(t, got.Notes, 1)
	assert.Contains(t, got.Notes[0], "connection refused")
	assert.Contains(t, got.Notes[0], "the next address is tried")
}

// What a pull for other steps has left half fetched is not mixed in.
func TestPullLeavesOtherStepsAside(t *testing.T) {
	s := realSite(t)
	folder := t.TempDir()
	s.fault = func(w http.ResponseWriter, r *http.Request, before int) bool {
		hide := strings.HasSuffix(r.URL.Path, ".f012") && s.asked("f012") > 3
		if hide {
			w.WriteHeader(http.StatusInternalServerError)
		}
		return hide
	}
	c, _ := still(march)
	o := orderOf(s, folder)
	_, err := c.Pull(t.Context(), sourcesOf(t, small), o, nil)
	require.Error(t, err)
	staged, err := filepath.Glob(filepath.Join(folder, ".pull-gfs-2*", "f012*"))
	require.NoError(t, err)
	require.Len(t, staged, 1, "half a step is there")
	o.To = time.Date(2017, 3, 22, 5, 0, 0, 0, time.UTC)
	got, err := c.Pull(t.Context(), sourcesOf(t, small), o, nil)
	require.NoError(t, err)
	assert.Equal(t, []time.Duration{0, 6 * time.Hour}, got.Holding.Steps)
	assert.Len(t, got.Holding.Levels, 29, "the 31 of the files, from 1000 to 1 hPa, less 2 and 1 hPa")
}
