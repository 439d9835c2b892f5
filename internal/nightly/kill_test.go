package nightly

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/launch"
)

// nightOf is set for this test's own program, to be a night that is killed: the folder,
// and the hours of the cycle.
const nightOf = "THISTLEDOWN_TEST_NIGHT"

// TestBeANight is no test of its own: it is what TestKilled starts and kills.
func TestBeANight(t *testing.T) {
	folder := os.Getenv(nightOf)
	if folder == "" {
		return
	}
	hours, err := strconv.Atoi(filepath.Base(folder))
	require.NoError(t, err)
	_, err = Run(t.Context(), standing(filepath.Dir(folder), "a", "b", "c"), stageOf(hours).look(), Options{Version: "test", Out: io.Discard})
	require.NoError(t, err)
}

func stageOf(hours int) *stage {
	return &stage{cycle: march.Add(time.Duration(hours) * time.Hour), plan: "p", verdict: launch.Go}
}

// Killed 200 times at random moments, over ten cycles of three sites: what can be seen is
// whole each time, and in the end every launch time of every cycle is written down, once.
func TestKilled(t *testing.T) {
	const kills, cycles = 200, 10
	dir := t.TempDir()
	s := standing(dir, "a", "b", "c")
	r := rand.New(rand.NewPCG(11, 11))
	start := func(cycle int) *exec.Cmd {
		c := exec.Command(os.Args[0], "-test.run=^TestBeANight$", "-test.count=1")
		c.Env = append(os.Environ(), nightOf+"="+filepath.Join(dir, fmt.Sprint(6*cycle)))
		require.NoError(t, c.Start())
		return c
	}
	begin := time.Now()
	require.NoError(t, start(0).Wait())
	whole := time.Since(begin) // of a night with everything to do
	killed, through := 0, 0
	deadline := time.Now().Add(4 * time.Minute)
	for i := range kills {
		require.True(t, time.Now().Before(deadline), "only %d of %d kills in four minutes", i, kills)
		c := start(i * cycles / kills)
		time.Sleep(time.Duration(r.Float64() * float64(whole)))
		_ = c.Process.Kill() // it may have ended
		if c.Wait() != nil {
			killed++
		} else {
			through++
		}
		if i%10 == 0 {
			sound(t, s)
		}
	}
	t.Logf("%d nights were killed, %d came through before; a whole one takes %v", killed, through, whole)
	assert.Greater(t, killed, kills/3)
	for cycle := range cycles {
		_, err := Run(t.Context(), s, stageOf(6*cycle).look(), Options{Version: "test", Out: io.Discard})
		require.NoError(t, err)
	}
	sound(t, s)
	for _, site := range s.Sites {
		runs := kept(t, s, site.Name)
		require.Len(t, runs, cycles, "every cycle once")
		for i, run := range runs {
			assert.Equal(t, march.Add(time.Duration(6*(cycles-1-i))*time.Hour), run.Cycle)
			assert.Len(t, run.Windows, 3, "every launch time once")
			assert.True(t, there(filepath.Join(s.Folder, run.Page)))
		}
		left, err := filepath.Glob(filepath.Join(s.Folder, site.Name, ".*"))
		require.NoError(t, err)
		assert.Empty(t, left, "what was left half done is removed")
	}
}
