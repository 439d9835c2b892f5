package fetch

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// read reads the real files once: to ask the go command where they are takes a while.
var read = sync.OnceValues(func() (map[int][]byte, error) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/nilsmagnus/grib").CombinedOutput()
	if err != nil {
		return nil, fmt.Errorf("%w: %s", err, out)
	}
	files := map[int][]byte{}
	for _, step := range []int{0, 6, 12} {
		name := filepath.Join(strings.TrimSpace(string(out)), "griblib", "integrationtestdata", fmt.Sprintf("gfs.t00z.pgrb2.2p50.f%03d", step))
		if files[step], err = os.ReadFile(name); err != nil {
			return nil, err
		}
	}
	return files, nil
})

// realFiles are the three files of the forecast of 22 March 2017, 00 UTC, that
// lies inside the module github.com/nilsmagnus/grib, by their step in hours.
func realFiles(t testing.TB) map[int][]byte {
	t.Helper()
	files, err := read()
	require.NoError(t, err)
	return files
}

// idxOf writes the index of a file as wgrib2 would, from its messages.
func idxOf(t testing.TB, file []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	for f, err := range grib.Scan(bytes.NewReader(file), int64(len(file))) {
		require.NoError(t, err)
		level := fmt.Sprintf("surface %d at %g", f.Level.Surface, f.Level.Value) // in words of its own, as for much that is not wanted
		switch f.Level.Surface {
		case grib.Isobaric:
			level = fmt.Sprintf("%g mb", f.Level.Value/100)
		case grib.Ground:
			level = "surface"
		case grib.Atmosphere:
			level = "entire atmosphere"
		case grib.HeightAboveGround:
			level = fmt.Sprintf("%g m above ground", f.Level.Value)
		}
		if f.Level.Surface2 != grib.NoSurface {
			level = fmt.Sprintf("%g-%g of something", f.Level.Value, f.Level.Value2)
		}
		when := "anl"
		switch step := f.Step.Hours(); {
		case f.Statistic != grib.Instant:
			kind := map[grib.Statistic]string{grib.Average: "ave", grib.Accumulation: "acc", grib.Maximum: "max", grib.Minimum: "min"}[f.Statistic]
			when = fmt.Sprintf("%g-%g hour %s fcst", f.StepStart.Hours(), step, kind)
		case step > 0:
			when = fmt.Sprintf("%g hour fcst", step)
		}
		member := ""
		switch m := wind.MemberOf(f); m.Kind {
		case wind.Control:
			member = "ENS=low-res ctl"
		case wind.Perturbed:
			member = fmt.Sprintf("ENS=+%d", m.Number)
		}
		fmt.Fprintf(&b, "%d:%d:d=%s:%s:%s:%s:%s\n", f.Message, f.Offset, f.Reference.Format("2006010215"), f.Parameter(), level, when, member)
	}
	return b.Bytes()
}

// site is a server of files that takes ranges, with faults to be put in.
type site struct {
	*httptest.Server
	mutex    sync.Mutex
	files    map[string][]byte // by path
	tags     map[string]string
	requests []string // "path range"
	sent     int64    // octets of bodies of ranges
	date     time.Time
	// fault may answer in place of the server, and returns whether it did. It is
	// told how often the same path and range was asked for before.
	fault func(w http.ResponseWriter, r *http.Request, before int) bool
}

func newSite(t testing.TB) *site {
	s := &site{files: map[string][]byte{}, tags: map[string]string{}, date: march}
	s.Server = httptest.NewServer(s)
	t.Cleanup(s.Close)
	return s
}

func (s *site) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	key := strings.TrimSpace(r.URL.Path + " " + r.Header.Get("Range"))
	s.mutex.Lock()
	before := 0
	for _, k := range s.requests {
		if k == key {
			before++
		}
	}
	s.requests = append(s.requests, key)
	fault := s.fault
	s.mutex.Unlock()
	w.Header().Set("Date", s.date.UTC().Format(http.TimeFormat))
	if fault != nil && fault(w, r, before) {
		return
	}
	s.mutex.Lock()
	content, ok := s.files[r.URL.Path]
	tag := s.tags[r.URL.Path]
	s.mutex.Unlock()
	if !ok {
		http.NotFound(w, r)
		return
	}
	if tag != "" {
		w.Header().Set("ETag", tag)
	}
	if r.Header.Get("Range") != "" {
		w = &counting{w, s}
	}
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(content))
}

// counting counts the octets of an answer, before they are on their way.
type counting struct {
	http.ResponseWriter
	s *site
}

func (c *counting) Write(b []byte) (int, error) {
	c.s.mutex.Lock()
	c.s.sent += int64(len(b))
	c.s.mutex.Unlock()
	return c.ResponseWriter.Write(b)
}

// octets is how many were sent of ranges since it was last set to nought.
func (s *site) octets() int64 {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return s.sent
}

// nought sets octets to nought.
func (s *site) nought() {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	s.sent = 0
}

// put publishes a file and its index.
func (s *site) put(t testing.TB, path string, content []byte) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	s.files[path], s.files[path+".idx"] = content, idxOf(t, content)
	s.tags[path] = `"` + sumOf(content)[:16] + `"`
}

// asked counts the requests whose path ends so.
func (s *site) asked(tail string) int {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	n := 0
	for _, k := range s.requests {
		path, _, _ := strings.Cut(k, " ")
		if strings.HasSuffix(path, tail) {
			n++
		}
	}
	return n
}

// small are sources with the steps of the real files.
const small = `
winds:
  - name: gfs
    roots: [https://forecasts.example.org]
    index: idx
    top_hpa: 3
    parallel: 3
    per_minute: 6000
    steps: [{cycles: [0, 6, 12, 18], from: 0, to: 12, every: 6}]
    files: [{path: "gfs.{YYYYMMDD}/{HH}/atmos/gfs.t{HH}z.pgrb2.0p25.f{FFF}"}]
`

func gfsPath(step int) string {
	return fmt.Sprintf("/gfs.20170322/00/atmos/gfs.t00z.pgrb2.0p25.f%03d", step)
}

// march is when the forecast of the tests has just been published.
var march = time.Date(2017, 3, 22, 5, 0, 0, 0, time.UTC)

// southSweden is a box that the tests keep.
var southSweden = geo.Box{South: 55, North: 62, West: 8, East: 20}

// realSite publishes the real forecast.
func realSite(t testing.TB) *site {
	s := newSite(t)
	for step, content := range realFiles(t) {
		s.put(t, gfsPath(step), content)
	}
	return s
}

// still is a client whose clock goes only while it waits, which takes no time;
// waited gathers how long it would have waited.
func still(now time.Time) (c Client, waited *[]time.Duration) {
	waited = &[]time.Duration{}
	var mutex sync.Mutex
	clock := func() time.Time {
		mutex.Lock()
		defer mutex.Unlock()
		return now
	}
	return Client{
		HTTP: &http.Client{}, Now: clock, Patience: 20 * time.Second,
		Wait: func(ctx context.Context, d time.Duration) error {
			mutex.Lock()
			defer mutex.Unlock()
			now = now.Add(d)
			*waited = append(*waited, d)
			return ctx.Err()
		},
	}, waited
}

func sourcesOf(t testing.TB, text string) Sources {
	t.Helper()
	s, err := Sources{}.With([]byte(text))
	require.NoError(t, err)
	return s
}

// orderOf is an order of all three steps at a site.
func orderOf(s *site, folder string) Order {
	return Order{
		Source: "gfs", Root: s.URL, Folder: folder, Box: southSweden,
		From: time.Date(2017, 3, 22, 1, 0, 0, 0, time.UTC), To: time.Date(2017, 3, 22, 11, 0, 0, 0, time.UTC),
	}
}
