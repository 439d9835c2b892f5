package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rpc"
)

// bestLaunches is for how many launch times of a week a plan is varied.
const bestLaunches = 3

// vary looks for better plans than one.
type vary struct {
	Plan     string   `arg:"" help:"The plan, a YAML file, of a train that was weighed." placeholder:"PLAN"`
	Set      []string `sep:"none" placeholder:"FIELD=VALUE" help:"Change a field of the plan first, such as vary.delays='[1 h, 2 h]'. May be given again."`
	Forecast []string `sep:"none" placeholder:"FILE" help:"A GRIB2 file, folder or cube of the forecast, instead of the plan's. May be given again."`
	At       string   `xor:"when" placeholder:"TIME" help:"For this launch time instead of the plan's, such as 2017-03-22T11:00:00+01:00."`
	Week     bool     `xor:"when" help:"Look for the best three launch times first, as week does, and for better plans for each."`
	Out      string   `placeholder:"DIR" help:"Also write vary.txt there, and vary.csv with every plan that no other beats."`
	JSON     bool     `name:"json" help:"Print the answer as JSON (SI, UTC) instead; with --week a line for each launch time."`
	Units    string   `default:"si" enum:"si,us" help:"Units: si or us."`
}

// Help says what comes of it.
func (k *vary) Help() string {
	return `Of all plans that the plan's "vary" section allows it tells the few that no other beats: a lower hazard score, a higher burst, less gas. Without that section the fill alone varies. README.md says more.`
}

// Run does it.
func (k *vary) Run(ctx context.Context, s *streams) error {
	units, err := quantity.ParseSystem(k.Units)
	if err != nil {
		return err
	}
	in := input{plan: k.Plan, sets: k.Set, files: k.Forecast}
	if k.At != "" {
		if _, err := time.Parse(time.RFC3339, k.At); err != nil {
			return fmt.Errorf("--at: %q: want RFC 3339 with an offset, such as 2017-03-22T11:00:00+01:00", k.At)
		}
		in.sets = append(slices.Clone(k.Set), "launch="+k.At)
	}
	p, err := in.flown()
	if err != nil {
		return err
	}
	search := variation{command: k, input: in, plan: p, streams: s, units: units}
	if err := search.run(ctx); err != nil {
		return inUnits(err, units)
	}
	return nil
}

// variation is a search under way.
type variation struct {
	command *vary
	input   input
	plan    plan.Plan
	streams *streams
	units   quantity.System

	page   bytes.Buffer
	tables []output
}

// run searches, prints and writes.
func (v *variation) run(ctx context.Context) error {
	_, err := mission.Variants(v.plan) // before anything is read
	if err != nil {
		return err
	}
	launches := []plan.Plan{v.plan}
	if v.command.Week {
		if launches, err = v.best(ctx); err != nil {
			return err
		}
	}
	for i, one := range launches {
		if err := v.launch(ctx, i, one); err != nil {
			return err
		}
	}
	if v.command.Out != "" {
		text := output{"vary.txt", func(w io.Writer) error { _, err := w.Write(v.page.Bytes()); return err }}
		return writeAll(v.command.Out, append(v.tables, text))
	}
	return nil
}

// launch searches for one launch time.
func (v *variation) launch(ctx context.Context, i int, p plan.Plan) error {
	plans, err := mission.Variants(p)
	if err != nil {
		return err
	}
	found, err := v.input.vary(ctx, v.streams, plans)
	if err != nil {
		return err
	}
	var text bytes.Buffer
	table := "vary.csv"
	if i > 0 {
		text.WriteString("\n\n")
		table = fmt.Sprintf("vary-%d.csv", i+1)
	}
	if err := report.WriteVaried(&text, found, v.units); err != nil {
		return err
	}
	v.page.Write(text.Bytes())
	v.tables = append(v.tables, output{table, func(w io.Writer) error { return report.WriteVariedCSV(w, found) }})
	if v.command.JSON {
		return writeJSON(v.streams.out, rpc.VaryResponse(found), !v.command.Week)
	}
	_, err = v.streams.out.Write(text.Bytes())
	return err
}

// vary flies plans, and says which no other beats.
func (in input) vary(ctx context.Context, s *streams, plans []plan.Plan) (report.Varied, error) {
	worlds, err := in.worlds(ctx, mission.NeedsOf(plans), mission.Outermost(plans))
	if err != nil {
		return report.Varied{}, err
	}
	bar := newBar(s.err, "flying plans", len(plans))
	defer bar.clear()
	return mission.Vary(ctx, worlds, plans, mission.Options{Version: version, Progress: bar.show})
}

// best are the best launch times that the forecast covers, from the plan's site or
// one of its schedule.
func (v *variation) best(ctx context.Context) ([]plan.Plan, error) {
	k := week{Plan: v.input.plan, Set: v.input.sets, Forecast: v.input.files}
	launches, err := k.launches(ctx, v.plan)
	if err != nil {
		return nil, err
	}
	bar := newBar(v.streams.err, "flying launch times", len(launches))
	found, err := mission.Week(ctx, k.worlds, launches, mission.WeekOptions{Version: version, Each: func(done int, _ report.Window) { bar.show(done) }})
	bar.clear()
	if err != nil {
		return nil, err
	}
	all := append([]plan.Site{v.plan.Site}, v.plan.Schedule.Sites...)
	var some []plan.Plan
	for _, i := range found.Ranked[:min(len(found.Ranked), bestLaunches)] {
		if w := found.Windows[i]; w.NotCovered != "" || w.Launch.Landing == nil {
			break
		}
		one := launches[i]
		one.Schedule.Sites = slices.DeleteFunc(slices.Clone(all), func(s plan.Site) bool { return s.Name == one.Site.Name })
		some = append(some, one)
	}
	if len(some) == 0 {
		return nil, fmt.Errorf("%s: --week: no launch time is covered by the forecast and lands within it: want a longer forecast, or others in schedule", v.command.Plan)
	}
	return some, nil
}
