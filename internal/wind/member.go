package wind

import (
	"fmt"

	"example.org/thistledown/internal/grib"
)

// Member is one run of a forecast. The zero value is the only run of a
// forecast that is no ensemble.
type Member struct {
	Kind   MemberKind
	Number int // as the centre counts; 0 for a single forecast
}

// MemberKind is what a member is in its ensemble, after code table 4.6.
type MemberKind uint8

// The kinds of members.
const (
	Single    MemberKind = iota // no ensemble
	Control                     // started from the analysis as it is
	Perturbed                   // started from the analysis and a perturbation, or unsaid
	Negative                    // started from the analysis less a perturbation
)

// String is such as "control" or "member 7".
func (m Member) String() string {
	switch m.Kind {
	case Single:
		return "single forecast"
	case Control:
		return "control"
	case Negative:
		return fmt.Sprintf("member %d, negative", m.Number)
	}
	return fmt.Sprintf("member %d", m.Number)
}

// compare orders members: single and control first, then by number.
func (m Member) compare(o Member) int {
	first := func(m Member) int { return int(min(m.Kind, Perturbed)) }
	if d := first(m) - first(o); d != 0 {
		return d
	}
	if d := m.Number - o.Number; d != 0 {
		return d
	}
	return int(o.Kind) - int(m.Kind)
}

// MemberOf is the member that a field says it belongs to.
func MemberOf(f *grib.Field) Member {
	switch m := f.Member; {
	case m.Kind == grib.NoMember:
		return Member{}
	case m.Control():
		return Member{Control, m.Number}
	case m.Kind == grib.Negative:
		return Member{Negative, m.Number}
	default:
		return Member{Perturbed, m.Number}
	}
}
