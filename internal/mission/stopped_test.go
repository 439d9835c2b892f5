package mission_test

import (
	"context"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/rules"
)

// asked is a context that is done once it was asked so often whether it is.
type asked struct {
	context.Context
	times, most *atomic.Int64
}

func (a asked) Err() error {
	if a.times.Add(1) > a.most.Load() {
		return context.Canceled
	}
	return nil
}

// What is worked out after the flights stops wherever it is asked: with rules that is
// some times for night and border, which look at every flight, and for the regions.
func TestStopsAfterTheFlights(t *testing.T) {
	abroad := strip(t, ground.Abroad, 40, 41)
	w, p := over(t, abroad, nil), ruled(rules.UnitedStates)
	count := func(p plan.Plan, most int64) (int64, error) {
		a := asked{Context: t.Context(), times: new(atomic.Int64), most: new(atomic.Int64)}
		a.most.Store(most)
		_, err := mission.Fly(a, w, p, mission.Options{Workers: 1})
		return a.times.Load(), err
	}
	all, err := count(p, 1<<40)
	require.NoError(t, err)
	without := p
	without.Rules = nil
	fewer, err := count(without, 1<<40)
	require.NoError(t, err)
	assert.Equal(t, int64(2*p.Scrambles*p.PerScramble/64), all-fewer, "night and border, every 64 flights")
	// Of more flights each block is asked before, and each 4,096 when they are written down
	// and when what they met is.
	without.Scrambles, without.PerScramble = 2, 4096
	some, err := count(without, 1<<40)
	require.NoError(t, err)
	without.PerScramble = 8192
	more, err := count(without, 1<<40)
	require.NoError(t, err)
	assert.Equal(t, int64(2*4096/128+2+2), more-some)
	for most := fewer / 2; most < all; most++ {
		times, err := count(p, most)
		require.ErrorIs(t, err, context.Canceled, "asked %d of %d times", most, all)
		require.LessOrEqual(t, times, most+2, "it goes on once it was stopped")
	}
}
