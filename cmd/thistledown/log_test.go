package main

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/logbook"
)

// A history is looked over and copied, and the copy holds the same. What is damaged is
// not copied over a copy that is whole.
func TestLog(t *testing.T) {
	dir := t.TempDir()
	file, to := filepath.Join(dir, "history.db"), filepath.Join(dir, "copy.db")
	code, _, errs := thistledown("log", "check", file)
	assert.Equal(t, badInput, code)
	assert.Equal(t, "thistledown: "+file+": no such file: want a history that nightly has written\n", errs)
	assert.NoFileExists(t, file, "looking at a history begins none")

	book, err := logbook.Open(t.Context(), file)
	require.NoError(t, err)
	defer book.Close()
	code, out, errs := thistledown("log", "check", file)
	require.Equal(t, done, code, errs)
	assert.Equal(t, file+": whole; no runs yet\n", out)
	cycle := time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC)
	for i, site := range []string{"meadow", "field", "meadow"} {
		require.NoError(t, book.Keep(t.Context(), logbook.Run{
			Site: site, Cycle: cycle.Add(time.Duration(i) * 6 * time.Hour),
			Windows: []logbook.Window{{Launch: cycle, Score: math.NaN()}, {Launch: cycle.Add(time.Hour), Score: 3}},
		}))
	}
	const holds = "runs: 3, launch times: 6, sites: 2, cycles: 2026-03-01 06:00 to 2026-03-01 18:00 UTC\n"
	code, out, errs = thistledown("log", "backup", file, to)
	require.Equal(t, done, code, errs)
	assert.Equal(t, file+": copied to "+to+"; "+holds, out)
	code, out, errs = thistledown("log", "check", to)
	require.Equal(t, done, code, errs)
	assert.Equal(t, to+": whole; "+holds, out)
	code, _, errs = thistledown("log", "backup", file, file)
	assert.Equal(t, badInput, code)
	assert.Contains(t, errs, "a history in use")

	require.NoError(t, book.Close())
	octets := []byte(mustRead(t, file))
	for i := 4096; i < len(octets); i++ {
		octets[i] = 0xff
	}
	require.NoError(t, os.WriteFile(file, octets, 0o600))
	for _, args := range [][]string{{"log", "check", file}, {"log", "backup", file, to}} {
		code, out, errs = thistledown(args...)
		assert.Equal(t, badInput, code)
		assert.Empty(t, out)
		assert.Contains(t, errs, file+": damaged: want a copy")
	}
	code, _, errs = thistledown("log", "check", to)
	assert.Equal(t, done, code, errs)
}
