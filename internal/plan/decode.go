package plan

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"
)

// The decoding is written out here, and not left to a library, because a plan's
// faults need lines, because --set works on the tree, and because a library
// takes what a plan must refuse: keys given twice, field numbers as keys, "1k"
// for 1000. A test holds what is accepted to what protoyaml makes of it.

const timestampName = "google.protobuf.Timestamp"

// decimal is a number as a plan writes it.
var decimal = regexp.MustCompile(`^[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?$`)

// special is YAML's not-a-number and infinity, in any spelling of theirs.
var special = regexp.MustCompile(`^[-+]?\.?(?i:nan|inf|infinity)$`)

// rfc3339 is RFC 3339, section 5.6, of which time.Parse also takes "T8:00:00"
// and offsets of more than a day; a leap second is not taken.
var rfc3339 = regexp.MustCompile(`^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,9})?(Z|[-+]([01]\d|2[0-3]):[0-5]\d)$`)

// message decodes a mapping into m, which lies at path.
func (d *draft) message(n *yaml.Node, m protoreflect.Message, path string) {
	descriptor := m.Descriptor()
	if n.Kind != yaml.MappingNode {
		d.breakAt(path, problem{n.Line, shown(n, nil), mapping(names(descriptor))})
		return
	}
	first := map[protoreflect.Name]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, value := n.Content[i], n.Content[i+1]
		fd := field(descriptor, key.Value)
		if key.Kind != yaml.ScalarNode || fd == nil {
			if !d.comma(n, i, descriptor, path) {
				d.unknown(key, descriptor, path)
			}
			continue
		}
		sub := join(path, string(fd.Name()))
		if line, ok := first[fd.Name()]; ok {
			d.add(sub, problem{key.Line, fmt.Sprintf("given again after line %d", line), "it once"})
			continue
		}
		first[fd.Name()] = key.Line
		d.field(value, fd, m, sub, key.Line)
	}
}

// unknown keeps the fault of a key that names no field.
func (d *draft) unknown(key *yaml.Node, in protoreflect.MessageDescriptor, path string) {
	if d.full() {
		d.more++
		return
	}
	name, value := clip(clean(key.Value), maxShown), "no such field"
	if key.Kind != yaml.ScalarNode {
		name, value = "", shown(key, nil)+" as a key"
	}
	if name == "" {
		d.add(path, problem{key.Line, value, oneOf(names(in))})
		return
	}
	if near, ok := nearest(key.Value, names(in)); ok {
		d.meant[join(path, near)] = true
	}
	d.add(join(path, name), problem{key.Line, value, suggest(key.Value, names(in))})
}

// comma keeps the fault of a decimal comma between braces, "{latitude: 55,5}",
// where YAML takes what follows it for the next key, at n.Content[i]. It reports
// whether there is one.
func (d *draft) comma(n *yaml.Node, i int, in protoreflect.MessageDescriptor, path string) bool {
	key := n.Content[i]
	if i < 2 || n.Style&yaml.FlowStyle == 0 || !null(n.Content[i+1]) || n.Content[i-1].Kind != yaml.ScalarNode || !behindComma.MatchString(key.Value) {
		return false
	}
	fd := field(in, n.Content[i-2].Value)
	if fd == nil {
		return false
	}
	text := n.Content[i-1].Value + "," + key.Value
	value, want := quote(text), "a decimal point, as a comma begins the next field"
	if s, ok := specOf(fd); ok {
		if _, err := s.kind.read(text); err != nil {
			value, want = unread(text, err, s)
		}
	}
	d.breakAt(join(path, string(fd.Name())), problem{key.Line, value, want})
	return true
}

// behindComma is what follows a decimal comma.
var behindComma = regexp.MustCompile(`^\d`)

// field decodes a value into the field fd of m.
func (d *draft) field(n *yaml.Node, fd protoreflect.FieldDescriptor, m protoreflect.Message, path string, keyLine int) {
	line := n.Line
	if n.Kind != yaml.ScalarNode && n.Line > 0 { // not a --set's
		line = keyLine
	}
	d.places[path] = place{line, shown(n, fd)}
	switch {
	case null(n):
		d.places[path] = place{line, missing}
	case fd.IsList():
		d.list(n, fd, m, path)
	case fd.Message() != nil && fd.Message().FullName() != timestampName:
		d.message(n, m.Mutable(fd).Message(), path)
	default:
		if v, ok := d.scalar(n, fd, path); ok {
			m.Set(fd, v)
		}
	}
}

// list decodes a sequence into the list fd of m. An item that cannot be decoded
// leaves an empty one, so that the others keep their numbers.
func (d *draft) list(n *yaml.Node, fd protoreflect.FieldDescriptor, m protoreflect.Message, path string) {
	if n.Kind != yaml.SequenceNode {
		d.breakAt(path, problem{n.Line, shown(n, fd), describe(fd)})
		return
	}
	if len(n.Content) > maxItems(fd) {
		d.breakAt(path, problem{d.line(path), shown(n, fd), limits(fd, false)})
		return
	}
	list := m.Mutable(fd).List()
	for i, child := range n.Content {
		sub := item(path, i)
		d.places[sub] = place{child.Line, shown(child, fd)}
		if fd.Message() != nil {
			d.message(child, list.AppendMutable().Message(), sub)
			continue
		}
		v, ok := d.scalar(child, fd, sub)
		if !ok {
			v = list.NewElement()
		}
		list.Append(v)
	}
}

// scalar decodes one value of the kind of fd.
func (d *draft) scalar(n *yaml.Node, fd protoreflect.FieldDescriptor, path string) (protoreflect.Value, bool) {
	if n.Kind == yaml.ScalarNode && !null(n) {
		if v, ok := decodeText(n.Value, fd); ok {
			return v, true
		}
	}
	want := describe(fd)
	if fd.IsList() {
		want = limits(fd, true)
	}
	if fd.Kind() == protoreflect.DoubleKind && special.MatchString(n.Value) {
		want = limits(fd, fd.IsList())
	}
	value := shown(n, fd)
	if n.Kind == yaml.SequenceNode {
		value = "a list"
	}
	d.breakAt(path, problem{n.Line, value, want})
	return protoreflect.Value{}, false
}

// decodeText reads a text as a value of the kind of fd.
func decodeText(s string, fd protoreflect.FieldDescriptor) (protoreflect.Value, bool) {
	var zero protoreflect.Value
	switch fd.Kind() {
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(s), true
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(s == "true"), s == "true" || s == "false"
	case protoreflect.DoubleKind:
		v, err := strconv.ParseFloat(s, 64)
		return protoreflect.ValueOfFloat64(v), err == nil && decimal.MatchString(s)
	case protoreflect.Uint32Kind:
		v, err := strconv.ParseUint(s, 10, 32)
		return protoreflect.ValueOfUint32(uint32(v)), err == nil
	case protoreflect.Uint64Kind:
		v, err := strconv.ParseUint(s, 10, 64)
		return protoreflect.ValueOfUint64(v), err == nil
	case protoreflect.MessageKind: // a timestamp
		t, err := time.Parse(time.RFC3339Nano, s)
		if err != nil || !rfc3339.MatchString(s) {
			return zero, false
		}
		return protoreflect.ValueOfMessage(timestamppb.New(t).ProtoReflect()), true
	}
	return zero, false
}

// shown is a node as a fault repeats it: numbers as they were typed where fd
// wants a number, other text quoted.
func shown(n *yaml.Node, fd protoreflect.FieldDescriptor) string {
	switch n.Kind {
	case yaml.SequenceNode:
		if fd != nil && fd.IsList() {
			return items(len(n.Content))
		}
		return "a list"
	case yaml.MappingNode:
		return "a mapping"
	}
	if null(n) {
		return "nothing"
	}
	bare := fd == nil || fd.Kind() != protoreflect.StringKind && fd.Kind() != protoreflect.MessageKind
	if bare && len(n.Value) <= maxShown && (decimal.MatchString(n.Value) || special.MatchString(n.Value)) {
		return n.Value
	}
	return quote(n.Value)
}

// shownValue is shown for a field of a message that did not come from YAML.
func shownValue(v protoreflect.Value, fd protoreflect.FieldDescriptor) string {
	switch x := v.Interface().(type) {
	case string:
		return quote(x)
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	case protoreflect.List:
		return items(x.Len())
	case protoreflect.Message:
		if t, ok := x.Interface().(*timestamppb.Timestamp); ok {
			return shownTime(t)
		}
		return "a mapping"
	case nil:
		return missing
	}
	return fmt.Sprint(v.Interface())
}

// items is how many there are.
func items(n int) string {
	if n == 1 {
		return "1 item"
	}
	return fmt.Sprintf("%d items", n)
}

// shownTime is a timestamp as a fault repeats it; one that is no time, as its
// two numbers.
func shownTime(t *timestamppb.Timestamp) string {
	if t.CheckValid() != nil {
		return fmt.Sprintf("%d s %d ns", t.GetSeconds(), t.GetNanos())
	}
	return quote(t.AsTime().Format(time.RFC3339Nano))
}

// field finds a field by its name in the schema or in JSON.
func field(m protoreflect.MessageDescriptor, name string) protoreflect.FieldDescriptor {
	if fd := m.Fields().ByName(protoreflect.Name(name)); fd != nil {
		return fd
	}
	return m.Fields().ByJSONName(name)
}

// names lists the fields of a message in the schema's order.
func names(m protoreflect.MessageDescriptor) []string {
	all := make([]string, m.Fields().Len())
	for i := range all {
		all[i] = string(m.Fields().Get(i).Name())
	}
	return all
}

// maxItems is the schema's limit for a list.
func maxItems(fd protoreflect.FieldDescriptor) int {
	if r := rulesOf(fd).GetRepeated(); r != nil && r.HasMaxItems() {
		return int(min(r.GetMaxItems(), math.MaxInt32))
	}
	return math.MaxInt32
}

// suggest says what a name should be: the nearest of those that there are, and
// all of them.
func suggest(name string, all []string) string {
	if near, ok := nearest(name, all); ok {
		return near + " (or another of " + strings.Join(all, ", ") + ")"
	}
	return oneOf(all)
}

// nearest is which of the names there are a misspelt one is meant for, if any.
func nearest(name string, all []string) (near string, ok bool) {
	folded := strings.ToLower(strings.NewReplacer("-", "", "_", "", " ", "").Replace(clip(name, maxShown)))
	near = slices.MinFunc(all, func(a, b string) int { return apart(folded, a) - apart(folded, b) })
	return near, apart(folded, near) <= max(1, len(near)/4)
}

func oneOf(all []string) string { return "one of " + strings.Join(all, ", ") }

// apart is the number of letters to change, add or take away (Levenshtein's
// distance) between a folded name and a field's, underscores left aside.
func apart(a, fieldName string) int {
	b := strings.ReplaceAll(fieldName, "_", "")
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
