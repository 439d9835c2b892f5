package plan_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/plan"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// What is usual holds for what is left out, and only where it is asked for.
func TestReadUsualLimits(t *testing.T) {
	p := read(t, least, "limits={usual: true, wind: 3 m/s, score: 40}")
	want := launch.Usual()
	want.Weather.Wind, want.Score = 3, 40
	p.Limits.Airspace, p.Limits.NotLanded, p.Limits.Distance = 0, 0, 0
	want.Airspace, want.NotLanded, want.Distance = 0, 0, 0
	assert.Equal(t, want, p.Limits)
	assert.InDelta(t, 8046.72, want.Weather.Visibility, 1e-9, "five statute miles, 14 CFR 101.33(b)")
	assert.InDelta(t, 0.5, want.Weather.Cloud, 0, "five tenths, 14 CFR 101.33(a)")
	p = read(t, least, "limits={score: 40}")
	assert.True(t, math.IsNaN(p.Limits.Weather.Wind))
	assert.True(t, math.IsNaN(p.Limits.Sunset))
}

func TestReadWeatherLimits(t *testing.T) {
	l := read(t, grounded).Limits
	assert.InDelta(t, 6, l.Weather.Wind, 0)
	assert.InDelta(t, 10, l.Weather.Gust, 1e-12, "36 km/h ÷ 3.6")
	assert.InDelta(t, 0.5, l.Weather.Cloud, 0)
	assert.InDelta(t, 8000, l.Weather.Visibility, 0)
	assert.InDelta(t, 1e-4, l.Weather.Precipitation, 1e-16, "0.36 mm, which is 0.36 kg/m², in 3600 s")
	assert.InDelta(t, 500, l.Weather.CAPE, 0)
	assert.InDelta(t, 7200, l.Sunset, 0)
	assert.InDelta(t, 1800, l.Dark, 0)
	assert.InDelta(t, 12.5, l.Driving, 1e-12, "45 km/h ÷ 3.6")
	for _, nought := range [...]string{"", "limits={}", "limits={score: 5}"} {
		var sets []string
		if nought != "" {
			sets = append(sets, nought)
		}
		assert.InDelta(t, 60/3.6, read(t, least, sets...).Limits.Driving, 1e-12, "60 km/h is the default, %q", nought)
	}
	zero := read(t, least, "limits={wind: 0 kn, rain_in_an_hour: 0 mm, cape_j_kg: 0, down_before_sunset: 0 min}").Limits
	assert.Equal(t, []float64{0, 0, 0, 0}, []float64{zero.Weather.Wind, zero.Weather.Precipitation, zero.Weather.CAPE, zero.Sunset}, "a limit of 0 is not a missing one")
	assert.True(t, math.IsNaN(zero.Weather.Gust), "gust %v beside a limit of wind, want NaN for none", zero.Weather.Gust)
}

func TestReadSchedule(t *testing.T) {
	p := read(t, grounded)
	s := p.Schedule
	assert.Equal(t, 30*time.Minute, s.Step)
	require.Len(t, s.Hours, 2)
	assert.Equal(t, ground.Hours{Days: [7]bool{time.Saturday: true, time.Sunday: true}, From: 6 * time.Hour, To: 12 * time.Hour, Zone: p.Site.Zone}, s.Hours[0])
	assert.Equal(t, ground.Hours{From: 5 * time.Hour, To: 7 * time.Hour, Zone: p.Site.Zone}, s.Hours[1], "every day")
	require.Len(t, s.Sites, 2)
	assert.Equal(t, "Gravel pit", s.Sites[0].Name)
	assert.Equal(t, geo.Point{Lat: 56.25, Lon: -3.5}, s.Sites[0].At)
	assert.InDelta(t, 91.44, s.Sites[0].Elevation, 1e-9, "300 × 0.3048 m, the international foot")
	assert.Equal(t, "Europe/London", s.Sites[0].Zone.String())
	assert.True(t, math.IsNaN(s.Sites[1].Elevation), "elevation %v, want NaN for the forecast's terrain", s.Sites[1].Elevation)
	assert.Same(t, p.Site.Zone, s.Sites[1].Zone, "a zone left out is that of the plan's own site")
	for _, set := range [...]string{"name=Evening", "schedule={}"} {
		assert.Equal(t, plan.Schedule{Step: time.Hour}, read(t, least, set).Schedule, "the defaults, %s", set)
	}
}

const wantZone = `want an IANA time zone, such as "Europe/Stockholm"`

// weekFaults begin at the lines of the limits of weather in the plan grounded.
var weekFaults = []faultCase{
	{"bare wind", "wind: 6 m/s", "wind: 6", `p.yaml:37: limits.wind: "6": want a speed with its unit, such as "6 m/s"`},
	{"hurricane", "wind: 6 m/s", "wind: 100 kn", `p.yaml:37: limits.wind: "100 kn": want 0 kn to 97.19 kn`}, // 50 × 3600 ÷ 1852 is 97.192
	{"wind with a spread", "wind: 6 m/s", "wind: 6 m/s ± 1 m/s", `p.yaml:37: limits.wind: "6 m/s ± 1 m/s": no spread is taken here: want a speed with its unit, such as "6 m/s"`},
	{"gust of a tornado", "gust: 36 km/h", "gust: 300 km/h", `p.yaml:38: limits.gust: "300 km/h": want 0 km/h to 288 km/h`},
	{"cloud in eighths", "cloud: 50 %", "cloud: 4/8", `p.yaml:39: limits.cloud: "4/8": "/" is not a unit of percentage here: want %`},
	{"cloud over all", "cloud: 50 %", "cloud: 101 %", `p.yaml:39: limits.cloud: "101 %": want 0 % to 100 %`},
	{"sight to the horizon of the Moon", "visibility: 8 km", "visibility: 200 km", `p.yaml:40: limits.visibility: "200 km": want 0 km to 100 km`},
	{"bare rain", "0.36 mm", "0.36", `p.yaml:41: limits.rain_in_an_hour: "0.36": want a length with its unit, such as "0.1 mm"`},
	{"flood", "0.36 mm", "1 m", `p.yaml:41: limits.rain_in_an_hour: "1 m": want 0 m to 0.2 m`},
	{"CAPE with its unit", "cape_j_kg: 500", "cape_j_kg: 500 J/kg", `p.yaml:42: limits.cape_j_kg: "500 J/kg": want a number, 0 to 10000`},
	{"CAPE under nothing", "cape_j_kg: 500", "cape_j_kg: -1", "p.yaml:42: limits.cape_j_kg: -1: want 0 to 10000"},
	{"time of day for a duration", "sunset: 2 h", `sunset: "18:00"`, `p.yaml:43: limits.down_before_sunset: "18:00": ":" is not a unit of duration here: want s, min, h or d`},
	{"after dark", "dark: 30 min", "dark: -30 min", `p.yaml:44: limits.there_before_dark: "-30 min": want 0 min to 720 min`},
	{"on foot", "driving: 45 km/h", "driving: 5 km/h", `p.yaml:45: limits.driving: "5 km/h": want 10 km/h to 150 km/h`},
	{"no step", "step: 30 min", "step: 0 min", `p.yaml:47: schedule.step: "0 min": want 5 min to 1440 min`},
	{"bare step", "step: 30 min", "step: 30", `p.yaml:47: schedule.step: "30": want a duration with its unit, such as "1 h"`},
	{"step of days", "step: 30 min", "step: 2 d", `p.yaml:47: schedule.step: "2 d": want 0.003473 d to 1 d`}, // 5 of 1440 min are 0.0034722 d
	{"hours in words", "05:00-07:00", "early", `p.yaml:48: schedule.hours[1]: "early": ` + wantHours},
	{"hours of no day", "Sat-Sun", "Sab-Sun", `p.yaml:48: schedule.hours[0]: "Sab-Sun 06:00-12:00": ` + wantHours},
	{"hours of no time", "05:00-07:00", "05:00-05:00", `p.yaml:48: schedule.hours[1]: "05:00-05:00": ` + wantHours},
	{"no hours", `"05:00-07:00"`, `""`, `p.yaml:48: schedule.hours[1]: "": want 1 to 60 characters`},
	{"text for hours", `["Sat-Sun 06:00-12:00", "05:00-07:00"]`, "05:00-07:00", `p.yaml:48: schedule.hours: "05:00-07:00": want a list of at most 32 items`},
	{"far too many hours", `["Sat-Sun 06:00-12:00", "05:00-07:00"]`, "[" + strings.Repeat("05:00-07:00,", 33) + "]", "p.yaml:48: schedule.hours: 33 items: want at most 32 items"},
	{"another site beyond the pole", "latitude: 56.25, longitude: -3.5", "latitude: 256.25, longitude: -3.5", "p.yaml:50: schedule.sites[0].latitude: 256.25: want -90 to 90"},
	{"another site by the other's latitude", "latitude: -37, longitude: 173", "latitude: 173, longitude: -37", "p.yaml:51: schedule.sites[1].latitude: 173: want -90 to 90 (are latitude and longitude swapped?)"},
	{"another site of no longitude", ", longitude: -3.5, ", ", ", "p.yaml:50: schedule.sites[0].longitude: missing: want a number, -180 to 180"},
	{"another site of no name", "name: Airstrip, ", "", "p.yaml:51: schedule.sites[1].name: missing: want 1 to 120 characters"},
	{"another site too high", "300 ft", "30000 ft", `p.yaml:50: schedule.sites[0].elevation: "30000 ft": want -1410 ft to 19680 ft`}, // 430 and 6000 ÷ 0.3048 are 1410.8 and 19685
	{"another site in no zone", "Europe/London", "Europe/Nowhere", `p.yaml:50: schedule.sites[0].time_zone: "Europe/Nowhere": ` + wantZone},
	{"two other sites of one name", "name: Airstrip", "name: Gravel pit", `p.yaml:51: schedule.sites[1].name: "Gravel pit": want a name other than that of schedule.sites[0]`},
	{"another site by the plan's own name", "name: Airstrip", "name: Sports ground", `p.yaml:51: schedule.sites[1].name: "Sports ground": want a name other than that of site`},
	{"misspelt field of the schedule", "step: 30 min", "steps: 30 min", "p.yaml:47: schedule.steps: no such field: want step (or another of step, hours, sites)"},
	{"a list for the schedule", "schedule:\n  step: 30 min\n", "schedule: [1]\nx:\n", "p.yaml:46: schedule: a list: want a mapping with step, hours, sites\n" +
		"p.yaml:47: x: no such field: " + strings.Replace(wantPlan, "a mapping with", "one of", 1)},
}

func TestReadWeekFaults(t *testing.T) { testFaults(t, grounded, weekFaults) }

// A latitude that can only be a longitude, beside a longitude that can be a
// latitude, is asked about; nothing else is.
func TestReadSwappedSite(t *testing.T) {
	const ask = " (are latitude and longitude swapped?)"
	tests := []struct{ name, latitude, longitude, want string }{
		{"on the other side of the Earth", "173", "-37", "p.yaml:5: site.latitude: 173: want -90 to 90" + ask},
		{"in the west", "-122.5", "45", "p.yaml:5: site.latitude: -122.5: want -90 to 90" + ask},
		{"just so", "180", "90", "p.yaml:5: site.latitude: 180: want -90 to 90" + ask},
		{"just beyond a longitude", "180.5", "-37", "p.yaml:5: site.latitude: 180.5: want -90 to 90"},
		{"beside what is no latitude", "173", "-97", "p.yaml:5: site.latitude: 173: want -90 to 90"},
		{"beside a longitude out of range", "173", "200", "p.yaml:5: site.latitude: 173: want -90 to 90\np.yaml:6: site.longitude: 200: want -180 to 180"},
		{"beside words", "173", "west", "p.yaml:5: site.latitude: 173: want -90 to 90\n" + `p.yaml:6: site.longitude: "west": want a number, -180 to 180`},
		{"NaN", ".nan", "5", "p.yaml:5: site.latitude: .nan: want -90 to 90"},
		{"beside NaN", "173", ".nan", "p.yaml:5: site.latitude: 173: want -90 to 90\np.yaml:6: site.longitude: .nan: want -180 to 180"},
		{"infinite", ".inf", "5", "p.yaml:5: site.latitude: .inf: want -90 to 90"},
		{"given twice", "173", "-37\n  latitude: 5", "p.yaml:5: site.latitude: 173: want -90 to 90" + ask + "\np.yaml:7: site.latitude: given again after line 5: want it once"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			text := strings.NewReplacer("latitude: 55.5", "latitude: "+test.latitude, "longitude: -3.25", "longitude: "+test.longitude).Replace(full)
			assert.Equal(t, test.want, faults(t, text).Error())
		})
	}
	assert.Equal(t, "p.yaml:2: site.latitude: 173: want -90 to 90\np.yaml:2: site.longitude: missing: want a number, -180 to 180",
		faults(t, strings.Replace(least, "latitude: 55.5, longitude: -3.25", "latitude: 173", 1)).Error(), "without a longitude")
	assert.Equal(t, "--set site.latitude=173: want -90 to 90"+ask, faults(t, full, "site.latitude=173").Error())
	m, _, err := plan.Read("p.yaml", []byte(full), nil)
	require.NoError(t, err)
	m.Site.Latitude, m.Site.Longitude = proto.Float64(173), proto.Float64(-37)
	_, err = plan.Check(m)
	require.EqualError(t, err, "site.latitude: 173: want -90 to 90"+ask, "as a message")
	m.Site.Latitude = proto.Float64(math.NaN())
	_, err = plan.Check(m)
	require.EqualError(t, err, "site.latitude: NaN: want -90 to 90", "not a number, in a message")
	m.Site.Latitude, m.Site.Longitude = proto.Float64(173), proto.Float64(math.NaN())
	_, err = plan.Check(m)
	require.EqualError(t, err, "site.latitude: 173: want -90 to 90\nsite.longitude: NaN: want -180 to 180", "beside what is not a number")
}

// The plan's own site must have a time zone; another of the schedule's need not.
func TestReadTimeZone(t *testing.T) {
	assert.Equal(t, "p.yaml:3: site.time_zone: missing: "+wantZone, faults(t, strings.Replace(full, "  time_zone: Europe/Stockholm\n", "", 1)).Error())
	assert.Equal(t, `p.yaml:8: site.time_zone: "": `+wantZone, faults(t, strings.Replace(full, "Europe/Stockholm", `""`, 1)).Error())
	assert.Equal(t, "--set site.time_zone=: missing: "+wantZone, faults(t, full, "site.time_zone=").Error())
	assert.Equal(t, "p.yaml:8: site.time_zone: a list: want at most 64 characters", faults(t, strings.Replace(full, "Europe/Stockholm", "[UTC]", 1)).Error())
	assert.Equal(t, "p.yaml:2: site.time_zon: no such field: want time_zone (or another of name, latitude, longitude, elevation, time_zone)",
		faults(t, strings.Replace(least, "time_zone", "time_zon", 1)).Error(), "said once")
	// Both are wrong, each by itself, and the other site's stays its own.
	assert.Equal(t, `p.yaml:3: site.time_zone: "Mars": `+wantZone+"\n"+`p.yaml:50: schedule.sites[0].time_zone: "Local": `+wantZone,
		faults(t, strings.NewReplacer("Europe/Stockholm", "Mars", "Europe/London", "Local").Replace(grounded)).Error())
	p := read(t, grounded, "site.time_zone=Asia/Tokyo")
	assert.Equal(t, []string{"Europe/London", "Asia/Tokyo", "Asia/Tokyo"},
		[]string{p.Schedule.Sites[0].Zone.String(), p.Schedule.Sites[1].Zone.String(), p.Schedule.Hours[0].Zone.String()})
}

// A measured burst lies above every site.
func TestReadBurstBelowAnotherSite(t *testing.T) {
	text := strings.NewReplacer("300 ft", "1600 m", "burst_altitude: 30 km", "burst_altitude: 1.5 km").Replace(grounded)
	assert.Equal(t, `p.yaml:5: train.measured.burst_altitude: "1.5 km": want more than schedule.sites[0].elevation, 1600 m`, faults(t, text).Error())
	read(t, text, "schedule.sites[0].elevation=1499 m")
	read(t, text, "schedule.sites[0].elevation=")
	assert.Equal(t, `p.yaml:5: train.measured.burst_altitude: "1.5 km": want more than site.elevation, 1500 m and more than schedule.sites[0].elevation, 1600 m`,
		faults(t, strings.Replace(text, "120 m", "1500 m", 1)).Error())
}

// Limits of weather and the schedule changed from the command line.
func TestSetWeek(t *testing.T) {
	tests := []struct {
		name string
		sets []string
		got  func(plan.Plan) any
		want any
	}{
		{"a wind", []string{"limits.wind=9 m/s"}, func(p plan.Plan) any { return p.Limits.Weather.Wind }, 9.0},
		{"a wind away", []string{"limits.wind="}, func(p plan.Plan) any { return math.IsNaN(p.Limits.Weather.Wind) }, true},
		{"CAPE", []string{"limits.cape_j_kg=0"}, func(p plan.Plan) any { return p.Limits.Weather.CAPE }, 0.0},
		{"CAPE away", []string{"limits.cape_j_kg="}, func(p plan.Plan) any { return math.IsNaN(p.Limits.Weather.CAPE) }, true},
		{"a name as in JSON", []string{"limits.downBeforeSunset=90 min"}, func(p plan.Plan) any { return p.Limits.Sunset }, 5400.0},
		{"a car", []string{"limits.driving=36 km/h"}, func(p plan.Plan) any { return p.Limits.Driving }, 10.0},
		{"a car as ever", []string{"limits.driving="}, func(p plan.Plan) any { return p.Limits.Driving }, 60 / 3.6},
		{"a step", []string{"schedule.step=3 h"}, func(p plan.Plan) any { return p.Schedule.Step }, 3 * time.Hour},
		{"a step's default again", []string{"schedule.step="}, func(p plan.Plan) any { return p.Schedule.Step }, time.Hour},
		{"hours", []string{"schedule.hours[0]=Wed 15:00-18:30"}, func(p plan.Plan) any {
			h := p.Schedule.Hours[0]
			return []any{h.Days, h.From, h.To}
		}, []any{[7]bool{time.Wednesday: true}, 15 * time.Hour, 18*time.Hour + 30*time.Minute}},
		{"hours more", []string{"schedule.hours[2]=Wed 15:00-18:30"}, func(p plan.Plan) any { return len(p.Schedule.Hours) }, 3},
		{"one of the hours away", []string{"schedule.hours[0]="}, func(p plan.Plan) any { return p.Schedule.Hours[0].From }, 5 * time.Hour},
		{"by daylight", []string{"schedule.hours="}, func(p plan.Plan) any { return len(p.Schedule.Hours) }, 0},
		{"another site", []string{"schedule.sites[1]={name: Hill, latitude: 56, longitude: -3}"}, func(p plan.Plan) any { return p.Schedule.Sites[1].At }, geo.Point{Lat: 56, Lon: -3}},
		{"a latitude", []string{"schedule.sites[0].latitude=-90"}, func(p plan.Plan) any { return p.Schedule.Sites[0].At.Lat }, -90.0},
		{"a site away", []string{"schedule.sites[0]="}, func(p plan.Plan) any { return p.Schedule.Sites[0].Name }, "Airstrip"},
		{"the plan's own site alone", []string{"schedule.sites="}, func(p plan.Plan) any { return len(p.Schedule.Sites) }, 0},
		{"no schedule", []string{"schedule="}, func(p plan.Plan) any { return p.Schedule }, plan.Schedule{Step: time.Hour}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			assert.Equal(t, test.want, test.got(read(t, grounded, test.sets...)), "Read(grounded, %q)", test.sets)
		})
	}
}

func TestSetWeekFaults(t *testing.T) {
	tests := []struct{ name, set, want string }{
		{"bare wind", "limits.wind=6", `--set limits.wind=6: want a speed with its unit, such as "6 m/s"`},
		{"no step", "schedule.step=0 h", "--set schedule.step=0 h: want 0.08334 h to 24 h"}, // 5 min are 0.08333… h
		{"hours in words", "schedule.hours[0]=dawn", "--set schedule.hours[0]=dawn: " + wantHours},
		{"text for the hours", "schedule.hours=06:00-12:00", "--set schedule.hours=06:00-12:00: want a list of at most 32 items"},
		{"swapped", "schedule.sites[0].latitude=173", "--set schedule.sites[0].latitude=173: want -90 to 90 (are latitude and longitude swapped?)"},
		{"named like another", "schedule.sites[1].name=Gravel pit", "--set schedule.sites[1].name=Gravel pit: want a name other than that of schedule.sites[0]"},
		{"the plan's site named like another", "site.name=Airstrip", `p.yaml:51: schedule.sites[1].name: "Airstrip": want a name other than that of site`},
		{"a site half", "schedule.sites[2]={name: Hill, latitude: 56}", "--set schedule.sites[2]={name: Hill, latitude: 56}: schedule.sites[2].longitude: missing: want a number, -180 to 180"},
		{"a field of the schedule that is none", "schedule.days=7", `--set schedule.days=7: "days": no such field: want one of step, hours, sites`},
		{"without an index", "schedule.sites.name=x", `--set schedule.sites.name=x: "name": want an index before it, such as sites[0]`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			assert.Equal(t, test.want, faults(t, grounded, test.set).Error(), "Read(grounded, %q)", test.set)
		})
	}
}

// inventedSchedule makes a valid schedule.
func inventedSchedule(c chooser) *thistledownv1.Schedule {
	s := &thistledownv1.Schedule{Step: c.or("5 min", "1 h", "24 h")}
	for range c.IntN(4) {
		s.Hours = append(s.Hours, c.of("Sat-Sun 06:00-12:00", "22:00-02:00", "00:00-24:00"))
	}
	for i := range c.IntN(4) {
		s.Sites = append(s.Sites, &thistledownv1.Site{
			Name: fmt.Sprint("site ", i), Latitude: proto.Float64(-90 + 180*c.Float64()), Longitude: proto.Float64(-180 + 360*c.Float64()),
			Elevation: c.or("0 m", "900 ft"), TimeZone: c.or("Asia/Tokyo"),
		})
	}
	return s
}

// saneSchedule checks what Schedule's comments promise.
func saneSchedule(t *testing.T, p plan.Plan) {
	t.Helper()
	assert.True(t, p.Schedule.Step >= 5*time.Minute && p.Schedule.Step <= 24*time.Hour, "step %v", p.Schedule.Step)
	for _, h := range p.Schedule.Hours {
		assert.Same(t, p.Site.Zone, h.Zone, "the clock at the plan's own site")
		assert.NotEqual(t, h.From, h.To)
	}
	names := map[string]bool{p.Site.Name: true}
	for _, s := range p.Schedule.Sites {
		assert.False(t, names[s.Name], "%q twice", s.Name)
		names[s.Name] = true
		assert.True(t, s.At.Lat >= -90 && s.At.Lat <= 90 && s.At.Lon >= -180 && s.At.Lon <= 180, "%q at %v", s.Name, s.At)
		assert.True(t, math.IsNaN(s.Elevation) || s.Elevation >= -430 && s.Elevation <= 6000, "%q at %v m", s.Name, s.Elevation)
		assert.NotNil(t, s.Zone)
	}
}
