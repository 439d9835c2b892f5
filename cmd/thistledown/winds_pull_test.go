package main

import (
	"bytes"
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
		content, err := os.ReadFile(name)
		require.NoError(t, err)
		path := fmt.Sprintf("/gfs.20170322/00/atmos/gfs.t00z.pgrb2.0p25.f%03d", 6*i)
		files[path] = content
		var idx bytes.Buffer
		for f, err := range grib.Scan(bytes.NewReader(content), int64(len(content))) {
			require.NoError(t, err)
			level, when := "elsewhere", fmt.Sprintf("%g hour fcst", f.Step.Hours())
			if f.Level.Surface == grib.Isobaric {
				level = fmt.Sprintf("%g mb", f.Level.Value/100)
			}
			fmt.Fprintf(&idx, "%d:%d:d=2017032200:%s:%s:%s:\n", f.Message, f.Offset, f.Parameter(), level, when)
		}
		files[path+".idx"] = idx.Bytes()
	}
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
		{"winds pull --box south=1,north=2,west=1,east=2 --source nobody", `source "nobody": want one of gfs, gefs, ecmwf, ecmwf-ens`, badInput},
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
	assert.Equal(t, badInput, code)
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
}
