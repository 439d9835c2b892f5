package rules_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/rules"
)

// numbers is the items' numbers in order, each once.
func numbers(items []rules.Item) string {
	var out []string
	for _, i := range items {
		if i.Number != "" && (len(out) == 0 || out[len(out)-1] != i.Number) {
			out = append(out, i.Number)
		}
	}
	return strings.Join(out, " ")
}

// facts is the items' facts in order.
func facts(items []rules.Item) []rules.Fact {
	out := make([]rules.Fact, 0, len(items))
	for _, i := range items {
		out = append(out, i.Fact)
	}
	return out
}

// 14 CFR 101.37: 6 to 24 hours before (seen), the list (a)(1) to (8), cancelling
// and launch (from memory); 101.39 (eCFR of 5 April 2026): one hour before the
// descent, when positions are lost and regained, at the end.
func TestPart101Notices(t *testing.T) {
	notices := assess(t, us, stated(7*lb)).Notices()
	tests := []struct {
		stage       rules.Stage
		paragraph   string
		seen        bool
		from, until time.Duration
	}{
		{rules.Before, "101.37(a)", false, 24 * time.Hour, 6 * time.Hour},
		{rules.Delayed, "101.37(a)(2)", false, 0, 0},
		{rules.Cancelled, "101.37(c)", false, 0, 0},
		{rules.Launched, "101.37(d)", false, 0, 0},
		{rules.Lost, "101.39(c)", true, 0, 0},
		{rules.Found, "101.39(c)", true, 0, 0},
		{rules.Descending, "101.39(b)", true, 0, time.Hour},
		{rules.Ended, "101.39(d)", true, 0, 0},
	}
	require.Len(t, notices, len(tests))
	for i, want := range tests {
		n := notices[i]
		assert.Equal(t, want.stage, n.Stage)
		assert.Equal(t, "14 CFR "+want.paragraph, n.Source.Paragraph)
		assert.Equal(t, want.seen, n.Source.Seen, "%s", want.stage)
		assert.Equal(t, []time.Duration{want.from, want.until}, []time.Duration{n.From, n.Until}, "%s", want.stage)
		assert.Equal(t, rules.Yes, n.Binds)
		assert.Equal(t, "the nearest air traffic control facility", n.To)
		assert.Contains(t, facts(n.Items), rules.Identification)
	}
	assert.Equal(t, "(a)(1) (a)(2) (a)(3) (a)(4) (a)(5) (a)(6) (a)(7) (a)(8)", numbers(notices[0].Items))
	assert.Equal(t, []rules.Fact{
		rules.Identification, rules.LaunchTime, rules.LaunchSite, rules.CruisingLevel, rules.Trajectory, rules.TimeAtLevel,
		rules.Dimensions, rules.PayloadMass, rules.AntennaLength, rules.Duration, rules.EndTime, rules.EndPlace,
	}, facts(notices[0].Items))
	assert.Equal(t, []rules.Fact{
		rules.Identification, rules.CurrentPosition, rules.CurrentLevel, rules.TimeThroughLevel, rules.Trajectory, rules.EndTime, rules.EndPlace,
	}, facts(notices[6].Items))
	assert.Equal(t, []rules.Fact{rules.Identification, rules.LastPosition, rules.Trajectory}, facts(notices[4].Items))
	for _, n := range assess(t, us, stated(1)).Notices() {
		assert.Equal(t, rules.No, n.Binds, "%s below part 101's limits", n.Stage)
	}
}

// SERA Appendix 2, 5.1.1: 7 days or more before, (a) to (g) as seen in German, the
// rest from memory; of medium and heavy ones. Positions are of heavy ones.
func TestAppendixNotices(t *testing.T) {
	letters := map[rules.Answer]string{rules.Yes: "y", rules.No: "n", rules.Unknown: "?"}
	binds := map[rules.Stage]string{}
	for _, f := range []rules.Flight{stated(1), stated(2, 2), stated(3), faced(2)} {
		for _, n := range assess(t, rules.Europe, f).Notices() {
			binds[n.Stage] += letters[n.Binds]
		}
	}
	assert.Equal(t, map[rules.Stage]string{
		rules.Before: "nyy?", rules.Delayed: "nyy?", rules.Cancelled: "nyy?", rules.Launched: "nyy?",
		rules.Descending: "nny?", rules.Ended: "nny?",
	}, binds)
	notices := assess(t, rules.Europe, stated(3)).Notices()
	assert.Equal(t, "(a) (b) (c) (d) (e) (f) (g) (h) (i) (j)", numbers(notices[0].Items))
	assert.Equal(t, []rules.Fact{
		rules.Identification, rules.Description, rules.Beacon, rules.Operator, rules.LaunchSite, rules.LaunchTime, rules.Number,
		rules.Direction, rules.CruisingLevel, rules.TimeAtLevel, rules.PlaceAtLevel, rules.EndTime, rules.EndPlace,
	}, facts(notices[0].Items))
	assert.Equal(t, 7*24*time.Hour, notices[0].Until)
	assert.True(t, notices[0].Source.Seen)
	assert.Equal(t, []rules.Fact{
		rules.Identification, rules.CurrentPosition, rules.CurrentLevel, rules.TimeThroughLevel, rules.EndTime, rules.EndPlace,
	}, facts(notices[4].Items))
	assert.Equal(t, time.Hour, notices[4].Until)
	for _, j := range []rules.Jurisdiction{rules.International, rules.Britain} {
		got := assess(t, j, stated(3)).Notices()
		require.Len(t, got, len(notices))
		assert.False(t, got[0].Source.Seen, "%s", j)
	}
	for _, j := range []rules.Jurisdiction{rules.Australia, rules.NewZealand, rules.Canada} {
		assert.Empty(t, assess(t, j, stated(3)).Notices())
	}
}
