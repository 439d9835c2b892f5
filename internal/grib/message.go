package grib

import (
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"github.com/nilsmagnus/grib/griblib"
)

const sectionHead = 5 // octets of every section's head: 1–4 length, 5 number

// message walks the sections 1 to 7 of one message.
type message struct {
	*headers
	at, end int64 // next octet to look at; where "7777" begins

	last    byte     // number of the section before
	next    Field    // what the sections so far say of the field to come
	blame   [8]error // by section: why the values of that field cannot be had
	bitmap  segment  // the last bitmap of the message, for indicator 254
	mapped  bool     // whether there has been one
	declare bool     // whether the field to come has a bitmap of its own or reused
	fields  []*Field
}

// walk returns the fields of the message. Sections 2 to 7, 3 to 7 or 4 to 7 may
// be repeated for further fields; what is not repeated goes on being valid.
func (m *message) walk() ([]*Field, error) {
	for m.at < m.end {
		number, length, err := m.head()
		if err != nil {
			return nil, err
		}
		if !follows(m.last, number) {
			return nil, fmt.Errorf("section %d after section %d at octet %d: want the order 1, 2–7 and then 2–7, 3–7 or 4–7 again", number, m.last, m.at)
		}
		b, err := m.take(m.at, int(min(length, maxHeader)))
		if err != nil {
			return nil, err
		}
		if err := m.section(number, b, length); err != nil {
			return nil, fmt.Errorf("section %d at octet %d: %w", number, m.at, err)
		}
		m.last = number
		m.at += length
	}
	if m.last != 7 {
		return nil, fmt.Errorf("ends after section %d: want sections up to 7", m.last)
	}
	return m.fields, nil
}

// head returns number and length of the section at m.at; the section lies
// within the message.
func (m *message) head() (number byte, length int64, err error) {
	left := m.end - m.at
	if left < sectionHead {
		return 0, 0, fmt.Errorf("%d octets after section %d: want a section or the end of the message", left, m.last)
	}
	b, err := m.take(m.at, sectionHead)
	if err != nil {
		return 0, 0, err
	}
	number = b[4]
	n := binary.BigEndian.Uint32(b)
	least, known := shortest(number)
	if !known {
		return 0, 0, fmt.Errorf("section %d at octet %d: want sections 1 to 7", number, m.at)
	}
	if n < least || uint64(n) > uint64(left) {
		return 0, 0, fmt.Errorf("section %d at octet %d: length %d octets: want %d to %d, what is left of the message", number, m.at, n, least, left)
	}
	return number, int64(n), nil
}

// shortest is how long a section is at least, in octets, before its template.
func shortest(number byte) (octets uint32, known bool) {
	switch number {
	case 1:
		return 21, true
	case 2, 7:
		return sectionHead, true
	case 3:
		return 14, true
	case 4:
		return 11, true // with the first two octets of any template
	case 5:
		return 11, true
	case 6:
		return 6, true
	}
	return 0, false
}

// follows reports whether a section may come after another, 0 standing for the
// beginning.
func follows(last, number byte) bool {
	switch last {
	case 0:
		return number == 1
	case 1:
		return number == 2 || number == 3
	case 7:
		return number == 2 || number == 3 || number == 4
	}
	return number == last+1
}

// section takes one section: b its first octets, length all of it. An error
// condemns the message; what is merely not supported goes to m.blame.
func (m *message) section(number byte, b []byte, length int64) error {
	f := &m.next
	switch number {
	case 1:
		return f.identify(b)
	case 3:
		m.blame[3] = nil
		return f.locate(b, &m.blame[3])
	case 4:
		m.blame[4] = nil
		return f.describe(b, &m.blame[4])
	case 5:
		m.blame[5] = nil
		return f.represent(b, &m.blame[5])
	case 6:
		return m.cover(b[5], length)
	case 7:
		return m.complete(length)
	}
	return nil
}

// identify reads section 1.
//
//	octets  field
//	6–7     originating centre, common code table C-11
//	8–9     sub-centre
//	10–12   versions of tables, significance of reference time
//	13–19   reference time: year (2 octets), month, day, hour, minute, second
//	20–21   production status, type of data
func (f *Field) identify(b []byte) error {
	var s griblib.Section1
	if _, err := binary.Decode(b[sectionHead:], binary.BigEndian, &s); err != nil {
		return err
	}
	t, err := instant(s.ReferenceTime)
	if err != nil {
		return fmt.Errorf("reference time %w", err)
	}
	f.Centre, f.Reference = s.OriginatingCenter, t
	f.Subcentre, f.Status, f.DataType = s.OriginatingSubCenter, s.ProductionStatus, s.Type
	return nil
}

// instant converts a date and time of day, UTC, years 0 to 9999.
func instant(t griblib.Time) (time.Time, error) {
	d := time.Date(int(t.Year), time.Month(t.Month), int(t.Day), int(t.Hour), int(t.Minute), int(t.Second), 0, time.UTC)
	text := fmt.Sprintf("%04d-%02d-%02d %02d:%02d:%02d", t.Year, t.Month, t.Day, t.Hour, t.Minute, t.Second)
	if t.Year > 9999 || d.Format(time.DateTime) != text {
		return time.Time{}, fmt.Errorf("%s: want a date of the years 0 to 9999 and a time of day", text)
	}
	return d, nil
}

// cover reads section 6: octet 6 is the bitmap indicator, code table 6.0, the
// bitmap follows.
func (m *message) cover(indicator byte, length int64) error {
	const head = sectionHead + 1
	m.blame[6] = nil
	m.declare = false
	switch indicator {
	case 0:
		m.bitmap = segment{m.at + head, length - head}
		m.mapped, m.declare = true, true
	case 254:
		if !m.mapped {
			return errors.New("bitmap indicator 254 (the bitmap before): want a bitmap earlier in the message")
		}
		m.declare = true
	case 255:
	default:
		m.blame[6] = fmt.Errorf("bitmap %d (predefined by the originating centre) not supported", indicator)
	}
	return nil
}

// complete adds the field that section 7, of the given length, makes whole.
func (m *message) complete(length int64) error {
	if len(m.fields) == maxFields {
		return fmt.Errorf("field %d: want at most %d in a message", len(m.fields)+1, maxFields)
	}
	f := m.next
	f.Index = len(m.fields) + 1
	f.payload = segment{m.at + sectionHead, length - sectionHead}
	if m.declare {
		f.bitmap = m.bitmap
	}
	m.blame[7] = f.refuseSize()
	for _, err := range m.blame {
		if err != nil {
			f.refusal = err
			break
		}
	}
	if f.refusal == nil {
		if err := f.checkCount(m.declare); err != nil {
			return err
		}
	}
	m.fields = append(m.fields, &f)
	return nil
}

// refuseSize returns an error if the field is beyond the limits of this package.
func (f *Field) refuseSize() error {
	if f.Points > maxPoints {
		return fmt.Errorf("%d points: want at most %d", f.Points, maxPoints)
	}
	if n := max(f.payload.length, f.bitmap.length); n > maxPayload {
		return fmt.Errorf("%d octets of values or bitmap: want at most %d", n, maxPayload)
	}
	return nil
}

// checkCount holds the number of values against grid and bitmap.
func (f *Field) checkCount(mapped bool) error {
	if !mapped && f.stored != f.Points {
		return fmt.Errorf("%d values by section 5, %d points by section 3, no bitmap: want as many", f.stored, f.Points)
	}
	if f.stored > f.Points {
		return fmt.Errorf("%d values by section 5: want at most the %d points of section 3", f.stored, f.Points)
	}
	if mapped && f.bitmap.length*8 < int64(f.Points) {
		return fmt.Errorf("%d octets of bitmap: want a bit for each of %d points", f.bitmap.length, f.Points)
	}
	return nil
}
