package mission_test

import (
	"errors"
	"math"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/report"
)

// flownAlone is a plan flown by itself, and what the search is held against.
type flownAlone struct {
	plan   plan.Plan
	launch report.Launch
	in, of []float64 // by scramble: landings in the lake, and all
	out    bool
	height int // in steps of 200 m
	gas    int // in steps of 1 % of the first plan's
}

// score is the share of landings in the lake: that is bad by 1, and all else by 0.
func (f *flownAlone) score() (share, of float64) {
	for r := range f.in {
		share, of = share+f.in[r], of+f.of[r]
	}
	return share / of, of
}

// difference is by how much the score of f is above that of o, and half its 95 %
// interval for 8 scrambles: Student's quantile for 7 is 2.364624 (table). Each
// scramble's part in the difference of two ratios is Cochran's (1977, §6.4).
func (f *flownAlone) difference(o *flownAlone) (value, half float64) {
	a, n := f.score()
	b, m := o.score()
	squares := 0.0
	for r := range f.in {
		d := (f.in[r]-a*f.of[r])/n - (o.in[r]-b*o.of[r])/m
		squares += d * d
	}
	return 100 * (a - b), 100 * max(2.364624*math.Sqrt(squares*8/7), 3/min(n, m))
}

// beats is the rule of the README, word by word.
func (f *flownAlone) beats(o *flownAlone) bool {
	if f.out || f.height < o.height || f.gas > o.gas {
		return false
	}
	value, half := f.difference(o)
	lower, higher := value < -half && value <= -0.5, value > half && value >= 0.5
	return !higher && (lower || f.height > o.height || f.gas < o.gas)
}

// alone flies every plan by itself through Fly.
func alone(t testing.TB, w mission.World, plans []plan.Plan) []flownAlone {
	t.Helper()
	all := make([]flownAlone, len(plans))
	var next atomic.Int64
	var group sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		group.Go(func() {
			for i := int(next.Add(1)) - 1; i < len(plans); i = int(next.Add(1)) - 1 {
				l, err := mission.Fly(t.Context(), w, plans[i], mission.Options{Workers: 1})
				var faults plan.Faults
				if errors.As(err, &faults) {
					all[i] = flownAlone{plan: plans[i], out: true}
					continue
				}
				if !assert.NoError(t, err) {
					return
				}
				all[i] = tallied(l, w, plans[i])
			}
		})
	}
	group.Wait()
	for i := range all {
		l := &all[i].launch
		if l.Train == nil {
			continue
		}
		all[i].height = int(math.Floor(l.Burst.Centre / 200))
		all[i].gas = int(math.Floor(l.Train.Gas.Moles / (0.01 * all[0].launch.Train.Gas.Moles)))
	}
	return all
}

func tallied(l report.Launch, w mission.World, p plan.Plan) flownAlone {
	f := flownAlone{plan: p, launch: l, in: make([]float64, p.Scrambles), of: make([]float64, p.Scrambles)}
	for i, one := range l.Flown {
		if one.End != flight.Landed {
			continue
		}
		r := i / p.PerScramble
		f.of[r]++
		if w.Ground.Map.At(one.At, one.Time).Under.Has(ground.Water) {
			f.in[r]++
		}
	}
	for _, sentence := range l.Train.Warnings {
		f.out = f.out || troublesome(sentence)
	}
	landed := 0.0
	for _, of := range f.of {
		landed += of
	}
	f.out = f.out || landed < 0.95*float64(len(l.Flown))
	f.launch.Flown = nil
	return f
}

// troublesome is a warning that no plan may have which is told.
func troublesome(sentence string) bool {
	for _, part := range []string{
		"More gas than the envelope holds", "past the fullest volume", "It floats", "It may float", "It may not leave", "It will not leave",
		"Already ", "Mean ascent rate", "The cylinders lack",
	} {
		if strings.HasPrefix(sentence, part) || strings.Contains(sentence, "past the fullest") && part == "past the fullest volume" {
			return true
		}
	}
	return false
}

// The search finds what looking at each of 504 plans by itself finds: the same plans
// that no other beats.
func TestVaryAgainstEveryPlan(t *testing.T) {
	w, p := shore(t), varied(t)
	p.Vary.Volumes, p.Vary.Delays = nil, p.Vary.Delays[1:3]
	for i := range 20 {
		p.Vary.Volumes = append(p.Vary.Volumes, 2.2*math.Pow(1.05, float64(i)))
	}
	plans, err := mission.Variants(p)
	require.NoError(t, err)
	require.Len(t, plans, 504) // 21 fills × 2 envelopes × 2 canopies × 2 loads × 3 hours
	begun := time.Now()
	found, err := mission.Vary(t.Context(), worldsAt(w, shoreSite), plans, mission.Options{})
	require.NoError(t, err)
	searched := time.Since(begun)
	begun = time.Now()
	all := alone(t, w, plans)
	t.Logf("%d plans: searched in %v, %d of them with all flights; each by itself in %v", len(plans), searched, found.Fully, time.Since(begun))
	assert.Less(t, found.Fully, len(plans)/2, "flown with all flights")

	var want []int
	out := 0
	for i := range all {
		if all[i].out {
			out++
			continue
		}
		if !slices.ContainsFunc(all, func(other flownAlone) bool { return other.beats(&all[i]) }) {
			want = append(want, i)
		}
	}
	told := 0
	for _, l := range found.LeftOut {
		told += l.Plans
	}
	assert.Equal(t, out, told, "left out")
	assert.Positive(t, out)
	got := make([]int, 0, len(found.Unbeaten))
	for _, c := range found.Unbeaten {
		got = append(got, slices.IndexFunc(all, func(f flownAlone) bool { return same(c, f) }))
	}
	slices.Sort(got)
	t.Logf("%d plans left out, %d that no other beats", out, len(want))
	assert.Greater(t, len(want), 10)
	assert.Equal(t, want, got)
	for k, c := range found.Unbeaten {
		assert.InDelta(t, all[slices.IndexFunc(all, func(f flownAlone) bool { return same(c, f) })].launch.Hazard.Value, c.Score, 1e-9, "%d", k)
	}
}

// same reports whether a choice is a plan.
func same(c report.Choice, f flownAlone) bool {
	return c.Time.Equal(f.plan.Launch) && c.Envelope == f.plan.Train.Weighed.Envelope && c.Canopies[0] == f.plan.Train.Weighed.Canopies[0].Canopy &&
		slices.Equal(c.Parts, f.plan.Train.Parts) && f.launch.Train != nil && math.Abs(c.Gas-f.launch.Train.Gas.Volume) < 1e-9
}
