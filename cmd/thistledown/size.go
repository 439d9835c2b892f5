package main

import (
	"bytes"
	"context"
	"fmt"
	"io"

	"google.golang.org/protobuf/encoding/protojson"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
)

// size is the command of that name.
type size struct {
	Plan     string   `arg:"" help:"The plan, a YAML file, of a train that was weighed." placeholder:"PLAN"`
	Set      []string `sep:"none" placeholder:"FIELD=VALUE" help:"Change a field of the plan, such as train.gas.neck_lift='2350 g'. May be given again."`
	Forecast []string `sep:"none" placeholder:"FILE" help:"A GRIB2 file, folder or cube whose air is taken, instead of the plan's. May be given again. Without any, the standard atmosphere."`
	Sweep    bool     `help:"Also say what other amounts of gas would do."`
	Out      string   `placeholder:"DIR" help:"Also write train.txt there, and of a sweep sweep.csv and sweep.svg."`
	JSON     bool     `name:"json" help:"Print the answer's message as JSON and nothing else."`
	Units    string   `default:"si" enum:"si,us" help:"Units: si or us."`
}

// Run does it.
func (z *size) Run(ctx context.Context, s *streams) error {
	units, err := quantity.ParseSystem(z.Units)
	if err != nil {
		return err
	}
	r, err := z.train(ctx, z.Set)
	if err != nil {
		return inUnits(err, units)
	}
	var b bytes.Buffer
	if len(z.Set) > 0 && !z.JSON {
		if was, err := z.train(ctx, nil); err == nil {
			err = report.WriteTrainChange(&b, was, r, units)
			if err != nil {
				return err
			}
		} else if err := report.WriteNoBefore(&b, inUnits(err, units).Error(), units); err != nil {
			return err
		}
	}
	if z.JSON {
		message, err := protojson.MarshalOptions{Multiline: true, UseProtoNames: true, EmitDefaultValues: true}.Marshal(rpc.SizeResponse(r))
		if err != nil {
			return fmt.Errorf("%w: %w", errInternal, err)
		}
		b.Write(append(message, '\n'))
	} else if err := report.WriteTrain(&b, r, units); err != nil {
		return err
	}
	if err := z.more(ctx, &b, units); err != nil {
		return err
	}
	_, err = s.out.Write(b.Bytes())
	return err
}

// more adds the sweep to what is printed, and writes the files.
func (z *size) more(ctx context.Context, b *bytes.Buffer, units quantity.System) error {
	var points []report.SweepPoint
	var files []output
	if z.Sweep {
		f := fly{Plan: z.Plan, Set: z.Set, Forecast: z.Forecast}
		p, err := f.plan()
		if err != nil {
			return err
		}
		winds, err := z.winds(ctx, f, p)
		if err != nil {
			return err
		}
		if points, err = mission.Sweep(p, winds); err != nil {
			return err
		}
		if !z.JSON {
			b.WriteString("\n")
			if err := report.WriteSweep(b, points, units); err != nil {
				return err
			}
		}
		files = append(files,
			output{"sweep.csv", func(w io.Writer) error { return report.WriteSweepCSV(w, points) }},
			output{"sweep.svg", func(w io.Writer) error { return report.WriteSweepSVG(w, points, units) }})
	}
	if z.Out == "" {
		return nil
	}
	return writeAll(z.Out, append(files, output{"train.txt", func(w io.Writer) error { _, err := w.Write(b.Bytes()); return err }}))
}

// train is what follows from the plan's train with some fields changed.
func (z *size) train(ctx context.Context, sets []string) (report.Train, error) {
	f := fly{Plan: z.Plan, Set: sets, Forecast: z.Forecast}
	p, err := f.plan()
	if err != nil {
		return report.Train{}, err
	}
	winds, err := z.winds(ctx, f, p)
	if err != nil {
		return report.Train{}, err
	}
	return mission.Size(p, winds)
}

// winds is the forecast's control, nil where there is no forecast.
func (z *size) winds(ctx context.Context, f fly, p plan.Plan) (*wind.Field, error) {
	if len(z.Forecast) == 0 && len(p.ForecastFiles) == 0 {
		return nil, nil
	}
	fields, _, err := f.forecast(ctx, p)
	if err != nil {
		return nil, err
	}
	return fields[0], nil
}
