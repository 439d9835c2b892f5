package main

import (
	"context"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
)

// size is the command of that name.
type size struct {
	Plan     string   `arg:"" help:"The plan, a YAML file, of a train that was weighed." placeholder:"PLAN"`
	Set      []string `sep:"none" placeholder:"FIELD=VALUE" help:"Change a field of the plan, such as train.gas.neck_lift='2350 g'. May be given again."`
	Forecast []string `sep:"none" placeholder:"FILE" help:"A GRIB2 file, folder or cube whose air is taken, instead of the plan's. May be given again. Without any, the standard atmosphere."`
	Units    string   `default:"si" enum:"si,us" help:"Units: si or us."`
}

// Run does it.
func (z *size) Run(ctx context.Context, s *streams) error {
	units, err := quantity.ParseSystem(z.Units)
	if err != nil {
		return err
	}
	f := fly{Plan: z.Plan, Set: z.Set, Forecast: z.Forecast}
	p, err := f.plan()
	if err != nil {
		return err
	}
	winds, err := z.winds(ctx, f, p)
	if err != nil {
		return err
	}
	r, err := mission.Size(p, winds)
	if err != nil {
		return err
	}
	return report.WriteTrain(s.out, r, units)
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
