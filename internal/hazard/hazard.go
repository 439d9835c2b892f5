// Package hazard is the score of a launch: how bad what its flights come down
// on, and cross on the way, is expected to be.
//
// It hides how severities are put together. For one flight that lands,
//
//	s = 1 − (1 − S_land)·Π(1 − S_air)
//
// where S_land is the greatest severity among the layers of ground under the
// landing (a layer's own, or that of its class) and the product goes over the closed volumes of air that it crossed.
// The score is 100 times the mean of s over the flights that landed. Severities
// are judgements from 0 to 1 that the plan makes; the package knows nothing of
// where they come from, nor how flights are drawn.
package hazard

import (
	"errors"
	"fmt"

	"example.org/thistledown/internal/ground"
)

// Severity says how bad each thing is, 0 to 1.
type Severity struct {
	Ground [classes]float64 // by ground.Class: coming down on it; the first is not used
	Air    float64          // crossing a closed volume of air that has no severity of its own
}

// classes is one more than the greatest ground.Class, whose zero is none.
const classes = int(ground.Abroad) + 1

// Check reports every severity that is not from 0 to 1.
func (s Severity) Check() error {
	var errs []error
	for c := range ground.Classes() {
		if v := s.Ground[c]; !(v >= 0 && v <= 1) {
			errs = append(errs, fmt.Errorf("severity of %v %g: want 0 to 1", c, v))
		}
	}
	if !(s.Air >= 0 && s.Air <= 1) {
		errs = append(errs, fmt.Errorf("severity of closed airspace %g: want 0 to 1", s.Air))
	}
	return errors.Join(errs...)
}
