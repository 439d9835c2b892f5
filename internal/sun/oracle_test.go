package sun

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// table reads a file of testdata without its head.
func table(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 200, "rows of %s", name)
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(s, 64)
	require.NoError(t, err)
	return x
}

// Directions by VSOP87, which is far closer than what is tested:
// the stated error holds, and is not slack.
func TestDirectionsByAnotherTheory(t *testing.T) {
	var worst float64
	for _, r := range table(t, "positions.csv") {
		when, err := time.Parse(time.RFC3339, r[0])
		require.NoError(t, err)
		elevation, azimuth := number(t, r[3]), number(t, r[4])
		got, err := At(Place{Lat: number(t, r[1]), Lon: number(t, r[2])}, when)
		require.NoError(t, err)
		across := math.Remainder(got.Azimuth-azimuth, 360) * math.Cos(elevation*degree)
		off := math.Hypot(got.Elevation-elevation, across)
		if off > theoryError {
			t.Errorf("At(%s, %s, %s) = %+v, want elevation %v, azimuth %v within %v", r[1], r[2], r[0], got, elevation, azimuth, theoryError)
		}
		worst = max(worst, off)
	}
	require.Greater(t, worst, 0.8*theoryError, "the worst of the directions: the stated error is slack")
}

// speed is how fast the sun climbs at a time, degrees a second.
func speed(p Place, t time.Time) float64 {
	const s = 30
	return (p.elevation(t.Add(s*time.Second)) - p.elevation(t.Add(-s*time.Second))) / (2 * s)
}

// Crossings by VSOP87 and a plain search, each within the time that the sun
// takes for the stated error, and half a second of rounding.
func TestDaysByAnotherTheory(t *testing.T) {
	names := map[string]Level{"horizon": Horizon, "civil": Civil, "nautical": Nautical, "astronomical": Astronomical}
	for _, r := range table(t, "days.csv") {
		offset, err := strconv.Atoi(r[1])
		require.NoError(t, err)
		zone := time.FixedZone("", 3600*offset)
		noon, err := time.ParseInLocation(time.DateOnly, r[0], zone)
		require.NoError(t, err)
		noon = noon.Add(12 * time.Hour)
		p := Place{Lat: number(t, r[2]), Lon: number(t, r[3])}
		level, known := names[r[4]]
		require.True(t, known, r[4])
		d, err := On(p, noon, zone)
		require.NoError(t, err)
		span := d.Levels[level]
		var rises, sets []string
		switch r[5] {
		case "above":
			require.Equal(t, NeverDown, span.State, "State of %v", r)
		case "below":
			require.Equal(t, NeverUp, span.State, "State of %v", r)
		default:
			require.Equal(t, Crosses, span.State, "State of %v", r)
			for _, event := range strings.Fields(r[5]) {
				if at, up := strings.CutPrefix(event, "+"); up {
					rises = append(rises, at)
				} else {
					sets = append(sets, event[1:])
				}
			}
		}
		compare(t, r, p, span.Rises, rises)
		compare(t, r, p, span.Sets, sets)
	}
}

// compare holds the crossings of a row to those wanted.
func compare(t *testing.T, row []string, p Place, got []time.Time, want []string) {
	t.Helper()
	require.Len(t, got, len(want), "crossings of %v", row)
	for i, w := range want {
		at, err := time.Parse(time.RFC3339, w)
		require.NoError(t, err)
		allowed := theoryError/math.Abs(speed(p, at)) + 0.5
		if off := math.Abs(got[i].Sub(at).Seconds()); off > allowed {
			t.Errorf("%v: crossing at %v, want %v within %.1f s", row, got[i].UTC(), at, allowed)
		}
	}
}
