package ground

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
)

// located is a fault at a place in a text: so many octets from its beginning.
// The text is that of the innermost object at first, then of each object around
// it in turn. It is only worked out once there is a fault.
type located struct {
	at int
	error
}

func (l *located) Unwrap() error { return l.error }

// moved is err with its place moved by so many octets; with a place if it has
// none.
func moved(err error, octets int) error {
	if l := new(located); errors.As(err, &l) {
		l.at += octets
		return err
	}
	return &located{octets, err}
}

// inMember is a fault in a member of the object that a text is.
func inMember(err error, text []byte, name string) error {
	return moved(err, member(text, name))
}

// inElement is a fault in element i of the list that a member is.
func inElement(err error, text []byte, name string, i int) error {
	at := member(text, name)
	return moved(err, at+element(text[at:], i))
}

// member is where the value of an object's member begins, as json.Unmarshal
// finds it: whichever case its name is written in, and the last of several. 0 if
// there is none.
func member(text []byte, name string) int {
	at := 0
	d := json.NewDecoder(bytes.NewReader(text))
	if _, err := d.Token(); err != nil {
		return 0
	}
	for d.More() {
		key, err := d.Token()
		var value json.RawMessage
		if err != nil || d.Decode(&value) != nil {
			return at
		}
		if s, ok := key.(string); ok && strings.EqualFold(s, name) {
			at = int(d.InputOffset()) - len(value)
		}
	}
	return at
}

// element is where element i of a list begins, counted from 0.
func element(text []byte, i int) int {
	d := json.NewDecoder(bytes.NewReader(text))
	if _, err := d.Token(); err != nil {
		return 0
	}
	for k := 0; d.More(); k++ {
		var value json.RawMessage
		if d.Decode(&value) != nil {
			return 0
		}
		if k == i {
			return int(d.InputOffset()) - len(value)
		}
	}
	return 0
}
