package report

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/quantity"
)

// sweptPoints are two that float, the plan's own and one that is too full.
// Invented.
var sweptPoints = []SweepPoint{
	{Gas: 2, Neck: 2, Free: 0.1, Ascent: 1, Top: 15e3, Aloft: 9000, Floats: true},
	{Gas: 2.2, Neck: 2.2, Free: 0.3, Ascent: 2, Top: 25e3, Aloft: 9000, Floats: true},
	{Gas: 2.4, Neck: 2.4, Free: 0.5, Ascent: 3, Top: 30e3, Aloft: 8000, Planned: true},
	{Gas: 2.6, Neck: 2.6, Free: 0.7, Ascent: 4, Top: 29e3, Aloft: 7000, TooFull: true},
}

// drawn is how often each element is in a drawing, and its words.
func drawn(t *testing.T, points []SweepPoint, units quantity.System) (count map[string]int, words string) {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, WriteSweepSVG(&b, points, units))
	count = map[string]int{}
	d := xml.NewDecoder(&b)
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return count, words
		}
		require.NoError(t, err)
		switch x := token.(type) {
		case xml.StartElement:
			count[x.Name.Local]++
		case xml.CharData:
			words += string(x)
		}
	}
}

// What floats is a ring of its own in each panel but that of the time aloft, of
// which it has none, and no line runs through it; what is too full is crossed; and
// the words below speak of what is there.
func TestSweepIsDrawn(t *testing.T) {
	count, words := drawn(t, sweptPoints, quantity.SI)
	assert.Equal(t, 3*2, count["circle"], "two that float, in three panels")
	assert.Equal(t, 4, count["polyline"])
	assert.Equal(t, 4+4, count["path"], "the plan's line and a cross in each panel")
	for _, word := range []string{"rings: it floats", "crosses: fuller", "upright line: the plan's fill", "30 000 m", "4.0 m/s"} {
		assert.Contains(t, words, word)
	}
	assert.NotContains(t, words, "2 h 30 min", "what floats")
}

func TestSweepDrawsOnlyWhatIsThere(t *testing.T) {
	count, words := drawn(t, sweptPoints[:2], quantity.US)
	assert.Zero(t, count["polyline"], "nothing bursts")
	assert.Zero(t, count["path"])
	assert.Contains(t, words, "open: it floats with each fill")
	assert.NotContains(t, words, "crosses")
	assert.NotContains(t, words, "upright line")
	assert.Contains(t, words, "ft/min")
	require.ErrorContains(t, WriteSweepSVG(io.Discard, sweptPoints[:1], quantity.SI), "want two or more to draw")
}

// What floats has no time aloft in the table for machines either.
func TestSweepCSVOfWhatFloats(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteSweepCSV(&b, sweptPoints))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 5)
	assert.Equal(t, []string{"2.2000", "2.2000", "0.3000", "2.000", "25000", "", "true", "false"}, rows[2])
	assert.Equal(t, "8000", rows[3][5])
}

// The mark stands before the plan's own and no other.
func TestSweepTableMarksThePlan(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteSweep(&b, sweptPoints, quantity.SI))
	assert.Equal(t, 2, strings.Count(b.String(), "*"), "the mark and what it means")
	assert.Contains(t, b.String(), "\n*  2.40 m³")
	for _, units := range [...]quantity.System{quantity.SI, quantity.US} {
		b.Reset()
		require.NoError(t, WriteSweep(&b, sweptPoints, units))
		for line := range strings.SplitSeq(b.String(), "\n") {
			assert.LessOrEqual(t, len([]rune(line)), narrow, "line %q", line)
		}
	}
}
