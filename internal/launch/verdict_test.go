package launch_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/launch"
)

// of is a probability with its interval.
func of(value, low, high float64) hazard.Probability {
	return hazard.Probability{Value: value, Low: low, High: high, Hits: int(1000 * value), Of: 1000}
}

// A limit is met where the whole interval is within it, broken where the whole
// interval is beyond, and open in between; at the limit itself it is met.
func TestJudgeByTheInterval(t *testing.T) {
	for _, c := range []struct {
		low, value, high, limit float64
		want                    launch.Verdict
	}{
		{0.01, 0.02, 0.03, 0.05, launch.Go},
		{0.01, 0.02, 0.05, 0.05, launch.Go},
		{0.01, 0.02, 0.0501, 0.05, launch.Marginal},
		{0.04, 0.06, 0.09, 0.05, launch.Marginal},
		{0.05, 0.06, 0.09, 0.05, launch.Marginal},
		{0.0501, 0.06, 0.09, 0.05, launch.NoGo},
		{0, 0, 0.003, 0, launch.Marginal}, // never hit proves nothing about never
	} {
		s := &hazard.Score{Classes: []hazard.ClassShare{{Class: ground.Water, Landing: of(c.value, c.low, c.high)}}}
		l := launch.None()
		l.Ground = map[ground.Class]float64{ground.Water: c.limit}
		verdict, reasons := l.Judge(launch.Facts{Score: s})
		assert.Equal(t, c.want, verdict, "%g (%g to %g) against %g", c.value, c.low, c.high, c.limit)
		require.Len(t, reasons, 1)
		assert.Equal(t, c.want, reasons[0].Verdict)
		assert.Equal(t, "landings in water", reasons[0].What)
	}
}

// Ground that nobody looked at keeps a limit open, whatever is known elsewhere.
func TestJudgeWhatNobodyLookedAt(t *testing.T) {
	l := launch.None()
	l.Ground = map[ground.Class]float64{ground.Forest: 0.1}
	l.Score = 20
	s := &hazard.Score{
		Value: 5, Low: 4, High: 6, Worst: 60,
		Classes: []hazard.ClassShare{{Class: ground.Forest, Landing: of(0.01, 0, 0.9), NotAssessed: of(0.88, 0.85, 0.9)}},
	}
	verdict, reasons := l.Judge(launch.Facts{Score: s})
	assert.Equal(t, launch.Marginal, verdict)
	require.Len(t, reasons, 2)
	assert.Equal(t, "hazard score: 5.0 (4.0 to 6.0) as far as layers tell, but some ground is on none of them: it could be as much as 60.0, limit 20", reasons[0].String())
	assert.Contains(t, reasons[1].String(), "another 88.0 % not assessed")
	// A limit that what is known breaks already is broken.
	l.Score = 3
	verdict, reasons = l.Judge(launch.Facts{Score: s})
	assert.Equal(t, launch.NoGo, verdict)
	assert.Equal(t, launch.NoGo, reasons[0].Verdict, "the worst first")
	assert.Equal(t, "hazard score: 5.0 (4.0 to 6.0; up to 60.0 with ground that no layer covers), limit 3", reasons[0].String())
}

// Airspace by the worst volume, flights that leave the forecast, the distance; and
// nothing where nothing is limited.
func TestJudgeTheRest(t *testing.T) {
	s := &hazard.Score{
		NotLanded: of(0.2, 0.17, 0.23),
		Crossings: []hazard.Crossing{{Name: "A", Probability: of(0.01, 0, 0.02)}, {Name: "B", Probability: of(0.3, 0.28, 0.32)}, {Name: "C"}},
	}
	verdict, reasons := launch.None().Judge(launch.Facts{Score: s, Distance: 1e6})
	assert.Equal(t, launch.Unlimited, verdict)
	assert.Empty(t, reasons)

	l := launch.None()
	l.Airspace = 0.05
	verdict, reasons = l.Judge(launch.Facts{Score: s, Distance: 1e6})
	assert.Equal(t, launch.NoGo, verdict)
	require.Len(t, reasons, 2, "those that are crossed")
	assert.Equal(t, "flights through B: 30.0 % (28.0 % to 32.0 %), limit 5.0 %", reasons[0].String())

	l = launch.None()
	l.NotLanded, l.Distance = 0.1, 100e3
	verdict, reasons = l.Judge(launch.Facts{Score: s, Distance: 100e3})
	assert.Equal(t, launch.NoGo, verdict)
	assert.Equal(t, launch.Go, reasons[1].Verdict, "the distance is the limit itself")
	_, reasons = l.Judge(launch.Facts{Score: s, Distance: 100.1e3})
	assert.Equal(t, launch.NoGo, reasons[1].Verdict)

	// Where nothing lands no limit is met.
	verdict, reasons = l.Judge(launch.Facts{})
	assert.Equal(t, launch.NoGo, verdict)
	assert.Len(t, reasons, 1)
	verdict, _ = launch.None().Judge(launch.Facts{})
	assert.Equal(t, launch.Unlimited, verdict)
}

// The words never say that a launch may take place.
func TestWords(t *testing.T) {
	for v := launch.Unlimited; v <= launch.NoGo; v++ {
		for _, word := range []string{"safe", "legal", "approved"} {
			assert.NotContains(t, fmt.Sprint(v), word)
		}
	}
	assert.Equal(t, "Verdict(9)", launch.Verdict(9).String())
	assert.True(t, math.IsNaN(launch.None().Score))
}

// A limit for airspace with no airspace to look at is no go.
func TestJudgeWithoutAirspace(t *testing.T) {
	l := launch.None()
	l.Airspace = 0.01
	verdict, reasons := l.Judge(launch.Facts{Score: &hazard.Score{}})
	assert.Equal(t, launch.Marginal, verdict)
	require.Len(t, reasons, 1)
	assert.Equal(t, "flights through airspace: not assessed, as the plan names none, limit 1.0 %", reasons[0].String())

	verdict, _ = l.Judge(launch.Facts{Score: &hazard.Score{Crossings: []hazard.Crossing{{Name: "far away"}}}})
	assert.Equal(t, launch.Go, verdict, "looked at, and not crossed")
}
