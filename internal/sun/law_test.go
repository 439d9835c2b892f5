package sun_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/sun"
)

// parallax is what the sun stands lower at the horizon as seen from the ground
// than from the Earth's centre: 8.794" at its mean distance, 1.7 % more in January.
const parallax = 8.794 / 3600

// at is At where it must not fail.
func at(t *testing.T, p sun.Place, when time.Time) sun.Position {
	t.Helper()
	pos, err := sun.At(p, when)
	require.NoError(t, err)
	return pos
}

// draws calls f with places and times over the Earth and the years that are served.
func draws(t *testing.T, n int, f func(p sun.Place, when time.Time)) {
	t.Helper()
	rng := rand.New(rand.NewPCG(3, 4))
	first := time.Date(sun.FirstYear, time.January, 3, 0, 0, 0, 0, time.UTC)
	span := time.Date(sun.LastYear, time.December, 29, 0, 0, 0, 0, time.UTC).Sub(first)
	for range n {
		p := sun.Place{Lat: 180*rng.Float64() - 90, Lon: 360*rng.Float64() - 180}
		f(p, first.Add(time.Duration(rng.Int64N(int64(span)))))
	}
}

// The sun is as far below the horizon at the other end of the Earth as it is
// above it here, but for the parallax at both.
func TestAntipodes(t *testing.T) {
	draws(t, 500, func(p sun.Place, when time.Time) {
		q := sun.Place{Lat: -p.Lat, Lon: math.Mod(p.Lon+360, 360) - 180}
		here, there := at(t, p, when), at(t, q, when)
		want := -2 * parallax * cosine(here.Elevation)
		assert.InDelta(t, want, here.Elevation+there.Elevation, 0.02*2*parallax, "%v %v", p, when)
	})
}

// At the date line there is one sun for both longitudes, and none jumps beside it.
func TestDateLine(t *testing.T) {
	draws(t, 100, func(p sun.Place, when time.Time) {
		east, west := at(t, sun.Place{Lat: p.Lat, Lon: 180}, when), at(t, sun.Place{Lat: p.Lat, Lon: -180}, when)
		assert.InDelta(t, east.Elevation, west.Elevation, 1e-9)
		assert.InDelta(t, 0, math.Remainder(east.Azimuth-west.Azimuth, 360), 1e-6)
		near := at(t, sun.Place{Lat: p.Lat, Lon: 179.999}, when)
		assert.InDelta(t, east.Elevation, near.Elevation, 0.001)
	})
}

// The Earth turns eastward: a place 15 degrees further east sees the sun an hour
// earlier, but for what the sun itself moves in the hour: 0.017 degrees of
// declination, 0.002 of hour angle.
func TestAnHourIsFifteenDegrees(t *testing.T) {
	draws(t, 300, func(p sun.Place, when time.Time) {
		if p.Lon > 165 {
			p.Lon -= 15
		}
		here := at(t, p, when.Add(time.Hour))
		east := at(t, sun.Place{Lat: p.Lat, Lon: p.Lon + 15}, when)
		assert.InDelta(t, here.Elevation, east.Elevation, 0.02, "%v %v", p, when)
	})
}

// At the upper transit the sun is 90 - |φ - δ| high, in the south or the north;
// δ is how high it stands at the pole. Half a second of rounding is 0.002
// degrees of hour angle.
func TestNoon(t *testing.T) {
	draws(t, 300, func(p sun.Place, when time.Time) {
		z := time.FixedZone("", 3600*int(math.Round(p.Lon/15)))
		d, err := sun.On(p, when, z)
		require.NoError(t, err)
		assert.Equal(t, when.In(z).Format(time.DateOnly), d.Noon.Format(time.DateOnly), "date of noon")
		declination := at(t, sun.Place{Lat: 90}, d.Noon).Elevation + parallax*cosine(23)
		noon := at(t, p, d.Noon)
		assert.InDelta(t, 90-math.Abs(p.Lat-declination), noon.Elevation, 0.005, "noon at %v on %v", p, d.Noon)
		if away := math.Abs(p.Lat - declination); away > 1 && noon.Elevation > -89 && noon.Elevation < 89 {
			want := 0.0
			if p.Lat > declination {
				want = 180
			}
			assert.InDelta(t, 0, math.Remainder(noon.Azimuth-want, 360), 0.003/cosine(noon.Elevation), "azimuth at noon, %v on %v", p, d.Noon)
		}
		// Morning and afternoon mirror each other but for the declination, which
		// changes by 0.4 degrees a day at most, and the equation of time, 30 s a day.
		before, after := at(t, p, d.Noon.Add(-3*time.Hour)), at(t, p, d.Noon.Add(3*time.Hour))
		assert.InDelta(t, before.Elevation, after.Elevation, 0.4*6/24+0.04, "three hours about noon, %v on %v", p, d.Noon)
		assert.Less(t, before.Azimuth, 180.0, "the morning sun is in the east, %v on %v", p, d.Noon)
		assert.Greater(t, after.Azimuth, 180.0, "the evening sun is in the west, %v on %v", p, d.Noon)
	})
}

// A rise and a set are where the stated elevation is passed, and in the
// direction that the triangle of pole, zenith and sun has:
// cos A = (sin δ - sin φ sin h)/(cos φ cos h).
func TestCrossingsAreWhereTheySay(t *testing.T) {
	depths := [4]float64{-50.0 / 60, -6, -12, -18}
	seen := 0
	draws(t, 200, func(p sun.Place, when time.Time) {
		d, err := sun.On(p, when, time.UTC)
		require.NoError(t, err)
		for l, s := range d.Levels {
			for up, times := range map[bool][]time.Time{true: s.Rises, false: s.Sets} {
				for _, c := range times {
					seen++
					pos := at(t, p, c)
					// Half a second is 0.0021 degrees.
					assert.InDelta(t, depths[l]-parallax*cosine(depths[l]), pos.Elevation, 0.0023)
					above, err := sun.Above(p, sun.Level(l), c.Add(time.Minute))
					require.NoError(t, err)
					below, err := sun.Above(p, sun.Level(l), c.Add(-time.Minute))
					require.NoError(t, err)
					if cosine(p.Lat) > 0.3 { // else it may graze the level
						assert.Equal(t, []bool{up, !up}, []bool{above, below}, "%v a minute after and before %v", sun.Level(l), c)
					}
					earlier := at(t, p, c.Add(-2*time.Second)).Elevation
					later := at(t, p, c.Add(2*time.Second)).Elevation
					if math.Abs(later-earlier) > 1e-4 {
						assert.Equal(t, up, later > earlier, "%v at %v", sun.Level(l), c)
					}
					declination := at(t, sun.Place{Lat: 90}, c).Elevation + parallax*cosine(23)
					sin := func(x float64) float64 { return math.Sin(x * math.Pi / 180) }
					want := (sin(declination) - sin(p.Lat)*sin(depths[l])) / (cosine(p.Lat) * cosine(depths[l]))
					assert.InDelta(t, want, cosine(pos.Azimuth), 1e-4/cosine(p.Lat))
				}
			}
		}
	})
	require.Greater(t, seen, 800)
}

// From a height the horizon lies lower, 5.55 degrees at 30 km (acos(R/(R+h)),
// computed apart). On the equator at an equinox the sun sinks by 15 degrees an
// hour straight down, so that it sets 22.2 minutes later; twilight keeps its time.
func TestHeight(t *testing.T) {
	when := time.Date(2017, time.March, 20, 12, 0, 0, 0, time.UTC)
	low, err := sun.On(sun.Place{}, when, time.UTC)
	require.NoError(t, err)
	high, err := sun.On(sun.Place{Height: 30e3}, when, time.UTC)
	require.NoError(t, err)
	rise, set := one(t, low.Levels[sun.Horizon])
	earlier, later := one(t, high.Levels[sun.Horizon])
	want := time.Duration(5.55 / 15 * float64(time.Hour))
	assert.InDelta(t, want.Seconds(), later.Sub(set).Seconds(), 3)
	assert.InDelta(t, want.Seconds(), rise.Sub(earlier).Seconds(), 3)
	assert.Equal(t, low.Levels[sun.Civil], high.Levels[sun.Civil])
}

// A leap day lies between its neighbours: on the equator a rise follows a rise
// by a day but for the equation of time, 30 s at most.
func TestLeapDay(t *testing.T) {
	p := sun.Place{Lon: 15}
	var last time.Time
	for _, date := range []string{"2016-02-28", "2016-02-29", "2016-03-01"} {
		midnight, err := time.Parse(time.DateOnly, date)
		require.NoError(t, err)
		d, err := sun.On(p, midnight, time.UTC)
		require.NoError(t, err)
		rise, _ := one(t, d.Levels[sun.Horizon])
		assert.Equal(t, date, rise.Format(time.DateOnly))
		if !last.IsZero() {
			assert.InDelta(t, 24*3600, rise.Sub(last).Seconds(), 30)
		}
		last = rise
	}
}

// On the days on which a clock changes, the sun does not: the wall clock of the
// rise moves by the hour, the time between rises by a minute or two.
func TestClockChange(t *testing.T) {
	z := zone(t, "America/New_York")
	p := sun.Place{Lat: 40.7, Lon: -74}
	for _, c := range []struct {
		month    time.Month
		day      int
		from, to int // hours of the rise the day before and on the day
	}{
		{time.March, 12, 6, 7},
		{time.November, 5, 7, 6},
	} {
		rise := func(day int) time.Time {
			d, err := sun.On(p, time.Date(2017, c.month, day, 12, 0, 0, 0, z), z)
			require.NoError(t, err)
			r, set := one(t, d.Levels[sun.Horizon])
			assert.Equal(t, day, r.Day())
			assert.Equal(t, day, set.Day())
			return r
		}
		before, after := rise(c.day-1), rise(c.day)
		assert.Equal(t, c.from, before.Hour(), c.month)
		assert.Equal(t, c.to, after.Hour(), c.month)
		assert.InDelta(t, 24*3600, after.Sub(before).Seconds(), 120)
	}
}

// The same second of a day may be asked for from anywhere in it.
func TestOnDoesNotDependOnTheHour(t *testing.T) {
	z := zone(t, "Europe/Oslo")
	p := sun.Place{Lat: 66.3, Lon: 14.1}
	for day := range 40 {
		noon := time.Date(2017, time.June, day, 12, 0, 0, 0, z)
		want, err := sun.On(p, noon, z)
		require.NoError(t, err)
		for _, off := range []time.Duration{-12 * time.Hour, -431 * time.Minute, 11*time.Hour + 59*time.Minute + 59*time.Second} {
			got, err := sun.On(p, noon.Add(off), z)
			require.NoError(t, err)
			assert.Equal(t, want, got)
		}
	}
}

// A sun that shows, or is gone, for less than ten minutes is not missed, wherever
// in the day that lies. At the solstice the sun is 90 - φ + δ high at noon; with
// that 0.003 degrees over -50' it is up for (4 min a degree) 2·acos(1 -
// 0.003°/(cos φ cos δ)) = 7.5 minutes. A midnight 0.003 degrees below is the same.
func TestGrazingSun(t *testing.T) {
	const graze = 0.003
	for _, month := range []time.Month{time.June, time.December} {
		for i := range 25 {
			p := sun.Place{Lon: 0.1 * float64(i)}
			turn := time.Date(2017, month, 21, 12, 0, 0, 0, time.UTC) // noon, or midnight half a turn off
			if month == time.June {
				p.Lon -= 180
			}
			declination := at(t, sun.Place{Lat: 90}, turn).Elevation + parallax*cosine(23.44)
			for _, over := range []float64{graze, -graze} {
				state, want := sun.NeverUp, over > 0
				p.Lat = 90 + declination + 50.0/60 - over
				if month == time.June {
					state, want = sun.NeverDown, over < 0
					p.Lat = 90 - declination - 50.0/60 + over
				}
				d, err := sun.On(p, turn, time.UTC)
				require.NoError(t, err)
				s := d.Levels[sun.Horizon]
				if !want {
					assert.Equal(t, state, s.State, "%v in %v", p, month)
					continue
				}
				rise, set := one(t, s)
				minutes := 2 * 4 * math.Acos(1-graze*math.Pi/180/(cosine(p.Lat)*cosine(declination))) * 180 / math.Pi
				assert.InDelta(t, minutes, rise.Sub(set).Abs().Minutes(), 0.3, "%v in %v", p, month)
				assert.Equal(t, month == time.December, rise.Before(set))
			}
		}
	}
}
