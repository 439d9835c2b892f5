package archive

import (
	"errors"
	"fmt"
	"io"
	"os"

	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// maxHandles is how many files are kept open: an ensemble's steps are spread
// over two, and a system may allow no more than some hundreds.
const maxHandles = 8

// handles opens files again when they are read from.
type handles struct {
	files []found
	open  map[int32]handle
	order []int32 // opened last is last

	// The fields of the message that was read last: many fetch from one.
	last   wind.Ref
	fields []*grib.Field
}

type handle struct {
	file *os.File
	size int64
}

// at opens a file, or finds it open.
func (h *handles) at(i int32) (handle, error) {
	if o, ok := h.open[i]; ok {
		return o, nil
	}
	if len(h.order) == maxHandles {
		oldest := h.order[0]
		h.order = h.order[1:]
		o := h.open[oldest]
		delete(h.open, oldest)
		h.fields = nil // they may read from it
		if err := o.file.Close(); err != nil {
			return handle{}, fmt.Errorf("%s: %w", h.files[oldest].name, err)
		}
	}
	file, size, err := open(h.files[i].name, maxForecastFile)
	if err != nil {
		return handle{}, fmt.Errorf("%s: %w", h.files[i].name, err)
	}
	if h.open == nil {
		h.open = map[int32]handle{}
	}
	h.open[i] = handle{file, size}
	h.order = append(h.order, i)
	return h.open[i], nil
}

// fetch finds a field again.
func (h *handles) fetch(at wind.Ref) (*grib.Field, error) {
	name := h.files[at.File].name
	if h.fields == nil || h.last.File != at.File || h.last.Offset != at.Offset {
		fields, err := h.message(at)
		if err != nil {
			return nil, err
		}
		h.last, h.fields = at, fields
	}
	if i := int(at.Field) - 1; i >= 0 && i < len(h.fields) {
		return h.fields[i], nil
	}
	return nil, fmt.Errorf("%s: message %d has no field %d: changed since it was opened", name, at.Message, at.Field)
}

// message reads the headers of a message again.
func (h *handles) message(at wind.Ref) ([]*grib.Field, error) {
	name := h.files[at.File].name
	o, err := h.at(at.File)
	if err != nil {
		return nil, err
	}
	rest := o.size - at.Offset
	if rest <= 0 {
		return nil, fmt.Errorf("%s: cut short since it was opened", name)
	}
	var fields []*grib.Field
	for f, err := range grib.Scan(io.NewSectionReader(o.file, at.Offset, rest), rest) {
		if err != nil {
			return nil, fmt.Errorf("%s: message %d: changed since it was opened: %w", name, at.Message, err)
		}
		if f.Message > 1 {
			break
		}
		f.Message, f.Offset = int(at.Message), at.Offset // as counted from the file's beginning
		fields = append(fields, f)
	}
	return fields, nil
}

// close closes what is open.
func (h *handles) close() error {
	var errs []error
	for _, o := range h.open {
		errs = append(errs, o.file.Close())
	}
	h.open, h.order = nil, nil
	return errors.Join(errs...)
}
