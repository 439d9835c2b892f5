package main

import (
	"errors"
	"strings"

	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
)

// inUnits is an error with what a train cannot do told in the given units. What
// repeats the plan is left as it is, in the plan's own.
func inUnits(err error, units quantity.System) error {
	var faults plan.Faults
	if units == quantity.SI || !errors.As(err, &faults) {
		return err
	}
	told := make(plan.Faults, len(faults))
	for i, f := range faults {
		if f.File == "" && strings.HasPrefix(f.Field, "train") {
			f.Value, f.Want = report.Restate(f.Value, units), report.Restate(f.Want, units)
		}
		told[i] = f
	}
	return told
}
