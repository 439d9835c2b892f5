package main

import (
	"fmt"
	"io"
	"path/filepath"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/report"
)

// label is the command of that name.
type label struct {
	Plan string   `arg:"" help:"The plan, a YAML file with rules." placeholder:"PLAN"`
	Set  []string `sep:"none" placeholder:"FIELD=VALUE" help:"Change a field of the plan, such as rules.reward='a jar of honey'. May be given again."`
	Out  string   `required:"" placeholder:"DIR" help:"Write label.html there: A5 and A6, to print."`
}

// Run does it.
func (l *label) Run(s *streams) error {
	p, err := input{plan: l.Plan, sets: l.Set}.read()
	if err != nil {
		return err
	}
	made, err := mission.Label(p)
	if err != nil {
		return located(err, l.Plan)
	}
	const name = "label.html"
	if err := writeAll(l.Out, []output{{name, func(w io.Writer) error { return report.WriteLabel(w, made) }}}); err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "%s: a label of A5 and one of A6. Print it at its own size, put it where it can be read from outside, and cover it against rain.\n", filepath.Join(l.Out, name))
	return err
}
