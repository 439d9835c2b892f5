package archive

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/wind"
)

// Row is one field of a file or cube, or what is wrong at one place of it.
type Row struct {
	File           string
	Message, Field int // number in the file, and in the message, from 1; of a cube only Field

	Centre    uint16 // WMO Common Code Table C-11
	Cycle     time.Time
	Parameter string // abbreviation, or the three numbers of the code tables
	Surface   grib.Surface
	Level     float64       // in the SI unit of Surface; NaN if it has none
	Layer     bool          // from Level on to another surface
	Step      time.Duration // after Cycle; the end of an interval
	Member    wind.Member
	Grid      string // in words
	Packing   string // such as "5.3"
	Points    int
	Flown     bool // flights make use of it

	Unsupported error  // why the values cannot be had, of a whole field
	Broken      error  // damage, or no forecast at all; then only File, and Message if it is known
	Stats       *Stats // nil unless asked for and to be had
}

// Stats sum up a field's values.
type Stats struct {
	Missing        int
	Min, Max, Mean float64 // in the parameter's SI unit; NaN where all are missing
}

// cubePacking is the packing of a row of a cube.
const cubePacking = "cube"

// List goes through the fields of files, folders and cubes, in order, and calls
// yield for each; what is damaged or no forecast is a row too, and listing goes
// on behind it. With stats each field is unpacked. The error is yield's, that of
// a file that cannot be opened, or the context's.
func List(ctx context.Context, names []string, stats bool, yield func(Row) error) error {
	l := lister{stats: stats, yield: yield}
	return l.list(ctx, names)
}

func (l *lister) list(ctx context.Context, names []string) error {
	files, err := find(names)
	if err != nil {
		return err
	}
	for _, f := range files {
		m, ok, err := openCube(f.name)
		switch {
		case err != nil:
			err = fmt.Errorf("%s: %w", f.name, err)
		case ok:
			err = errors.Join(l.cube(ctx, m), m.close())
		default:
			err = l.file(ctx, f.name)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// lister lists one file after the other.
type lister struct {
	stats  bool
	index  *wind.Index // also to be told of each field; may be nil
	yield  func(Row) error
	unpack grib.Unpacker
	values []float32
}

func (l *lister) file(ctx context.Context, name string) (err error) {
	file, size, err := open(name, maxForecastFile)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	for f, fault := range grib.Scan(file, size) {
		if err := ctx.Err(); err != nil {
			return err
		}
		row := Row{File: name, Broken: fault}
		if f != nil {
			row = rowOf(name, f)
			if l.index != nil {
				if err := l.index.Add(f, wind.Ref{}); err != nil {
					return fmt.Errorf("%s: %w", name, err)
				}
			}
			if l.stats && row.Unsupported == nil {
				row.Stats, row.Broken = l.sum(f)
			}
		}
		if err := l.yield(row); err != nil {
			return err
		}
	}
	return nil
}

// rowOf is what a field's header says.
func rowOf(name string, f *grib.Field) Row {
	return Row{
		File: name, Message: f.Message, Field: f.Index,
		Centre: f.Centre, Cycle: f.Reference, Parameter: f.Parameter().String(),
		Surface: f.Level.Surface, Level: f.Level.Value, Layer: f.Level.Surface2 != grib.NoSurface,
		Step: f.Step, Member: wind.MemberOf(f), Grid: f.Grid.String(), Packing: fmt.Sprintf("5.%d", f.Packing), Points: f.Points,
		Flown: wind.Wanted(f), Unsupported: f.Supported(),
	}
}

// sum unpacks a field and sums it up. The mean is over the points, not by
// their areas.
func (l *lister) sum(f *grib.Field) (*Stats, error) {
	values, err := l.unpack.Values(f, l.values)
	if err != nil {
		return nil, err
	}
	l.values = values
	return sumUp(values), nil
}

func sumUp(values []float32) *Stats {
	s := Stats{Min: math.Inf(1), Max: math.Inf(-1)}
	total := 0.0
	for _, v := range values {
		x := float64(v)
		if math.IsNaN(x) {
			s.Missing++
			continue
		}
		s.Min, s.Max = min(s.Min, x), max(s.Max, x)
		total += x
	}
	s.Mean = total / float64(len(values)-s.Missing)
	if s.Missing == len(values) {
		s.Min, s.Max, s.Mean = math.NaN(), math.NaN(), math.NaN()
	}
	return &s
}

// cube lists what a cube holds, plane by plane.
func (l *lister) cube(ctx context.Context, m *mapped) error {
	c, err := cube.Open(m, m.size)
	if err != nil {
		return l.yield(Row{File: m.name, Broken: err})
	}
	n := 0
	return wind.CubeMaps(c, func(x wind.CubeMap) error {
		if err := ctx.Err(); err != nil {
			return err
		}
		n++
		row := Row{
			File: m.name, Field: n, Centre: x.Centre, Cycle: x.Cycle, Parameter: x.Parameter.String(),
			Surface: x.Surface, Level: x.Level, Step: x.Step, Member: x.Member, Grid: x.Grid, Packing: cubePacking,
			Points: x.Points, Flown: true,
		}
		if l.stats {
			values, err := x.Values()
			if err != nil {
				row.Broken = err
			} else {
				row.Stats = sumUp(values)
			}
		}
		return l.yield(row)
	})
}
