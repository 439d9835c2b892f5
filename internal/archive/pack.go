package archive

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// Holding is what a source holds.
type Holding struct {
	Centre   uint16
	Cycle    time.Time
	Grid     string
	Members  []wind.Member
	Steps    []time.Duration
	Levels   []float64 // Pa
	Surface  []wind.Quantity
	Terrain  bool
	Warnings []string // what is missing, left out or joined, in whole sentences
}

// Contents is what GRIB2 files hold that can be flown on.
func (s *Source) Contents() (Holding, error) {
	if s.cube != nil {
		return Holding{}, fmt.Errorf("%s: a cube already: want GRIB2 files", some(s.names))
	}
	c, err := s.forecast.Contents()
	if err != nil {
		return Holding{}, s.blame(err)
	}
	return Holding{
		Centre: s.forecast.Centre, Cycle: s.forecast.Cycle, Grid: c.Grid.String(),
		Members: c.Members, Steps: c.Steps, Levels: c.Levels, Surface: c.Surface, Terrain: c.Terrain,
		Warnings: append(append([]string(nil), s.warnings...), c.Lacks...),
	}, nil
}

// Packed is a cube that was written.
type Packed struct {
	File string
	Size int64 // octets
	Axes cube.Axes
}

// Pack writes what lies in and around a box, all members and steps, as a cube.
// It is written whole beside its place and put there at the end, so that no
// reader ever sees half of one. progress is told which share is done.
func (s *Source) Pack(ctx context.Context, box geo.Box, name string, progress func(share float64)) (p Packed, err error) {
	if err := s.mayReplace(name); err != nil {
		return Packed{}, err
	}
	file, err := os.CreateTemp(filepath.Dir(name), "."+filepath.Base(name)+".*")
	if err != nil {
		return Packed{}, fmt.Errorf("%s: %w", name, errors.Unwrap(err))
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, ignoreClosed(file.Close()), os.Remove(file.Name()))
		}
	}()
	written := sink{to: file}
	out := bufio.NewWriterSize(&written, 1<<20)
	axes, err := s.forecast.Pack(out, wind.Part{Box: box}, attribution(s.forecast.Centre), s.fetch(ctx), progress)
	if err != nil {
		switch {
		case ctx.Err() != nil:
			return Packed{}, ctx.Err()
		case written.err != nil:
			return Packed{}, fmt.Errorf("%s: %w", name, written.err)
		}
		return Packed{}, s.blame(err)
	}
	if err := errors.Join(out.Flush(), file.Chmod(0o644), file.Sync(), file.Close()); err != nil {
		return Packed{}, fmt.Errorf("%s: %w", name, err)
	}
	if err := os.Rename(file.Name(), name); err != nil {
		return Packed{}, fmt.Errorf("%s: %w", name, err)
	}
	return Packed{File: name, Size: axes.Size(), Axes: axes}, nil
}

// sink keeps the error of a write apart from those of reading.
type sink struct {
	to  *os.File
	err error
}

func (s *sink) Write(b []byte) (int, error) {
	n, err := s.to.Write(b)
	var path *os.PathError
	if errors.As(err, &path) {
		s.err = path.Err // the caller names the file
	}
	return n, err
}

// mayReplace refuses to write over what is there, unless that is a cube: it may
// be one of the files that are packed, or the plan.
func (s *Source) mayReplace(name string) error {
	if name == "" {
		return errors.New("no name for the cube: want one")
	}
	info, err := os.Lstat(name)
	switch {
	case err != nil:
		return nil // nothing is there, or creating will say what is wrong
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s: is a %s: want the name of a file", name, kind(info))
	case info.Size() == 0:
		return nil
	}
	file, _, err := open(name, maxForecastFile)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	is := begins(file, cube.Magic)
	if err := file.Close(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if !is {
		return fmt.Errorf("%s: is there already, and is no cube: want another name", name)
	}
	return nil
}

func ignoreClosed(err error) error {
	if errors.Is(err, os.ErrClosed) {
		return nil
	}
	return err
}

// attribution is whose a centre's open forecasts are and on what terms they
// may be used.
func attribution(centre uint16) string {
	switch centre {
	case 7:
		return "US National Centers for Environmental Prediction, public domain; packed by thistledown."
	case 98:
		return "European Centre for Medium-Range Weather Forecasts, open data, CC-BY-4.0; packed by thistledown, not endorsed by the Centre."
	}
	return ""
}

// blame names the files in an error, and says what was left out if that may
// be why.
func (s *Source) blame(err error) error {
	errs := []error{fmt.Errorf("%s: %w", some(s.names), err)}
	if errors.Is(err, wind.ErrNoWind) {
		for _, w := range s.warnings {
			errs = append(errs, errors.New(w))
		}
	}
	return errors.Join(errs...)
}
