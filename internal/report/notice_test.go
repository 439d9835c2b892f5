package report

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/rules"
)

// assessed is a flight of which little is known but that it is heavy, and under part 101.
func assessed(t *testing.T, j rules.Jurisdiction) rules.Assessment {
	t.Helper()
	f := rules.Unstated()
	f.Packages = []rules.Package{{Name: "box", Mass: 7, Least: 7, Faces: []float64{0.09}}}
	a, err := rules.Assess(j, f)
	require.NoError(t, err)
	return a
}

// toldOf is what a flight comes to. People are invented, the telephone numbers of the
// series that Sweden keeps for fiction (from memory).
func toldOf(t *testing.T, stage rules.Stage, j rules.Jurisdiction) Told {
	t.Helper()
	at := time.Date(2017, 3, 22, 7, 0, 0, 0, time.UTC)
	after := func(minutes int) time.Time { return at.Add(time.Duration(minutes) * time.Minute) }
	low, high := geo.Point{Lat: 58.22, Lon: 12.80}, geo.Point{Lat: -33.9583, Lon: -151.2}
	pass := WayPoint{Time: after(65), At: low, Height: 18300, Level: 18288}
	down := WayPoint{Time: after(110), At: high, Height: 18310, Level: 18288}
	return Told{
		Stage: stage, Rules: assessed(t, j), Plan: "Spring flight", Site: "Long Meadow", Identification: "Thistle one",
		People:  []Person{{"Ada Reed", "launch director", "+46 70 174 06 05"}, {Name: "Ben Rush"}},
		Offices: []NoticeOffice{{Name: "Control", Telephone: "+46 70 174 06 11", Notified: true}, {Name: "Field"}},
		At:      low, Elevation: 95, Launch: at, Delay: Spread{300, 600}, Balloons: 1, Packages: 2, Payload: 1.81436948,
		Diameter: 1.8288, Greatest: 6.096, Suspension: 12.192, Antenna: 0, Ascent: Spread{4.572, 0.4}, Fall: Spread{5, 0.5},
		Height: math.NaN(),
		Flown: &ToldFlight{
			Way: []WayPoint{
				{Time: after(10), At: low, Height: 3100, Level: 3048},
				pass,
				{Time: after(95), At: low, Height: 25700, Level: 25900},
				down,
				{Time: after(135), At: high, Height: 90, Level: 50},
			},
			Top: WayPoint{Time: after(95), At: low, Height: 25700, Level: 25900}, TopSpread: 1300, Up: &pass, Down: &down,
			Landed: true, MostLikely: high, Radius: 22224, Distance: 92600, Bearing: 83.4,
			Early: after(109), Middle: after(137), Late: after(163), Aloft: 7920,
			Circle: Circle{At: low, Radius: 55561},
			Nearby: []Aerodrome{
				{Name: "Field", At: low, Site: Away{18520, 0}, Path: Away{1852, 90}, Landing: Away{92600, 180}},
				{Name: "ZZZZ Far Airport", Size: "large", At: high, Site: Away{18520, 0}, Path: Away{1852, 90}, Landing: Away{92600, 180}},
			},
		},
	}
}

// 14 CFR 101.37(a)(1) to (8) (from memory), each in the units of aviation: 4.572 m/s
// are 900 ft/min, 1.81436948 kg 4 lb, 1.8288 m 6 ft, 6.096 m 20 ft, 12.192 m 40 ft,
// 22,224 m 12 NM, 92,600 m 50 NM, 25,900 m of pressure altitude 84,974 ft.
func TestNoticeBefore(t *testing.T) {
	n := Compose(toldOf(t, rules.Before, rules.UnitedStates))
	require.Len(t, n.Notices, 1)
	one := n.Notices[0]
	assert.Equal(t, rules.Yes, one.Binds)
	assert.Equal(t, "the nearest air traffic control facility: Control, +46 70 174 06 11", one.To)
	assert.Equal(t, "6 to 24 hours before the beginning: from 21 Mar 2017 07:00 UTC to 22 Mar 2017 01:00 UTC", one.When)
	want := []NoticeItem{
		{"(a)(1)", "Identification", "Thistle one", false},
		{"(a)(2)", "Launch", "22 Mar 2017 07:00 UTC; nineteen times in twenty from 06:45 UTC to 07:25 UTC, by the delay that the plan expects", false},
		{"(a)(3)", "Launch site", "Long Meadow, 5813N 01248E, ground at 312 ft AMSL", false},
		{"(a)(4)", "Cruising level", "none is kept: it rises to 84 300 ft AMSL (FL 850)", false},
		{"(a)(5)", "Forecast trajectory", "FL 100 07:10 UTC 5813N 01248E; FL 600 08:05 UTC 5813N 01248E; FL 850 08:35 UTC 5813N 01248E; FL 600 08:50 UTC 3357S 15112W; 295 ft AMSL 09:15 UTC 3357S 15112W", false},
		{"(a)(5)", "Time at 60,000 ft or the highest level", "FL 600 at 22 Mar 2017 08:05 UTC", false},
		{"(a)(6)", "Balloon", "a sphere, diameter and length 6.0 ft at the release, 20.0 ft at its greatest; suspension 40.0 ft", false},
		{"(a)(6)", "Payload", "4.0 lb (1.81 kg)", false},
		{"(a)(6)", "Trailing antenna", "none", false},
		{"(a)(7)", "Duration", "2 h 12 min (mean)", false},
		{"(a)(8)", "Forecast time of impact", "22 Mar 2017 09:17 UTC, nine times in ten from 08:49 UTC to 09:43 UTC", false},
		{"(a)(8)", "Forecast place of impact", "within 12 NM of 3357S 15112W (95 of 100 flights), 50 NM from the site toward 083° true", false},
		{"", "Call back", "Ada Reed, +46 70 174 06 05", false},
	}
	assert.Equal(t, want, one.Items)

	// A flight that stays below 60,000 ft passes its highest level instead.
	told := toldOf(t, rules.Before, rules.UnitedStates)
	told.Flown.Up, told.Flown.Down = nil, nil
	what, value := told.fact(rules.TimeAtLevel)
	assert.Equal(t, "Time at 60,000 ft or the highest level: FL 850 at 22 Mar 2017 08:35 UTC", what+": "+value)
	_, value = told.fact(rules.TimeThroughLevel)
	assert.Equal(t, "does not rise above it", value)
}

// SERA Appendix 2, 5.1.1 (a) to (g) as seen, (h) to (j) from memory.
func TestNoticeOfTheAppendix(t *testing.T) {
	told := toldOf(t, rules.Before, rules.Europe)
	told.Beacon, told.Balloons = "7000", 3
	told.Flown.Top.At = geo.Direct(told.At, 90, 92600) // in the 90 min after the delay: 33 kn
	n := Compose(told)
	require.Len(t, n.Notices, 1)
	assert.Equal(t, "7 days or more before the flight: by 15 Mar 2017 07:00 UTC", n.Notices[0].When)
	var lines []string
	for _, i := range n.Notices[0].Items {
		lines = append(lines, strings.TrimSpace(i.Number+" "+i.What+": "+i.Value))
	}
	assert.Equal(t, []string{
		"(a) Identification: Thistle one",
		"(b) Class and description: heavy; unmanned free balloon, payload 1.81 kg in 2 packages, which comes down under a parachute",
		"(c) Transponder code, address or beacon frequency: 7000",
		"(d) Operator: Ada Reed, +46 70 174 06 05",
		"(e) Launch site: Long Meadow, 5813N 01248E, ground at 312 ft AMSL",
		"(f) Launch: 22 Mar 2017 07:00 UTC; nineteen times in twenty from 06:45 UTC to 07:25 UTC, by the delay that the plan expects",
		"(g) Number of balloons: 3, interval between them ________",
		"(h) Direction of the ascent: toward 090° true, drifting at 33 kn on average",
		"(i) Cruising level: none is kept: it rises to 84 300 ft AMSL (FL 850)",
		"(j) Time at 60,000 ft or the highest level: FL 600 at 22 Mar 2017 08:05 UTC",
		"Place then: 5813N 01248E",
		"Forecast time of impact: 22 Mar 2017 09:17 UTC, nine times in ten from 08:49 UTC to 09:43 UTC",
		"Forecast place of impact: within 12 NM of 3357S 15112W (95 of 100 flights), 50 NM from the site toward 083° true",
		"Call back: Ada Reed, +46 70 174 06 05",
	}, lines)
}

// The items of a NOTAM (ICAO Annex 15, from memory): the level that two spreads over
// the top reach, 25,900 m + 2,600 m = 93,504 ft; 55,561 m are 30.0006 NM, so 31; the end
// rounded up to five minutes.
func TestNotam(t *testing.T) {
	told := toldOf(t, rules.Before, rules.UnitedStates)
	want := `Q) ____/QWLLW/IV/M/W/000/936/5813N01248E031
A) ____
B) 1703220645 C) 1703220945
E) ONE UNMANNED FREE BALLOON, LAUNCH 5813N 01248E AT 0700, ASCENT 900 FT/MIN, MAX ALT 92900 FT AMSL, PAYLOAD 1.8 KG, PARACHUTE DESCENT, EXPECTED LANDING WI 12 NM OF 3357S 15112W AT 0917. CTC +46 70 174 06 05
F) SFC G) FL936
`
	assert.Equal(t, want, Compose(told).NOTAM)
	told.Region, told.Balloons, told.Flown.Landed = "ZZZZ", 2, false
	told.Flown.Top.Level, told.Flown.Circle.Radius = 31000, 2e6
	notam := Compose(told).NOTAM
	assert.Contains(t, notam, "Q) ZZZZ/QWLLW/IV/M/W/000/999/5813N01248E999\nA) ZZZZ\n")
	assert.Contains(t, notam, "C) ________\nE) 2 UNMANNED FREE BALLOONS, ")
	assert.NotContains(t, notam, "EXPECTED")
	for _, stage := range []rules.Stage{rules.Launched, rules.Cancelled, rules.Ended} {
		assert.Empty(t, Compose(toldOf(t, stage, rules.UnitedStates)).NOTAM)
	}
}

// Each stage of each jurisdiction has a notice: by its own text, or, where none was
// seen, by another's list, which is said.
func TestEveryStage(t *testing.T) {
	seen := map[rules.Jurisdiction]int{}
	for _, j := range rules.Jurisdictions() {
		for _, stage := range []rules.Stage{
			rules.Before, rules.Delayed, rules.Cancelled, rules.Launched, rules.Lost, rules.Found, rules.Descending, rules.Ended,
		} {
			told := toldOf(t, stage, j)
			told.Flown = nil
			n := Compose(told)
			require.Len(t, n.Notices, 1, "%s %s", j, stage)
			items := n.Notices[0].Items
			assert.Equal(t, "Identification", items[0].What)
			assert.Equal(t, "Call back", items[len(items)-1].What)
			for _, i := range items {
				assert.Equal(t, strings.Contains(i.Value, blank) && i.What != "Number of balloons" && i.What != "Balloon", i.Blank, "%+v", i)
				assert.NotEmpty(t, i.What)
			}
			if n.Unseen == "" {
				seen[j]++
				assert.NotEmpty(t, n.Notices[0].Source.Paragraph)
			} else {
				assert.Empty(t, n.Notices[0].Source.Paragraph)
				assert.Equal(t, rules.Unknown, n.Notices[0].Binds)
			}
			var b bytes.Buffer
			require.NoError(t, WriteNotice(&b, told))
			for line := range strings.Lines(b.String()) {
				assert.LessOrEqual(t, len([]rune(strings.TrimSuffix(line, "\n"))), width, line)
			}
		}
	}
	// ICAO's appendix speaks of no lost positions (from memory).
	assert.Equal(t, map[rules.Jurisdiction]int{rules.UnitedStates: 8, rules.International: 6, rules.Europe: 6, rules.Britain: 6}, seen)
}

// 14 CFR 101.39(b): position, altitude, time through 60,000 ft, the rest of the
// trajectory, time and place of impact; an hour before the descent.
func TestNoticeOfTheDescent(t *testing.T) {
	told := toldOf(t, rules.Descending, rules.UnitedStates)
	told.Now, told.Position, told.Height = told.Launch.Add(45*time.Minute), &geo.Point{Lat: 58.25, Lon: 13}, 15240
	one := Compose(told).Notices[0]
	assert.Equal(t, "one hour before the descent begins: of the planned flight by 22 Mar 2017 07:35 UTC", one.When)
	var text []string
	for _, i := range one.Items {
		text = append(text, i.What+": "+i.Value)
	}
	assert.Equal(t, []string{
		"Identification: Thistle one",
		"Position: 22 Mar 2017 07:45 UTC, 5815N 01300E, 50 000 ft AMSL",
		"Altitude: 50 000 ft AMSL",
		"Downward through 60,000 ft: 22 Mar 2017 08:50 UTC",
		"Forecast trajectory: FL 850 08:35 UTC 5813N 01248E; FL 600 08:50 UTC 3357S 15112W; 295 ft AMSL 09:15 UTC 3357S 15112W (as forecast before the launch)",
		"Forecast time of impact: 22 Mar 2017 09:17 UTC, nine times in ten from 08:49 UTC to 09:43 UTC",
		"Forecast place of impact: within 12 NM of 3357S 15112W (95 of 100 flights), 50 NM from the site toward 083° true",
		"Call back: Ada Reed, +46 70 174 06 05",
	}, text)
}

func TestNoticeInText(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, WriteNotice(&b, toldOf(t, rules.Before, rules.UnitedStates)))
	flat := strings.Join(strings.Fields(b.String()), " ")
	for _, want := range []string{
		"Ada Reed (launch director), +46 70 174 06 05 Ben Rush, ________",
		"Offices Control, +46 70 174 06 11 Field, ________",
		"Field: 10 NM 360° from the site; 1.0 NM 090° from the path; 50 NM 180° from the landing; ________",
		"ZZZZ Far Airport (large, 3357S 15112W): 10 NM 360° from the site",
		"This text was sent to nobody.", "The local authority decides; check the current text.",
	} {
		assert.Contains(t, flat, want)
	}
	told := toldOf(t, rules.Before, rules.UnitedStates)
	told.Offices, told.Flown.Nearby, told.Flown.Landed = nil, nil, false
	b.Reset()
	require.NoError(t, WriteNotice(&b, told))
	flat = strings.Join(strings.Fields(b.String()), " ")
	assert.Contains(t, flat, "none in the plan: look up control")
	assert.Contains(t, flat, "none of those built in is near")
	assert.Contains(t, flat, "Forecast time of impact: ________")
	require.ErrorIs(t, WriteNotice(full{}, told), errFull)
}

// Minutes of arc, rounded, carried into the degree, and no minus nought.
func TestMinutes(t *testing.T) {
	for _, test := range []struct {
		lat, lon float64
		want     string
	}{
		{48.8667, 2.3333, "4852N 00220E"}, // the example of a NOTAM's coordinates: 4852N00220E
		{59.9999, -179.9999, "6000N 18000W"}, {-0.001, 0.001, "0000N 00000E"}, {-90, 190, "9000S 17000W"},
	} {
		assert.Equal(t, test.want, minutes(geo.Point{Lat: test.lat, Lon: test.lon}), fmt.Sprint(test.lat, test.lon))
	}
}

// What a week says of rules in one line: those not met that bind, or may.
func TestRulesInBrief(t *testing.T) {
	f := rules.Unstated()
	f.Packages = []rules.Package{{Name: "box", Mass: 7, Least: 7, Faces: []float64{0.09}}}
	f.Weather.Cloud, f.Equipment.CutDowns = 0.6, 2
	a, err := rules.Assess(rules.UnitedStates, f)
	require.NoError(t, err)
	brief := rulesBrief(&a)
	assert.Equal(t, fmt.Sprintf("United States, 14 CFR part 101: unmanned free balloon under 14 CFR part 101, subpart D; not met: sky covered by clouds or obscured, at any altitude (14 CFR 101.33(b)); that cannot be told: %d. The local authority decides; check the current text.",
		a.Count(rules.CannotTell)), brief)
}
