package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

const (
	// maxFaults is how many faults are kept; of more only the number is told.
	maxFaults = 100
	// maxShown is how many characters of a value a fault repeats.
	maxShown = 40
	// setMark begins the File of a fault that lies in a --set.
	setMark = "--set "
	missing = "missing"
)

// Fault is one thing that is wrong with a plan.
type Fault struct {
	// File is the plan's file, or "--set FIELD=VALUE" where the fault lies in
	// that; empty where the plan came as a message.
	File string
	// Line is the line in the file, from 1; 0 where there is none.
	Line int
	// Field is the proto path, such as "ground.layers[1].covers[0].south";
	// empty where the fault is the file's as a whole.
	Field string
	// Value is what stands there, quoted where it is text, with what is wrong
	// with it where that is not plain: `"5 m/sec": "m/sec" is not a unit`.
	Value string
	// Want is what would be right.
	Want string
}

// String is the fault in one line: file and line, field, value, and what was
// wanted.
func (f Fault) String() string {
	var parts []string
	if f.Line > 0 {
		parts = append(parts, fmt.Sprintf("%s:%d", clean(f.File), f.Line))
	} else if f.File != "" {
		parts = append(parts, clean(f.File))
	}
	field, value := f.Field, f.Value
	if given, ok := strings.CutPrefix(f.File, setMark+f.Field+"="); ok {
		field = ""
		if strings.Trim(value, `"`) == given || value == quote(given) {
			value = ""
		}
	}
	for _, part := range [...]string{field, value} {
		if part != "" {
			parts = append(parts, part)
		}
	}
	if f.Want != "" {
		parts = append(parts, "want "+f.Want)
	}
	return strings.Join(parts, ": ")
}

// Faults is everything that is wrong with a plan, in the order of lines and,
// within a line, of fields; those in a --set come first. It is never empty.
type Faults []Fault

// Error is one line for each fault.
func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, fault := range f {
		lines[i] = fault.String()
	}
	return strings.Join(lines, "\n")
}

// draft is a plan that is being read: where each field stands, and what is
// wrong so far.
type draft struct {
	file   string
	sets   []string
	places map[string]place // by path, of fields that the YAML names
	faults []Fault
	more   int             // faults beyond maxFaults
	at     map[string]int  // index in faults of a path's first fault
	broken map[string]bool // paths whose value could not be decoded
	meant  map[string]bool // paths that stand there misspelt, which is said
	// emptied are the items of lists that a --set has taken away.
	emptied map[*yaml.Node]bool
	// stopped: so wrong that nothing further can be said.
	stopped bool
}

// place is where a field stands and how its value reads there.
type place struct {
	line  int // in the file, from 1; −1 − i: in sets[i]
	value string
}

// problem is a fault before its file and field are known.
type problem struct {
	line        int
	value, want string
}

func newDraft(file string, sets []string) *draft {
	return &draft{
		file: file, sets: sets,
		places: map[string]place{}, at: map[string]int{}, broken: map[string]bool{}, meant: map[string]bool{}, emptied: map[*yaml.Node]bool{},
	}
}

// add keeps a fault at a line (see place) of the field at path.
func (d *draft) add(path string, p problem) {
	if d.full() {
		d.more++
		return
	}
	file, line := d.file, p.line
	if line < 0 {
		file, line = setMark+clean(clip(d.sets[-1-line], 2*maxShown)), 0
	}
	if _, ok := d.at[path]; !ok {
		d.at[path] = len(d.faults)
	}
	d.faults = append(d.faults, Fault{File: file, Line: line, Field: clean(clip(path, 2*maxShown)), Value: p.value, Want: p.want})
}

func (d *draft) full() bool { return len(d.faults) >= maxFaults }

// stop keeps a fault of the whole and says that nothing can be read behind it.
func (d *draft) stop(p problem) {
	d.add("", p)
	d.stopped = true
}

// breakAt keeps a fault of a value that cannot be decoded. What the rules then
// say of that field, or of what lies in it, is not said again. Behind a plan
// that is broken as a whole nothing is.
func (d *draft) breakAt(path string, p problem) {
	d.add(path, p)
	d.broken[path] = true
	d.stopped = d.stopped || path == ""
}

// refuse keeps a fault of a value that can be decoded. A second one of the same
// value joins the first.
func (d *draft) refuse(path, value, want string) {
	if value == missing && d.meant[path] {
		return
	}
	for p := path; p != ""; p = parent(p) {
		if d.broken[p] {
			return
		}
	}
	if i, ok := d.at[path]; ok && d.faults[i].Value == value {
		if !strings.Contains(d.faults[i].Want, want) {
			d.faults[i].Want += " and " + want
		}
		return
	}
	d.add(path, problem{d.line(path), value, want})
}

// sound reports whether nothing is wrong so far with the field at path.
func (d *draft) sound(path string) bool {
	_, ok := d.at[path]
	return !ok
}

// intact reports whether nothing is wrong so far with what is in the message or
// list at path.
func (d *draft) intact(path string) bool {
	for faulty := range d.at {
		rest, in := strings.CutPrefix(faulty, path)
		if in && rest != "" && (rest[0] == '.' || rest[0] == '[') {
			return false
		}
	}
	return true
}

// line is where a field stands or, if it is left out, what it is left out of.
func (d *draft) line(path string) int {
	for p := path; ; p = parent(p) {
		if at, ok := d.places[p]; ok || p == "" {
			return at.line
		}
	}
}

// done is all faults in order, or nil.
func (d *draft) done() error {
	if len(d.faults) == 0 {
		return nil
	}
	slices.SortStableFunc(d.faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Field, b.Field))
	})
	if d.more > 0 {
		d.faults = append(d.faults, Fault{File: d.file, Value: fmt.Sprintf("%d more faults", d.more)})
	}
	return Faults(d.faults)
}

// join is the path of a field in the message at path.
func join(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

// item is the path of an item of the list at path.
func item(path string, i int) string { return path + "[" + strconv.Itoa(i) + "]" }

// parent is the path of what the field at path lies in; "" is the plan.
func parent(path string) string { return path[:max(0, strings.LastIndexAny(path, ".["))] }

// quote is a value as a fault repeats it.
func quote(s string) string { return strconv.Quote(clip(s, maxShown)) }

// clip cuts a long text.
func clip(s string, most int) string {
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most]) + "…"
}

// clean writes what would spoil a line of output as its escape.
func clean(s string) string {
	if strings.ContainsFunc(s, unicode.IsControl) || !utf8.ValidString(s) {
		s = strconv.Quote(s)
		return s[1 : len(s)-1]
	}
	return s
}
