package ground

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseHours(t *testing.T) {
	hour := time.Hour
	for s, want := range map[string]Hours{
		"Mon-Fri 07:00-16:30": {Days: [7]bool{false, true, true, true, true, true, false}, From: 7 * hour, To: 16*hour + 30*time.Minute},
		"sat-mon 22:00-02:00": {Days: [7]bool{true, true, false, false, false, false, true}, From: 22 * hour, To: 2 * hour},
		" Wed  00:00-24:00":   {Days: [7]bool{3: true}, To: 24 * hour},
		"06:15-18:00":         {From: 6*hour + 15*time.Minute, To: 18 * hour},
	} {
		got, err := ParseHours(s)
		require.NoError(t, err, s)
		assert.Equal(t, want, got, s)
	}
	for _, s := range []string{"", "Mon", "Mon-Fri", "Mon 7:00-16:00", "Xyz 07:00-16:00", "Mon-Tag 07:00-16:00", "07:00", "07:00-25:00", "07:60-08:00", "07:00-07:00", "a b 07:00-16:00"} {
		_, err := ParseHours(s)
		assert.ErrorContains(t, err, "want", s)
	}
}

// Active looks at a span of time, not at its ends alone, in the clock of the
// hours' own zone: here two hours east of UTC.
func TestVolumeActive(t *testing.T) {
	east := time.FixedZone("east", 2*3600)
	v := Volume{Hours: []Hours{{Days: [7]bool{1: true}, From: 8 * time.Hour, To: 8*time.Hour + time.Minute, Zone: east}}}
	monday := time.Date(2024, 7, 1, 6, 0, 0, 0, time.UTC) // 08:00 there
	for _, c := range []struct {
		from, to time.Duration
		want     bool
	}{
		{-time.Hour, -time.Second, false},
		{-time.Hour, 0, true},
		{-time.Hour, time.Hour, true}, // begins and ends in between
		{30 * time.Second, time.Hour, true},
		{time.Minute, time.Hour, false},
		{-26 * time.Hour, -24 * time.Hour, false}, // Sunday
		{-5 * 24 * time.Hour, time.Hour, true},
		{time.Minute, 6 * 24 * time.Hour, false},
		{time.Minute, 7 * 24 * time.Hour, true}, // the next Monday
	} {
		assert.Equal(t, c.want, v.Active(monday.Add(c.from), monday.Add(c.to)), "%v to %v after it begins", c.from, c.to)
	}
	assert.True(t, (&Volume{}).Active(monday, monday), "no hours: at all times")
}
