package fetch

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// maxRange is the most octets that are asked for at once, where more than one
// message fits in.
const maxRange = 16 << 20

// maxStaged bounds what is kept of one file, octets.
const maxStaged = 2 << 30

// job is one file of a forecast, and where its crops are put.
type job struct {
	remote   remote
	index    string // its address
	filter   string // address of what cuts it to a box, but for filterAddress's holes; "": ranges are fetched
	crops    string // file
	control  bool
	messages []message
	octets   int64  // of the messages, as far as the index tells; of a filter estimated until they are here
	sum      string // of the index
}

// sumFile holds the sum of the index that crops were fetched by. Its name begins
// with a dot, so that it is taken for no forecast.
func (j *job) sumFile() string {
	return filepath.Join(filepath.Dir(j.crops), "."+filepath.Base(j.crops)+".sum")
}

func sumOf(text []byte) string {
	s := sha256.Sum256(text)
	return hex.EncodeToString(s[:])
}

// resume opens the crops of a job, cuts off what was left half written, and
// returns the messages that are still wanted. Crops of another index, and so
// perhaps of another file, are thrown away.
func (j *job) resume() (*os.File, []message, error) {
	if old, err := os.ReadFile(j.sumFile()); err != nil || string(old) != j.sum {
		if err := os.Remove(j.crops); err != nil && !errors.Is(err, os.ErrNotExist) {
			return nil, nil, err
		}
		if err := os.WriteFile(j.sumFile(), []byte(j.sum), 0o600); err != nil {
			return nil, nil, err
		}
	}
	file, err := os.OpenFile(j.crops, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, nil, err
	}
	have := map[ident]bool{}
	kept, err := io.ReadAll(io.LimitReader(file, maxStaged))
	if err == nil {
		end := messages(kept, func(f *grib.Field) { have[same(identOf(f))] = true })
		err = errors.Join(file.Truncate(end), seek(file, end))
	}
	if err != nil {
		return nil, nil, errors.Join(err, file.Close())
	}
	var left []message
	for _, m := range j.messages {
		if !j.has(have, m) {
			left = append(left, m)
		}
	}
	return file, left, nil
}

func seek(file *os.File, to int64) error {
	_, err := file.Seek(to, io.SeekStart)
	return err
}

// has reports whether all of a message's fields are there.
func (j *job) has(have map[ident]bool, m message) bool {
	for _, i := range m.fields {
		if j.control && i.member.Kind == wind.Single {
			i.member = wind.Member{Kind: wind.Control}
		}
		if !have[same(i)] {
			return false
		}
	}
	return true
}

// batch is how many of the first messages are asked for at once: neighbours
// without a gap, up to maxRange octets.
func batch(left []message) int {
	n, octets := 1, left[0].length
	for n < len(left) && left[n-1].length > 0 && left[n-1].first+left[n-1].length == left[n].first &&
		octets+left[n].length <= maxRange && left[n].length > 0 {
		octets += left[n].length
		n++
	}
	return n
}

// fetch brings what is missing of a job. came is told of octets as they come, and
// of those that had come before.
func (j *job) fetch(ctx context.Context, w *web, c *cropper, came func(octets int64, before bool)) (err error) {
	file, left, err := j.resume()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	c.control = j.control
	leftOctets := int64(0)
	for _, m := range left {
		leftOctets += m.length
	}
	came(j.octets-leftOctets, true)
	for len(left) > 0 {
		n := batch(left)
		part := left[:n]
		err := w.octets(ctx, &j.remote, func() span {
			last := part[len(part)-1]
			if last.length == 0 {
				return span{part[0].first, -1}
			}
			return span{part[0].first, last.first + last.length - 1}
		}, func(body io.Reader, length int64) error {
			for len(part) > 0 {
				size := part[0].length
				if size == 0 {
					size = length // the last of the file, asked for alone
				}
				if err := j.take(w.c, file, c, io.LimitReader(body, size), size, part[0]); err != nil {
					return err
				}
				came(part[0].length, false)
				part = part[1:]
			}
			return nil
		})
		if err != nil {
			return err
		}
		left = left[n:]
	}
	return nil
}

// take reads a message, and writes what is kept of it behind what is there.
func (j *job) take(c Client, file *os.File, crop *cropper, body io.Reader, size int64, want message) error {
	if size > maxMessage {
		return fmt.Errorf("%w: a message of %d octets: want at most %d", errWrong, size, int64(maxMessage))
	}
	octets := make([]byte, size)
	if _, err := io.ReadFull(body, octets); err != nil {
		return err
	}
	kept, err := crop.crop(nil, octets, want)
	if err != nil {
		return fmt.Errorf("octets %d to %d: %w", want.first, want.first+size-1, err)
	}
	if err := c.put(file, kept); err != nil {
		return diskError{err}
	}
	return nil
}

// diskError is an error of writing: no other server helps.
type diskError struct{ err error }

func (d diskError) Error() string { return d.err.Error() }
func (d diskError) Unwrap() error { return d.err }
