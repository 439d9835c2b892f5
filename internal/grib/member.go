package grib

import "fmt"

// Member says which forecast of an ensemble a field is of. The zero value is the
// single forecast: a product that is no member's. Members are the same if they
// are ==.
type Member struct {
	Kind   MemberKind
	Number int // perturbation number, 0 to 255; some centres count negative and positive ones apart
	Of     int // forecasts in the ensemble by the message, 0 to 255; some centres leave the control out
}

// MemberKind is 1 + the type of ensemble forecast of code table 4.6; values
// without a name here may occur.
type MemberKind uint16

// The kinds of code table 4.6.
const (
	NoMember    MemberKind = 0   // no member of an ensemble
	ControlHigh MemberKind = 1   // unperturbed, high resolution
	ControlLow  MemberKind = 2   // unperturbed, low resolution
	Negative    MemberKind = 3   // negatively perturbed
	Positive    MemberKind = 4   // positively perturbed
	MultiModel  MemberKind = 5   // of a multi-model ensemble
	KindMissing MemberKind = 256 // a member whose message does not say of which kind
)

// Control reports whether the member is unperturbed. Where the message does not
// say its kind, that is number 0.
func (m Member) Control() bool {
	switch m.Kind {
	case ControlHigh, ControlLow:
		return true
	case KindMissing:
		return m.Number == 0
	}
	return false
}

// String is "single", "control", "member 7", or "member 7 negative" where
// perturbations of that sign are numbered apart.
func (m Member) String() string {
	switch {
	case m.Kind == NoMember:
		return "single"
	case m.Control():
		return "control"
	case m.Kind == Negative:
		return fmt.Sprintf("member %d negative", m.Number)
	}
	return fmt.Sprintf("member %d", m.Number)
}

// Types of processed data, code table 1.4.
const (
	dataControl   = 3 // control forecast
	dataPerturbed = 4 // perturbed forecast
	dataEnsemble  = 5 // control and perturbed forecasts
)

const processEnsemble = 4 // type of generating process, code table 4.3: ensemble forecast

// MemberDoubt returns in what the message contradicts itself about its member,
// in words, and "" if in nothing: the type of data of section 1 or the type of
// generating process says something else than the product of section 4. Whoever
// joins the fields of one member may want to warn; the field is as good as any.
func (f *Field) MemberDoubt() string {
	switch f.Product {
	case 0, 8:
		switch {
		case f.DataType >= dataControl && f.DataType <= dataEnsemble:
			return fmt.Sprintf("type of data %d (%s) in product 4.%d, which names no member", f.DataType, dataName(f.DataType), f.Product)
		case f.process == processEnsemble:
			return fmt.Sprintf("type of generating process 4 (ensemble forecast) in product 4.%d, which names no member", f.Product)
		}
	case 1, 11:
		if f.DataType == dataControl && !f.Member.Control() || f.DataType == dataPerturbed && f.Member.Control() {
			return fmt.Sprintf("type of data %d (%s) in product 4.%d of the %v", f.DataType, dataName(f.DataType), f.Product, f.Member)
		}
	}
	return ""
}

func dataName(t uint8) string {
	switch t {
	case dataControl:
		return "control forecast"
	case dataPerturbed:
		return "perturbed forecast"
	}
	return "control and perturbed forecasts"
}
