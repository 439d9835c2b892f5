package logbook

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A database of another program is left as it is.
func TestDatabasesOfOthers(t *testing.T) {
	for name, made := range map[string]string{
		"tables":     "CREATE TABLE contact (name TEXT)",
		"version":    "PRAGMA user_version = 1",
		"its number": "PRAGMA application_id = 12",
	} {
		file := filepath.Join(t.TempDir(), "h.db")
		db, err := sql.Open("sqlite", "file:"+file)
		require.NoError(t, err)
		_, err = db.Exec(made)
		require.NoError(t, err)
		require.NoError(t, db.Close())
		_, err = Open(t.Context(), file)
		require.EqualError(t, err, file+": a database of another program: want a history that nightly has written", name)
		db, err = sql.Open("sqlite", "file:"+file)
		require.NoError(t, err)
		var runs int
		require.NoError(t, db.QueryRow("SELECT count(*) FROM sqlite_schema WHERE name = 'run'").Scan(&runs))
		assert.Zero(t, runs, name)
		require.NoError(t, db.Close())
	}
}

// What is not even a file is said to be none.
func TestNoFiles(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{dir, os.DevNull} {
		_, err := Open(t.Context(), name)
		require.EqualError(t, err, name+": no file: want one that nightly has written, or none yet")
	}
}

// A launch time whose run is gone is found, as is a file that was cut.
func TestCheckFindsWhatIsMissing(t *testing.T) {
	file := filepath.Join(t.TempDir(), "h.db")
	b := opened(t, file)
	for i := range 100 {
		require.NoError(t, b.Keep(t.Context(), run("a", first.Add(time.Duration(i)*time.Hour), 5)))
	}
	require.NoError(t, b.Check(t.Context()))
	holds, err := b.Holds(t.Context())
	require.NoError(t, err)
	assert.Equal(t, Holds{Runs: 100, Windows: 200, Sites: 1, First: first, Last: first.Add(99 * time.Hour)}, holds)
	require.NoError(t, b.Close())
	whole, err := os.ReadFile(file)
	require.NoError(t, err)

	db, err := sql.Open("sqlite", "file:"+file)
	require.NoError(t, err)
	_, err = db.Exec("PRAGMA foreign_keys = 0; DELETE FROM run WHERE cycle = (SELECT max(cycle) FROM run)")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	require.ErrorContains(t, opened(t, file).Check(t.Context()), "a launch time without its run")

	for cut := 4096; cut < len(whole); cut += len(whole) / 7 {
		short := filepath.Join(t.TempDir(), "h.db")
		require.NoError(t, os.WriteFile(short, whole[:cut], 0o600))
		b, err := Open(t.Context(), short)
		if err == nil {
			err = b.Check(t.Context())
			require.NoError(t, b.Close())
		}
		require.ErrorContains(t, err, "damaged", "cut at %d of %d", cut, len(whole))
	}
}

// One letter that is another one in an index, though every page can be read, is found.
func TestCheckFindsAnIndexOutOfStep(t *testing.T) {
	file := filepath.Join(t.TempDir(), "h.db")
	b := opened(t, file)
	one := run("meadow", first, 5)
	one.Windows, one.Page = nil, ""
	require.NoError(t, b.Keep(t.Context(), one))
	require.NoError(t, b.Close())
	octets, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, 2, bytes.Count(octets, []byte("meadow")), "the row and its entry in the index")
	octets[bytes.LastIndex(octets, []byte("meadow"))] = 'n'
	require.NoError(t, os.WriteFile(file, octets, 0o600))
	require.ErrorContains(t, opened(t, file).Check(t.Context()), "damaged")
}

// Octets that are overwritten anywhere are an error or do no harm, and never a panic.
func TestOverwrittenAnywhere(t *testing.T) {
	file := filepath.Join(t.TempDir(), "h.db")
	b := opened(t, file)
	for i := range 50 {
		require.NoError(t, b.Keep(t.Context(), run("a", first.Add(time.Duration(i)*time.Hour), 5)))
	}
	require.NoError(t, b.Close())
	whole, err := os.ReadFile(file)
	require.NoError(t, err)
	from := rand.New(rand.NewPCG(11, 1))
	faults := 0
	for range 200 {
		damaged := bytes.Clone(whole)
		for i, n := from.IntN(len(whole)), 1+from.IntN(3000); n > 0 && i < len(whole); i, n = i+1, n-1 {
			damaged[i] = byte(from.Uint32())
		}
		require.NoError(t, os.WriteFile(file, damaged, 0o600))
		b, err := Open(t.Context(), file)
		if err == nil {
			_, last := b.Last(t.Context(), "a", 100)
			if err = b.Check(t.Context()); err == nil {
				err = last
			}
			require.NoError(t, b.Close())
		}
		if err != nil {
			faults++
		}
	}
	assert.Greater(t, faults, 100, "of 200 with up to 3,000 random octets")
}

// A copy takes the place of no history that is in use, its own least of all, and of
// no folder. What was there stays, and nothing is left beside it.
func TestBackupRefuses(t *testing.T) {
	dir := t.TempDir()
	file, other := filepath.Join(dir, "h.db"), filepath.Join(dir, "other.db")
	b, used := opened(t, file), opened(t, other)
	require.NoError(t, b.Keep(t.Context(), run("a", first, 5)))
	require.NoError(t, used.Keep(t.Context(), run("b", first, 5)))
	for _, to := range []string{file, dir + "/./h.db", other} {
		require.ErrorContains(t, b.Backup(t.Context(), to), "a history in use")
	}
	require.ErrorContains(t, b.Backup(t.Context(), dir), "no file")
	for site, b := range map[string]*Book{"a": b, "b": used} {
		got, err := b.Last(t.Context(), site, 10)
		require.NoError(t, err)
		same(t, []Run{run(site, first, 5)}, got)
	}
	left, err := filepath.Glob(filepath.Join(dir, ".*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

// Copies made while another writes have every run that was whole before they began, and
// none in parts.
func TestBackupWhileWritten(t *testing.T) {
	dir := t.TempDir()
	b := opened(t, filepath.Join(dir, "h.db"))
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() {
		writer, err := Open(ctx, filepath.Join(dir, "h.db"))
		for i := 0; err == nil && ctx.Err() == nil; i++ {
			err = writer.Keep(context.WithoutCancel(ctx), run("a", first.Add(time.Duration(i)*time.Hour), 5))
		}
		if err == nil {
			err = writer.Close()
		}
		ended <- err
	}()
	for i := range 10 {
		before, err := b.Holds(t.Context())
		require.NoError(t, err)
		to := filepath.Join(dir, fmt.Sprintf("copy%d.db", i))
		require.NoError(t, b.Backup(t.Context(), to))
		copied := opened(t, to)
		require.NoError(t, copied.Check(t.Context()))
		holds, err := copied.Holds(t.Context())
		require.NoError(t, err)
		assert.GreaterOrEqual(t, holds.Runs, before.Runs)
		assert.Equal(t, 2*holds.Runs, holds.Windows)
	}
	stop()
	require.NoError(t, <-ended)
}

// writerFile names the book that this test's binary writes to until it is killed.
const writerFile = "THISTLEDOWN_TEST_WRITER"

// A writer that is killed at any instant leaves a whole book: every run of which it said
// that it is kept is there once, with all of its launch times.
func TestKilledWriter(t *testing.T) {
	if file := os.Getenv(writerFile); file != "" {
		b, err := Open(t.Context(), file)
		require.NoError(t, err)
		holds, err := b.Holds(t.Context())
		require.NoError(t, err)
		for i := holds.Runs; i < 100_000; i++ {
			require.NoError(t, b.Keep(t.Context(), run("a", first.Add(time.Duration(i)*time.Hour), 5)))
			fmt.Printf("kept %d\n", i)
		}
		return
	}
	file := filepath.Join(t.TempDir(), "h.db")
	from := rand.New(rand.NewPCG(11, 2))
	end := time.Now().Add(40 * time.Second)
	killed := 0
	for ; killed < 40 && time.Now().Before(end); killed++ {
		writer := exec.Command(os.Args[0], "-test.run", "^TestKilledWriter$")
		writer.Env = append(os.Environ(), writerFile+"="+file)
		var said bytes.Buffer
		writer.Stdout = &said
		require.NoError(t, writer.Start())
		time.Sleep(time.Duration(20+from.IntN(180)) * time.Millisecond)
		require.NoError(t, writer.Process.Kill())
		require.ErrorContains(t, writer.Wait(), "killed")
		said.Truncate(bytes.LastIndexByte(said.Bytes(), '\n') + 1)
		lines := strings.Fields(said.String())
		require.NotContains(t, said.String(), "FAIL")
		b, err := Open(t.Context(), file)
		require.NoError(t, err)
		require.NoError(t, b.Check(t.Context()))
		holds, err := b.Holds(t.Context())
		require.NoError(t, err)
		require.Equal(t, 2*holds.Runs, holds.Windows)
		if holds.Runs > 0 {
			require.Equal(t, first.Add(time.Duration(holds.Runs-1)*time.Hour), holds.Last, "none is missing before the last")
		}
		if len(lines) > 0 {
			var last int
			_, err = fmt.Sscan(lines[len(lines)-1], &last)
			require.NoError(t, err)
			require.GreaterOrEqual(t, holds.Runs, last+1)
		}
		require.NoError(t, b.Close())
	}
	b := opened(t, file)
	holds, err := b.Holds(t.Context())
	require.NoError(t, err)
	assert.Greater(t, killed, 5)
	assert.Greater(t, holds.Runs, killed, "it was killed while it wrote")
	t.Logf("killed %d times, %d runs kept", killed, holds.Runs)
}
