package plan

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
	"google.golang.org/protobuf/reflect/protoreflect"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// step is one name of a --set's path, with its index in a list or −1.
type step struct {
	fd    protoreflect.FieldDescriptor
	index int
}

// stepForm is how a step is written.
var stepForm = regexp.MustCompile(`^([^\[\]]+)(?:\[(\d{1,6})\])?$`)

// apply carries out sets[i] on the tree under root.
func (d *draft) apply(root *yaml.Node, i int) {
	here := -1 - i
	path, value, ok := strings.Cut(d.sets[i], "=")
	if !ok || path == "" {
		d.add("", problem{here, "", "FIELD=VALUE"})
		return
	}
	steps, ok := d.steps(path, here)
	if !ok {
		return
	}
	slot := d.reach(root, steps, path, here)
	if slot == nil {
		return
	}
	last := steps[len(steps)-1]
	if n := d.given(last, value, path, here); n != nil {
		*slot = *n
		d.emptied[slot] = last.index >= 0 && null(n)
	}
}

// steps looks up the names of a path in the schema.
func (d *draft) steps(path string, here int) ([]step, bool) {
	m := (*thistledownv1.Plan)(nil).ProtoReflect().Descriptor()
	var steps []step
	for name := range strings.SplitSeq(path, ".") {
		if len(steps) > 0 {
			if m = inner(steps[len(steps)-1]); m == nil {
				d.add(path, problem{here, quote(name), notInto(steps[len(steps)-1])})
				return nil, false
			}
		}
		form := stepForm.FindStringSubmatch(name)
		if form == nil {
			d.add(path, problem{here, quote(name), "a field's name, with an index such as [0] in a list"})
			return nil, false
		}
		s := step{field(m, form[1]), -1}
		if s.fd == nil {
			d.add(path, problem{here, quote(form[1]) + ": no such field", suggest(form[1], names(m))})
			return nil, false
		}
		if form[2] != "" {
			s.index, _ = strconv.Atoi(form[2]) // six digits at most
			if !s.fd.IsList() {
				d.add(path, problem{here, quote(name), string(s.fd.Name()) + ", which is no list, without an index"})
				return nil, false
			}
		}
		steps = append(steps, s)
	}
	return steps, true
}

// notInto says why a path cannot go on behind s.
func notInto(s step) string {
	if s.fd.IsList() && s.index < 0 {
		return fmt.Sprintf("an index before it, such as %s[0]", s.fd.Name())
	}
	return "nothing behind " + string(s.fd.Name())
}

// inner is the message that a step leads into; nil where it leads to a value.
func inner(s step) protoreflect.MessageDescriptor {
	if m := s.fd.Message(); m != nil && m.FullName() != timestampName && s.fd.IsList() == (s.index >= 0) {
		return m
	}
	return nil
}

// reach walks to the node that steps lead to and makes what is not there yet.
// It returns nil where the file has something else in the way, which is then
// the file's fault, or an index is too far.
func (d *draft) reach(root *yaml.Node, steps []step, path string, here int) *yaml.Node {
	n := root
	for _, s := range steps {
		if n.Kind != yaml.MappingNode {
			return nil
		}
		parentLine := n.Line
		if n = entry(n, s.fd, here); s.index >= 0 {
			if null(n) {
				*n = yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Line: parentLine}
			}
			if n.Kind != yaml.SequenceNode {
				return nil
			}
			if s.index > len(n.Content) {
				d.add(path, problem{here, fmt.Sprintf("%s[%d]", s.fd.Name(), s.index), fmt.Sprintf("an index of at most %d", len(n.Content))})
				return nil
			}
			if s.index == len(n.Content) {
				n.Content = append(n.Content, nothing(here))
			}
			n = n.Content[s.index]
		}
		if inner(s) != nil && null(n) {
			line := parentLine
			if n.Line < 0 { // which no line of the file has made
				line = n.Line
			}
			*n = yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Line: line}
		}
	}
	return n
}

// prune takes out of every list under n the items that a --set has emptied.
func (d *draft) prune(n *yaml.Node) {
	if n.Kind == yaml.SequenceNode {
		n.Content = slices.DeleteFunc(n.Content, func(child *yaml.Node) bool { return d.emptied[child] && null(child) })
	}
	for _, child := range n.Content {
		d.prune(child)
	}
}

// entry is the value of the field fd in a mapping, made where there is none.
func entry(m *yaml.Node, fd protoreflect.FieldDescriptor, here int) *yaml.Node {
	for i := 0; i+1 < len(m.Content); i += 2 {
		if name := m.Content[i].Value; name == string(fd.Name()) || name == fd.JSONName() {
			return m.Content[i+1]
		}
	}
	key := &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: string(fd.Name()), Line: here}
	value := nothing(here)
	m.Content = append(m.Content, key, value)
	return value
}

func nothing(line int) *yaml.Node {
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!null", Line: line}
}

// given is the node for a --set's text. A list or mapping is read as YAML, and
// so is text in quotes; other text stands for itself, whatever is in it.
func (d *draft) given(s step, text, path string, here int) *yaml.Node {
	whole := s.fd.IsList() && s.index < 0 || inner(s) != nil
	text = strings.TrimSpace(text)
	if text == "" || text == "~" || text == "null" {
		return nothing(here)
	}
	if whole || text[0] == '"' || text[0] == '\'' {
		n, p := tree([]byte(text))
		switch {
		case whole && p != nil:
			d.add(path, problem{here, p.value, p.want})
			return nil
		case whole && n == nil:
			return nothing(here)
		case p == nil && n != nil && (whole || n.Kind == yaml.ScalarNode):
			return d.moved(n, path, here)
		}
	}
	return &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!str", Value: text, Line: here}
}

// moved is a tree with every node's line set to the --set's; nil where the tree
// holds what a plan has no use for.
func (d *draft) moved(n *yaml.Node, path string, here int) *yaml.Node {
	if found := odd(n, 0, nil); len(found) > 0 {
		d.add(path, problem{here, found[0].value, found[0].want})
		return nil
	}
	var move func(*yaml.Node)
	move = func(n *yaml.Node) {
		n.Line = here
		for _, child := range n.Content {
			move(child)
		}
	}
	move(n)
	return n
}
