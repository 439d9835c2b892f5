package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"

	"example.org/thistledown/internal/fetch"
	"example.org/thistledown/internal/realwind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// standing writes a list of sites on the real forecast: the demo's, one that the forecast's
// grid does not reach, and one without a plan.
func standing(t *testing.T, names ...string) (list, folder string) {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.CopyFS(filepath.Join(dir, "meadow"), os.DirFS(filepath.Dir(demoPlan))))
	plan := filepath.Join(dir, "meadow", "plan.yaml")
	text := mustRead(t, plan) + "sampling: {scrambles: 4, flights_per_scramble: 32}\n"
	require.NoError(t, os.WriteFile(plan, []byte(text), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "meadow", "pole.yaml"), []byte(strings.Replace(text, "latitude: 58.22", "latitude: 89.9", 1)), 0o600))
	files := "'" + strings.Join(realwind.Files(t), "', '") + "'"
	list = filepath.Join(dir, "sites.yaml")
	text = "folder: public\nforecast: {files: [" + files + "]}\nsites:\n"
	for _, name := range names {
		text += "  - {name: " + name + ", plan: meadow/" + map[string]string{"meadow": "plan", "pole": "pole", "nowhere": "none"}[name] + ".yaml}\n"
	}
	require.NoError(t, os.WriteFile(list, []byte(text), 0o600))
	return list, filepath.Join(dir, "public")
}

// A night on real winds says of each site what week does, and writes what week writes; a
// bad site does not keep the others from it; nothing is done twice.
func TestNightly(t *testing.T) {
	list, folder := standing(t, "pole", "meadow", "nowhere")
	code, out, _ := thistledown("nightly", list, "--dry-run")
	assert.Equal(t, badInput, code, "one site has no plan")
	assert.Contains(t, out, "meadow      would fly 7 launch times on the cycle of 22 Mar 2017 00:00 UTC")
	assert.NoDirExists(t, folder)

	code, out, errs := thistledown("nightly", list)
	assert.Equal(t, badInput, code)
	assert.Contains(t, out, "meadow      no-go Wed 22 Mar 07:00 CET (06:00 UTC) from Long Meadow, score ")
	assert.Contains(t, out, "pole        ")
	assert.Contains(t, out, "nowhere     nothing new: ")
	assert.Contains(t, out, "none.yaml: no such file")
	assert.Contains(t, errs, "of 3 sites: their lines say why")
	pages, err := filepath.Glob(filepath.Join(folder, "meadow", "20170322T0000Z-*"))
	require.NoError(t, err)
	require.Len(t, pages, 1)
	for _, name := range []string{"index.html", "week.txt", "week.csv", "week.json", "landing.geojson", "answer.json"} {
		assert.FileExists(t, filepath.Join(pages[0], name))
	}
	plan := filepath.Join(filepath.Dir(list), "meadow", "plan.yaml")
	week := filepath.Join(t.TempDir(), "week")
	code, _, errs = thistledown(withForecast(t, "week", plan, "--out", week)...)
	require.Equal(t, done, code, errs)
	for _, name := range []string{"index.html", "week.txt", "week.csv", "landing.geojson"} {
		assert.Equal(t, mustRead(t, filepath.Join(week, name)), mustRead(t, filepath.Join(pages[0], name)), name)
	}
	lines := strings.Split(strings.TrimSpace(mustRead(t, filepath.Join(pages[0], "week.json"))), "\n")
	require.Len(t, lines, 8)
	last := &thistledownv1.RankWindowsResponse{}
	require.NoError(t, protojson.Unmarshal([]byte(lines[7]), last))
	assert.Len(t, last.GetRanking().GetWindows(), 7)
	assert.Contains(t, mustRead(t, filepath.Join(folder, "index.html")), ">meadow</a>")
	_, again, _ := thistledown("nightly", list)
	assert.Contains(t, again, "looked at before")
}

// --gate is of the best of all sites; bad lists are refused with their line.
func TestNightlyGateAndFaults(t *testing.T) {
	list, _ := standing(t, "meadow")
	code, out, _ := thistledown("nightly", list, "--gate")
	assert.Equal(t, noGo, code)
	assert.Contains(t, out, "meadow      no-go")
	bad, _ := standing(t, "meadow", "meadow")
	code, _, errs := thistledown("nightly", bad)
	assert.Equal(t, badInput, code)
	assert.Contains(t, errs, bad+`:5: sites: name "meadow": given to a site on line 4 already: want another`)
	code, _, errs = thistledown("nightly", "nowhere.yaml")
	assert.Equal(t, badInput, code)
	assert.Contains(t, errs, "nowhere.yaml: ")
	// A history that is no database: the pages are made, and the status says so.
	require.NoError(t, os.WriteFile(filepath.Join(filepath.Dir(list), "history.db"), []byte(strings.Repeat("no book ", 999)), 0o600))
	code, out, errs = thistledown("nightly", list)
	assert.Equal(t, internal, code)
	assert.Contains(t, out, "meadow      no-go")
	assert.Contains(t, errs, "history.db: ")
}

// A cycle is brought into a folder of the site's own; where nothing new comes the one that
// is kept is flown on, which is noted, and where there is none that is an error.
func TestBring(t *testing.T) {
	s := published(t)
	sources := only(t, s)
	c := fetch.NewClient()
	c.Now = func() time.Time { return march }
	c.Wait = func(ctx context.Context, _ time.Duration) error { return ctx.Err() }
	p := windsPull{Plan: demoPlan, Source: "gfs", Hours: 12, To: filepath.Join(t.TempDir(), "winds", "meadow")}
	link := filepath.Join(p.To, "gfs.cube")
	for range 2 {
		files, notes, err := bringWith(t.Context(), c, sources, p, 1e9)
		require.NoError(t, err)
		assert.Equal(t, []string{link}, files)
		assert.Empty(t, notes)
	}
	code, out, errs := thistledown("week", demoPlan, "--forecast", link, "--set=sampling={scrambles: 2, flights_per_scramble: 16}")
	require.Equal(t, done, code, errs)
	assert.Contains(t, out, "cycle of 22 Mar 2017 00:00 UTC")
	s.Close()
	c.Now = func() time.Time { return march.Add(6 * time.Hour) }
	files, notes, err := bringWith(t.Context(), c, sources, p, 1e9)
	require.NoError(t, err)
	assert.Equal(t, []string{link}, files)
	require.Len(t, notes, 1)
	assert.Contains(t, notes[0], "No new cycle could be brought, so the one that is kept was taken: "+s.URL)
	p.To = filepath.Join(t.TempDir(), "winds")
	_, _, err = bringWith(t.Context(), c, sources, p, 0)
	require.ErrorIs(t, err, fetch.ErrNothingNew)
}
