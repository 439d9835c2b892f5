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
	"strings"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// maxForecastFile bounds a forecast file, octets: the largest global one in
// use holds about half of 1 GiB.
const maxForecastFile = 4 << 30

// Forecast reads the GRIB2 files of one forecast, in any order, and keeps what
// lies in and around the box. It also says in whole sentences what the
// forecast lacks.
//
// A damaged file is an error, even if part of it could be read: a download that
// broke off lacks levels that a flight may need. So are files of different
// forecasts. Files without usable winds are an error that wraps wind.ErrNoWind.
// Fields of a kind that cannot be unpacked are left out with a warning. Every
// error names the file.
func Forecast(files []string, box geo.Box) (*wind.Field, []string, error) {
	b := wind.NewBuilder(box)
	var warnings []string
	for _, name := range files {
		more, err := addFile(b, name)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", name, err)
		}
		warnings = append(warnings, more...)
	}
	f, more, err := b.Field()
	if err != nil {
		// What was left out may be why.
		errs := []error{fmt.Errorf("%s: %w", some(files), err)}
		for _, w := range warnings {
			errs = append(errs, errors.New(w))
		}
		return nil, nil, errors.Join(errs...)
	}
	return f, append(warnings, more...), nil
}

// some names files in a line of bounded length.
func some(files []string) string {
	if len(files) <= 3 {
		return strings.Join(files, ", ")
	}
	return fmt.Sprintf("%s and %d more files", files[0], len(files)-1)
}

// addFile adds one file's fields, and says what it left out.
func addFile(b *wind.Builder, name string) (warnings []string, err error) {
	file, size, err := open(name, maxForecastFile)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	refused, first := 0, error(nil)
	for f, err := range grib.Scan(file, size) {
		if err != nil {
			return nil, err
		}
		if !wind.Wanted(f) {
			continue
		}
		if err := f.Supported(); err != nil {
			if refused++; first == nil {
				first = err
			}
			continue
		}
		if err := b.Add(f); err != nil {
			return nil, err
		}
	}
	if refused > 0 {
		warnings = append(warnings, fmt.Sprintf("%s: fields left out that cannot be read here: %d, the first of them: %v.", name, refused, first))
	}
	return warnings, nil
}

// open opens a regular file of at most the given size.
func open(name string, limit int64) (*os.File, int64, error) {
	file, err := os.Open(name) //nolint:gosec // the user names the file
	if err != nil {
		return nil, 0, errors.Unwrap(err) // the caller names the file
	}
	info, err := file.Stat()
	if err == nil {
		switch {
		case !info.Mode().IsRegular():
			err = fmt.Errorf("is a %s: want a file", kind(info))
		case info.Size() > limit:
			err = fmt.Errorf("%d octets: want at most %d", info.Size(), limit)
		}
	}
	if err != nil {
		return nil, 0, errors.Join(err, file.Close())
	}
	return file, info.Size(), nil
}

func kind(info os.FileInfo) string {
	if info.IsDir() {
		return "folder"
	}
	return "device or pipe"
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
