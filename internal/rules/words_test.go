package rules_test

import (
	"math/rand/v2"
	"regexp"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/rules"
)

// anything is a flight of which each thing is known or not as it comes.
func anything(r *rand.Rand) rules.Flight {
	f := random(r)
	number := func(most float64) float64 {
		if r.IntN(3) == 0 {
			return nan
		}
		return most * r.Float64()
	}
	answer := func() rules.Answer { return rules.Answer(r.IntN(3)) }
	chance := func() rules.Chance {
		switch r.IntN(4) {
		case 0:
			return rules.NotKnown()
		case 1:
			return rules.Never()
		case 2:
			return rules.Sure()
		}
		v := r.Float64()
		return rules.Chance{Value: v, Low: v * r.Float64(), High: v + (1-v)*r.Float64()}
	}
	f.Break, f.Rest, f.Balloons = number(460), r.Float64(), 1+r.IntN(2000)
	f.AtLaunch, f.AtBurst = number(4), number(4)
	if r.IntN(2) == 0 {
		f.Launch = launchAt
	}
	if r.IntN(3) == 0 {
		f.Packages[0].Faces = nil
	}
	if r.IntN(3) == 0 {
		f.Packages[0].Least /= 2
	}
	f.Packages = f.Packages[r.IntN(2):]
	f.Weather = rules.Weather{Cloud: number(1), Visibility: number(16000)}
	f.Night, f.Congested, f.SurfaceArea, f.Border, f.Closed = chance(), chance(), chance(), chance(), chance()
	f.Meteorological = answer()
	f.Equipment = rules.Equipment{
		CutDowns: r.IntN(4) - 1, Terminations: r.IntN(4) - 1, ZeroPressure: answer(), Reflector: answer(),
		Transponder: answer(), Lights: answer(), Suspension: number(30), Banded: answer(), Antenna: number(460),
		Pennants: answer(), Fixes: number(4*hour) + 1, Blind: number(4 * hour),
	}
	f.Leave = rules.Leave{State: answer(), Abroad: answer(), Closed: answer(), Services: answer()}
	return f
}

// forbidden is what is never said of a flight.
var forbidden = regexp.MustCompile(`(?i)legal|approv|\bsafe|unsafe|lawful|compl(y|iant)|permitted`)

// Whatever the flight, each result has its paragraph, date, value, limit and what
// would change it, and none says that a flight may take place.
func TestEveryResultIsWhole(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 1))
	verdicts := map[rules.Verdict]int{}
	for range 300 {
		f := anything(r)
		for _, j := range rules.Jurisdictions() {
			a := assess(t, j, f)
			require.NotEmpty(t, a.Classes)
			require.LessOrEqual(t, len(a.Classes), 3)
			require.NotRegexp(t, forbidden, a.Summary())
			require.Contains(t, a.Summary(), rules.Closing)
			for _, n := range a.Notices() {
				require.NotRegexp(t, forbidden, n.Source.String()+n.To+n.When)
				require.NotEmpty(t, n.Items)
			}
			for _, res := range append(append([]rules.Result(nil), a.Tests...), a.Limits...) {
				line := res.String()
				require.NotRegexp(t, forbidden, line)
				require.NotRegexp(t, `NaN|%!|Verdict\(|Answer\(|: ,|; ;| {2}`, line)
				for what, text := range map[string]string{
					"paragraph": res.Source.Paragraph, "date": res.Source.Date, "what": res.What,
					"value": res.Value, "limit": res.Limit, "change": res.Change,
				} {
					require.NotEmpty(t, text, "%s of %s", what, line)
				}
				require.Contains(t, []string{"seen", "check current text"}, res.Source.Status())
				require.False(t, res.Source.Seen && res.Source.Date == "from memory", line)
				verdicts[res.Verdict]++
			}
		}
	}
	for _, v := range []rules.Verdict{rules.Met, rules.NotMet, rules.CannotTell} {
		assert.Greater(t, verdicts[v], 3000, "%s", v)
	}
}

func TestSummary(t *testing.T) {
	a := rules.Assessment{
		Jurisdiction: us, Classes: []rules.Class{rules.Part101},
		Limits: []rules.Result{
			{Binds: rules.Yes, Verdict: rules.NotMet},
			{Binds: rules.No, Verdict: rules.NotMet},
			{Binds: rules.Unknown, Verdict: rules.Met},
			{Binds: rules.Yes, Verdict: rules.CannotTell},
			{Binds: rules.Yes, Verdict: rules.CannotTell},
		},
	}
	assert.Equal(t, "Class: unmanned free balloon under 14 CFR part 101, subpart D; limits not met: 1; limits met: 1, "+
		"that cannot be told: 2. The local authority decides; check the current text.", a.Summary())
	a.Limits = a.Limits[1:]
	assert.Contains(t, a.Summary(), "nothing in this rule set is exceeded as far as it could be checked")
}

func TestResultInWords(t *testing.T) {
	r := find(t, assess(t, us, with(stated(1), func(f *rules.Flight) { f.Weather.Cloud = 0.62 })), "101.33(b)")
	assert.Equal(t, "not met: sky covered by clouds or obscured, at any altitude: 62 %, limit at most 50 %; does not bind this class; "+
		"it takes 12 % less. 14 CFR 101.33(b) (from memory; check current text)", r.String())
	r = find(t, assess(t, us, with(faced(5*lb), func(f *rules.Flight) { f.Closed = share(0.1, 0.08, 0.12) })), "101.5")
	assert.Equal(t, "not met: prohibited and restricted areas entered: 10 % of flights (8 % to 12 %), limit no flight, unless the agency that "+
		"uses or controls the area permits it; not known whether it binds; another time, place or flight, or state that the agency that uses or "+
		"controls the area permits it; a caution for balloons below part 101's limits too; within such an area 101.33(d) and (e) hold and what the agency asks (101.31, from memory). 14 CFR 101.5 (edition of 1 January 2024; seen)", r.String())
}
