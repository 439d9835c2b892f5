package rules_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/thistledown/internal/rules"
)

// CASR 101.145, as seen without a date: small is 2 m or less across at launch with
// no payload or one of 50 g or less; light is more, up to less than 4 kg. Medium and
// heavy are in TestAppendixClassesBothSides.
func TestAustralianSmall(t *testing.T) {
	tests := []struct {
		name   string
		across float64
		masses []float64
		want   []rules.Class
	}{
		{"2 m, 50 g", 2, []float64{0.050}, []rules.Class{rules.Small}},
		{"2 m, nothing", 2, nil, []rules.Class{rules.Small}},
		{"2.001 m, 50 g", 2.001, []float64{0.050}, []rules.Class{rules.Light}},
		{"2 m, 50.1 g", 2, []float64{0.0501}, []rules.Class{rules.Light}},
		{"not known, 50 g", nan, []float64{0.050}, []rules.Class{rules.Small, rules.Light}},
		{"not known, 50.1 g", nan, []float64{0.0501}, []rules.Class{rules.Light}},
		{"2 m, 3 kg", 2, []float64{3}, []rules.Class{rules.Heavy}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			f := stated(test.masses...)
			f.AtLaunch = test.across
			assert.Equal(t, test.want, assess(t, rules.Australia, f).Classes)
		})
	}
	f := stated(0.05)
	f.AtLaunch, f.Break = 2, nan
	assert.Equal(t, []rules.Class{rules.Small, rules.Heavy}, assess(t, rules.Australia, f).Classes)
	f.Launch = launchAt
	assert.Equal(t, "ask by 2026-02-10 08:30 UTC", find(t, assess(t, rules.Australia, f), "CASR part 101").Change)
}

// New Zealand part 101, subpart C, as seen without a date.
func TestNewZealand(t *testing.T) {
	type F = *rules.Flight
	met, not, open := rules.Met, rules.NotMet, rules.CannotTell
	tests := []struct {
		paragraph, name string
		change          func(F)
		want            rules.Verdict
	}{
		{"cloud", "4/8", func(f F) { f.Weather.Cloud = 0.5 }, met},
		{"cloud", "5/8", func(f F) { f.Weather.Cloud = 0.625 }, not},
		{"cloud", "5/8, authorized", func(f F) { f.Weather.Cloud, f.Leave.Services = 0.625, rules.Yes }, met},
		{"visibility", "8 km", func(f F) { f.Weather.Visibility = 8000 }, met},
		{"visibility", "7.9 km", func(f F) { f.Weather.Visibility = 7900 }, not},
		{"congested area", "over houses", func(f F) { f.Congested = rules.Sure() }, not},
		{"termination", "one", func(f F) { f.Equipment.CutDowns, f.Equipment.Terminations = 1, 1 }, not},
		{"termination", "two", func(f F) { f.Equipment.CutDowns = 2 }, met},
		{"surveillance", "not said", func(F) {}, open},
		{"radar", "one", func(f F) { f.Equipment.Reflector = rules.Yes }, met},
	}
	for _, test := range tests {
		t.Run(test.paragraph+" "+test.name, func(t *testing.T) {
			r := find(t, assess(t, rules.NewZealand, with(stated(3), test.change)), "subpart C, "+test.paragraph)
			assert.Equal(t, test.want, r.Verdict, "%s", r)
			assert.Equal(t, rules.Yes, r.Binds)
			assert.True(t, r.Source.Seen)
			r = find(t, assess(t, rules.NewZealand, with(stated(2, 2), test.change)), "subpart C, "+test.paragraph)
			want := rules.No // of medium ones only the congested area is spoken of
			if test.paragraph == "congested area" {
				want = rules.Yes
			}
			assert.Equal(t, want, r.Binds)
		})
	}
}

// Canadian Aviation Regulations, 602.42, at second hand: more than 115 ft³ of gas,
// 3.256 m³, is large. That is a sphere of 1.838999 m across (computed apart).
func TestCanada(t *testing.T) {
	for _, test := range []struct {
		across float64
		want   []rules.Class
	}{
		{1.8389, []rules.Class{rules.NotLarge}},
		{1.8391, []rules.Class{rules.LargeCanadian}},
		{nan, []rules.Class{rules.NotLarge, rules.LargeCanadian}},
	} {
		f := stated(1)
		f.AtBurst = test.across
		a := assess(t, rules.Canada, f)
		assert.Equal(t, test.want, a.Classes, "%g m", test.across)
		assert.Equal(t, "at most 115 ft³ (3.256 m³)", a.Tests[0].Limit)
	}
	f := stated(1)
	f.AtBurst = 5
	f.Leave.State = rules.Yes
	r := find(t, assess(t, rules.Canada, f), "practice for balloons that are not large")
	assert.Equal(t, rules.No, r.Binds)
	a := assess(t, rules.Canada, f)
	assert.Equal(t, rules.Met, a.Limits[0].Verdict)
	assert.Equal(t, rules.Yes, a.Limits[0].Binds)
	assert.Equal(t, "the limit is a burst diameter of 1.839 m", a.Tests[0].Change)
}
