package balloon_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
)

// One report a minute on a fall of 5 m/s in a wind of 12 m/s: 13 m/s of way,
// 780 m from one to the next. By Pythagoras.
func TestReports(t *testing.T) {
	tr := balloon.Tracker{Kind: balloon.RadioTracker, Interval: 60}
	require.NoError(t, tr.Check())
	assert.InDelta(t, 780, tr.Spacing(5, 12), 1e-9)
	assert.Equal(t, 150, tr.Reports(9000))
	assert.Equal(t, 149, tr.Reports(8999))
	tr.Interval = 0.1
	assert.Equal(t, 3, tr.Reports(0.3))
}

// Up at 5 m/s to 30 km, down in 3000 s with straight legs: above 18 km from
// 3600 s on, and until 2/5 of the way down, 6000 + 1200 s: 3600 s of 9000 s.
func TestBlindAboveEighteenKilometres(t *testing.T) {
	flight := []balloon.Moment{{0, 0}, {6000, 30e3}, {9000, 0}}
	tr := balloon.Tracker{Kind: balloon.SatelliteTracker, Interval: 60}
	b, err := tr.Blind(flight)
	require.NoError(t, err)
	assert.InDelta(t, 3600, b.From, 1e-9)
	assert.InDelta(t, 7200, b.To, 1e-9)
	assert.InDelta(t, 3600, b.Time, 1e-9)
	assert.InDelta(t, 0.4, b.Share, 1e-12)
	assert.Equal(t, 60, b.Missed)
	tr.WorksAbove = true
	b, err = tr.Blind(flight)
	require.NoError(t, err)
	assert.Zero(t, b)
	tr.WorksAbove = false
	b, err = tr.Blind([]balloon.Moment{{0, 0}, {3000, 18e3}, {6000, 0}})
	require.NoError(t, err)
	assert.Zero(t, b)
	// Still above it at the end.
	b, err = tr.Blind([]balloon.Moment{{0, 20e3}, {100, 25e3}})
	require.NoError(t, err)
	assert.InDelta(t, 1, b.Share, 1e-12)
}

// A leg cut in two is blind for as long, and misses as many reports.
func TestBlindDoesNotSeeHowALegIsCut(t *testing.T) {
	tr := balloon.Tracker{Kind: balloon.RadioTracker, Interval: 7}
	rapid.Check(t, func(t *rapid.T) {
		top := rapid.Float64Range(100, 40e3).Draw(t, "top")
		cut := rapid.Float64Range(0.01, 0.99).Draw(t, "cut")
		whole := []balloon.Moment{{0, 0}, {5000, atmos.Geometric(top)}, {8000, 0}}
		parts := []balloon.Moment{{0, 0}, {5000 * cut, atmos.Geometric(top * cut)}, {5000, atmos.Geometric(top)}, {8000, 0}}
		a, err := tr.Blind(whole)
		require.NoError(t, err)
		b, err := tr.Blind(parts)
		require.NoError(t, err)
		assert.InDelta(t, a.Time, b.Time, 1e-6)
		assert.InDelta(t, a.From, b.From, 1e-6)
		assert.InDelta(t, a.To, b.To, 1e-6)
		assert.InDelta(t, a.Missed, b.Missed, 1)
		assert.Equal(t, top > float64(balloon.ReceiverStop), a.Time > 0)
	})
}

func TestCautions(t *testing.T) {
	phone := balloon.Tracker{Kind: balloon.PhoneTracker, Interval: 60}
	verified := balloon.Tracker{Kind: balloon.RadioTracker, Interval: 60, WorksAbove: true}
	texts := func(c []balloon.Caution) (out string) {
		for _, one := range c {
			assert.NotEmpty(t, one.Source, one.Text)
			out += one.Text + "\n"
		}
		return out
	}
	got := texts(balloon.Cautions([]balloon.Tracker{phone}, 30e3))
	assert.Contains(t, got, "no tracker in the air")
	assert.Contains(t, got, "none above 60,000 ft")
	assert.Contains(t, got, "one tracker that fails")
	assert.NotContains(t, texts(balloon.Cautions([]balloon.Tracker{phone}, 15e3)), "60,000 ft")
	assert.Empty(t, balloon.Cautions([]balloon.Tracker{verified, verified}, 30e3))
}

func TestTrackerRefuses(t *testing.T) {
	_, err := balloon.Tracker{}.Blind([]balloon.Moment{{5, 0}, {5, 90e3}})
	for _, want := range []string{
		"tracker: tracker of kind 0: want radio, satellite or phone", "time between reports 0 s", "moment 2: time 5 s", "moment 2: height 90000 m",
	} {
		assert.ErrorContains(t, err, want)
	}
	_, err = balloon.Tracker{Kind: balloon.RadioTracker, Interval: 1}.Blind(nil)
	assert.ErrorContains(t, err, "flight of 0 moments")
}
