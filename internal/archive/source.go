package archive

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"sync"
	"time"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// Source is one forecast in files: GRIB2 files of any names, or a packed cube.
// It is for one goroutine at a time. Close it after use.
type Source struct {
	names    []string
	handles  handles
	forecast *wind.Forecast // of GRIB2 files
	cube     *cube.Cube
	mapped   *mapped  // what cube reads
	warnings []string // about files and fields that were left out
}

// Choice says which forecast is wanted where files hold several.
type Choice struct {
	Cycle time.Time // UTC; zero for the only one
}

// Open looks at the headers of files and folders, and finds one forecast in
// them: what a file is called does not matter. A single cube is opened as one.
//
// A damaged file is an error, even if part of it could be read: a download that
// broke off lacks levels that a flight may need. So are files of several
// forecasts, unless the choice names one. Files without usable winds are an error that
// wraps wind.ErrNoWind. In folders, files that hold no GRIB2 at all are passed
// over with a warning, and so are fields of a kind that cannot be unpacked.
// Every error names the file.
func Open(ctx context.Context, names []string, choice Choice) (*Source, error) {
	files, err := find(names)
	if err != nil {
		return nil, err
	}
	if len(files) == 0 {
		return nil, fmt.Errorf("no forecast files: %w", wind.ErrNoWind)
	}
	s := &Source{names: names}
	if len(files) == 1 {
		if m, ok, err := openCube(files[0].name); ok || err != nil {
			if err != nil {
				return nil, fmt.Errorf("%s: %w", files[0].name, err)
			}
			return s.open(m)
		}
	}
	s.handles.files = files
	var index wind.Index
	var none passedOver
	for i := range files {
		if err := ctx.Err(); err != nil {
			return nil, errors.Join(err, s.Close())
		}
		if err := s.look(&index, int32(i), &none); err != nil {
			return nil, errors.Join(err, s.Close())
		}
	}
	s.warnings = append(s.warnings, none.warnings()...)
	if s.forecast, err = choose(&index, choice); err != nil {
		errs := []error{fmt.Errorf("%s: %w", some(names), err)}
		for _, w := range s.warnings { // what was left out may be why
			errs = append(errs, errors.New(w))
		}
		return nil, errors.Join(append(errs, s.Close())...)
	}
	return s, nil
}

// open reads a cube's header.
func (s *Source) open(m *mapped) (*Source, error) {
	c, err := cube.Open(m, m.size)
	if err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", m.name, err), m.close())
	}
	s.cube, s.mapped = c, m
	return s, nil
}

// Close closes the files.
func (s *Source) Close() error {
	if s.mapped != nil {
		return s.mapped.close()
	}
	return s.handles.close()
}

// Fields unpacks a part of the forecast, a field for each member, and says in
// whole sentences what the forecast lacks.
func (s *Source) Fields(ctx context.Context, p wind.Part) ([]*wind.Field, []string, error) {
	var fields []*wind.Field
	var lacks []string
	var err error
	if s.cube != nil {
		fields, lacks, err = wind.FromCubeShared(s.cube, p, ctx.Err, inRuns)
	} else {
		fields, lacks, err = s.forecast.Fields(p, s.fetch(ctx))
	}
	if err != nil {
		if errors.Is(err, ctx.Err()) && ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		return nil, nil, s.blame(err)
	}
	return fields, append(append([]string(nil), s.warnings...), lacks...), nil
}

// inRuns does n pieces of work in a run of them for each processor, all at once.
func inRuns(n int, do func(from, to int) error) error {
	runs := min(runtime.GOMAXPROCS(0), n)
	errs := make([]error, runs)
	var group sync.WaitGroup
	for i := range runs {
		group.Go(func() { errs[i] = do(i*n/runs, (i+1)*n/runs) })
	}
	group.Wait()
	return cmp.Or(errs...)
}

// fetch finds fields again until the context is done.
func (s *Source) fetch(ctx context.Context) wind.Fetch {
	return func(at wind.Ref) (*grib.Field, error) {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		return s.handles.fetch(at)
	}
}

// look takes a file's headers into the index.
func (s *Source) look(index *wind.Index, i int32, none *passedOver) error {
	file := s.handles.files[i]
	o, err := s.handles.at(i)
	if err != nil {
		return err
	}
	count, refused, first := 0, 0, error(nil)
	for f, err := range grib.Scan(o.file, o.size) {
		if err != nil {
			if begins(o.file, cube.Magic) {
				return fmt.Errorf("%s: a cube among other files: want one cube alone, or GRIB2 files", file.name)
			}
			if count == 0 && !file.named && !begins(o.file, "GRIB") {
				none.add(file.name, err)
				return nil
			}
			return fmt.Errorf("%s: %w", file.name, err)
		}
		count++
		if err := f.Supported(); err != nil && wind.Wanted(f) {
			if refused++; first == nil {
				first = err
			}
			continue
		}
		at := wind.Ref{Offset: f.Offset, File: i, Message: int32(f.Message), Field: int32(f.Index)}
		if err := index.Add(f, at); err != nil {
			return fmt.Errorf("%s: %w", file.name, err)
		}
	}
	if refused > 0 {
		s.warnings = append(s.warnings, fmt.Sprintf("%s: fields left out that cannot be read here: %d, the first of them: %v.", file.name, refused, first))
	}
	return nil
}

// begins reports whether a file's first octets are the given ones.
func begins(r io.ReaderAt, with string) bool {
	head := make([]byte, len(with))
	n, _ := r.ReadAt(head, 0)
	return string(head[:n]) == with
}

// passedOver are files of a folder that hold no GRIB2.
type passedOver struct {
	count int
	name  string
	first error
}

func (p *passedOver) add(name string, err error) {
	if p.count++; p.count == 1 {
		p.name, p.first = name, err
	}
}

func (p *passedOver) warnings() []string {
	if p.count == 0 {
		return nil
	}
	return []string{fmt.Sprintf("Files passed over that hold no GRIB2 message: %d, the first of them %s: %v.", p.count, p.name, p.first)}
}

// choose picks the one forecast that is wanted.
func choose(index *wind.Index, c Choice) (*wind.Forecast, error) {
	found := index.Forecasts()
	var fit []*wind.Forecast
	var texts []string
	for _, f := range found {
		texts = append(texts, fmt.Sprintf("centre %d, cycle %s", f.Centre, f.Cycle.Format(time.RFC3339)))
		if c.Cycle.IsZero() || f.Cycle.Equal(c.Cycle) {
			fit = append(fit, f)
		}
	}
	const most = 6
	if len(texts) > most {
		texts = append(texts[:most], fmt.Sprintf("and %d more", len(texts)-most))
	}
	switch {
	case len(found) == 0:
		return nil, index.NoWinds()
	case len(fit) == 0:
		return nil, fmt.Errorf("no forecast of cycle %s: want one of those there: %s", c.Cycle.Format(time.RFC3339), strings.Join(texts, "; "))
	case len(fit) > 1:
		return nil, fmt.Errorf("%d forecasts: %s: want the files of one", len(fit), strings.Join(texts, "; "))
	}
	return fit[0], nil
}

// some names files in a line of bounded length.
func some(files []string) string {
	if len(files) <= 3 {
		return strings.Join(files, ", ")
	}
	return fmt.Sprintf("%s and %d more", files[0], len(files)-1)
}
