package nightly

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/logbook"
	"example.org/thistledown/internal/report"
)

var march = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)

// invented is a week that nobody flew: three launch times, of which the second is the
// best, the third not covered; each cycle moves landings 0.1° north.
func invented(cycle time.Time, verdict launch.Verdict) report.Week {
	week := report.Week{Plan: "Plan", Version: "test", Forecast: report.Forecast{Cycle: cycle}, Asked: 3, Ranked: []int{1, 0, 2}}
	north := cycle.Sub(march).Hours() / 6 * 0.1
	for i := range 3 {
		w := report.Window{Site: "Field", Time: march.Add(time.Duration(48+i) * time.Hour)}
		if i == 2 {
			w.NotCovered = "too late"
		} else {
			w.Launch = report.Launch{Verdict: verdict, Seed: 7, Hazard: &hazard.Score{Value: 20 - 10*float64(i), Low: 5, High: 25}, Landing: &report.Landing{
				Distribution: landing.Distribution{MostLikely: geo.Point{Lat: 50 + north, Lon: 10}, Regions: []landing.Region{{Share: 0.8, Area: 9e8}}},
			}}
		}
		week.Windows = append(week.Windows, w)
	}
	return week
}

// stage is a look at invented weeks, and counts what it is asked for.
type stage struct {
	cycle   time.Time
	plan    string
	zone    *time.Location
	verdict launch.Verdict
	bad     map[string]error // by site: that it cannot be flown
	notes   []string

	mutex sync.Mutex
	flown []string
	weeks map[string]report.Week // by site: as published last
}

func (st *stage) look() Look {
	return Look{
		Bring: func(context.Context, Site) ([]string, []string, error) { return []string{"winds"}, st.notes, nil },
		Glance: func(_ context.Context, s Site, _ []string) (Glance, error) {
			return Glance{Cycle: st.cycle, Plan: st.plan, Zone: st.zone, Launches: 3, Fly: st.fly(s), Files: st.files(s)}, st.bad[s.Name]
		},
	}
}

func (st *stage) fly(s Site) func(context.Context) (report.Week, error) {
	return func(context.Context) (report.Week, error) {
		st.mutex.Lock()
		defer st.mutex.Unlock()
		st.flown = append(st.flown, s.Name+" "+stampOf(st.cycle))
		return invented(st.cycle, st.verdict), nil
	}
}

func (st *stage) files(s Site) func(context.Context, report.Week) ([]File, error) {
	return func(_ context.Context, week report.Week) ([]File, error) {
		st.mutex.Lock()
		defer st.mutex.Unlock()
		if st.weeks == nil {
			st.weeks = map[string]report.Week{}
		}
		st.weeks[s.Name] = week
		return []File{{"index.html", whole(s.Name)}, {"week.json", whole(s.Name)}}, nil
	}
}

func stampOf(t time.Time) string { return t.Format("0102T15") }

// whole writes a file of which anybody can tell whether it is whole.
func whole(name string) func(io.Writer) error {
	return func(w io.Writer) error {
		for i := range 20 {
			if _, err := fmt.Fprintf(w, "%s line %d\n", name, i); err != nil {
				return err
			}
		}
		_, err := io.WriteString(w, "the end of "+name+"\n")
		return err
	}
}

// standing is a list of sites over a folder.
func standing(dir string, names ...string) Sites {
	s := Sites{Folder: filepath.Join(dir, "public"), History: filepath.Join(dir, "history.db"), Forecast: Forecast{Files: []string{"winds"}}, Keep: Keep{28, 60 * 24 * time.Hour}}
	for _, name := range names {
		s.Sites = append(s.Sites, Site{Name: name, Plan: name + ".yaml"})
	}
	return s
}

// ran runs a night and returns what it said.
func ran(t *testing.T, s Sites, st *stage, edit func(*Options)) (Outcome, string) {
	t.Helper()
	var out bytes.Buffer
	o := Options{Version: "test", Out: &out}
	if edit != nil {
		edit(&o)
	}
	outcome, err := Run(t.Context(), s, st.look(), o)
	require.NoError(t, err)
	return outcome, out.String()
}

func content(t *testing.T, name ...string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(name...))
	require.NoError(t, err)
	return string(b)
}

func kept(t *testing.T, s Sites, site string) []logbook.Run {
	t.Helper()
	b, err := logbook.Open(t.Context(), s.History)
	require.NoError(t, err)
	defer func() { require.NoError(t, b.Close()) }()
	require.NoError(t, b.Check(t.Context()))
	all, err := b.Last(t.Context(), site, 100)
	require.NoError(t, err)
	return all
}

// A night makes the pages, and the history; a second one on the same cycle does nothing
// twice; a new cycle, plan or program is a new night, which is compared with those before.
func TestNights(t *testing.T) {
	s := standing(t.TempDir(), "a", "b")
	zone := time.FixedZone("XYT", -90*60)
	st := &stage{cycle: march, plan: "p1", verdict: launch.Go, zone: zone}
	outcome, said := ran(t, s, st, nil)
	assert.Equal(t, Outcome{Good: true}, outcome)
	assert.Contains(t, said, "a           go Mon 2 Mar 23:30 XYT (01:00 UTC) from Field")
	assert.Contains(t, content(t, s.Folder, "a", "index.html"), "<th scope=\"row\">Mon 2 Mar 23:30</th>")
	st.zone = nil
	ran(t, s, st, func(o *Options) { o.Again = true })
	st.flown = st.flown[2:]
	_, said = ran(t, s, st, nil)
	assert.Contains(t, said, "a           go Tue 3 Mar 01:00 UTC from Field, score 10; cycle of 1 Mar 2026 00:00 UTC, looked at before\n")
	assert.Equal(t, []string{"a 0301T00", "b 0301T00"}, st.flown)
	first := kept(t, s, "a")
	require.Len(t, first, 1)
	require.Len(t, first[0].Windows, 3)
	assert.Contains(t, content(t, s.Folder, first[0].Page, "index.html"), "the end of a")
	index := content(t, s.Folder, "index.html")
	for _, want := range []string{`href="` + first[0].Page + `/index.html">a</a>`, `href="b/index.html"`, "10 of 100", "Always"} {
		assert.Contains(t, index, want)
	}

	_, said = ran(t, s, st, nil)
	assert.Contains(t, said, "looked at before")
	assert.Len(t, st.flown, 2, "nothing is flown twice")

	st.cycle = march.Add(6 * time.Hour)
	ran(t, s, st, nil)
	assert.Len(t, st.flown, 4)
	moved := st.weeks["a"].Windows[1].Earlier
	require.Len(t, moved, 1)
	assert.Equal(t, march, moved[0].Cycle)
	assert.Equal(t, launch.Go, moved[0].Verdict)
	// A tenth of a degree along the meridian at 50°: 11,122.9 m by the series for WGS 84
	// (111132.954 - 559.822 cos 2φ + 1.175 cos 4φ metres a degree).
	assert.InDelta(t, 11123, moved[0].Moved, 2)
	assert.InDelta(t, 0, moved[0].Toward, 0.01)
	page := content(t, s.Folder, "a", "index.html")
	assert.Equal(t, 2, strings.Count(page, `/index.html">`)-1, "a column for each cycle, and the way to all sites")
	assert.Contains(t, page, "not covered")

	st.plan = "p2" // the same cycle with another plan
	ran(t, s, st, nil)
	assert.Len(t, st.flown, 6)
	assert.Len(t, kept(t, s, "a"), 2, "it takes the place of what the cycle had")
	ran(t, s, st, func(o *Options) { o.Version = "later" })
	assert.Len(t, st.flown, 8)
	ran(t, s, st, func(o *Options) { o.Version, o.Again = "later", true })
	assert.Len(t, st.flown, 10)
	folders, err := filepath.Glob(filepath.Join(s.Folder, "a", "2*"))
	require.NoError(t, err)
	assert.Len(t, folders, 2, "of each cycle the pages that are linked to: %v", folders)
}

// One bad site leaves the others alone and its old pages in place, and says why; what had
// to be said of a forecast is said.
func TestOneBadSite(t *testing.T) {
	s := standing(t.TempDir(), "a", "b")
	st := &stage{cycle: march, plan: "p"}
	ran(t, s, st, nil)
	st.cycle, st.bad, st.notes = march.Add(6*time.Hour), map[string]error{"a": errors.New("a.yaml:3: site.latitude: 95: want -90 to 90")}, []string{"No new cycle could be brought."}
	outcome, said := ran(t, s, st, nil)
	assert.Equal(t, 1, outcome.Failed)
	assert.Contains(t, said, "a           nothing new: a.yaml:3: site.latitude: 95: want -90 to 90; the pages of the cycle of 1 Mar 2026 00:00 UTC stay\n            No new cycle could be brought.\n")
	assert.Contains(t, said, "cycle of 1 Mar 2026 06:00 UTC")
	index := content(t, s.Folder, "index.html")
	assert.Contains(t, index, "Not renewed this time: a.yaml:3")
	assert.Contains(t, index, kept(t, s, "a")[0].Page)
}

// A night that is under way keeps another out, or waiting; the lock ends with its holder.
func TestOneNightAtATime(t *testing.T) {
	s := standing(t.TempDir(), "a")
	st := &stage{cycle: march, plan: "p"}
	begun, release := make(chan bool), make(chan bool)
	slow := st.look()
	glance := slow.Glance
	slow.Glance = func(ctx context.Context, site Site, files []string) (Glance, error) {
		g, err := glance(ctx, site, files)
		fly := g.Fly
		g.Fly = func(ctx context.Context) (report.Week, error) {
			begun <- true
			<-release
			return fly(ctx)
		}
		return g, err
	}
	first := make(chan error, 1)
	go func() {
		_, err := Run(t.Context(), s, slow, Options{Version: "test", Out: io.Discard})
		first <- err
	}()
	<-begun
	outcome, said := ran(t, s, st, nil)
	assert.True(t, outcome.Busy)
	assert.Contains(t, said, "is under way: this one leaves")
	assert.Empty(t, st.flown)
	second := make(chan string, 1)
	go func() {
		var out bytes.Buffer
		_, err := Run(t.Context(), s, st.look(), Options{Version: "test", Out: &out, Wait: true})
		second <- fmt.Sprint(out.String(), err)
	}()
	close(release)
	require.NoError(t, <-first)
	assert.Contains(t, <-second, "looked at before")
	assert.Len(t, st.flown, 1)
}

// Old cycles leave by number and by age, and never while the history page links to them;
// one that is newer than all others stays whatever the clock was.
func TestKeptTidy(t *testing.T) {
	s := standing(t.TempDir(), "a")
	s.Keep = Keep{Cycles: 3, Age: 12 * time.Hour}
	st := &stage{plan: "p"}
	for i := range 6 {
		st.cycle = march.Add(time.Duration(6*i) * time.Hour)
		ran(t, s, st, nil)
		folders, err := filepath.Glob(filepath.Join(s.Folder, "a", "2*"))
		require.NoError(t, err)
		assert.Len(t, folders, min(i+1, 3))
		page := content(t, s.Folder, "a", "index.html")
		for _, f := range folders {
			assert.Contains(t, page, filepath.Base(f)+"/index.html")
		}
		assert.Equal(t, len(folders), strings.Count(page, `Z-`), "it links to nothing else")
	}
	assert.Len(t, kept(t, s, "a"), 6, "the history itself stays")
	st.cycle = march.Add(50 * time.Hour) // by age
	ran(t, s, st, nil)
	folders, _ := filepath.Glob(filepath.Join(s.Folder, "a", "2*"))
	assert.Len(t, folders, 1)
	other := filepath.Join(s.Folder, "a", "notes")
	require.NoError(t, os.Mkdir(other, 0o700))
	st.cycle = march // a clock that jumped back: the newest stays
	ran(t, s, st, nil)
	assert.DirExists(t, folders[0])
	assert.DirExists(t, other, "what is no cycle's folder is nobody's business")
	for _, name := range []string{"", "-wal", "-shm"} { // a history that was lost as well
		require.NoError(t, ignoreGone(os.Remove(s.History+name)))
	}
	ran(t, s, st, nil)
	assert.DirExists(t, folders[0])
}

// A history that cannot be read or is locked by somebody is told of, and the pages are
// made in spite of it.
func TestBadHistory(t *testing.T) {
	for name, spoil := range map[string]func(t *testing.T, file string){
		"no database": func(t *testing.T, file string) {
			require.NoError(t, os.WriteFile(file, bytes.Repeat([]byte("rubbish "), 500), 0o600))
		},
		"a folder": func(t *testing.T, file string) { require.NoError(t, os.Mkdir(file, 0o700)) },
	} {
		t.Run(name, func(t *testing.T) {
			s := standing(t.TempDir(), "a")
			spoil(t, s.History)
			outcome, said := ran(t, s, &stage{cycle: march, plan: "p"}, nil)
			require.ErrorContains(t, outcome.History, s.History)
			assert.Contains(t, said, "History     ")
			assert.Contains(t, content(t, s.Folder, "index.html"), "score")
			folders, err := filepath.Glob(filepath.Join(s.Folder, "a", "2*", "index.html"))
			require.NoError(t, err)
			assert.Len(t, folders, 1)
			assert.Contains(t, content(t, s.Folder, "a", "index.html"), filepath.Base(filepath.Dir(folders[0])))
		})
	}
}

// A history that somebody keeps locked, or that is damaged within, is told of once for
// all sites; all have their pages, and it is neither waited for nor asked at every site.
func TestHistorySpoiltUnderWay(t *testing.T) {
	names := []string{"a", "b", "c"}
	for name, spoil := range map[string]func(t *testing.T, file string){
		"another program has been writing it": func(t *testing.T, file string) {
			db, err := sql.Open("sqlite", "file:"+file+"?_txlock=immediate")
			require.NoError(t, err)
			tx, err := db.Begin()
			require.NoError(t, err)
			t.Cleanup(func() { assert.NoError(t, errors.Join(tx.Rollback(), db.Close())) })
		},
		"damaged: want a copy": func(t *testing.T, file string) {
			octets := []byte(content(t, file))
			for i := 4096; i < len(octets); i++ {
				octets[i] = 0xff
			}
			require.NoError(t, os.WriteFile(file, octets, 0o600))
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := standing(t.TempDir(), names...)
			ran(t, s, &stage{cycle: march, plan: "p"}, nil)
			spoil(t, s.History)
			outcome, said := ran(t, s, &stage{cycle: march.Add(6 * time.Hour), plan: "p"}, nil)
			require.ErrorContains(t, outcome.History, s.History+": "+name)
			assert.Equal(t, 1, strings.Count(said, name))
			assert.Len(t, strings.Split(strings.TrimSpace(said), "\n"), len(names)+1)
			for _, site := range names {
				folders, err := filepath.Glob(filepath.Join(s.Folder, site, "20260301T0*", "index.html"))
				require.NoError(t, err)
				assert.Len(t, folders, 2, "nothing is removed, and the new cycle is there")
			}
		})
	}
}

// A full disk leaves what was there, and nothing half-written; with room again the night
// goes on.
func TestNightOnAFullDisk(t *testing.T) {
	dir := t.TempDir()
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=400k"); err != nil {
		t.Skipf("left out: a night on a full disk, for which a small file system must be mounted: %v", err)
	}
	defer func() { require.NoError(t, unix.Unmount(dir, 0)) }()
	s := standing(dir, "a")
	st := &stage{cycle: march, plan: "p"}
	ran(t, s, st, nil)
	before := content(t, s.Folder, "index.html")
	ballast := filepath.Join(dir, "ballast")
	file, err := os.Create(ballast)
	require.NoError(t, err)
	_, err = io.CopyN(file, zeros{}, 1<<20)
	require.ErrorIs(t, err, unix.ENOSPC)
	require.NoError(t, file.Close())
	st.cycle = march.Add(6 * time.Hour)
	var out bytes.Buffer
	outcome, err := Run(t.Context(), s, st.look(), Options{Version: "test", Out: &out})
	require.True(t, err != nil || outcome.Failed > 0, "%s", out.String())
	require.Contains(t, out.String()+fmt.Sprint(err), "no space left")
	assert.Equal(t, before, content(t, s.Folder, "index.html"))
	left, err := filepath.Glob(filepath.Join(s.Folder, "a", ".*"))
	require.NoError(t, err)
	assert.Empty(t, left)
	require.NoError(t, os.Remove(ballast))
	ran(t, s, st, nil)
	assert.Len(t, kept(t, s, "a"), 2)
	sound(t, s)
}

type zeros struct{}

func (zeros) Read(b []byte) (int, error) { clear(b); return len(b), nil }

// The webhook is told once for each cycle, with a signature that anybody with the key can
// check; one that hangs or answers 500 holds nothing up, and is told the next night.
func TestWebhook(t *testing.T) {
	var mutex sync.Mutex
	var bodies []string
	answer := http.StatusNoContent
	key := "0123456789abcdef0123456789abcdef"
	hook := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		mac := hmac.New(sha256.New, []byte(key))
		mac.Write(body)
		mutex.Lock()
		defer mutex.Unlock()
		if r.Header.Get("Thistledown-Signature") != "sha256="+hex.EncodeToString(mac.Sum(nil)) {
			w.WriteHeader(http.StatusForbidden)
			return
		}
		bodies = append(bodies, string(body))
		w.WriteHeader(answer)
	}))
	defer hook.Close()
	dir := t.TempDir()
	s := standing(dir, "a")
	s.Webhook = &Webhook{URL: hook.URL + "/wind", Secret: filepath.Join(dir, "key")}
	posting := func(o *Options) { o.Post = http.DefaultClient.Do }
	st := &stage{cycle: march, plan: "p", verdict: launch.Go}
	_, said := ran(t, s, st, posting)
	assert.Contains(t, said, "nobody was told: webhook.secret_file: "+s.Webhook.Secret)
	require.NoError(t, os.WriteFile(s.Webhook.Secret, []byte(key+"\n"), 0o600))
	for range 2 { // once only
		ran(t, s, st, posting)
	}
	require.Len(t, bodies, 1)
	var m map[string]any
	require.NoError(t, json.Unmarshal([]byte(bodies[0]), &m))
	assert.Equal(t, "2026-03-03T01:00:00Z", m["launch"])
	assert.Equal(t, "go", m["verdict"])
	assert.Equal(t, kept(t, s, "a")[0].Page+"/index.html", m["page"])

	st.cycle, st.verdict = march.Add(6*time.Hour), launch.Marginal
	ran(t, s, st, posting)
	assert.Len(t, bodies, 1, "there is nothing good to tell")

	st.cycle, st.verdict, answer = march.Add(12*time.Hour), launch.Go, http.StatusInternalServerError
	quick := func(o *Options) {
		o.Post = func(r *http.Request) (*http.Response, error) {
			if _, ok := r.Context().Deadline(); !ok {
				return nil, errors.New("a request without an end")
			}
			return http.DefaultClient.Do(r)
		}
	}
	begin := time.Now()
	_, said = ran(t, s, st, quick)
	assert.Contains(t, said, "a: not told, it is tried again the next night: status 500 Internal Server Error: want 200 to 299 (3 times)")
	assert.Less(t, time.Since(begin), tellAll)
	assert.Len(t, bodies, 4)
	answer = http.StatusOK
	ran(t, s, st, quick)
	assert.Len(t, bodies, 5)
	ran(t, s, st, quick)
	assert.Len(t, bodies, 5)
}

// What is said of a dry run is done by nobody.
func TestDryRun(t *testing.T) {
	s := standing(t.TempDir(), "a")
	st := &stage{cycle: march, plan: "p"}
	_, said := ran(t, s, st, func(o *Options) { o.Dry = true })
	assert.Contains(t, said, "a           would fly 3 launch times on the cycle of 1 Mar 2026 00:00 UTC and write "+filepath.Join(s.Folder, "a", "20260301T0000Z-"))
	assert.NoDirExists(t, s.Folder)
	assert.NoFileExists(t, s.History)
	ran(t, s, st, nil)
	_, said = ran(t, s, st, func(o *Options) { o.Dry = true })
	assert.Contains(t, said, "is there: nothing to do")
}

// sound asserts that whatever can be seen of the pages is whole.
func sound(t *testing.T, s Sites) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(s.Folder, func(name string, e os.DirEntry, err error) error {
		switch {
		case errors.Is(err, os.ErrNotExist):
			return nil
		case err != nil:
			return err
		case strings.HasPrefix(e.Name(), ".") && e.IsDir():
			return filepath.SkipDir // nobody is led there
		case e.IsDir() || strings.HasPrefix(e.Name(), "."):
			return nil
		}
		text := content(t, name)
		if !strings.HasSuffix(text, "</html>\n") {
			assert.Regexp(t, "the end of [a-z]+\n$", text, name)
		}
		return nil
	}))
}
