package archive

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"example.org/thistledown/internal/wind"
)

// Checked is what Check found.
type Checked struct {
	Fields, Flown       int // fields, and those of them that flights make use of
	Broken, Unsupported int
	// Unusable says why there is nothing to fly on; nil if there is something.
	Unusable error
}

// Check unpacks every field of files and folders, and every block of cubes,
// and hands out a line for each thing that is broken or not supported. Neighbours
// in one file for which the reason is the same share a line.
func Check(ctx context.Context, names []string, line func(string) error) (Checked, error) {
	var c Checked
	var index wind.Index
	cubes := false
	run := faults{line: line}
	l := lister{stats: true, index: &index, yield: func(r Row) error {
		if r.Parameter != "" {
			c.Fields++
		}
		switch {
		case r.Broken != nil:
			c.Broken++
			message, why := split(r.Broken)
			return run.add(r.File, message, why)
		case r.Unsupported != nil:
			c.Unsupported++
			return run.add(r.File, r.Message, errors.Unwrap(r.Unsupported).Error())
		case r.Flown:
			c.Flown++
			cubes = cubes || r.Packing == cubePacking
		}
		return nil
	}}
	if err := errors.Join(l.list(ctx, names), run.end()); err != nil {
		return c, err
	}
	if cubes {
		return c, nil
	}
	c.Unusable = index.NoWinds()
	for _, f := range index.Forecasts() {
		if _, c.Unusable = f.Contents(); c.Unusable == nil {
			break
		}
	}
	return c, nil
}

// split tells the message in a file, which errors of package grib begin with,
// from what is wrong there; 0 where they name none.
func split(err error) (message int, why string) {
	parts := strings.SplitN(err.Error(), ": ", 3)
	if len(parts) < 3 {
		return 0, err.Error()
	}
	if n, _ := fmt.Sscanf(parts[1], "message %d", &message); n != 1 {
		return 0, err.Error()
	}
	return message, parts[2]
}

// faults are neighbours in one file that have one reason.
type faults struct {
	line        func(string) error
	file, why   string
	first, last int // messages
	count       int
}

func (f *faults) add(file string, message int, why string) error {
	if f.count > 0 && (f.file != file || f.why != why) {
		if err := f.end(); err != nil {
			return err
		}
	}
	if f.count == 0 {
		f.file, f.why, f.first = file, why, message
	}
	f.last = message
	f.count++
	return nil
}

func (f *faults) end() error {
	count := f.count
	f.count = 0
	switch {
	case count == 0:
		return nil
	case f.first == 0:
		return f.line(fmt.Sprintf("%s: %s", f.file, f.why))
	case count == 1:
		return f.line(fmt.Sprintf("%s: message %d: %s", f.file, f.first, f.why))
	}
	return f.line(fmt.Sprintf("%s: messages %d to %d: %d fields: %s", f.file, f.first, f.last, count, f.why))
}
