package report

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/quantity"
)

// Three quarters of the variance leave half the width, √(1 − 0.75), and not a
// quarter of it. 2.131 standard errors of 1 % make the intervals.
func TestExplanationSpeaksOfVarianceAndWidth(t *testing.T) {
	write := func(e ensemble.Explanation) string {
		l := answer(t)
		l.Explanation = &e
		var b bytes.Buffer
		require.NoError(t, WriteText(&b, l, quantity.SI))
		return strings.Join(strings.Fields(b.String()), " ")
	}
	effects := []ensemble.Effect{
		{Cause: ensemble.AscentCause, First: -0.004, Total: 0.1, FirstError: 0.01, TotalError: 0.01},
		{Cause: ensemble.WindCause, First: 0.75, Total: 0.9, FirstError: 0.01, TotalError: 0.01},
	}
	got := write(ensemble.Explanation{Effects: effects, Spread: 12000, Rows: 1000, Flights: 4096})
	for _, want := range []string{
		"75 % of the scatter's variance comes from the wind error alone; without it the scatter would be 50 % as wide",
		"ascent 0 % (0 to 2) alone, 10 % (8 to 12) with others",
		"wind 75 % (73 to 77) alone, 90 % (88 to 92) with",
		"the scatter is 12.0 km",
		"from 1000 of 1024 sets of flights",
	} {
		assert.Contains(t, got, want)
	}
	assert.Contains(t, write(ensemble.Explanation{Effects: effects, Spread: 12000, Rows: 500}),
		"not split by cause: of 1024 sets of flights only 500 landed whole")
	assert.Contains(t, write(ensemble.Explanation{Rows: 1024}), "nothing scatters")
}
