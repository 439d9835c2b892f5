package rules

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Negligible is the share of flights up to which something is taken not to
// happen, and above which it is: where the whole interval of a Chance is on one
// side of it. The rules name no such number: it is this tool's own.
const Negligible = 0.01

// line is the head of a result: where it stands, whom it binds, what of.
type line struct {
	src   Source
	binds Answer
	what  string
}

// binds tells whether what holds for some classes binds a flight of these.
func binds(classes []Class, which ...Class) Answer {
	in := 0
	for _, c := range classes {
		if slices.Contains(which, c) {
			in++
		}
	}
	switch in {
	case 0:
		return No
	case len(classes):
		return Yes
	}
	return Unknown
}

// result is the line with a verdict.
func (l line) result(v Verdict, value, limit, change string) Result {
	return Result{Source: l.src, Binds: l.binds, Verdict: v, What: l.what, Value: value, Limit: limit, Change: change}
}

// quantity holds a value to a bound; give is what would settle it if it is NaN.
func (l line) quantity(b bound, v float64, give string) Result {
	verdict := b.hold(exactly(v))
	change := give
	if verdict != CannotTell {
		change = b.change(v)
	}
	return l.result(verdict, b.unit.text(v), b.String(), change)
}

// count holds a number of things to the least that there has to be; −1 is not
// known.
func (l line) count(n, least int) Result {
	limit := fmt.Sprintf("at least %d, independent of each other", least)
	switch {
	case n < 0:
		return l.result(CannotTell, unstated, limit, "give how many it has")
	case n < least:
		return l.result(NotMet, fmt.Sprint(n), limit, fmt.Sprintf("it takes %d more", least-n))
	}
	return l.result(Met, fmt.Sprint(n), limit, fmt.Sprintf("fewer than %d would not do", least))
}

// fulfilled is the verdict of something that has to be so.
func fulfilled(a Answer) Verdict {
	switch a {
	case Yes:
		return Met
	case No:
		return NotMet
	case Unknown:
	}
	return CannotTell
}

// answer holds an answer to the yes that is wanted.
func (l line) answer(a Answer, limit, give string) Result {
	v := fulfilled(a)
	change := give
	if v == Met {
		change = "as the plan states it"
	}
	return l.result(v, a.String(), limit, change)
}

// verdict is whether what should not happen does not.
func (c Chance) verdict() Verdict {
	switch {
	case math.IsNaN(c.Value):
		return CannotTell
	case c.High <= Negligible:
		return Met
	case c.Low > Negligible:
		return NotMet
	}
	return CannotTell
}

// String is the share and its interval.
func (c Chance) String() string {
	switch {
	case math.IsNaN(c.Value):
		return unstated
	case c.Low == c.High:
		return fmt.Sprintf("%.3g %% of flights", 100*c.Value)
	}
	return fmt.Sprintf("%.3g %% of flights (%.3g %% to %.3g %%)", 100*c.Value, 100*c.Low, 100*c.High)
}

// chance holds a share of flights to none, unless whoever may has given leave:
// one that is not stated is not held. leave is No, and lets empty, where nobody
// may.
func (l line) chance(c Chance, leave Answer, lets string) Result {
	v, limit, change := c.verdict(), "no flight", ""
	if lets != "" {
		limit += ", unless " + lets
	}
	switch {
	case leave == Yes:
		return l.result(Met, c.String(), limit, lets+": as the plan states it")
	case v == Met:
		change = fmt.Sprintf("a share that may be over %g %% would count", 100*Negligible)
	case v == NotMet && lets != "":
		change = "another time, place or flight, or state that " + lets
	case v == NotMet:
		change = "another time, place or flight"
	case math.IsNaN(c.Value):
		change = "fly it on a forecast, with the ground and airspace that it may meet"
	default:
		change = fmt.Sprintf("more flights, or more known of what they meet, as the interval is on both sides of %g %%", 100*Negligible)
	}
	return l.result(v, c.String(), limit, change)
}

// carried holds an answer to the yes that is wanted where a trigger, whose verdict
// is Met where it does not arise, asks for it.
func (l line) carried(trigger Verdict, value string, a Answer, limit string) Result {
	v := both(trigger, fulfilled(a))
	var change string
	switch {
	case trigger == Met:
		change = "not asked for by this value"
	case v == Met:
		change = "as the plan states it"
	case v == NotMet:
		change = "carry it"
	case trigger == CannotTell && a == No:
		change = "give the value, or carry it"
	default:
		change = "state whether it is carried"
	}
	return l.result(v, fmt.Sprintf("%s; carried: %s", value, a), limit, change)
}

// unless makes a result met by a leave; one that is not stated is not held.
func (r Result) unless(leave Answer, who string) Result {
	r.Limit += ", unless " + who
	switch {
	case r.Verdict == Met:
	case leave == Yes:
		r.Verdict, r.Change = Met, who+": as the plan states it"
	default:
		r.Change += ", or state that " + who
	}
	return r
}

// noted is the result with a note.
func (r Result) noted(text string) Result {
	r.Note = text
	return r
}

// duty is what is to be done, which nobody but whoever does it can tell.
func (l line) duty(limit, change string) Result {
	return l.result(CannotTell, "for you to do", limit, change)
}

// before is a time so long before the launch in words.
func (f Flight) before(d time.Duration) string {
	if f.Launch.IsZero() {
		return fmt.Sprintf("%g h before the launch", d.Hours())
	}
	return f.Launch.UTC().Add(-d).Format("2006-01-02 15:04 UTC")
}
