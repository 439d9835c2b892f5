package grib

import (
	"errors"
	"fmt"
	"io"
)

// headers reads headers through a small buffer, so that the sections of a
// message before its data cost one read of the file.
type headers struct {
	r     io.ReaderAt
	size  int64 // octets in the file
	start int64 // where in the file held begins
	held  []byte
	room  [512]byte // covers sections 0 to 6 of a common message
}

// take returns the n octets at offset at, with 0 ≤ n ≤ len(room) and at + n ≤
// size. They hold until the next call.
func (w *headers) take(at int64, n int) ([]byte, error) {
	if at < w.start || at+int64(n) > w.start+int64(len(w.held)) {
		w.held = w.room[:min(int64(len(w.room)), w.size-at)]
		w.start = at
		if err := readFull(w.r, w.held, at); err != nil {
			w.held = nil
			return nil, err
		}
	}
	return w.held[at-w.start:][:n], nil
}

// readFull fills b from offset at. The end of the file is an error, even where
// the reader itself takes it for a normal end.
func readFull(r io.ReaderAt, b []byte, at int64) error {
	n, err := r.ReadAt(b, at)
	if n == len(b) {
		return nil
	}
	if err == nil || errors.Is(err, io.EOF) {
		err = io.ErrUnexpectedEOF
	}
	return fmt.Errorf("reading %d octets at octet %d: got %d: %w", len(b), at, n, err)
}
