package rules_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/rules"
)

const us = rules.UnitedStates

// Both sides of 14 CFR 101.1(a)(4), edition of 1 January 2024: a package of more
// than 4 lb with more than 3 oz/in² (ounces over square inches of its smallest
// surface); a package of more than 6 lb; two packages or more of more than 12 lb
// together; an impact force of more than 50 lb. All are "more than".
func TestPart101BothSides(t *testing.T) {
	const under, beyond, open = rules.Met, rules.NotMet, rules.CannotTell
	tests := []struct {
		name      string
		paragraph string
		flight    rules.Flight
		want      rules.Verdict
	}{
		{"5 lb, smallest face 6 × 4 in: 80 oz / 24 in² = 3.33", "(a)(4)(i)", faced(5*lb, 24*in2, 48*in2), beyond},
		{"5 lb, smallest face 6 × 5 in: 80 oz / 30 in² = 2.67", "(a)(4)(i)", faced(5*lb, 48*in2, 30*in2), under},
		{"the smallest of three faces counts, not the largest", "(a)(4)(i)", faced(5*lb, 60*in2, 24*in2, 40*in2), beyond},
		{"96 oz / 32 in² = 3 exactly is not more than 3", "(a)(4)(i)", faced(6*lb, 32*in2), under},
		{"96 oz / 31.99 in²", "(a)(4)(i)", faced(6*lb, 31.99*in2), beyond},
		{"72 oz / 24 in² = 3 exactly", "(a)(4)(i)", faced(72*oz, 24*in2), under},
		{"72.01 oz / 24 in²", "(a)(4)(i)", faced(72.01*oz, 24*in2), beyond},
		{"4 lb exactly, however dense", "(a)(4)(i)", faced(4*lb, 1*in2), under},
		{"64.01 oz, dense", "(a)(4)(i)", faced(64.01*oz, 1*in2), beyond},
		{"no faces at 4 lb: they do not matter", "(a)(4)(i)", faced(4 * lb), under},
		{"no faces at 4.01 lb", "(a)(4)(i)", faced(4.01 * lb), open},
		{"6 lb exactly", "(a)(4)(ii)", stated(6 * lb), under},
		{"96.01 oz", "(a)(4)(ii)", stated(96.01 * oz), beyond},
		{"the heavier of two", "(a)(4)(ii)", stated(1*lb, 96.01*oz), beyond},
		{"two of 6 lb are 12 lb exactly", "(a)(4)(iii)", stated(6*lb, 6*lb), under},
		{"12 lb and a hundredth of an ounce", "(a)(4)(iii)", stated(6*lb, 96.01*oz), beyond},
		{"three of 4 lb", "(a)(4)(iii)", stated(4*lb, 4*lb, 4*lb), under},
		{"forty of 0.3 lb, which do not add up to 12 lb in binary", "(a)(4)(iii)", stated(repeat(0.3*lb, 40)...), under},
		{"three of 4.01 lb", "(a)(4)(iii)", stated(4.01*lb, 4.01*lb, 4.01*lb), beyond},
		{"one package of 13 lb is not two", "(a)(4)(iii)", stated(13 * lb), under},
		{"canopy and lines count", "(a)(4)(iii)", with(stated(6*lb, 5.9*lb), rest(0.2*lb)), beyond},
		{"50 lb of force exactly", "(a)(4)(iv)", with(stated(1), breaks(50*lbf)), under},
		{"50.01 lb of force", "(a)(4)(iv)", with(stated(1), breaks(50.01*lbf)), beyond},
		{"222.4 N are under 50 lb of force", "(a)(4)(iv)", with(stated(1), breaks(222.4)), under},
		{"222.5 N are over", "(a)(4)(iv)", with(stated(1), breaks(222.5)), beyond},
		{"no force given", "(a)(4)(iv)", with(stated(1), breaks(nan)), open},
	}
	for _, test := range tests {
		t.Run(test.paragraph+" "+test.name, func(t *testing.T) {
			a := assess(t, us, test.flight)
			r := find(t, a, "101.1"+test.paragraph)
			assert.Equal(t, test.want, r.Verdict, "%s", r)
			assert.True(t, r.Source.Seen)
			assert.Equal(t, "edition of 1 January 2024", r.Source.Date)
			class, sure := a.Class()
			switch test.want {
			case beyond:
				assert.True(t, sure)
				assert.Equal(t, rules.Part101, class)
			case open:
				assert.Equal(t, []rules.Class{rules.BelowPart101, rules.Part101}, a.Classes)
			}
		})
	}
}

func repeat(v float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = v
	}
	return out
}

func rest(kg float64) func(*rules.Flight)  { return func(f *rules.Flight) { f.Rest = kg } }
func breaks(n float64) func(*rules.Flight) { return func(f *rules.Flight) { f.Break = n } }

// The SI limits as rules of thumb have them: 4 lb is 1.814 kg, 6 lb 2.722 kg, 12 lb
// 5.443 kg, 3 oz/in² 13.18 g/cm², 50 lb of force 222.4 N (computed apart).
func TestPart101InSI(t *testing.T) {
	for _, limit := range []struct{ paragraph, want string }{
		{"101.1(a)(4)(i)", "at most 4 lb (1.814 kg) or at most 3 oz/in² (13.18 g/cm²)"},
		{"101.1(a)(4)(ii)", "at most 6 lb (2.722 kg)"},
		{"101.1(a)(4)(iii)", "at most 12 lb (5.443 kg)"},
		{"101.1(a)(4)(iv)", "at most 50 lbf (222.4 N)"},
	} {
		assert.Equal(t, limit.want, find(t, assess(t, us, stated(1)), limit.paragraph).Limit)
	}
}

// The rule in four lines, as it is read from the paragraph, against random flights
// all of whose quantities are known.
func TestPart101AgainstTheRuleInFourLines(t *testing.T) {
	r := rand.New(rand.NewPCG(101, 1))
	counts := map[bool]int{}
	for range 20000 {
		f := random(r)
		regulated := f.Break/lbf > 50
		sum := 0.0
		for _, p := range f.Packages {
			least := math.Inf(1)
			for _, a := range p.Faces {
				least = math.Min(least, a/in2)
			}
			regulated = regulated || p.Mass/lb > 6 || p.Mass/lb > 4 && p.Mass/lb*16/least > 3
			sum += p.Mass / lb
		}
		regulated = regulated || len(f.Packages) >= 2 && sum > 12
		class, sure := assess(t, us, f).Class()
		require.True(t, sure)
		require.Equal(t, regulated, class == rules.Part101, "%+v", f)
		counts[regulated]++
	}
	require.Greater(t, counts[true], 3000)
	require.Greater(t, counts[false], 3000)
}

// random is a flight of 1 to 4 packages all of whose quantities are known.
func random(r *rand.Rand) rules.Flight {
	f := rules.Unstated()
	f.Break = 240 * r.Float64()
	for range 1 + r.IntN(4) {
		m := 3.2 * r.Float64() * r.Float64()
		if len(f.Packages) == 0 {
			m = 0.1 + 3.2*r.Float64()
		}
		f.Packages = append(f.Packages, rules.Package{Name: "box", Mass: m + 0.01, Least: m + 0.01, Faces: rules.Box(
			0.1+0.3*r.Float64(), 0.1+0.3*r.Float64(), 0.1+0.3*r.Float64())})
	}
	return f
}

// What is not known leaves the class open or does not matter; it never makes the
// class another one than that of the flight as it is.
func TestWhatIsNotKnownNeverMisleads(t *testing.T) {
	r := rand.New(rand.NewPCG(101, 2))
	open := 0
	for i := range 4000 {
		known := random(r)
		blurred := known
		blurred.Packages = append([]rules.Package(nil), known.Packages...)
		if i%2 == 0 {
			blurred.Break = nan
		}
		if i%3 == 0 {
			blurred.Packages[0].Faces = nil
		}
		if i%5 == 0 { // which parts share a package was not said
			loose := rules.Package{Name: rules.Unboxed}
			for _, p := range blurred.Packages {
				loose.Mass += p.Mass
				loose.Least = math.Max(loose.Least, p.Mass)
			}
			blurred.Packages = []rules.Package{loose}
		}
		for _, j := range rules.Jurisdictions() {
			class, sure := assess(t, j, known).Class()
			if !sure {
				continue // Australia's and Canada's diameters are not known
			}
			got := assess(t, j, blurred).Classes
			require.Contains(t, got, class, "%s: %+v for %+v", j, blurred, known)
			if len(got) > 1 {
				open++
			}
		}
	}
	require.Greater(t, open, 1000)
}

func TestPart101SaysWhatWouldSettle(t *testing.T) {
	// 5 lb are 80 oz; over 3 oz/in² that is 26.667 in².
	r := find(t, assess(t, us, faced(5*lb)), "101.1(a)(4)(i)")
	assert.Equal(t, `give the smallest face of "box": of 26.667 in² (172 cm²) or more it is within`, r.Change)
	assert.Equal(t, `5 lb (2.268 kg), not known of "box"`, r.Value)

	two := stated(5*lb, 4.5*lb)
	two.Packages[0].Faces, two.Packages[1].Faces = nil, nil
	r = find(t, assess(t, us, two), "101.1(a)(4)(i)")
	assert.Equal(t, `give the smallest face of "box": of 26.667 in² (172 cm²) or more it is within; `+
		`give the smallest face of "box": of 24 in² (154.8 cm²) or more it is within`, r.Change)

	r = find(t, assess(t, us, faced(5*lb, 24*in2)), "101.1(a)(4)(i)")
	assert.Equal(t, "a smallest face of at least 26.667 in² (172 cm²), or a mass that is at most 4 lb (1.814 kg)", r.Change)
	assert.Equal(t, `5 lb (2.268 kg), 3.3333 oz/in² (14.65 g/cm²) of "box"`, r.Value)

	r = find(t, assess(t, us, stated(6.5*lb)), "101.1(a)(4)(ii)")
	assert.Equal(t, "it takes 0.5 lb (0.2268 kg) less", r.Change)

	// Whether canopy and lines are part of the only package is not in the text.
	r = find(t, assess(t, us, with(stated(5.9*lb), rest(0.2*lb))), "101.1(a)(4)(ii)")
	assert.Equal(t, rules.CannotTell, r.Verdict)
	assert.Equal(t, `ask the authority whether canopy and lines count with "box": the text does not say`, r.Change)

	r = find(t, assess(t, us, with(stated(6*lb, 5.9*lb), rest(0.2*lb))), "101.1(a)(4)(iii)")
	assert.Equal(t, "canopy, lines and all else below the neck counted; the text does not say whether they do, and without them it is 11.9 lb (5.398 kg)", r.Note)
	r = find(t, assess(t, us, with(stated(6*lb, 6.1*lb), rest(0.2*lb))), "101.1(a)(4)(iii)")
	assert.Empty(t, r.Note, "over it without canopy and lines")

	// Parts of 3 lb each at the bottom: one package over 6 lb, or several.
	loose := stated(9 * lb)
	loose.Packages[0].Least = 3 * lb
	r = find(t, assess(t, us, loose), "101.1(a)(4)(ii)")
	assert.Equal(t, rules.CannotTell, r.Verdict)
	assert.Equal(t, "say which parts share a package", r.Change)
	loose.Packages[0].Faces = nil
	r = find(t, assess(t, us, loose), "101.1(a)(4)(i)")
	assert.Equal(t, "say which parts share a package, and give the smallest face of each over 4 lb (1.814 kg)", r.Change)
	loose.Packages[0].Mass = 13 * lb
	r = find(t, assess(t, us, loose), "101.1(a)(4)(iii)")
	assert.Equal(t, rules.CannotTell, r.Verdict)
	loose.Packages[0].Least = 6.5 * lb
	assert.Equal(t, rules.NotMet, find(t, assess(t, us, loose), "101.1(a)(4)(ii)").Verdict, "one part alone is over it")
}

// Both sides of subpart D. The numbers of 101.33 are from memory; 101.35 and 101.39
// were seen (see each source). Each row is a flight under part 101.
func TestSubpartDBothSides(t *testing.T) {
	type F = *rules.Flight
	const yes, no = rules.Yes, rules.No
	met, not, open := rules.Met, rules.NotMet, rules.CannotTell
	tests := []struct {
		paragraph, name string
		change          func(F)
		want            rules.Verdict
	}{
		{"101.5", "1 in 10 in a restricted area", func(f F) { f.Closed = share(0.10, 0.08, 0.12) }, not},
		{"101.5", "permitted", func(f F) { f.Closed, f.Leave.Closed = share(0.10, 0.08, 0.12), yes }, met},
		{"101.5", "none of 1,024", func(f F) { f.Closed = share(0, 0, 0.003) }, met},
		{"101.5", "on both sides of what is negligible", func(f F) { f.Closed = share(0.01, 0.005, 0.02) }, open},
		{"101.5", "more than negligible, though it may be less", func(f F) { f.Closed = share(0.015, 0.005, 0.03) }, open},
		{"101.5", "just over what is negligible", func(f F) { f.Closed = share(0.02, 0.0101, 0.03) }, not},
		{"101.5", "just what is negligible", func(f F) { f.Closed = share(0.005, 0.001, 0.01) }, met},
		{"101.5", "not looked at", func(F) {}, open},
		{"101.33(a)", "in a surface area", func(f F) { f.SurfaceArea = rules.Sure() }, not},
		{"101.33(a)", "authorized", func(f F) { f.SurfaceArea, f.Leave.Services = rules.Sure(), yes }, met},
		{"101.33(a)", "refused", func(f F) { f.SurfaceArea, f.Leave.Services = rules.Sure(), no }, not},
		{"101.33(a)", "outside", func(f F) { f.SurfaceArea = rules.Never() }, met},
		{"101.33(b)", "five tenths", func(f F) { f.Weather.Cloud = 0.5 }, met},
		{"101.33(b)", "51 %", func(f F) { f.Weather.Cloud = 0.51 }, not},
		{"101.33(b)", "51 %, though air traffic control has authorized something", func(f F) { f.Weather.Cloud, f.Leave.Services = 0.51, yes }, not},
		{"101.33(b)", "not known", func(F) {}, open},
		{"101.33(c)", "5 statute miles", func(f F) { f.Weather.Visibility = 5 * mi }, met},
		{"101.33(c)", "8,047 m", func(f F) { f.Weather.Visibility = 8047 }, met},
		{"101.33(c)", "8,046 m", func(f F) { f.Weather.Visibility = 8046 }, not},
		{"101.33(c)", "not known", func(F) {}, open},
		{"101.33(d)", "over houses", func(f F) { f.Congested = rules.Sure() }, not},
		{"101.33(d)", "over houses, with leave", func(f F) { f.Congested, f.Leave.Services, f.Leave.State = rules.Sure(), yes, yes }, not},
		{"101.33(d)", "over fields", func(f F) { f.Congested = rules.Never() }, met},
		{"101.35(a)(1)", "one", func(f F) { f.Equipment.CutDowns = 1 }, not},
		{"101.35(a)(1)", "two", func(f F) { f.Equipment.CutDowns = 2 }, met},
		{"101.35(a)(1)", "not known", func(F) {}, open},
		{"101.35(a)(2)", "one", func(f F) { f.Equipment.Terminations = 1 }, not},
		{"101.35(a)(2)", "two", func(f F) { f.Equipment.Terminations = 2 }, met},
		{"101.35(a)(3)", "none", func(f F) { f.Equipment.Reflector = no }, not},
		{"101.35(a)(3)", "one", func(f F) { f.Equipment.Reflector = yes }, met},
		{"101.35(a)(3)", "not known", func(F) {}, open},
		{"101.35(b)", "by day", func(f F) { f.Night, f.Equipment.Lights = rules.Never(), no }, met},
		{"101.35(b)", "into the night without", func(f F) { f.Night, f.Equipment.Lights = share(0.3, 0.25, 0.35), no }, not},
		{"101.35(b)", "into the night with", func(f F) { f.Night, f.Equipment.Lights = share(0.3, 0.25, 0.35), yes }, met},
		{"101.35(b)", "into the night", func(f F) { f.Night = share(0.3, 0.25, 0.35) }, open},
		{"101.35(b)", "with, whenever", func(f F) { f.Equipment.Lights = yes }, met},
		{"101.35(c)", "50 lb of force", func(f F) { f.Equipment.Antenna, f.Equipment.Pennants = 50*lbf, no }, met},
		{"101.35(c)", "50.01 lb of force", func(f F) { f.Equipment.Antenna, f.Equipment.Pennants = 50.01*lbf, no }, not},
		{"101.35(c)", "50.01 lb of force, with", func(f F) { f.Equipment.Antenna, f.Equipment.Pennants = 50.01*lbf, yes }, met},
		{"101.35(d)", "50 ft", func(f F) { f.Equipment.Suspension, f.Equipment.Banded = 50*ft, no }, met},
		{"101.35(d)", "15.24 m", func(f F) { f.Equipment.Suspension, f.Equipment.Banded = 15.24, no }, met},
		{"101.35(d)", "15.25 m", func(f F) { f.Equipment.Suspension, f.Equipment.Banded = 15.25, no }, not},
		{"101.35(d)", "15.25 m, banded", func(f F) { f.Equipment.Suspension, f.Equipment.Banded = 15.25, yes }, met},
		{"101.39(a)", "two hours", func(f F) { f.Equipment.Fixes = 2 * hour }, met},
		{"101.39(a)", "two hours and a second", func(f F) { f.Equipment.Fixes = 2*hour + 1 }, not},
		{"101.39(a)", "not known", func(F) {}, open},
		{"101.39(c)", "two hours", func(f F) { f.Equipment.Blind = 2 * hour }, met},
		{"101.39(c)", "two hours and a second", func(f F) { f.Equipment.Blind = 2*hour + 1 }, not},
	}
	for _, test := range tests {
		t.Run(test.paragraph+" "+test.name, func(t *testing.T) {
			r := find(t, assess(t, us, with(stated(7*lb), test.change)), "14 CFR "+test.paragraph)
			assert.Equal(t, test.want, r.Verdict, "%s", r)
			assert.Equal(t, rules.Yes, r.Binds)
			// Below part 101's limits the same is said, but does not bind.
			r = find(t, assess(t, us, with(stated(1*lb), test.change)), "14 CFR "+test.paragraph)
			assert.Equal(t, test.want, r.Verdict)
			assert.Equal(t, rules.No, r.Binds)
			// Without the faces of a package of 5 lb it is not known whether it binds.
			r = find(t, assess(t, us, with(faced(5*lb), test.change)), "14 CFR "+test.paragraph)
			assert.Equal(t, rules.Unknown, r.Binds)
		})
	}
}

func share(value, low, high float64) rules.Chance {
	return rules.Chance{Value: value, Low: low, High: high}
}

// What part 101 asks, paragraph by paragraph, and what of it was seen.
func TestPart101IsComplete(t *testing.T) {
	a := assess(t, us, stated(7*lb))
	seen := map[string]bool{}
	for _, r := range append(append([]rules.Result(nil), a.Tests...), a.Limits...) {
		require.NotContains(t, seen, r.Source.Paragraph)
		seen[r.Source.Paragraph] = r.Source.Seen
	}
	assert.Equal(t, map[string]bool{
		"14 CFR 101.1(a)(4)(i)": true, "14 CFR 101.1(a)(4)(ii)": true, "14 CFR 101.1(a)(4)(iii)": true, "14 CFR 101.1(a)(4)(iv)": true,
		"14 CFR 101.5": true, "14 CFR 101.7(a)": false, "14 CFR 101.7(b)": false,
		"14 CFR 101.33(a)": false, "14 CFR 101.33(b)": false, "14 CFR 101.33(c)": false, "14 CFR 101.33(d)": false, "14 CFR 101.33(e)": false,
		"14 CFR 101.35(a)(1)": true, "14 CFR 101.35(a)(2)": true, "14 CFR 101.35(a)(3)": true,
		"14 CFR 101.35(b)": true, "14 CFR 101.35(c)": true, "14 CFR 101.35(d)": true,
		"14 CFR 101.37(a)": true, "14 CFR 101.39(a)": true, "14 CFR 101.39(c)": true,
	}, seen)
	for _, p := range []string{"101.7(a)", "101.7(b)"} {
		assert.Equal(t, rules.Yes, find(t, assess(t, us, stated(1)), p).Binds, "%s binds small balloons too", p)
	}
}

// 14 CFR 101.37(a): 6 to 24 hours before the beginning. 09:30 at UTC+1 is 08:30 UTC.
func TestNoticeOfPart101(t *testing.T) {
	f := stated(7 * lb)
	assert.Equal(t, "call from 24 h before the launch to 6 h before the launch", find(t, assess(t, us, f), "101.37(a)").Change)
	f.Launch = launchAt
	assert.Equal(t, "call from 2026-03-09 08:30 UTC to 2026-03-10 02:30 UTC", find(t, assess(t, us, f), "101.37(a)").Change)
}
