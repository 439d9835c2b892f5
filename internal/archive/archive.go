// Package archive is everything that is fetched or kept: forecasts, and the
// files that plans name.
//
// It hides where these lie and how they are read from there, and hands out
// what the pure packages work with.
package archive

import (
	"errors"
	"fmt"
	"io"
	"os"
)

// maxForecastFile bounds a forecast file, octets: the largest global one in
// use holds about half of 1 GiB, a cube of many members some GiB.
const maxForecastFile = 64 << 30

// open opens a regular file of at most the given size. It looks before it
// opens: to open a pipe would wait for whoever writes to it.
func open(name string, limit int64) (*os.File, int64, error) {
	info, err := os.Stat(name)
	if err != nil {
		return nil, 0, errors.Unwrap(err) // the caller names the file
	}
	if !info.Mode().IsRegular() {
		return nil, 0, fmt.Errorf("is a %s: want a file", kind(info))
	}
	file, err := os.Open(name) //nolint:gosec // the user names the file
	if err != nil {
		return nil, 0, errors.Unwrap(err)
	}
	if info, err = file.Stat(); err == nil && info.Size() > limit {
		err = fmt.Errorf("%d octets: want at most %d", info.Size(), limit)
	}
	if err != nil {
		return nil, 0, errors.Join(err, file.Close())
	}
	return file, info.Size(), nil
}

func kind(info os.FileInfo) string {
	switch {
	case info.IsDir():
		return "folder"
	case info.Mode()&os.ModeSymlink != 0:
		return "link"
	}
	return "device or pipe"
}

// Look opens a file of at most the given size in octets for as long as use looks
// at it. Its errors leave it to the caller to name the file.
func Look(name string, limit int64, use func(file io.ReaderAt, size int64) error) (err error) {
	file, size, err := open(name, limit)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	return use(file, size)
}

// ReadFile reads a whole file of at most the given size in octets. Its errors
// leave it to the caller to name the file.
func ReadFile(name string, limit int64) (content []byte, err error) {
	file, size, err := open(name, limit)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	content = make([]byte, size)
	if _, err := io.ReadFull(file, content); err != nil {
		return nil, err
	}
	return content, nil
}
