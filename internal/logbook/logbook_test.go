package logbook

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

var (
	first = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)
	next  = first.Add(6 * time.Hour)
)

func opened(t *testing.T, file string) *Book {
	t.Helper()
	b, err := Open(t.Context(), file)
	require.NoError(t, err)
	t.Cleanup(func() { _ = b.Close() }) // some tests close it themselves
	return b
}

// run is an invented one.
func run(site string, cycle time.Time, score float64) Run {
	return Run{
		Site: site, Cycle: cycle, Plan: "a1", Version: "0.1.0", Seed: math.MaxUint64, Page: site + "/x",
		Windows: []Window{
			{From: "Field", Launch: cycle.Add(7 * time.Hour), Rank: 1, Verdict: "go", Score: score, Low: score - 1, High: score + 1, MostLikely: geo.Point{Lat: -58.25, Lon: 179.75}, Area80: 6e8},
			{From: "Meadow", Launch: cycle.Add(7 * time.Hour), NotCovered: "too short", Rank: 2, Score: math.NaN(), Low: math.NaN(), High: math.NaN(), MostLikely: geo.Point{Lat: math.NaN(), Lon: math.NaN()}, Area80: math.NaN()},
		},
	}
}

// same compares runs, of which NaN is equal to NaN.
func same(t *testing.T, want, got []Run) {
	t.Helper()
	require.Len(t, got, len(want))
	for i := range want {
		require.Len(t, got[i].Windows, len(want[i].Windows))
		for k, w := range want[i].Windows {
			g := got[i].Windows[k]
			assert.Equal(t, math.IsNaN(w.Score), math.IsNaN(g.Score))
			if math.IsNaN(w.Score) {
				for _, v := range []float64{g.Low, g.High, g.MostLikely.Lat, g.MostLikely.Lon, g.Area80} {
					assert.True(t, math.IsNaN(v))
				}
				w.Score, w.Low, w.High, w.MostLikely, w.Area80 = 0, 0, 0, geo.Point{}, 0
				g.Score, g.Low, g.High, g.MostLikely, g.Area80 = 0, 0, 0, geo.Point{}, 0
			}
			assert.Equal(t, w, g)
		}
		w, g := want[i], got[i]
		w.Windows, g.Windows = nil, nil
		assert.Equal(t, w, g)
	}
}

// What is written is read, the newest first; the same site and cycle once more takes the
// place of what was there, and other sites are left alone. All of it is there for whoever
// opens the file anew.
func TestKeepAndLast(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a b%?#.db")
	b := opened(t, file)
	a, c, other := run("a", first, 5), run("a", next, 9), run("b", next, 50)
	for _, r := range []Run{a, c, other} {
		require.NoError(t, b.Keep(t.Context(), r))
	}
	c.Windows, c.Plan = c.Windows[:1], "a2"
	require.NoError(t, b.Keep(t.Context(), c))
	require.NoError(t, b.Close())
	b = opened(t, file)
	got, err := b.Last(t.Context(), "a", 10)
	require.NoError(t, err)
	same(t, []Run{c, a}, got)
	got, err = b.Last(t.Context(), "a", 1)
	require.NoError(t, err)
	same(t, []Run{c}, got)
	got, err = b.Last(t.Context(), "b", 10)
	require.NoError(t, err)
	same(t, []Run{other}, got)
	got, err = b.Last(t.Context(), "nobody", 10)
	require.NoError(t, err)
	assert.Empty(t, got)
	require.NoError(t, b.Check(t.Context()))
}

// A run that cannot be written whole is not written at all, and what was there stays.
func TestKeepWholeOrNotAtAll(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "h.db"))
	good := run("a", first, 5)
	require.NoError(t, b.Keep(t.Context(), good))
	bad := run("a", first, 7)
	bad.Windows = append(bad.Windows, bad.Windows[0]) // twice the same launch time
	require.ErrorContains(t, b.Keep(t.Context(), bad), "launch time 2026-03-01T07:00:00Z from Field")
	got, err := b.Last(t.Context(), "a", 10)
	require.NoError(t, err)
	same(t, []Run{good}, got)
}

func TestTold(t *testing.T) {
	b := opened(t, filepath.Join(t.TempDir(), "h.db"))
	for range 2 {
		told, err := b.Told(t.Context(), "b", first)
		require.NoError(t, err)
		assert.False(t, told)
		require.NoError(t, b.Tell(t.Context(), "a", first))
		told, err = b.Told(t.Context(), "a", first)
		require.NoError(t, err)
		assert.True(t, told)
	}
}

// A book of the first version keeps what is in it, and gets what it lacks; one of a later
// program is left as it is.
func TestMigrations(t *testing.T) {
	file := filepath.Join(t.TempDir(), "h.db")
	db, err := sql.Open("sqlite", "file:"+file)
	require.NoError(t, err)
	for _, s := range []string{migrations[0], "PRAGMA user_version = 1", fmt.Sprintf("PRAGMA application_id = %d", mark), "INSERT INTO run VALUES ('a', 1772323200, 'p', '0.0.9', '7', '')"} {
		_, err = db.Exec(s)
		require.NoError(t, err)
	}
	require.NoError(t, db.Close())
	b := opened(t, file)
	got, err := b.Last(t.Context(), "a", 10)
	require.NoError(t, err)
	same(t, []Run{{Site: "a", Cycle: first, Plan: "p", Version: "0.0.9", Seed: 7}}, got)
	require.NoError(t, b.Tell(t.Context(), "a", first))
	_, err = b.db.Exec("PRAGMA user_version = 99")
	require.NoError(t, err)
	require.NoError(t, b.Close())
	_, err = Open(t.Context(), file)
	require.EqualError(t, err, file+": tables of version 99, of a later program: want at most 2")
}

// A file that is no book, a damaged one, one that somebody else writes for too long and
// one in no folder are errors that name it.
func TestBadBooks(t *testing.T) {
	dir := t.TempDir()
	none := filepath.Join(dir, "none.db")
	require.NoError(t, os.WriteFile(none, bytes.Repeat([]byte("no book at all. "), 1000), 0o600))
	_, err := Open(t.Context(), none)
	require.ErrorContains(t, err, none+": ")
	_, err = Open(t.Context(), filepath.Join(dir, "no", "h.db"))
	require.ErrorContains(t, err, "no such folder")

	file := filepath.Join(dir, "h.db")
	b := opened(t, file)
	for i := range 200 {
		require.NoError(t, b.Keep(t.Context(), run("a", first.Add(time.Duration(i)*time.Hour), 5)))
	}
	require.NoError(t, b.Close())
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	damaged := bytes.Clone(whole)
	for i := len(damaged) / 3; i < len(damaged)/3+20_000; i++ {
		damaged[i] = 0xa5
	}
	require.NoError(t, os.WriteFile(file, damaged, 0o600))
	if b, err = Open(t.Context(), file); err == nil {
		err = b.Check(t.Context())
		require.NoError(t, b.Close())
	}
	require.Error(t, err, "20,000 octets of it are overwritten")

	require.NoError(t, os.WriteFile(file, whole, 0o600))
	b = opened(t, file)
	tx, err := b.db.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	defer func() { _ = tx.Rollback() }() // it wrote nothing
	other := opened(t, file)
	ctx, cancel := context.WithTimeout(t.Context(), 3*patience)
	defer cancel()
	require.ErrorContains(t, other.Keep(ctx, run("a", first, 1)), "locked")
	got, err := other.Last(ctx, "a", 1)
	require.NoError(t, err, "reading goes on meanwhile")
	assert.Len(t, got, 1)
}

// A copy has all that was written before it, is whole, and takes the place of an older one.
func TestBackup(t *testing.T) {
	dir := t.TempDir()
	b := opened(t, filepath.Join(dir, "h.db"))
	require.NoError(t, b.Keep(t.Context(), run("a", first, 5)))
	to := filepath.Join(dir, "copies", "h.db")
	require.Error(t, b.Backup(t.Context(), to), "no such folder")
	require.NoError(t, os.Mkdir(filepath.Dir(to), 0o700))
	require.NoError(t, b.Backup(t.Context(), to))
	require.NoError(t, b.Keep(t.Context(), run("a", next, 6)))
	require.NoError(t, b.Backup(t.Context(), to))
	left, err := os.ReadDir(filepath.Dir(to))
	require.NoError(t, err)
	assert.Len(t, left, 1)
	got, err := opened(t, to).Last(t.Context(), "a", 10)
	require.NoError(t, err)
	same(t, []Run{run("a", next, 6), run("a", first, 5)}, got)
}
