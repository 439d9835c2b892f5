package balloon

import (
	"fmt"
	"slices"
	"strings"
)

// noneDoes ends a fault where no envelope comes near.
const noneDoes = ": each that is filled so stays on the ground, floats or bursts at once"

// carried is a load and what is wanted of its flight in words, the height first:
// "2.5 kg to 36000 m at 5 m/s".
func (s *solving) carried(l Lifter, wanted ...Wanted) string {
	slices.SortStableFunc(wanted, func(a, b Wanted) int { return int(b.Quantity) - int(a.Quantity) })
	words := []string{fmt.Sprintf("%.4g kg", l.Load)}
	for _, w := range wanted {
		words = append(words, s.so(l, w))
	}
	return strings.Join(words, " ")
}

// so is how something goes that is as wanted: "to 36000 m", "at 5 m/s". Gas is
// told by its volume in the lowest air.
func (s *solving) so(l Lifter, w Wanted) string {
	switch w.Quantity {
	case GasAmount:
		return fmt.Sprintf("with %.3g m³ of gas", w.Value*l.Filling.molarVolume(s.air[0].State))
	case FreeLift:
		return fmt.Sprintf("with %.4g kg of free lift", w.Value)
	case AscentRate:
		return fmt.Sprintf("at %.3g m/s", w.Value)
	case RateNearGround:
		return fmt.Sprintf("at %.3g m/s near the ground", w.Value)
	case BurstHeight:
		return fmt.Sprintf("to %.0f m", w.Value)
	}
	return w.String()
}

// nearest is the envelope that comes nearest, with what it reaches.
func (s *solving) nearest(n *NoSolution, last Wanted) string {
	last.Value = n.Reached
	return fmt.Sprintf(": the nearest is one of %.0f g, %s", 1000*n.Nearest.Envelope.Mass, s.so(n.Nearest, last))
}
