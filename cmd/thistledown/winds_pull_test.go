package main

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/fetch"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/realwind"
)

// published serves the real forecast of March 2017 in the layout of the GFS, with
// an index of its upper air, at a time that it was new.
func published(t *testing.T) *httptest.Server {
	files := map[string][]byte{}
	for i, name := range realwind.Files(t) {
		publishFile(t, files, 0, 6*i, mustReadOctets(t, name))
	}
	return publishedFrom(t, files)
}

func mustReadOctets(t *testing.T, name string) []byte {
	t.Helper()
	content, err := os.ReadFile(name)
	require.NoError(t, err)
	return content
}

// publishFile puts a step of a cycle of 22 March 2017 and its index among files.
func publishFile(t *testing.T, files map[string][]byte, cycle, step int, content []byte) {
	t.Helper()
	path := fmt.Sprintf("/gfs.20170322/%02d/atmos/gfs.t%02dz.pgrb2.0p25.f%03d", cycle, cycle, step)
	files[path] = content
	var idx bytes.Buffer
	for f, err := range grib.Scan(bytes.NewReader(content), int64(len(content))) {
		require.NoError(t, err)
		level, when := "elsewhere", fmt.Sprintf("%g hour fcst", f.Step.Hours())
		if f.Level.Surface == grib.Isobaric {
			level = fmt.Sprintf("%g mb", f.Level.Value/100)
		}
		fmt.Fprintf(&idx, "%d:%d:d=%s:%s:%s:%s:\n", f.Message, f.Offset, f.Reference.Format("2006010215"), f.Parameter(), level, when)
	}
	files[path+".idx"] = idx.Bytes()
}

// publishedFrom serves files.
func publishedFrom(t *testing.T, files map[string][]byte) *httptest.Server {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Date", "Wed, 22 Mar 2017 05:00:00 GMT")
		content, ok := files[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(content))
	}))
	t.Cleanup(s.Close)
	return s
}

// A forecast is pulled, listed, found to be there, and flown on.
func TestWindsPull(t *testing.T) {
	s := published(t)
	dir := t.TempDir()
	own := filepath.Join(dir, "mine.yaml")
	require.NoError(t, os.WriteFile(own, []byte(`
winds:
  - {name: gfs, terms: public domain, roots: [`+s.URL+`], index: idx, parallel: 4, per_minute: 6000,
     steps: [{cycles: [0, 6, 12, 18], from: 0, to: 12, every: 6}],
     files: [{path: "gfs.{YYYYMMDD}/{HH}/atmos/gfs.t{HH}z.pgrb2.0p25.f{FFF}"}]}
`), 0o600))
	args := []string{"winds", "pull", "--box", "south=45,north=70,west=-10,east=40", "--hours", "12", "--sources", own, "--to", filepath.Join(dir, "winds"), "--keep", "1GB"}
	code, out, errs := thistledown(args...)
	require.Equal(t, done, code, errs)
	link := filepath.Join(dir, "winds", "gfs.cube")
	for _, says := range []string{"This machine's clock says", "cycle of 22 Mar 2017 00:00 UTC", "Fetched", "Terms       public domain", "--forecast " + link} {
		assert.Contains(t, out, says)
	}
	code, out, errs = thistledown(args...)
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "There       "+filepath.Join(dir, "winds", "gfs-20170322T0000Z.cube"))

	code, out, errs = thistledown("fly", demoPlan, "--forecast", link)
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "cycle of 22 Mar 2017 00:00 UTC, 7 h old at launch")

	t.Chdir(dir)
	code, out, errs = thistledown("winds", "list")
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "gfs          22 Mar 2017 00:00 Z")
	assert.Contains(t, out, filepath.Join("winds", "gfs-20170322T0000Z.cube")+", the newest")

	s.Close()
	code, out, errs = thistledown("winds", "pull", "--box", "south=45,north=71,west=-10,east=40", "--sources", own, "--source", "gfs", "--hours=-1")
	assert.Equal(t, badInput, code)
	assert.Empty(t, out)
	assert.Contains(t, errs, "--hours -1: want 0 or more")
}

// What is asked for in a way that cannot be served is refused in a line.
func TestPullFaults(t *testing.T) {
	for _, test := range []struct {
		args, says string
		code       int
	}{
		{"winds pull", "PLAN, --box: want one of them", badInput},
		{"winds pull --box south=1,north=2,west=1,east=2 --source nobody", `source "nobody": want one of gfs, gfs-cut, gefs, ecmwf, ecmwf-ens`, badInput},
		{"winds pull --box south=1,north=2,west=1,east=2 --keep much", "--keep much: want a size such as 500MB", badInput},
		{"winds pull --box south=1,north=2,west=1,east=2 --from nowhere", `root "nowhere"`, badInput},
		{"ground pull", "PLAN, --box: want one of them", badInput},
		{"ground pull --box south=1,north=2,west=1,east=2 --from https://a.example.org", "want one --source", badInput},
		{"ground pull --box south=1,north=2,west=1,east=2 --pixel 0", "pixels of 0 m", badInput},
		{"winds list --json", "want files, folders or cubes", badInput},
	} {
		t.Chdir(t.TempDir())
		code, _, errs := thistledown(strings.Fields(test.args)...)
		assert.Equal(t, test.code, code, test.args)
		assert.Contains(t, errs, test.says, test.args)
	}
}

// A low flight of which nothing hangs in the air for hours is over before the forecast of
// the test is: it is pulled into the folder beside the plan, and flown on.
func TestPullAndFlyAPlan(t *testing.T) {
	s := published(t)
	dir := t.TempDir()
	mine := filepath.Join(dir, "plan.yaml")
	require.NoError(t, os.WriteFile(mine, []byte(`name: Low flight
site: {name: Long Meadow, latitude: 58.22, longitude: 12.80, elevation: 95 m, time_zone: Europe/Stockholm}
launch: 2017-03-22T04:00:00+01:00
train:
  measured: {ascent_rate: 6 m/s, burst_altitude: 9 km, landing_speed: 6 m/s}
uncertainty:
  off_nominal: {float: 0 %}
`), 0o600))
	p := windsPull{Plan: mine, Source: "gfs"}
	var out bytes.Buffer
	c := fetch.NewClient()
	c.Now = func() time.Time { return march }
	c.Wait = func(ctx context.Context, _ time.Duration) error { return ctx.Err() } // the clock stands still
	require.NoError(t, p.pull(t.Context(), &streams{&out, &out}, c, only(t, s), 0))
	link := filepath.Join(dir, "winds", "gfs.cube")
	assert.Contains(t, out.String(), "Fly on it   thistledown fly "+mine+" --forecast "+link)
	code, flown, errs := thistledown("fly", mine, "--forecast", link)
	require.Equal(t, done, code, errs)
	assert.Contains(t, flown, "Comes down  most likely near 58.", "a line before it would say how many flights did not land")
	assert.Contains(t, flown, "cycle of 22 Mar 2017 00:00 UTC")
}

var march = time.Date(2017, 3, 22, 5, 0, 0, 0, time.UTC)

// only is a source of the three steps at a server.
func only(t *testing.T, s *httptest.Server) fetch.Sources {
	t.Helper()
	sources, err := fetch.Sources{}.With([]byte(`
winds:
  - {name: gfs, terms: public domain, roots: [` + s.URL + `], index: idx, parallel: 4, per_minute: 6000,
     steps: [{cycles: [0, 6, 12, 18], from: 0, to: 12, every: 6}],
     files: [{path: "gfs.{YYYYMMDD}/{HH}/atmos/gfs.t{HH}z.pgrb2.0p25.f{FFF}"}]}
`))
	require.NoError(t, err)
	return sources
}

// --watch brings a cycle, says nothing while nothing is new and while the next is not
// complete, brings that one once it is, says what goes wrong and goes on, and ends when it
// is told to.
func TestWatch(t *testing.T) {
	files := map[string][]byte{}
	s := publishedFrom(t, files)
	publish := func(cycle, step int) {
		content := bytes.Clone(mustReadOctets(t, realwind.Files(t)[step/6]))
		for at := 0; at < len(content); at += int(binary.BigEndian.Uint64(content[at+8:])) {
			content[at+16+16] = byte(cycle) // section 1, octet 17: the hour of the reference time
		}
		publishFile(t, files, cycle, step, content)
	}
	for _, step := range []int{0, 6, 12} {
		publish(0, step)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	now := march
	var out, errs bytes.Buffer
	var said []string
	c := fetch.NewClient()
	c.Now = func() time.Time { return now }
	c.Wait = func(_ context.Context, d time.Duration) error {
		if d < look {
			return nil // between two tries, and for politeness
		}
		said = append(said, out.String()+errs.String())
		out.Reset()
		errs.Reset()
		switch len(said) {
		case 2:
			now = march.Add(5 * time.Hour)
			publish(6, 0)
			publish(6, 6)
		case 3:
			publish(6, 12)
		case 4:
			now = march.Add(11 * time.Hour)
			s.CloseClientConnections()
			s.Close()
		case 5:
			cancel()
			return ctx.Err()
		}
		return nil
	}
	folder := filepath.Join(t.TempDir(), "winds")
	p := windsPull{Box: "south=45,north=70,west=-10,east=40", Hours: 12, Source: "gfs", To: folder, Watch: true}
	err := p.pull(ctx, &streams{&out, &errs}, c, only(t, s), 0)
	require.ErrorIs(t, err, context.Canceled)
	require.Len(t, said, 5)
	assert.Contains(t, said[0], "cycle of 22 Mar 2017 00:00 UTC")
	assert.Contains(t, said[0], "Fetched")
	assert.Empty(t, said[1], "nothing is new")
	assert.Empty(t, said[2], "the next cycle lacks its last step")
	assert.Contains(t, said[3], "22 Mar 2017 06:00 UTC")
	assert.Contains(t, said[3], "Fetched")
	assert.Contains(t, said[4], "kept as it was: "+filepath.Join(folder, "gfs-20170322T0600Z.cube"))
	kept, err := fetch.Kept(folder)
	require.NoError(t, err)
	assert.Len(t, kept, 2)
}

// A plan's own needs decide what is pulled: where its flights may come down, and
// when they fly.
func TestPullForAPlan(t *testing.T) {
	s := published(t)
	dir := t.TempDir()
	args := append([]string{"ground", "pull", demoPlan, "--source", "worldcover", "--from", s.URL, "--to", dir, "--forecast"}, realwind.Files(t)[0])
	for _, f := range realwind.Files(t)[1:] {
		args = append(args, "--forecast", f)
	}
	code, out, errs := thistledown(args...)
	assert.Equal(t, badInput, code)
	// The demo's landings are most likely near 58.3° N 14.2° E, 23 km around, its site at
	// 58.22° N 12.80° E (README): squares of 3° from 57° N 12° E on.
	var south, north, west, east float64
	_, err := fmt.Sscanf(out, "Box         south=%f,north=%f,west=%f,east=%f", &south, &north, &west, &east)
	require.NoError(t, err, out)
	assert.True(t, south > 57.5 && south < 58.2 && north > 58.35 && north < 59 && west > 12.5 && west < 12.8 && east > 14.3 && east < 15.5, out)
	assert.Contains(t, errs, "no file at "+s.URL+" for any of 1 squares")

	// The forecast of the test ends too soon for all that the plan's flights may do: one
	// that floats may be up for a day.
	code, out, errs = thistledown("winds", "pull", demoPlan, "--from", s.URL, "--to", dir)
	assert.Equal(t, noForecast, code)
	assert.Contains(t, out, "The cycle of 22 Mar 2017 00:00 UTC is not complete")
	assert.Contains(t, errs, "no complete cycle among the last 5")
}

// Progress in words: bytes and time left.
func TestPullText(t *testing.T) {
	p := fetch.Progress{Cycle: time.Date(2026, 11, 26, 6, 0, 0, 0, time.UTC), Indexes: 3, Of: 65, Left: -1}
	assert.Equal(t, "cycle 26 Nov 06:00 UTC: index 3 of 65", pullText(p))
	p.Done, p.Total = 12_340_000, 96_400_000
	assert.Equal(t, "cycle 26 Nov 06:00 UTC: 12.3 of 96.4 MB", pullText(p))
	p.Left = 83400 * time.Millisecond
	assert.Equal(t, "cycle 26 Nov 06:00 UTC: 12.3 of 96.4 MB, some 1m23s left", pullText(p))
	p.Packing = 0.5
	assert.Equal(t, "cycle 26 Nov 06:00 UTC: packing, 50 %", pullText(p))
	g := fetch.GroundProgress{Square: 1, Of: 2, Done: 400_000}
	assert.Equal(t, "cover, square 1 of 2: 0.4 MB", groundText("cover", g, time.Minute))
	g.Done, g.Total = 2_500_000, 10_000_000
	assert.Equal(t, "cover, square 1 of 2: 2.5 of 10.0 MB, some 1m0s left", groundText("cover", g, 20*time.Second))
}

// A forecast that ends below the usual bursts is told of: 50 hPa lie at 20.6 km
// (U.S. Standard Atmosphere, 1976; 20.58 geopotential).
func TestLowTop(t *testing.T) {
	assert.Equal(t, "Low top     50 hPa, some 21 km: flights that burst higher need another forecast above it, by --above FILE\n", lowTop([]float64{100000, 5000, 50000}))
	assert.Empty(t, lowTop([]float64{100000, 1000}))
	assert.Empty(t, lowTop(nil))
}
