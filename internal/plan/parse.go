package plan

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"sort"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
	"google.golang.org/protobuf/reflect/protoreflect"
)

const (
	// maxSize is the size of a plan in octets; the schema's own limits fit.
	maxSize = 1 << 20
	// maxDepth is how deep lists and mappings may lie in each other; the
	// schema needs six.
	maxDepth = 16
	tooDeep  = "nested more than 16 deep"
)

// yamlMark is how the YAML library begins an error.
var yamlMark = regexp.MustCompile(`^yaml: (line \d+: )?`)

// tabbed is a line indented by a tab.
var tabbed = regexp.MustCompile(`^ *\t`)

// parse reads a file that holds such a message into a tree of plain values. It returns nil and
// stops the draft where that fails.
func (d *draft) parse(data []byte, as protoreflect.MessageDescriptor) *yaml.Node {
	root, p := tree(data)
	if p == nil && root == nil {
		p = &problem{1, "nothing in it", mapping(names(as))}
	}
	if p != nil {
		d.stop(*p)
		return nil
	}
	for _, p := range odd(root, 0, nil) {
		d.stop(p)
	}
	if d.stopped {
		return nil
	}
	return root
}

// tree is the one YAML document in data; nil where there is none.
func tree(data []byte) (*yaml.Node, *problem) {
	if len(data) > maxSize {
		return nil, &problem{1, fmt.Sprintf("%d octets", len(data)), fmt.Sprintf("at most %d", maxSize)}
	}
	if p := notText(data); p != nil {
		return nil, p
	}
	docs, err := documents(data)
	if err != nil {
		return nil, syntax(data, err)
	}
	if len(docs) > 1 {
		return nil, &problem{docs[1].Line, "a second document", "one"}
	}
	if len(docs) == 0 || null(docs[0].Content[0]) {
		return nil, nil
	}
	return docs[0].Content[0], nil
}

// documents are the first two YAML documents in data.
func documents(data []byte) ([]yaml.Node, error) {
	read := yaml.NewDecoder(bytes.NewReader(data))
	var docs []yaml.Node
	for len(docs) < 2 {
		var doc yaml.Node
		err := read.Decode(&doc)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		docs = append(docs, doc)
	}
	return docs, nil
}

// notText finds the first octet that is not UTF-8, or a control character, of
// which YAML would not tell the line.
func notText(data []byte) *problem {
	for line, text := range bytes.Split(data, []byte("\n")) {
		for len(text) > 0 {
			r, n := utf8.DecodeRune(text)
			if r == utf8.RuneError && n == 1 {
				return &problem{line + 1, fmt.Sprintf("octet %#x", text[0]), "text in UTF-8"}
			}
			if unicode.IsControl(r) && r != '\t' && r != '\r' && r != '\u0085' {
				return &problem{line + 1, fmt.Sprintf("control character %U", r), "text"}
			}
			text = text[n:]
		}
	}
	return nil
}

// syntax turns an error of the YAML library into one line. The library's own
// line is at times that where the enclosing part began, or counted from 0, or
// none; the fault stands in the last of the fewest lines that give the same
// error, which at most 20 readings find. Of tabs, the usual cause, the library does not speak plainly.
func syntax(data []byte, err error) *problem {
	lines := bytes.SplitAfter(data, []byte("\n"))
	n := sort.Search(len(lines)-1, func(n int) bool {
		_, e := documents(bytes.Join(lines[:n+1], nil))
		return e != nil && e.Error() == err.Error()
	})
	for i := max(0, n-1); i < min(n+2, len(lines)); i++ {
		if tabbed.Match(lines[i]) {
			return &problem{i + 1, "a tab in the indentation", "spaces"}
		}
	}
	p := &problem{n + 1, yamlMark.ReplaceAllString(clean(err.Error()), ""), "YAML"}
	switch {
	case strings.HasPrefix(p.value, "unknown anchor"):
		p.want = plainValues
	case strings.HasPrefix(p.value, "exceeded max depth"): // of its own, 10,000
		p.value, p.want = tooDeep, "less"
	}
	return p
}

// plainValues is what a plan is made of.
const plainValues = "plain values, without anchors, aliases and tags"

// odd lists the nodes that a plan has no use for: anchors and aliases, which
// make a small file large, tags, and nesting without end.
func odd(n *yaml.Node, depth int, found []problem) []problem {
	switch {
	case len(found) >= maxFaults:
		return found
	case depth > maxDepth:
		return append(found, problem{n.Line, tooDeep, "less"})
	case n.Kind == yaml.AliasNode:
		return append(found, problem{n.Line, "alias " + quote("*"+n.Value), plainValues})
	case n.Anchor != "":
		found = append(found, problem{n.Line, "anchor " + quote("&"+n.Anchor), plainValues})
	case n.Style&yaml.TaggedStyle != 0:
		found = append(found, problem{n.Line, "tag " + quote(n.Tag), plainValues})
	}
	for _, child := range n.Content {
		found = odd(child, depth+1, found)
	}
	return found
}

// null reports whether a node says that there is no value.
func null(n *yaml.Node) bool { return n.Kind == yaml.ScalarNode && n.Tag == "!!null" }

// mapping says what fields a mapping takes.
func mapping(names []string) string { return "a mapping with " + strings.Join(names, ", ") }
