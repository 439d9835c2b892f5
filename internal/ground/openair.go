package ground

import (
	"bytes"
	"fmt"
	"strings"
	"unicode/utf8"

	"example.org/thistledown/internal/geo"
)

// Limits of an OpenAir text.
const (
	MaxOpenAir = 16 << 20 // octets
	maxLine    = 2000     // octets
	maxCorners = 10_000   // of one volume, arcs flattened
	// maxTextCorners are those of all volumes together; a circle takes few octets
	// and many corners.
	maxTextCorners = 1_000_000
	maxFaults      = 20 // that are told
	maxFaultText   = 40 // characters of a line that a fault repeats
)

// faults are what is wrong with a text, all at once and in one line.
type faults struct {
	list []error
	more int // that are not in the list
}

func (f *faults) add(err error) {
	if len(f.list) == maxFaults {
		f.more++
		return
	}
	f.list = append(f.list, err)
}

// Error is all of them.
func (f *faults) Error() string {
	var b strings.Builder
	for i, err := range f.list {
		if i > 0 {
			b.WriteString("; ")
		}
		b.WriteString(err.Error())
	}
	if f.more > 0 {
		fmt.Fprintf(&b, "; and %d more", f.more)
	}
	return b.String()
}

// Unwrap is each of those that are told.
func (f *faults) Unwrap() []error { return f.list }

// ReadOpenAir reads airspace from a text in the OpenAir form, UTF-8 or Latin-1.
// Each record has a line of its own:
//
//	AC R                                  a new volume, and its kind
//	AN Range north                        its name
//	AL 1500 ft AGL                        its floor, as ParseLimit reads it
//	AH FL 95                              its ceiling
//	DP 54:25:00 N 010:40:00 E             a corner
//	V X=54:20:00 N 010:50:00 E            the centre of what follows
//	V D=-                                 arcs that follow go anticlockwise
//	DA 5,270,90                           an arc: radius in nautical miles, from and to bearing
//	DB 54:25:00 N 010:40:00 E, 54:15:00 N 010:40:00 E    an arc from one point to another
//	DC 5                                  a circle: radius in nautical miles
//	V W=10                                the width of an airway, nautical miles
//	DY 54:25:00 N 010:40:00 E             a point of an airway's middle
//
// A star begins a comment. Positions may also be 54:25.500, 54.425, or 542500.
// AY gives the kind where AC is UNC. AF, AG, AI, AX, AA, AT, SB, SP and V T and Z
// are passed over, so that a volume is active at all times whatever AA says; so
// are the lines TO and TC, and DL, with what belongs to them. Anything else is a
// fault, since it might be part of a volume.
//
// Bearings are true. Arcs are turned into lines within 5 m of them on the
// ellipsoid. An outline that crosses or touches itself is taken as all that any loop of it
// goes round.
// The error holds every fault by its line (of the first 20; the others are
// counted); where there is one, nothing is read.
func ReadOpenAir(name string, text []byte) ([]*Volume, error) {
	if len(text) > MaxOpenAir {
		return nil, fmt.Errorf("airspace %q: %d octets: want at most %d", name, len(text), MaxOpenAir)
	}
	r := openAir{file: name, left: budget{corners: maxTextCorners, pairs: maxPairs}}
	text = bytes.TrimPrefix(text, []byte("\xEF\xBB\xBF"))
	latin := !utf8.Valid(text)
	for len(text) > 0 && len(r.volumes) <= MaxVolumes {
		n := bytes.IndexAny(text, "\r\n")
		if n < 0 {
			n = len(text)
		}
		r.line++
		r.read(text[:n], latin)
		text = text[n:]
		if bytes.HasPrefix(text, []byte("\r\n")) {
			text = text[1:]
		}
		text = text[min(1, len(text)):]
	}
	r.finish()
	if len(r.volumes) > MaxVolumes {
		r.fault("more than %d volumes: want at most as many", MaxVolumes)
	}
	if len(r.volumes) == 0 && len(r.faults.list) == 0 {
		return nil, fmt.Errorf("airspace %q: no volumes: want lines of OpenAir, AC first, or GeoJSON", name)
	}
	if len(r.faults.list) > 0 {
		return nil, &r.faults
	}
	return r.volumes, nil
}

// openAir is a text being read.
type openAir struct {
	file    string
	line    int
	faults  faults
	volumes []*Volume
	open    bool // a volume has begun
	passed  bool // the lines are those of something else, until the next AC
	draft   draft
	left    budget
}

// draft is a volume being read.
type draft struct {
	line           int // of its AC
	name, kind     string
	floor, ceiling *Limit
	floorLine      int // of the later one of floor and ceiling
	faulty         bool
	outline        outline
}

func (r *openAir) fault(format string, a ...any) {
	r.draft.faulty = true
	r.faults.add(fmt.Errorf("airspace %q: line %d: %w", r.file, r.line, fmt.Errorf(format, a...)))
}

// read takes in a line.
func (r *openAir) read(line []byte, latin bool) {
	if len(line) > maxLine {
		r.fault("%d octets: want at most %d in a line", len(line), maxLine)
		return
	}
	s := string(line)
	if latin {
		runes := make([]rune, len(line))
		for i, b := range line {
			runes[i] = rune(b)
		}
		s = string(runes)
	}
	s, _, _ = strings.Cut(s, "*")
	words := strings.Fields(s)
	if len(words) == 0 {
		return
	}
	code, rest := strings.ToUpper(words[0]), strings.Join(words[1:], " ")
	if code == "AC" {
		r.finish()
		r.open, r.passed = true, false
		r.draft = draft{line: r.line, kind: rest, outline: outline{clockwise: true, left: &r.left}}
		if rest == "" {
			r.fault("AC without a kind: want a class A to G, or R, Q, P, CTR and the like")
		} else if err := checkName("kind", rest); err != nil {
			r.fault("AC: %w", err)
		}
		return
	}
	r.record(code, rest)
}

// record takes in a line other than AC.
func (r *openAir) record(code, rest string) {
	switch code {
	case "AF", "AG", "AI", "AX", "AA", "AT", "SB", "SP":
		return
	case "TO", "TC", "DL":
		if code != "DL" {
			r.finish()
			r.passed = true
		}
		return
	}
	if r.passed {
		return
	}
	if !r.open {
		r.fault("%.2q before the first AC: want AC, which begins a volume", code)
		return
	}
	d := &r.draft
	var err error
	switch code {
	case "AN":
		d.name = rest
		err = checkName("name", rest)
	case "AY":
		if strings.HasPrefix(strings.ToUpper(d.kind), "UNC") && !strings.EqualFold(rest, "NONE") {
			d.kind = rest
			err = checkName("kind", rest)
		}
	case "AL":
		d.floorLine = r.line
		d.floor, err = oneLimit(d.floor, rest)
	case "AH":
		d.floorLine = r.line
		d.ceiling, err = oneLimit(d.ceiling, rest)
	default:
		err = d.outline.record(code, rest)
	}
	if err != nil {
		r.fault("%s: %w", code, err)
	}
}

// oneLimit reads a limit that must not have been given before.
func oneLimit(before *Limit, s string) (*Limit, error) {
	if before != nil {
		return before, fmt.Errorf("%.*q: the second of this volume: want one", maxFaultText, s)
	}
	l, err := ParseLimit(s)
	return &l, err
}

// finish ends the volume that has begun, if there is one.
func (r *openAir) finish() {
	if !r.open {
		return
	}
	r.open = false
	d, end := &r.draft, r.line
	r.line = d.line
	defer func() { r.line = end }()
	if d.floor == nil {
		r.fault("volume %.40q has no AL: want its floor", d.name)
	}
	if d.ceiling == nil {
		r.fault("volume %.40q has no AH: want its ceiling", d.name)
	}
	if d.faulty {
		return
	}
	area, err := d.outline.shapes()
	if err != nil {
		r.fault("volume %.40q: %w", d.name, err)
		return
	}
	if err := checkLimits(*d.floor, *d.ceiling); err != nil {
		r.line = d.floorLine
		r.fault("volume %.40q: %w", d.name, err)
		return
	}
	if d.name == "" {
		d.name = fmt.Sprintf("%s, line %d", r.file, d.line)
	}
	r.volumes = append(r.volumes, newVolume(d.name, d.kind, *d.floor, *d.ceiling, area))
}

// record takes in what draws the outline.
func (o *outline) record(code, rest string) error {
	switch code {
	case "V":
		return o.variable(rest)
	case "DP":
		p, err := position(rest)
		if err != nil {
			return err
		}
		return o.corner(p)
	case "DY":
		p, err := position(rest)
		if err != nil {
			return err
		}
		return o.airwayPoint(p)
	case "DC":
		radius, err := miles(rest)
		if err != nil {
			return err
		}
		return o.circle(radius)
	case "DA":
		v, err := numbers(rest, 3)
		if err != nil {
			return err
		}
		return o.arc(v[0]*nauticalMile, v[1], v[2])
	case "DB":
		from, to, ok := strings.Cut(rest, ",")
		if !ok {
			return fmt.Errorf("%.40q: want two positions with a comma between them", rest)
		}
		var ends [2]geo.Point
		for i, s := range [...]string{from, to} {
			p, err := position(s)
			if err != nil {
				return err
			}
			ends[i] = p
		}
		return o.between(ends[0], ends[1])
	}
	return fmt.Errorf("%.40q: not known: want AC, AN, AL, AH, V, DP, DA, DB, DC or DY", rest)
}

// variable takes in V.
func (o *outline) variable(rest string) error {
	name, value, ok := strings.Cut(rest, "=")
	name, value = strings.ToUpper(strings.TrimSpace(name)), strings.TrimSpace(value)
	if !ok {
		return fmt.Errorf("%.40q: want X=, D= or W= and a value", rest)
	}
	switch name {
	case "X":
		p, err := position(value)
		o.centre, o.hasCentre = p, err == nil
		return err
	case "D":
		if value != "+" && value != "-" {
			return fmt.Errorf("D=%.40q: want + (clockwise) or - (anticlockwise)", value)
		}
		o.clockwise = value == "+"
		return nil
	case "W":
		width, err := miles(value)
		o.width = width
		return err
	case "T", "Z":
		return nil
	}
	return fmt.Errorf("%.40q: want X=, D= or W= and a value", rest)
}
