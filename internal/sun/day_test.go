package sun_test

import (
	"math"
	"testing"
	"time"
	_ "time/tzdata" // the machine may have no time zones of its own

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/sun"
)

// bound is the error of the theory in degrees, of which MaxError keeps 0.004
// for UT1: the tables here are in UT.
const bound = sun.MaxError - 0.004

// cosine of an angle in degrees.
func cosine(deg float64) float64 { return math.Cos(deg * math.Pi / 180) }

// slack is the time that the sun takes to climb by the error of the theory.
func slack(t *testing.T, p sun.Place, at time.Time) time.Duration {
	t.Helper()
	before, err := sun.At(p, at.Add(-time.Minute))
	require.NoError(t, err)
	after, err := sun.At(p, at.Add(time.Minute))
	require.NoError(t, err)
	perSecond := math.Abs(after.Elevation-before.Elevation) / 120
	return time.Duration(bound / perSecond * float64(time.Second))
}

func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

// one is the only rise and set of a span.
func one(t *testing.T, s sun.Span) (rise, set time.Time) {
	t.Helper()
	require.Len(t, s.Rises, 1)
	require.Len(t, s.Sets, 1)
	return s.Rises[0], s.Sets[0]
}

func TestRiseAndSetTables(t *testing.T) {
	for _, c := range []struct {
		date      string
		lat, lon  float64
		offset    int // hours
		rise, set string
	}{
		// Reda2008 (NREL/TP-560-34302), examples of sunrise and sunset in its
		// appendix, as transcribed in the tests of an open-source solar library.
		{"1996-07-05", -35, 0, 0, "07:08:15", "17:01:04"},
		{"2004-12-04", -35, 0, 0, "04:38:57", "19:02:02"},
		{"1994-01-02", 35, 0, 0, "07:08:12", "16:59:55"},
		// Tables of the United States Naval Observatory in whole minutes, transcribed there.
		{"2015-01-02", 39, -105, -7, "07:19", "16:49"},
		{"2015-04-02", 39, -105, -7, "05:43", "18:24"},
		{"2015-08-02", 39, -105, -7, "05:01", "19:10"},
		{"2015-12-02", 39, -105, -7, "07:01", "16:38"},
		{"2015-01-02", 39.917, 116.383, 8, "07:36", "17:00"},
		{"2015-04-02", 39.917, 116.383, 8, "05:58", "18:39"},
		{"2015-08-02", 39.917, 116.383, 8, "05:13", "19:28"},
		{"2015-12-02", 39.917, 116.383, 8, "07:17", "16:50"},
		// The worked example of Reda2008: its program works on the day of UT, so that
		// the sunset it prints beside the sunrise of 17 October, 17:20:19, is the
		// evening before by the clock of the place. The sunset of the 17th itself and
		// the one beside 06:12:43 were computed apart with another program.
		{"2003-10-17", 39.742476, -105.1786, -7, "06:12:43", "17:18:51"},
		{"2003-10-16", 39.742476, -105.1786, -7, "", "17:20:19"},
	} {
		z := time.FixedZone("", c.offset*3600)
		date, err := time.ParseInLocation(time.DateOnly, c.date, z)
		require.NoError(t, err)
		p := sun.Place{Lat: c.lat, Lon: c.lon}
		// The date is that of the zone at its first and its last second alike.
		for _, inside := range []time.Duration{0, 24*time.Hour - time.Second} {
			d, err := sun.On(p, date.Add(inside).UTC(), z)
			require.NoError(t, err)
			rise, set := one(t, d.Levels[sun.Horizon])
			check := func(what, want string, got time.Time) {
				if want == "" {
					return
				}
				layout, rounding := time.DateOnly+" "+time.TimeOnly, time.Second
				if len(want) == len("15:04") {
					layout, rounding = time.DateOnly+" 15:04", time.Minute
				}
				at, err := time.ParseInLocation(layout, c.date+" "+want, z)
				require.NoError(t, err)
				allowed := slack(t, p, at) + rounding/2 + time.Second/2
				if off := got.Sub(at).Abs(); off > allowed {
					t.Errorf("%s at %v, %v = %v, want %v within %v", what, c.lat, c.lon, got, at, allowed)
				}
			}
			check("sunrise", c.rise, rise)
			check("sunset", c.set, set)
		}
	}
}

// Civil twilight of the same place and date, computed apart by another program
// with the formulas of Meeus1998: 05:45:28 and 17:46:04.
func TestCivilTwilight(t *testing.T) {
	z := time.FixedZone("", -7*3600)
	d, err := sun.On(sun.Place{Lat: 39.742476, Lon: -105.1786}, time.Date(2003, time.October, 17, 12, 0, 0, 0, z), z)
	require.NoError(t, err)
	rise, set := one(t, d.Levels[sun.Civil])
	assert.WithinDuration(t, time.Date(2003, time.October, 17, 5, 45, 28, 0, z), rise, 2*time.Second)
	assert.WithinDuration(t, time.Date(2003, time.October, 17, 17, 46, 4, 0, z), set, 2*time.Second)
}

// Polar day and night by the height of the sun at noon and midnight,
// ±(90 - φ) + δ: at latitude 78.22 on the longest and the shortest day, δ =
// ±23.43, the sun stays between 11.65 and 35.21 degrees and between -35.21 and
// -11.65.
func TestPolarDayAndNight(t *testing.T) {
	p, z := sun.Place{Lat: 78.22, Lon: 15.63}, zone(t, "Arctic/Longyearbyen")
	for _, c := range []struct {
		lat    float64
		month  time.Month
		states [4]sun.State
	}{
		{78.22, time.June, [4]sun.State{sun.NeverDown, sun.NeverDown, sun.NeverDown, sun.NeverDown}},
		{78.22, time.December, [4]sun.State{sun.NeverUp, sun.NeverUp, sun.Crosses, sun.Crosses}},
		{-78.22, time.June, [4]sun.State{sun.NeverUp, sun.NeverUp, sun.Crosses, sun.Crosses}},
		{-78.22, time.December, [4]sun.State{sun.NeverDown, sun.NeverDown, sun.NeverDown, sun.NeverDown}},
		{90, time.December, [4]sun.State{sun.NeverUp, sun.NeverUp, sun.NeverUp, sun.NeverUp}},
		{-90, time.December, [4]sun.State{sun.NeverDown, sun.NeverDown, sun.NeverDown, sun.NeverDown}},
		{55, time.June, [4]sun.State{sun.Crosses, sun.Crosses, sun.NeverDown, sun.NeverDown}}, // midnight at -11.57
	} {
		p.Lat = c.lat
		d, err := sun.On(p, time.Date(2017, c.month, 21, 12, 0, 0, 0, time.UTC), z)
		require.NoError(t, err)
		for l, want := range c.states {
			got := d.Levels[l]
			assert.Equal(t, want, got.State, "State(%v, %v, %v)", c.lat, c.month, sun.Level(l))
			assert.Equal(t, want == sun.Crosses, len(got.Rises)+len(got.Sets) > 0)
		}
	}
}

// At the pole the sun rises once a year, when its declination passes -50'. The
// declination is 0 at the equinox, 2017-03-20 10:29 UTC (from memory), and grows
// by 23.44 sin(360/365.24) = 0.403 degrees a day (on the ecliptic at its mean
// speed; at that of March, 0.995 degrees a day, 0.396).
func TestSunriseAtThePole(t *testing.T) {
	pole := sun.Place{Lat: 90}
	c, err := sun.Next(pole, sun.Horizon, time.Date(2016, time.October, 10, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	assert.True(t, c.Up)
	equinox := time.Date(2017, time.March, 20, 10, 29, 0, 0, time.UTC)
	early := 24 * time.Hour * 50_000 / 60 / 396
	// 0.01 degrees take 36 minutes.
	assert.WithinDuration(t, equinox.Add(-early), c.Time, 45*time.Minute)
	c, err = sun.Next(pole, sun.Horizon, c.Time)
	require.NoError(t, err)
	assert.False(t, c.Up)
	assert.Equal(t, time.September, c.Time.Month())
}

// Where the first sunsets after a summer without come just after midnight and
// an earlier one each night, one date has two of them; in spring one date has
// none. Which these are in Tromsø in 2017 was computed with PyEphem 4.1.4: the
// sun sets on 15 May 23:50:29 and 17 May 00:05:46, and on 27 July at 00:10:31
// and 23:57:00. It grazes the horizon, so the error of the theory is half a minute.
func TestDatesWithTwoSunsetsAndWithNone(t *testing.T) {
	p, z := sun.Place{Lat: 69.65, Lon: 18.96}, zone(t, "Europe/Oslo")
	odd := map[string]int{}
	for day := range 365 {
		date := time.Date(2017, time.January, 1+day, 12, 0, 0, 0, z)
		d, err := sun.On(p, date, z)
		require.NoError(t, err)
		s := d.Levels[sun.Horizon]
		if s.State == sun.Crosses && len(s.Sets) != 1 {
			odd[date.Format(time.DateOnly)] = len(s.Sets)
		}
		if len(s.Sets) == 2 {
			assert.WithinDuration(t, time.Date(2017, time.July, 27, 0, 10, 31, 0, z), s.Sets[0], 30*time.Second)
			assert.WithinDuration(t, time.Date(2017, time.July, 27, 23, 57, 0, 0, z), s.Sets[1], 30*time.Second)
		}
	}
	assert.Equal(t, map[string]int{"2017-05-16": 0, "2017-07-27": 2}, odd)
}

// Every crossing belongs to one local date and to no other: the dates of a year
// together have those that Next finds one after the other. The zones shift
// their clocks by half an hour, at midnight and past it, and leave a date out.
func TestDatesShareOutTheCrossings(t *testing.T) {
	for _, c := range []struct {
		zone     string
		year     int
		lat, lon float64
		dates    int
	}{
		{"America/Denver", 2016, 39.74, -105.18, 366}, // leap year
		{"Europe/Berlin", 2017, 52.5, 13.4, 365},
		{"Australia/Lord_Howe", 2017, -31.55, 159.08, 365},
		{"America/Sao_Paulo", 2017, -23.5, -46.6, 365},  // changes at 0 h
		{"America/St_Johns", 2006, 47.56, -52.71, 365},  // changes at 0 h 1 min
		{"Pacific/Apia", 2011, -13.83, -171.76, 364},    // 30 December left out
		{"Pacific/Kiritimati", 2017, 1.87, -157.4, 365}, // 25 hours from the sun
		{"Pacific/Chatham", 2017, -43.95, -176.55, 365},
		{"Europe/Oslo", 2017, 69.65, 18.96, 365}, // polar day and night
		{"Antarctica/Troll", 2017, -72.01, 2.53, 365},
	} {
		z := zone(t, c.zone)
		p := sun.Place{Lat: c.lat, Lon: c.lon}
		first, last := time.Date(c.year, time.January, 1, 0, 0, 0, 0, z), time.Date(c.year+1, time.January, 1, 0, 0, 0, 0, z)
		levels := []sun.Level{sun.Horizon, sun.Astronomical}
		byDate := map[sun.Level]map[time.Time]bool{sun.Horizon: {}, sun.Astronomical: {}}
		seen := map[string]bool{}
		// Each date once, at whichever hour of it every seventh one is.
		for at := first; at.Before(last); at = at.Add(7 * time.Hour) {
			date := at.In(z).Format(time.DateOnly)
			if seen[date] {
				continue
			}
			seen[date] = true
			d, err := sun.On(p, at, z)
			require.NoError(t, err)
			for _, level := range levels {
				for up, times := range map[bool][]time.Time{true: d.Levels[level].Rises, false: d.Levels[level].Sets} {
					for _, c := range times {
						assert.Equal(t, date, c.Format(time.DateOnly), "a crossing in %s", c.Location())
						require.NotContains(t, byDate[level], c.UTC())
						byDate[level][c.UTC()] = up
					}
				}
			}
		}
		assert.Len(t, seen, c.dates, c.zone)
		for _, level := range levels {
			assert.Greater(t, len(byDate[level]), 300, c.zone)
			assert.Equal(t, chain(t, p, level, first, last), byDate[level], "crossings of the %v in %s", level, c.zone)
		}
	}
}

// chain is what Next finds from a time until another.
func chain(t *testing.T, p sun.Place, level sun.Level, from, to time.Time) map[time.Time]bool {
	t.Helper()
	out := map[time.Time]bool{}
	for at := from.Add(-time.Second); ; {
		n, err := sun.Next(p, level, at)
		require.NoError(t, err)
		require.True(t, n.Time.After(at), "Next(%v, %v, %v) = %v, want a later time", p, level, at, n.Time)
		if !n.Time.Before(to) {
			return out
		}
		out[n.Time] = n.Up
		at = n.Time
	}
}

func TestWhatIsRefused(t *testing.T) {
	when := time.Date(2017, time.March, 22, 12, 0, 0, 0, time.UTC)
	nan := math.NaN()
	for _, c := range []struct {
		p    sun.Place
		when time.Time
		want string
	}{
		{sun.Place{Lat: 90.01}, when, "sun: latitude 90.01: want -90 to 90 degrees"},
		{sun.Place{Lat: nan}, when, "sun: latitude NaN: want -90 to 90 degrees"},
		{sun.Place{Lon: -180.5}, when, "sun: longitude -180.5: want -180 to 180 degrees"},
		{sun.Place{Lon: nan}, when, "sun: longitude NaN: want -180 to 180 degrees"},
		{sun.Place{Height: -1}, when, "sun: height -1 above the horizon's ground: want 0 to 60000 m"},
		{sun.Place{Height: math.Inf(1)}, when, "sun: height +Inf above the horizon's ground: want 0 to 60000 m"},
		{sun.Place{}, time.Date(1899, time.December, 31, 23, 59, 0, 0, time.UTC), "sun: year 1899: want 1900 to 2100"},
		{sun.Place{}, time.Time{}, "sun: year 1: want 1900 to 2100"},
	} {
		_, err := sun.At(c.p, c.when)
		require.EqualError(t, err, c.want)
		_, err = sun.On(c.p, c.when, time.UTC)
		require.EqualError(t, err, c.want)
		_, err = sun.Next(c.p, sun.Horizon, c.when)
		require.EqualError(t, err, c.want)
		_, err = sun.Above(c.p, sun.Horizon, c.when)
		require.EqualError(t, err, c.want)
	}
	_, err := sun.On(sun.Place{}, when, nil)
	require.EqualError(t, err, "sun: no time zone: want that of the place")
	_, err = sun.Next(sun.Place{}, 4, when)
	require.EqualError(t, err, "sun: level 4: want 0 to 3")
	_, err = sun.Above(sun.Place{}, 4, when)
	require.EqualError(t, err, "sun: level 4: want 0 to 3")
}
