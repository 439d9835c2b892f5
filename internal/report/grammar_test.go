package report

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"testing"
	"time"
)

// element is an XML element as it was read.
type element struct {
	name     string
	space    string
	attrs    map[string]string
	text     string
	children []*element
}

// parse reads a document, strictly.
func parse(document string) (*element, error) {
	d := xml.NewDecoder(strings.NewReader(document))
	top := &element{}
	stack := []*element{top}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		last := stack[len(stack)-1]
		switch k := token.(type) {
		case xml.StartElement:
			e := &element{name: k.Name.Local, space: k.Name.Space, attrs: map[string]string{}}
			for _, a := range k.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			last.children = append(last.children, e)
			stack = append(stack, e)
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		case xml.CharData:
			last.text += string(k)
		case xml.Directive, xml.Comment:
			return nil, fmt.Errorf("%T in the document", token)
		}
	}
	if len(top.children) != 1 {
		return nil, fmt.Errorf("%d elements at the top, want 1", len(top.children))
	}
	return top.children[0], nil
}

// all is every element of a name below e and at it.
func (e *element) all(name string) []*element {
	var found []*element
	if e.name == name {
		found = append(found, e)
	}
	for _, c := range e.children {
		found = append(found, c.all(name)...)
	}
	return found
}

// child is the text of the first child of a name, or empty.
func (e *element) child(name string) string {
	for _, c := range e.children {
		if c.name == name {
			return c.text
		}
	}
	return ""
}

// part is one place of a sequence: an element's name and how often it may be there.
// Most 0 is without bound.
type part struct {
	names       string // one, or several between which each time is a choice
	least, most int
}

// kind is what a schema says of an element.
type kind struct {
	attrs    string // required ones, by name; others must not be there
	sequence []part
	text     func(string) error // nil where there are children
}

// obeys reports the first thing in which an element differs from its schema: a name
// that the schema does not have, another order, too few, too many, an attribute, a value.
func obeys(e *element, space string, schema map[string]kind) error {
	k, ok := schema[e.name]
	if !ok || e.space != space {
		return fmt.Errorf("<%s> of %q: not in the schema", e.name, e.space)
	}
	for _, a := range strings.Fields(k.attrs) {
		if e.attrs[a] == "" {
			return fmt.Errorf("<%s>: no attribute %s", e.name, a)
		}
	}
	if len(e.attrs) != len(strings.Fields(k.attrs)) {
		return fmt.Errorf("<%s>: attributes %v, want %s", e.name, e.attrs, k.attrs)
	}
	if k.text != nil {
		if err := k.text(e.text); err != nil {
			return fmt.Errorf("<%s>: %w", e.name, err)
		}
	} else if strings.TrimSpace(e.text) != "" {
		return fmt.Errorf("<%s>: text %q between its elements", e.name, e.text)
	}
	rest := e.children
	for _, p := range k.sequence {
		n := 0
		for len(rest) > 0 && strings.Contains(" "+p.names+" ", " "+rest[0].name+" ") && (p.most == 0 || n < p.most) {
			if err := obeys(rest[0], space, schema); err != nil {
				return fmt.Errorf("<%s>: %w", e.name, err)
			}
			rest, n = rest[1:], n+1
		}
		if n < p.least {
			return fmt.Errorf("<%s>: %d <%s>, want at least %d", e.name, n, p.names, p.least)
		}
	}
	if len(rest) > 0 {
		return fmt.Errorf("<%s>: <%s> is one too many or out of order", e.name, rest[0].name)
	}
	return nil
}

func anyText(string) error { return nil }

// between is a number of XML Schema's decimal without exponent in a range; below says
// that the upper end is not in it.
func between(low, high float64, below bool) func(string) error {
	return func(s string) error {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil || strings.ContainsAny(s, "eEnN") || !(v >= low && v <= high) || below && v == high {
			return fmt.Errorf("%q: want %g to %g", s, low, high)
		}
		return nil
	}
}

// utcTime is a dateTime of XML Schema in UTC.
func utcTime(s string) error {
	if _, err := time.Parse(time.RFC3339Nano, s); err != nil {
		return err
	}
	if !strings.HasSuffix(s, "Z") {
		return fmt.Errorf("%q: want UTC", s)
	}
	return nil
}

// The test's own check finds what it is for.
func TestObeys(t *testing.T) {
	schema := map[string]kind{
		"a": {attrs: "v", sequence: []part{{"b", 1, 1}, {"c d", 0, 0}}},
		"b": {text: between(0, 1, true)}, "c": {text: anyText}, "d": {text: utcTime},
	}
	for document, fault := range map[string]string{
		`<a v="1" xmlns="x"><b>0.5</b></a>`: "",
		`<a v="1" xmlns="x"><b>0</b><d>2017-03-22T00:00:00Z</d><c/><d>2017-03-22T00:00:00.1Z</d></a>`: "",
		`<a v="1" xmlns="y"><b>0</b></a>`:                                 "not in the schema",
		`<a xmlns="x"><b>0</b></a>`:                                       "no attribute v",
		`<a v="1" w="2" xmlns="x"><b>0</b></a>`:                           "attributes",
		`<a v="1" xmlns="x"><c/><b>0</b></a>`:                             "0 <b>, want at least 1",
		`<a v="1" xmlns="x"><b>0</b><c/><b>0</b></a>`:                     "<b> is one too many or out of order",
		`<a v="1" xmlns="x"><b>1</b></a>`:                                 "want 0 to 1",
		`<a v="1" xmlns="x"><b>5e-1</b></a>`:                              "want 0 to 1",
		`<a v="1" xmlns="x"><b>0</b><d>2017-03-22T00:00:00+01:00</d></a>`: "want UTC",
		`<a v="1" xmlns="x"><b>0</b>word</a>`:                             "text",
		`<a v="1" xmlns="x"><b>0</b><e/></a>`:                             "out of order",
	} {
		e, err := parse(document)
		if err != nil {
			t.Fatalf("parse(%s): %v", document, err)
		}
		delete(e.attrs, "xmlns")
		err = obeys(e, "x", schema)
		if fault == "" && err != nil || fault != "" && (err == nil || !strings.Contains(err.Error(), fault)) {
			t.Errorf("obeys(%s) = %v, want %q", document, err, fault)
		}
	}
}
