package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"sync"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/wind"
)

// maxPlanFile bounds a plan file, octets.
const maxPlanFile = 1 << 20

// input is a plan and a forecast as commands on a plan are given them.
type input struct {
	plan  string   // its file
	sets  []string // what is changed in it
	files []string // of the forecast, instead of the plan's
}

// read reads the plan.
func (in input) read() (plan.Plan, error) {
	if slices.Contains(in.files, "") {
		return plan.Plan{}, errors.New("--forecast: empty: want the name of a GRIB2 file, folder or cube")
	}
	content, err := archive.ReadFile(in.plan, maxPlanFile)
	if err != nil {
		return plan.Plan{}, fmt.Errorf("%s: %w", in.plan, err)
	}
	_, p, err := plan.Read(in.plan, content, in.sets)
	return p, err
}

// flown reads a plan that names a forecast.
func (in input) flown() (plan.Plan, error) {
	p, err := in.read()
	if err == nil && len(in.files) == 0 && len(p.ForecastFiles) == 0 {
		err = plan.Faults{{File: in.plan, Field: "forecast.files", Value: "none", Want: "the forecast's files there, or with --forecast"}}
	}
	return p, err
}

// forecast reads a part of the plan's forecast, a field for each member, and what
// it lacks.
func (in input) forecast(ctx context.Context, p plan.Plan, part wind.Part) ([]*wind.Field, []string, error) {
	find := mission.Beside(filepath.Dir(in.plan))
	files := in.files
	if len(files) == 0 {
		var err error
		if files, err = findAll(find, p.ForecastFiles); err != nil {
			return nil, nil, err
		}
	}
	above, err := findAll(find, p.ForecastAbove)
	if err != nil {
		return nil, nil, err
	}
	return mission.Forecast(ctx, files, above, part)
}

// findAll turns names of a plan into paths.
func findAll(find mission.Finder, names []string) ([]string, error) {
	var files []string
	for _, name := range names {
		file, err := find(name)
		if err != nil {
			return nil, err
		}
		files = append(files, file)
	}
	return files, nil
}

// worlds reads a part of the forecast, and the ground that the flights of some
// launches may come to, for each of their sites.
func (in input) worlds(ctx context.Context, part wind.Part, launches []plan.Plan) (map[geo.Point]mission.World, error) {
	var built *mission.Built
	var fault error
	var beside sync.WaitGroup
	beside.Go(func() { built, fault = mission.BuiltIn(part.Box) })
	fields, warnings, err := in.forecast(ctx, launches[0], part)
	beside.Wait()
	if err != nil {
		return nil, err
	}
	if fault != nil {
		return nil, fmt.Errorf("%w: %w", errInternal, fault)
	}
	forecast := mission.World{Winds: fields, Warnings: warnings}
	return mission.WorldsOver(ctx, launches, forecast, built, mission.Beside(filepath.Dir(in.plan)))
}

// world is the world of one launch.
func (in input) world(ctx context.Context, p plan.Plan) (mission.World, error) {
	worlds, err := in.worlds(ctx, mission.Needs(p), []plan.Plan{p})
	return worlds[p.Site.At], err
}
