package ground

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestHoursContain(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	weekdays := [7]bool{time.Monday: true, time.Tuesday: true, time.Wednesday: true, time.Thursday: true, time.Friday: true}
	office := Hours{Days: weekdays, From: 8 * time.Hour, To: 17*time.Hour + 30*time.Minute}
	night := Hours{Days: [7]bool{time.Friday: true}, From: 22 * time.Hour, To: 6 * time.Hour}
	local := Hours{From: 8 * time.Hour, To: 9 * time.Hour, Zone: berlin}
	whole := Hours{Days: [7]bool{time.Sunday: true}, To: 24 * time.Hour}
	for _, tt := range []struct {
		name string
		h    Hours
		when string // UTC
		want bool
	}{
		// 1 June 2026 is a Monday (ISO 8601 calendar).
		{"Monday at its beginning", office, "2026-06-01T08:00:00Z", true},
		{"Monday just before", office, "2026-06-01T07:59:59.999999999Z", false},
		{"Monday at its end", office, "2026-06-01T17:30:00Z", false},
		{"Monday just before its end", office, "2026-06-01T17:29:59Z", true},
		{"Sunday", office, "2026-05-31T12:00:00Z", false},
		{"Saturday", office, "2026-06-06T12:00:00Z", false},
		{"Friday before midnight", night, "2026-06-05T23:00:00Z", true},
		{"Saturday after that midnight", night, "2026-06-06T05:59:00Z", true},
		{"Saturday at six", night, "2026-06-06T06:00:00Z", false},
		{"Friday before dawn belongs to Thursday", night, "2026-06-05T05:00:00Z", false},
		{"Saturday evening", night, "2026-06-06T23:00:00Z", false},
		// Central European time is an hour ahead of UTC, in summer two.
		{"in summer", local, "2026-06-01T06:30:00Z", true},
		{"in summer, by the winter's clock", local, "2026-06-01T07:30:00Z", false},
		{"in winter", local, "2026-12-01T07:30:00Z", true},
		{"in winter, by the summer's clock", local, "2026-12-01T06:30:00Z", false},
		{"whole Sunday, first", whole, "2026-05-31T00:00:00Z", true},
		{"whole Sunday, last", whole, "2026-05-31T23:59:59.9Z", true},
		{"whole Sunday, Monday", whole, "2026-06-01T00:00:00Z", false},
	} {
		when, err := time.Parse(time.RFC3339, tt.when)
		require.NoError(t, err)
		assert.Equal(t, tt.want, tt.h.Contains(when), "%s: Contains(%v)", tt.name, when)
		assert.Equal(t, tt.want, tt.h.Contains(when.In(berlin)), "%s: the same instant in another zone", tt.name)
	}
}

func TestHoursCheck(t *testing.T) {
	for _, tt := range []struct {
		h    Hours
		want string
	}{
		{Hours{}, "hours from 0s to 0s: want two different times"},
		{Hours{From: day}, "hours from 24h0m0s to 0s: want two different times"},
		{Hours{From: -1, To: 5}, "hours from -1ns to 5ns: want times of day, 0 to 24 h"},
		{Hours{From: 1, To: day + 1}, "hours from 1ns to 24h0m0.000000001s: want times of day, 0 to 24 h"},
	} {
		_, err := ReadLayer(LayerSource{Name: "range", Class: Closed, Active: []Hours{{To: day}, tt.h}}, []byte(geometry("Polygon", corner)))
		assert.ErrorContains(t, err, `layer "range": active hours 2: `+tt.want)
	}
}
