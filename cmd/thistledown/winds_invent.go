package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"example.org/thistledown/internal/synth"
)

// windsInvent is the command of that name.
type windsInvent struct {
	Out     string  `required:"" placeholder:"PATH" help:"What to write: one file if it ends in .grib2, .grb2, .grib or .grb, else a folder with a file for each step."`
	Box     string  `required:"" placeholder:"BOX" help:"Where, in degrees: south=44,north=62,west=-5,east=25; west greater than east is a box across the date line."`
	Start   string  `required:"" placeholder:"TIME" help:"The cycle, a full hour, RFC 3339, such as 2026-03-01T00:00:00Z."`
	Spacing float64 `default:"0.5" placeholder:"DEGREES" help:"Of the grid, a whole part of 180 (${default})."`
	Hours   int     `default:"168" placeholder:"N" help:"How far ahead (${default})."`
	Every   int     `default:"3" placeholder:"N" help:"Hours from step to step (${default})."`
	Members string  `default:"0" placeholder:"FROM..TO" help:"Members of an ensemble, such as 0..30; 0 alone is a single forecast (${default})."`
	Seed    uint64  `default:"1" placeholder:"N" help:"Which weather; the same seed gives the same octets (${default})."`
}

// Run does it.
func (w *windsInvent) Run(ctx context.Context, s *streams) error {
	f, err := w.forecast()
	if err != nil {
		return err
	}
	bar := newBar(s.err, "inventing", f.Steps())
	size := int64(0)
	step := func(out io.Writer, k int) error {
		to := bufio.NewWriterSize(&counter{out, ctx.Err, &size}, 1<<16)
		if err := errors.Join(f.WriteStep(to, k), to.Flush()); err != nil {
			return err
		}
		bar.show(k + 1)
		return nil
	}
	folder, outputs := w.outputs(f, step)
	err = writeAll(folder, outputs)
	bar.clear()
	if err != nil {
		return err
	}
	grid := f.Grid()
	_, err = fmt.Fprintf(s.out, `INVENTED WEATHER in %s: %s, %d octets. It is made up; nothing must be flown on it. Each message says so.
Seed %d, cycle %s, steps of %d h to %d h, members %d to %d
Grid: %d × %d points, %g° apart, from latitude %g, longitude %g
`, w.Out, files(len(outputs)), size, f.Seed, f.Start.UTC().Format(time.RFC3339), f.Every, f.Hours, f.First, f.Last,
		grid.NX, grid.NY, f.Spacing, grid.Lat0, grid.Lon0)
	return err
}

func files(n int) string {
	if n == 1 {
		return "1 file"
	}
	return strconv.Itoa(n) + " files"
}

// forecast is what the flags say.
func (w *windsInvent) forecast() (synth.Forecast, error) {
	f := synth.Forecast{Seed: w.Seed, Spacing: w.Spacing, Hours: w.Hours, Every: w.Every}
	var err error
	if f.Box, err = parseBox(w.Box); err != nil {
		return f, fmt.Errorf("--box %s: %w", w.Box, err)
	}
	if f.Start, err = time.Parse(time.RFC3339, w.Start); err != nil {
		return f, fmt.Errorf("--start %s: want a time such as 2026-03-01T00:00:00Z", w.Start)
	}
	if f.First, f.Last, err = parseMembers(w.Members); err != nil {
		return f, fmt.Errorf("--members %s: %w", w.Members, err)
	}
	return f, f.Check()
}

// parseMembers reads 0..30, or one number.
func parseMembers(s string) (first, last int, err error) {
	from, to, ranged := strings.Cut(s, "..")
	if !ranged {
		to = from
	}
	first, err1 := strconv.Atoi(from)
	last, err2 := strconv.Atoi(to)
	if err1 != nil || err2 != nil {
		return 0, 0, errors.New("want such as 0..30")
	}
	return first, last, nil
}

// outputs is the files to write, and the folder that they lie in.
func (w *windsInvent) outputs(f synth.Forecast, step func(out io.Writer, k int) error) (folder string, all []output) {
	switch strings.ToLower(filepath.Ext(w.Out)) {
	case ".grib2", ".grb2", ".grib", ".grb":
		return filepath.Dir(w.Out), []output{{filepath.Base(w.Out), func(out io.Writer) error {
			for k := range f.Steps() {
				if err := step(out, k); err != nil {
					return err
				}
			}
			return nil
		}}}
	}
	for k := range f.Steps() {
		name := fmt.Sprintf("invented.%s.f%03d.grib2", f.Start.UTC().Format("20060102t15z"), int(f.Step(k).Hours()))
		all = append(all, output{name, func(out io.Writer) error { return step(out, k) }})
	}
	return w.Out, all
}

// counter counts the octets that pass through it, until it is stopped.
type counter struct {
	to   io.Writer
	stop func() error // nil to go on
	n    *int64
}

// Write implements io.Writer.
func (c *counter) Write(b []byte) (int, error) {
	if err := c.stop(); err != nil {
		return 0, err
	}
	n, err := c.to.Write(b)
	*c.n += int64(n)
	return n, err
}
