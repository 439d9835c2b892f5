package report

import (
	"fmt"
	"slices"
	"strings"

	"example.org/thistledown/internal/rules"
)

// jurisdictionWords are whose rules they are.
var jurisdictionWords = map[rules.Jurisdiction]string{
	rules.UnitedStates: "United States, 14 CFR part 101", rules.International: "ICAO Annex 2, unmanned free balloons",
	rules.Europe: "European Union, SERA Appendix 2", rules.Britain: "United Kingdom, SERA Appendix 2 as retained",
	rules.Australia: "Australia, CASR part 101", rules.NewZealand: "New Zealand, part 101", rules.Canada: "Canada, 602.42",
}

// rules is a flight held to rules: what decides the class, then the limits that
// bind, then those of which that is not known, of each those not met first. Of
// limits that do not bind the class only those not met are told.
func (t *text) rules(a *rules.Assessment) {
	if a == nil {
		return
	}
	t.gap()
	t.row("Rules", "%s. %s", jurisdictionWords[a.Jurisdiction], a.Summary())
	t.checks("The class is by these:", a.Tests, func(rules.Result) bool { return true })
	t.checks("Of this class is asked:", a.Limits, func(r rules.Result) bool { return r.Binds == rules.Yes })
	t.checks("Of which it is not known whether they bind:", a.Limits, func(r rules.Result) bool { return r.Binds == rules.Unknown })
	t.checks("Not asked of this class, and not met:", a.Limits, func(r rules.Result) bool {
		return r.Binds == rules.No && r.Verdict == rules.NotMet
	})
	silent := 0
	for _, r := range a.Limits {
		if r.Binds == rules.No && r.Verdict != rules.NotMet {
			silent++
		}
	}
	if silent > 0 {
		t.row("", "%d more are not asked of this class; they are in the answer's message (--json).", silent)
	}
}

// checks are some limits under a heading, those not met first.
func (t *text) checks(heading string, all []rules.Result, take func(rules.Result) bool) {
	for _, v := range [...]rules.Verdict{rules.NotMet, rules.CannotTell, rules.Met} {
		for _, r := range all {
			if r.Verdict != v || !take(r) {
				continue
			}
			if heading != "" {
				t.row("", "%s", heading)
				heading = ""
			}
			t.check(r)
		}
	}
}

// check is one limit, what would change or settle it, and where it stands.
func (t *text) check(r rules.Result) {
	label := "  " + r.Verdict.String()
	if r.Verdict == rules.CannotTell {
		label += " " // it fills the column
	}
	t.row(label, "%s: %s; limit: %s", r.What, r.Value, r.Limit)
	var more []string
	for _, clause := range [...]string{r.Change, r.Note} {
		if clause != "" {
			more = append(more, clause)
		}
	}
	if len(more) > 0 {
		t.row("", "%s", strings.Join(more, "; "))
	}
	t.row("", "%s", r.Source.String())
}

// rulesChange is how a flight stands otherwise to the rules than before.
func (t *text) rulesChange(label *string, before, after *rules.Assessment) {
	change := t.changer(label)
	change("held to", whose(before), whose(after))
	if before == nil || after == nil {
		return
	}
	change("class", classes(before), classes(after))
	stood := map[string]rules.Verdict{}
	for _, r := range slices.Concat(before.Tests, before.Limits) {
		stood[r.Source.Paragraph+r.What] = r.Verdict
	}
	for _, r := range slices.Concat(after.Tests, after.Limits) {
		if was, ok := stood[r.Source.Paragraph+r.What]; ok {
			change(r.What+" ("+r.Source.Paragraph+"):", was.String(), r.Verdict.String())
		}
	}
}

// whose is whose rules a flight is held to.
func whose(a *rules.Assessment) string {
	if a == nil {
		return "no rules"
	}
	return "rules of " + jurisdictionWords[a.Jurisdiction]
}

// classes is every class that a flight may be in.
func classes(a *rules.Assessment) string {
	words := make([]string, len(a.Classes))
	for i, c := range a.Classes {
		words[i] = c.String()
	}
	return strings.Join(words, " or ")
}

// rulesBrief is a class, and the limits that bind it, or may, and are not met.
func rulesBrief(a *rules.Assessment) string {
	var not []string
	for _, r := range a.Limits {
		if r.Verdict == rules.NotMet && r.Binds != rules.No {
			not = append(not, r.What+" ("+r.Source.Paragraph+")")
		}
	}
	s := jurisdictionWords[a.Jurisdiction] + ": " + classes(a)
	if len(not) > 0 {
		s += "; not met: " + strings.Join(not, "; ")
	}
	return s + fmt.Sprintf("; that cannot be told: %d. %s", a.Count(rules.CannotTell), rules.Closing)
}
