package main

import (
	"bytes"
	"context"
	"io"
	"path/filepath"

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
	Sweep    bool     `help:"Also say what more gas and less would do, and with which it floats."`
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
	p, winds, err := z.read(ctx, z.Set)
	if err != nil {
		return err
	}
	r, err := mission.Size(p, winds)
	if err != nil {
		return inUnits(err, units)
	}
	var b bytes.Buffer
	if z.JSON {
		message, err := written(rpc.SizeResponse(r))
		if err != nil {
			return err
		}
		b.Write(message)
	} else if err := z.tell(ctx, &b, r, units); err != nil {
		return err
	}
	var files []output
	if z.Sweep {
		points, err := mission.Sweep(p, winds)
		if err != nil {
			return err
		}
		if !z.JSON {
			b.WriteString("\n")
			if err := report.WriteSweep(&b, points, units); err != nil {
				return err
			}
		}
		files = append(files,
			output{"sweep.csv", func(w io.Writer) error { return report.WriteSweepCSV(w, points) }},
			output{"sweep.svg", func(w io.Writer) error { return report.WriteSweepSVG(w, points, units) }})
	}
	if z.Out != "" {
		files = append(files, output{"train.txt", func(w io.Writer) error { _, err := w.Write(b.Bytes()); return err }})
		if err := writeAll(z.Out, files); err != nil {
			return err
		}
	}
	_, err = s.out.Write(b.Bytes())
	return err
}

// tell writes what follows from the train, after what the --set have changed.
func (z *size) tell(ctx context.Context, b *bytes.Buffer, r report.Train, units quantity.System) error {
	if len(z.Set) > 0 {
		was, err := z.before(ctx)
		if err != nil {
			if err := report.WriteNoBefore(b, inUnits(err, units).Error(), units); err != nil {
				return err
			}
		} else if err := report.WriteTrainChange(b, was, r, units); err != nil {
			return err
		}
	}
	return report.WriteTrain(b, r, units)
}

// before is what follows from the plan's train without what was set.
func (z *size) before(ctx context.Context) (report.Train, error) {
	p, winds, err := z.read(ctx, nil)
	if err != nil {
		return report.Train{}, err
	}
	return mission.Size(p, winds)
}

// read reads the plan with some fields changed, and the forecast's control, nil
// where there is no forecast.
func (z *size) read(ctx context.Context, sets []string) (plan.Plan, *wind.Field, error) {
	in := input{plan: z.Plan, sets: sets, files: z.Forecast}
	p, err := in.read()
	if err == nil {
		p, err = mission.Sited(ctx, p, mission.Beside(filepath.Dir(z.Plan)))
	}
	if err != nil || len(z.Forecast) == 0 && len(p.ForecastFiles) == 0 {
		return p, nil, err
	}
	fields, _, err := in.forecast(ctx, p, mission.Needs(p))
	if err != nil {
		return plan.Plan{}, nil, err
	}
	return p, fields[0], nil
}
