package wind

import (
	"fmt"
	"maps"
	"slices"

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

// joinMembers sorts out which members there are. Files tag what belongs
// together in different ways: a control as a single forecast, or some fields of
// a member as another kind than the rest.
func (t *Contents) joinMembers(have map[Member]had) {
	t.of = map[Member][]Member{}
	members := slices.SortedFunc(maps.Keys(have), Member.compare)
	var whole, parts []Member
	for _, m := range members {
		t.of[m] = []Member{m}
		if have[m].complete() {
			whole = append(whole, m)
			continue
		}
		parts = append(parts, m)
	}
	for i, a := range parts {
		for _, b := range parts[i+1:] {
			if (a.Number != b.Number && a.Kind != Single) || have[a].complete() {
				continue
			}
			if both := have[a].join(have[b]); both.complete() {
				have[b] = both
				t.of[b] = append(t.of[b], t.of[a]...)
				whole = append(whole, b)
				t.Lacks = append(t.Lacks, fmt.Sprintf("Fields tagged as %v and as %v are taken as one member, %v, since neither has winds and heights alone.", a, b, b))
			}
		}
	}
	slices.SortFunc(whole, Member.compare)
	whole = slices.Compact(whole)
	if len(whole) > 1 && whole[0].Kind == Single {
		if whole[1].Kind == Control {
			t.Lacks = append(t.Lacks, "Left out: a single forecast beside an ensemble with a control of its own.")
			whole = whole[1:]
		} else {
			t.Lacks = append(t.Lacks, "Taken as the ensemble's control: fields tagged as a single forecast.")
			control := Member{Kind: Control}
			t.of[control], have[control] = []Member{{}}, have[Member{}]
			whole[0] = control
		}
	}
	// What is tagged as single and is no forecast by itself serves all members:
	// terrain, for one.
	if _, ok := have[Member{}]; ok && slices.Contains(parts, Member{}) && len(whole) > 0 {
		for _, m := range whole {
			if !slices.Contains(t.of[m], Member{}) {
				t.of[m] = append(t.of[m], Member{})
			}
		}
		if whole[0].Kind != Single {
			t.Lacks = append(t.Lacks, "Fields tagged as a single forecast are taken for every member that lacks them.")
		}
	}
	t.Members = whole
}
