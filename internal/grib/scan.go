package grib

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"iter"
)

const (
	magic   = "GRIB" // begins a message
	trailer = "7777" // ends it

	section0 = 16 // octets of section 0
)

// Scan walks the messages of a file of the given size in octets and yields its
// fields in order. It reads only headers: sections 6 and 7 are left to Values,
// which reads r again.
//
// Padding and bulletin headings between messages are passed over. Whatever is
// wrong with a message (cut off, damaged, GRIB edition 1) is yielded as an error
// with a nil Field, that names the message, its octet in the file, what is wrong
// and what was wanted; none of its fields is yielded, and the walk goes on at the
// next "GRIB". A file without any message, an empty one or a web page, yields
// one error that says how it begins. A failure of r ends the walk with an error.
func Scan(r io.ReaderAt, size int64) iter.Seq2[*Field, error] {
	return func(yield func(*Field, error) bool) {
		if size <= 0 {
			yield(nil, errors.New("grib: the file is empty: want GRIB2 messages"))
			return
		}
		s := scanner{headers: headers{r: r, size: size}}
		if err := s.walk(yield); err != nil {
			yield(nil, fmt.Errorf("grib: %w", err))
		}
	}
}

// scanner walks one file.
type scanner struct {
	headers
	message int   // messages met so far, good or bad
	seen    bool  // whether one of them was of edition 1 or 2, hence no accident
	early   error // about the first "GRIB" before that, which text may have by accident
	last    [len(trailer)]byte
	block   []byte
}

// walk yields fields and the errors of messages; it returns an error that ends
// the walk, unless yield has ended it.
func (s *scanner) walk(yield func(*Field, error) bool) error {
	var at int64
	resync := false // whether the octets at at are the inside of a bad message
	for {
		start, g, err := s.find(at)
		if err != nil {
			return err
		}
		if !resync && s.seen && !g.legal() && !yield(nil, s.gapError(at, start)) {
			return nil
		}
		if start == s.size {
			return s.finish()
		}
		fields, end, err := s.read(start)
		if err != nil && !s.report(start, err, yield) {
			return nil
		}
		for _, f := range fields {
			if !yield(f, nil) {
				return nil
			}
		}
		at, resync = end, err != nil
	}
}

// report yields what is wrong with the message at start. Until a message of
// edition 1 or 2 has been met it holds the first such error back, since a web
// page may well say "GRIB".
func (s *scanner) report(start int64, err error, yield func(*Field, error) bool) bool {
	err = fmt.Errorf("grib: message %d at octet %d: %w", s.message, start, err)
	if !s.seen {
		if s.early == nil {
			s.early = err
		}
		return true
	}
	if s.early != nil {
		early := s.early
		s.early = nil
		if !yield(nil, early) {
			return false
		}
	}
	return yield(nil, err)
}

// finish returns what the end of the file leaves to be said.
func (s *scanner) finish() error {
	n := min(s.size, maxQuoted)
	if !s.seen {
		head, err := s.take(0, int(n))
		if err != nil {
			return err
		}
		return fmt.Errorf("no GRIB message in the file, which begins %q: want GRIB2 messages", head)
	}
	tail, err := s.take(s.size-n, int(n))
	if err != nil {
		return err
	}
	for k := len(magic) - 1; k > 0; k-- {
		if bytes.HasSuffix(tail, []byte(magic[:k])) {
			return fmt.Errorf("message %d at octet %d: cut off after %q: want a whole message", s.message+1, s.size-int64(k), magic[:k])
		}
	}
	return nil
}

func (s *scanner) gapError(at, start int64) error {
	return fmt.Errorf("grib: %d octets from octet %d on, after message %d, are neither a message nor padding nor a bulletin heading: skipped", start-at, at, s.message)
}

// read takes the message at start, where "GRIB" stands: its fields, or what is
// wrong with it, and where to look for the next one. That is the end of the
// message if its length leads to "7777", whatever lies between.
//
//	octets  field
//	1–4     "GRIB"
//	5–6     reserved (edition 1: 5–7 length of the message)
//	7       discipline, code table 0.0
//	8       edition
//	9–16    length of the message in octets
func (s *scanner) read(start int64) (fields []*Field, end int64, err error) {
	s.message++
	end = start + int64(len(magic))
	left := s.size - start
	if left < section0 {
		return nil, end, fmt.Errorf("cut off in section 0: %d octets left, want %d", left, section0)
	}
	b, err := s.take(start, section0)
	if err != nil {
		return nil, end, err
	}
	discipline, edition, length := b[6], b[7], binary.BigEndian.Uint64(b[8:])
	if edition == 1 {
		length = uint64(binary.BigEndian.Uint32(b[4:]) >> 8)
	}
	if edition != 1 && edition != 2 {
		return nil, end, fmt.Errorf("GRIB edition %d, want 2", edition)
	}
	s.seen = true
	sealed, err := s.sealed(start, length)
	if sealed {
		end = start + int64(length)
	}
	if edition == 1 {
		return nil, end, errors.New("GRIB edition 1, want 2")
	}
	if err != nil {
		return nil, end, err
	}
	m := message{
		headers: &s.headers,
		at:      start + section0,
		end:     end - int64(len(trailer)),
		next:    Field{Message: s.message, Offset: start, Discipline: discipline, source: s.r},
	}
	fields, err = m.walk()
	return fields, end, err
}

// sealed reports whether the message of the given length at start lies within
// the file and ends in "7777", and if not, why.
func (s *scanner) sealed(start int64, length uint64) (bool, error) {
	left := uint64(s.size - start)
	if length < section0+uint64(len(trailer)) {
		return false, fmt.Errorf("section 0: length %d octets: want at least %d", length, section0+len(trailer))
	}
	if length > left {
		return false, fmt.Errorf("cut off: %d octets left in the file, want the %d of its section 0", left, length)
	}
	if err := readFull(s.r, s.last[:], start+int64(length)-int64(len(trailer))); err != nil {
		return false, err
	}
	if string(s.last[:]) != trailer {
		return false, fmt.Errorf("section 0: length %d octets leads to %q: want %q", length, s.last[:], trailer)
	}
	return true, nil
}

// find returns where the next "GRIB" at or after at stands, or the size of the
// file if there is none, and what lies between.
func (s *scanner) find(at int64) (int64, gap, error) {
	var g gap
	if s.size-at >= int64(len(magic)) {
		b, err := s.take(at, len(magic))
		if err != nil || string(b) == magic {
			return at, g, err
		}
	}
	if s.block == nil {
		s.block = make([]byte, 16<<10)
	}
	for at < s.size {
		b := s.block[:min(int64(len(s.block)), s.size-at)]
		if err := readFull(s.r, b, at); err != nil {
			return at, g, err
		}
		if k := bytes.Index(b, []byte(magic)); k >= 0 {
			g.add(b[:k])
			return at + int64(k), g, nil
		}
		if at+int64(len(b)) < s.size {
			b = b[:len(b)-len(magic)+1] // the last three may begin a "GRIB"
		}
		g.add(b)
		at += int64(len(b))
	}
	return s.size, g, nil
}

// gap is what lies between two messages: zeros, or at most two stretches of text
// (the end of one bulletin and the heading of the next). Anything else may be a
// message whose "GRIB" is damaged.
type gap struct {
	text, runs int  // octets other than zero, and stretches of them
	inRun      bool // whether the last octet was one
	foreign    bool // an octet outside International Alphabet No. 5
}

func (g *gap) add(b []byte) {
	for _, c := range b {
		if c == 0 {
			g.inRun = false
			continue
		}
		if !g.inRun {
			g.runs++
		}
		g.inRun = true
		g.text++
		g.foreign = g.foreign || c > 127
	}
}

func (g gap) legal() bool {
	return !g.foreign && g.runs <= 2 && g.text <= maxHeading
}
