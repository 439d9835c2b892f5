package plan

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"
)

// What a fault says is wanted follows from the schema, so that a rule is
// written once: in the schema or, for quantities, in the tables of specs.

// describe says what kind of value a field takes, and its limits.
func describe(fd protoreflect.FieldDescriptor) string {
	if s, ok := specOf(fd); ok {
		return s.want()
	}
	if fd.IsList() {
		return "a list of " + limits(fd, false)
	}
	switch fd.Kind() {
	case protoreflect.MessageKind:
		if fd.Message().FullName() == timestampName {
			return "RFC 3339 with an offset, such as 2017-03-22T08:00:00+01:00"
		}
		return mapping(names(fd.Message()))
	case protoreflect.BoolKind:
		return "true or false"
	case protoreflect.DoubleKind:
		return "a number, " + limits(fd, false)
	case protoreflect.Uint32Kind, protoreflect.Uint64Kind:
		return "a whole number, " + limits(fd, false)
	}
	return limits(fd, false)
}

// limits says what the rules of a field, or of an item of a list, allow: a
// range, a length, a choice.
func limits(fd protoreflect.FieldDescriptor, ofItem bool) string {
	rules := rulesOf(fd)
	if ofItem {
		rules = rules.GetRepeated().GetItems()
	}
	switch {
	case rules.HasString():
		return textLimits(rules.GetString(), rules.GetRequired())
	case rules.HasRepeated():
		return between(rules.GetRepeated().GetMinItems(), rules.GetRepeated().GetMaxItems(), "items")
	case rules.HasTimestamp():
		return ranges(rules.GetTimestamp().ProtoReflect(), [...]string{"from", "after", "up to", "before"})
	case rules.HasDouble():
		return ranges(rules.GetDouble().ProtoReflect(), numberWords)
	case rules.HasUint32():
		return ranges(rules.GetUint32().ProtoReflect(), numberWords)
	case rules.HasUint64():
		return ranges(rules.GetUint64().ProtoReflect(), numberWords)
	case fd.Kind() == protoreflect.Uint32Kind:
		return fmt.Sprintf("0 to %d", uint32(math.MaxUint32))
	case fd.Kind() == protoreflect.Uint64Kind:
		return fmt.Sprintf("0 to %d", uint64(math.MaxUint64))
	}
	return "a value that the schema allows"
}

// textLimits says what a text rule allows: a choice or a length.
func textLimits(r *validate.StringRules, required bool) string {
	if in := r.GetIn(); len(in) > 1 {
		return strings.Join(in[:len(in)-1], ", ") + " or " + in[len(in)-1]
	}
	least := r.GetMinLen()
	if required {
		least = max(least, 1)
	}
	return between(least, r.GetMaxLen(), "characters")
}

// between says how many there may be.
func between(least, most uint64, of string) string {
	if least == 0 {
		return fmt.Sprintf("at most %d %s", most, of)
	}
	return fmt.Sprintf("%d to %d %s", least, most, of)
}

// numberWords go before the bounds gte, gt, lte and lt of a number.
var numberWords = [...]string{"at least", "more than", "at most", "less than"}

// ranges says what the bounds in r, a rule of numbers or times, allow.
func ranges(r protoreflect.Message, words [4]string) string {
	var bounds [4]string
	for i, name := range [...]protoreflect.Name{"gte", "gt", "lte", "lt"} {
		if fd := r.Descriptor().Fields().ByName(name); r.Has(fd) {
			bounds[i] = bound(r.Get(fd))
		}
	}
	if bounds[0] != "" && bounds[2] != "" {
		return bounds[0] + " to " + bounds[2]
	}
	var parts []string
	for i, b := range bounds {
		if b != "" {
			parts = append(parts, words[i]+" "+b)
		}
	}
	return strings.Join(parts, " and ")
}

// bound is a bound as people write it.
func bound(v protoreflect.Value) string {
	switch x := v.Interface().(type) {
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	case protoreflect.Message:
		if t, ok := x.Interface().(*timestamppb.Timestamp); ok {
			return t.AsTime().Format(time.RFC3339)
		}
	}
	return v.String()
}
