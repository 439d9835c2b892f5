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
