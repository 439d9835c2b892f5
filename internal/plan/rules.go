package plan

import (
	"errors"
	"math"
	"slices"
	"strings"

	"buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"buf.build/go/protovalidate"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// lists stops the draft at lists that are longer than the schema allows, so
// that what the rules say of their items stays bounded.
func (d *draft) lists(m proto.Message) {
	walk(m.ProtoReflect(), "", func(path string, v protoreflect.Value, fd protoreflect.FieldDescriptor) {
		if list, ok := v.Interface().(protoreflect.List); ok && list.Len() > maxItems(fd) {
			d.refuse(path, shownValue(v, fd), limits(fd, false))
			d.stopped = true
		}
	})
}

// walk calls visit for each field of m that is set and for each item of its
// lists, with their paths.
func walk(m protoreflect.Message, path string, visit func(string, protoreflect.Value, protoreflect.FieldDescriptor)) {
	for i := range m.Descriptor().Fields().Len() {
		fd := m.Descriptor().Fields().Get(i)
		if !m.Has(fd) {
			continue
		}
		sub, v := join(path, string(fd.Name())), m.Get(fd)
		visit(sub, v, fd)
		if !fd.IsList() {
			if fd.Message() != nil {
				walk(v.Message(), sub, visit)
			}
			continue
		}
		for k := range v.List().Len() {
			visit(item(sub, k), v.List().Get(k), fd)
			if fd.Message() != nil {
				walk(v.List().Get(k).Message(), item(sub, k), visit)
			}
		}
	}
}

// rules holds a message to the rules in the schema. The error is of the rules
// themselves.
func (d *draft) rules(m proto.Message) error {
	err := protovalidate.Validate(m)
	var found *protovalidate.ValidationError
	if err == nil || !errors.As(err, &found) {
		return err
	}
	for _, written := range [...]bool{false, true} { // those across fields last
		for _, v := range found.Violations {
			if strings.Contains(v.Proto.GetMessage(), wants) == written {
				d.violation(m.ProtoReflect(), v)
			}
		}
	}
	return nil
}

// wants marks the message of a rule that is written out in the schema: "FIELD:
// want …" or "WHAT: want …". Of the built-in rules what is wanted follows from
// the rule.
const wants = ": want "

// violation turns what the validator found into a fault.
func (d *draft) violation(m protoreflect.Message, v *protovalidate.Violation) {
	path := protovalidate.FieldPathString(v.Proto.GetField())
	fd, ofItem, in := follow(m, v.Proto.GetField())
	what, want, written := strings.Cut(v.Proto.GetMessage(), wants)
	switch {
	case written:
		d.written(in, path, what, want)
	case v.Proto.GetRuleId() == "required":
		d.refuse(path, d.absent(path), describe(fd))
	default:
		d.refuse(path, d.value(path, v.FieldValue, fd), limits(fd, ofItem)+swapped(in, fd))
	}
}

// swapped asks about the latitude fd of a site that can only be a longitude, beside
// a longitude that can be a latitude; of anything else it asks nothing.
func swapped(in protoreflect.Message, fd protoreflect.FieldDescriptor) string {
	site, ok := in.Interface().(*thistledownv1.Site)
	if ok && fd.Name() == "latitude" && site.Longitude != nil &&
		math.Abs(site.GetLatitude()) <= 180 && math.Abs(site.GetLongitude()) <= 90 { // neither a NaN
		return " (are latitude and longitude swapped?)"
	}
	return ""
}

// written keeps a fault that a rule of the message in, at path, finds: of one
// field, or of several together unless one of them is wrong by itself.
func (d *draft) written(in protoreflect.Message, path, what, want string) {
	if fd := in.Descriptor().Fields().ByName(protoreflect.Name(what)); fd != nil {
		field := join(path, what)
		switch {
		case d.standsIn(in, path, want):
		case in.Has(fd):
			d.refuse(field, d.value(field, in.Get(fd), fd), want)
		default:
			d.refuse(field, d.absent(field), want)
		}
		return
	}
	if d.intact(path) {
		d.refuse(path, what, want)
	}
}

// absent is how a fault tells of the field at path that is not set: missing, or
// the empty text that stands there.
func (d *draft) absent(path string) string {
	if at, ok := d.places[path]; ok && at.value == `""` {
		return at.value
	}
	return missing
}

// standsIn reports whether a field of the message in, at path, of which it is
// said that it would do instead or beside, stands there but could not be decoded.
func (d *draft) standsIn(in protoreflect.Message, path, said string) bool {
	return slices.ContainsFunc(names(in.Descriptor()), func(name string) bool {
		return d.broken[join(path, name)] && strings.Contains(said, name)
	})
}

// follow goes a validator's path from m: to the field, whether to an item of
// it, and to the message there, if it is one.
func follow(m protoreflect.Message, path *validate.FieldPath) (fd protoreflect.FieldDescriptor, ofItem bool, in protoreflect.Message) {
	in = m
	for _, e := range path.GetElements() {
		fd, ofItem = in.Descriptor().Fields().ByNumber(protoreflect.FieldNumber(e.GetFieldNumber())), e.HasIndex()
		if fd.Message() == nil {
			break
		}
		v := in.Get(fd)
		switch {
		case ofItem:
			in = v.List().Get(int(e.GetIndex())).Message()
		case !fd.IsList():
			in = v.Message()
		}
	}
	return fd, ofItem, in
}

// value is the value at path as a fault repeats it: as it stands in the file
// or, without one, as the message has it.
func (d *draft) value(path string, v protoreflect.Value, fd protoreflect.FieldDescriptor) string {
	if at, ok := d.places[path]; ok {
		return at.value
	}
	return shownValue(v, fd)
}

// rulesOf is the rules that the schema has for a field; empty where none.
func rulesOf(fd protoreflect.FieldDescriptor) *validate.FieldRules {
	rules, err := protovalidate.ResolveFieldRules(fd)
	if err != nil || rules == nil {
		return &validate.FieldRules{}
	}
	return rules
}
