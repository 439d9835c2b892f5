package rules_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/rules"
)

// Both sides of the classes of ICAO Annex 2 and SERA Appendix 2, 1, as Regulation
// (EU) 923/2012 had them on 31 January 2020: light under 4 kg together; medium two
// packages or more of 4 kg to under 6 kg; heavy 6 kg or more, or a package of 3 kg
// or more, or of 2 kg or more with more than 13 g/cm² (mass over the smallest
// surface), or a suspension that takes 230 N or more. New Zealand's and Australia's
// are taken to be the same but for Australia's small ones.
func TestAppendixClassesBothSides(t *testing.T) {
	const open = rules.Class(0)
	tests := []struct {
		name   string
		flight rules.Flight
		want   rules.Class
	}{
		{"two of 1.9995 kg", stated(1.9995, 1.9995), rules.Light},
		{"4 kg in two packages", stated(2, 2), rules.Medium},
		{"forty of 0.1 kg, which do not add up to 4 kg in binary", stated(repeat(0.1, 40)...), rules.Medium},
		{"5.999 kg in three packages", stated(2, 2, 1.999), rules.Medium},
		{"6 kg in three packages", stated(2, 2, 2), rules.Heavy},
		{"sixty of 0.1 kg", stated(repeat(0.1, 60)...), rules.Heavy},
		{"a package of 2.999 kg", stated(2.999), rules.Light},
		{"a package of 3 kg", stated(3), rules.Heavy},
		{"a package of 4 kg is heavy by its mass", stated(4), rules.Heavy},
		{"2 kg on 153.8 cm²: 13.004 g/cm²", faced(2, 153.8*cm2, 400*cm2), rules.Heavy},
		{"2 kg on 153.9 cm²: 12.995 g/cm²", faced(2, 400*cm2, 153.9*cm2), rules.Light},
		{"2.6 kg on 200 cm²: 13 g/cm² exactly", faced(2.6, 200*cm2), rules.Light},
		{"2.6 kg on 199.9 cm²", faced(2.6, 199.9*cm2), rules.Heavy},
		{"1.999 kg, however dense", faced(1.999, 1*cm2), rules.Light},
		{"1.999 kg, no face given", faced(1.999), rules.Light},
		{"2 kg, no face given", faced(2), open},
		{"229.9 N", with(stated(1), breaks(229.9)), rules.Light},
		{"230 N", with(stated(1), breaks(230)), rules.Heavy},
		{"no force given", with(stated(1), breaks(nan)), open},
		{"no force given, and heavy by mass", with(stated(3), breaks(nan)), rules.Heavy},
		{"3.9 kg in two packages and 0.2 kg of canopy", with(stated(1.95, 1.95), rest(0.2)), rules.Medium},
		{"2.9 kg in one package and 0.2 kg of canopy", with(stated(2.9), rest(0.2)), open},
		{"2.5 kg in one package and 0.2 kg of canopy", with(stated(2.5), rest(0.2)), rules.Light},
		{"nothing but 1 kg of instruments on the line", with(stated(), rest(1)), rules.Light},
		{"nothing but 3 kg of instruments on the line", with(stated(), rest(3)), open},
		{"no payload", stated(), rules.Light},
	}
	for _, j := range []rules.Jurisdiction{rules.International, rules.Europe, rules.Britain, rules.NewZealand, rules.Australia} {
		for _, test := range tests {
			t.Run(string(j)+" "+test.name, func(t *testing.T) {
				a := assess(t, j, with(test.flight, func(f *rules.Flight) { f.AtLaunch = 2.5 }))
				if test.want == open {
					require.Len(t, a.Classes, 2, "%v", a.Classes)
					assert.Equal(t, rules.Heavy, a.Classes[1])
					assert.Contains(t, a.Summary(), "(cannot tell which)")
					return
				}
				class, sure := a.Class()
				assert.True(t, sure, "%v", a.Classes)
				assert.Equal(t, test.want, class)
			})
		}
	}
}

// The classes as they are read from the text, against random flights.
func TestAppendixAgainstTheDefinition(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1))
	counts := map[rules.Class]int{}
	for range 20000 {
		f := random(r)
		heavy, sum := f.Break >= 230, 0.0
		for _, p := range f.Packages {
			g, least := 1000*p.Mass, math.Inf(1)
			for _, a := range p.Faces {
				least = math.Min(least, 1e4*a)
			}
			heavy = heavy || g >= 3000 || g >= 2000 && g/least > 13
			sum += g
		}
		want := rules.Light
		switch {
		case heavy || sum >= 6000:
			want = rules.Heavy
		case sum >= 4000:
			want = rules.Medium
		}
		class, sure := assess(t, rules.Europe, f).Class()
		require.True(t, sure)
		require.Equal(t, want, class, "%+v", f)
		counts[class]++
	}
	for _, c := range []rules.Class{rules.Light, rules.Medium, rules.Heavy} {
		require.Greater(t, counts[c], 400, "%s", c)
	}
}

// 13 g/cm² are 2.96 oz/in² (computed apart): a package between the two is dense
// enough for the appendix and not for part 101.
func TestTheTwoDensitiesDiffer(t *testing.T) {
	f := faced(2.5, 2.5/131.0) // 13.1 g/cm², 2.98 oz/in²
	class, _ := assess(t, rules.Europe, f).Class()
	assert.Equal(t, rules.Heavy, class)
	class, _ = assess(t, us, f).Class()
	assert.Equal(t, rules.BelowPart101, class)
	assert.Equal(t, `2.5 kg, 13.1 g/cm² of "box"`, find(t, assess(t, rules.Europe, f), "heavy (3)").Value)
	assert.Equal(t, "a smallest face of at least 192.31 cm², or a mass that is below 2 kg", find(t, assess(t, rules.Europe, f), "heavy (3)").Change)
}

// Both sides of the limits of the appendix. Those marked seen come from the sources
// that each result names, the others are from memory.
func TestAppendixLimitsBothSides(t *testing.T) {
	type F = *rules.Flight
	const yes, no = rules.Yes, rules.No
	met, not, open := rules.Met, rules.NotMet, rules.CannotTell
	tests := []struct {
		paragraph, name string
		change          func(F)
		want            rules.Verdict
		binds           string // of light, medium and heavy
	}{
		{"State of launch", "not said", func(F) {}, open, "yyy"},
		{"State of launch", "held", func(f F) { f.Leave.State = yes }, met, "yyy"},
		{"State of launch", "not held", func(f F) { f.Leave.State = no }, not, "yyy"},
		{"other States", "none cross", func(f F) { f.Border, f.Meteorological = rules.Never(), no }, met, "yyy"},
		{"other States", "some cross", func(f F) { f.Border, f.Meteorological = share(0.2, 0.17, 0.23), no }, not, "yyy"},
		{"other States", "some cross, authorized", func(f F) {
			f.Border, f.Meteorological, f.Leave.Abroad = share(0.2, 0.17, 0.23), no, yes
		}, met, "yyy"},
		{"other States", "meteorological", func(f F) { f.Border, f.Meteorological = share(0.2, 0.17, 0.23), yes }, not, "nyy"},
		{"other States", "meteorological or not", func(f F) { f.Border = share(0.2, 0.17, 0.23) }, not, "?yy"},
		{"other States", "not looked at", func(f F) { f.Meteorological = no }, open, "yyy"},
		{"SERA.3145", "some enter", func(f F) { f.Closed = rules.Sure() }, not, "yyy"},
		{"SERA.3145", "permitted", func(f F) { f.Closed, f.Leave.Closed = rules.Sure(), yes }, met, "yyy"},
		{"3, cloud", "4 oktas", func(f F) { f.Weather.Cloud = 4.0 / 8 }, met, "nny"},
		{"3, cloud", "5 oktas", func(f F) { f.Weather.Cloud = 5.0 / 8 }, not, "nny"},
		{"3, cloud", "5 oktas, authorized", func(f F) { f.Weather.Cloud, f.Leave.Services = 5.0/8, yes }, met, "nny"},
		{"3, cloud", "not known, authorized", func(f F) { f.Leave.Services = yes }, met, "nny"},
		{"3, visibility", "8 km", func(f F) { f.Weather.Visibility = 8000 }, met, "nny"},
		{"3, visibility", "7.999 km", func(f F) { f.Weather.Visibility = 7999 }, not, "nny"},
		{"3, visibility", "not known", func(F) {}, open, "nny"},
		{"3, congested area", "over houses", func(f F) { f.Congested = rules.Sure() }, not, "nyy"},
		{"3, congested area", "over fields", func(f F) { f.Congested = rules.Never() }, met, "nyy"},
		{"3.4, payload", "one", func(f F) { f.Equipment.CutDowns = 1 }, not, "nny"},
		{"3.4, payload", "two", func(f F) { f.Equipment.CutDowns = 2 }, met, "nny"},
		{"3.4, envelope", "one, zero pressure", func(f F) { f.Equipment.Terminations, f.Equipment.ZeroPressure = 1, yes }, not, "nny"},
		{"3.4, envelope", "two, zero pressure", func(f F) { f.Equipment.Terminations, f.Equipment.ZeroPressure = 2, yes }, met, "nny"},
		{"3.4, envelope", "one, made to burst", func(f F) { f.Equipment.Terminations, f.Equipment.ZeroPressure = 1, no }, met, "nny"},
		{"3.4, envelope", "one, of what kind is not said", func(f F) { f.Equipment.Terminations = 1 }, open, "nny"},
		{"3.4, radar", "one", func(f F) { f.Equipment.Reflector = yes }, met, "nny"},
		{"3.4, radar", "none", func(f F) { f.Equipment.Reflector = no }, not, "nny"},
		{"3.4, transponder", "one", func(f F) { f.Equipment.Transponder = yes }, met, "nny"},
		{"3, lights", "by night without", func(f F) { f.Night, f.Equipment.Lights = rules.Sure(), no }, not, "nny"},
		{"3, lights", "by day without", func(f F) { f.Night, f.Equipment.Lights = rules.Never(), no }, met, "nny"},
		{"3, antenna", "230 N", func(f F) { f.Equipment.Antenna, f.Equipment.Pennants = 230, no }, met, "nny"},
		{"3, antenna", "230.1 N", func(f F) { f.Equipment.Antenna, f.Equipment.Pennants = 230.1, no }, not, "nny"},
		{"3, suspension", "15 m", func(f F) { f.Equipment.Suspension, f.Equipment.Banded = 15, no }, met, "nny"},
		{"3, suspension", "15.01 m", func(f F) { f.Equipment.Suspension, f.Equipment.Banded = 15.01, no }, not, "nny"},
		{", position", "2 h", func(f F) { f.Equipment.Fixes = 2 * hour }, met, "nny"},
		{", position", "2 h and a second", func(f F) { f.Equipment.Fixes = 2*hour + 1 }, not, "nny"},
		{"5.1.1", "notice", func(F) {}, open, "nyy"},
	}
	letters := map[rules.Answer]string{rules.Yes: "y", rules.No: "n", rules.Unknown: "?"}
	for _, test := range tests {
		t.Run(test.paragraph+" "+test.name, func(t *testing.T) {
			var binds strings.Builder
			for _, f := range []rules.Flight{stated(1), stated(2, 2), stated(3)} {
				r := find(t, assess(t, rules.Europe, with(f, test.change)), test.paragraph)
				assert.Equal(t, test.want, r.Verdict, "%s", r)
				binds.WriteString(letters[r.Binds])
			}
			assert.Equal(t, test.binds, binds.String())
		})
	}
}

// What was seen of the appendix differs between those in which it holds.
func TestAppendixIsComplete(t *testing.T) {
	paragraphs := []struct {
		end                   string
		europe, britain, icao bool
	}{
		{"1, light", true, true, false},
		{"1, heavy (1)", true, true, false},
		{"1, heavy (2)", true, true, false},
		{"1, heavy (3)", true, true, false},
		{"1, heavy (4)", true, true, false},
		{"2.1 to 2.3, State of launch", true, true, false},
		{"2.1 to 2.3, other States", true, true, false},
		{"3, cloud", false, false, false},
		{"3, visibility", false, false, false},
		{"3, congested area", false, false, false},
		{"3.3 to 3.4, payload", false, true, false},
		{"3.3 to 3.4, envelope", false, true, false},
		{"3.3 to 3.4, radar", false, true, false},
		{"3.3 to 3.4, transponder", false, true, false},
		{"3, lights", false, false, false},
		{"3, antenna", false, false, false},
		{"3, suspension", false, false, false},
		{"5.1.1", true, false, false},
		{", position", false, false, false},
	}
	europe, britain, icao := assess(t, rules.Europe, stated(3)), assess(t, rules.Britain, stated(3)), assess(t, rules.International, stated(3))
	for _, p := range paragraphs {
		assert.Equal(t, p.europe, find(t, europe, p.end).Source.Seen, "eu %s", p.end)
		assert.Equal(t, p.britain, find(t, britain, p.end).Source.Seen, "uk %s", p.end)
		assert.Equal(t, p.icao, find(t, icao, p.end).Source.Seen, "icao %s", p.end)
	}
	all := func(a rules.Assessment) int { return len(a.Tests) + len(a.Limits) }
	assert.Equal(t, len(paragraphs)+1, all(europe), "and SERA.3145")
	assert.Equal(t, len(paragraphs)+1, all(icao), "and ICAO Annex 2, 3.1.10")
	assert.Equal(t, len(paragraphs)+4, all(britain), "and article 93, permission, the small balloon")
	find(t, icao, "ICAO Annex 2, 3.1.10")
}

// SERA Appendix 2, 5.1.1: 7 days or more before (German text, without a date).
func TestNoticeOfTheAppendix(t *testing.T) {
	f := stated(3)
	assert.Equal(t, "give it by 168 h before the launch", find(t, assess(t, rules.Europe, f), "5.1.1").Change)
	f.Launch = launchAt
	assert.Equal(t, "give it by 2026-03-03 08:30 UTC", find(t, assess(t, rules.Europe, f), "5.1.1").Change)
}

// Air Navigation Order 2016, article 93, governs groups of 1,000 and more; the rest
// is from memory or at second hand.
func TestBritain(t *testing.T) {
	f := stated(1)
	assert.Equal(t, rules.Met, find(t, assess(t, rules.Britain, f), "article 93").Verdict)
	f.Balloons = 999
	assert.Equal(t, rules.Met, find(t, assess(t, rules.Britain, f), "article 93").Verdict)
	f.Balloons = 1000
	assert.Equal(t, rules.CannotTell, find(t, assess(t, rules.Britain, f), "article 93").Verdict)
	small := "small balloon, 2 m in any dimension at any stage"
	assert.Equal(t, rules.CannotTell, find(t, assess(t, rules.Britain, f), small).Verdict)
	f.AtBurst = 2
	assert.Equal(t, rules.Met, find(t, assess(t, rules.Britain, f), small).Verdict)
	f.AtBurst = 2.001
	assert.Equal(t, rules.NotMet, find(t, assess(t, rules.Britain, f), small).Verdict)
	f.Launch = launchAt
	assert.Equal(t, "ask by 2026-02-10 08:30 UTC", find(t, assess(t, rules.Britain, f), "permission and NOTAM").Change)
}
