package rpc

import (
	"example.org/thistledown/internal/rules"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// checks is a flight held to rules as the schema has it; nil without.
func checks(a *rules.Assessment) *thistledownv1.RuleChecks {
	if a == nil {
		return nil
	}
	m := &thistledownv1.RuleChecks{Jurisdiction: string(a.Jurisdiction), Summary: a.Summary()}
	for _, c := range a.Classes {
		m.Classes = append(m.Classes, c.String())
	}
	for _, r := range a.Tests {
		m.Tests = append(m.Tests, check(r))
	}
	for _, r := range a.Limits {
		m.Limits = append(m.Limits, check(r))
	}
	return m
}

// check is one limit.
func check(r rules.Result) *thistledownv1.RuleCheck {
	return &thistledownv1.RuleCheck{
		Paragraph: r.Source.Paragraph, Date: r.Source.Date, Status: r.Source.Status(),
		Binds: r.Binds.String(), Verdict: r.Verdict.String(),
		What: r.What, Value: r.Value, Limit: r.Limit, Change: r.Change, Note: r.Note,
	}
}
