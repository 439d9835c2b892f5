package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
)

// week ranks the launch times of a plan.
type week struct {
	Plan     string   `arg:"" type:"existingfile" help:"The plan, a YAML file."`
	Set      []string `placeholder:"FIELD=VALUE" sep:"none" help:"Change a field of the plan for this run. May be given again."`
	Forecast []string `placeholder:"FILE" sep:"none" help:"A GRIB2 file, a folder of them or a cube, instead of the plan's. May be given again."`
	Earlier  []string `placeholder:"FILE" sep:"none" help:"A cube, or folder, of one earlier cycle of the forecast, to say how the answer moved. May be given again."`
	Out      string   `placeholder:"DIR" help:"Also write the week there as a page for a browser (index.html), text and table, and the best launch time as fly does."`
	Gate     bool     `help:"Leave with status 1 where no launch time is go."`
	JSON     bool     `name:"json" help:"Print JSON instead, a line as each launch time is done and one with their order (SI, UTC): the messages of RankWindows."`
	Units    string   `default:"si" enum:"si,us" help:"Units: si or us."`
}

// Run does it.
func (k *week) Run(ctx context.Context, s *streams) error {
	units, err := quantity.ParseSystem(k.Units)
	if err != nil {
		return err
	}
	p, err := k.input().flown()
	if err != nil {
		return err
	}
	launches, err := k.launches(ctx, p)
	if err != nil {
		return inUnits(err, units)
	}
	var page bytes.Buffer
	told := printer{to: io.MultiWriter(s.out, &page), units: units, bar: newBar(s.err, "flying launch times", len(launches))}
	if k.JSON {
		told.to, told.json, told.total = &page, s.out, len(launches)
	}
	found, err := mission.Week(ctx, k.worlds, launches, mission.WeekOptions{Version: version, Begin: told.begin, Each: told.each})
	told.bar.clear()
	if err != nil && len(found.Windows) == 0 {
		return inUnits(err, units)
	}
	stopped := err
	for _, file := range k.Earlier {
		if stopped != nil {
			break
		}
		found, stopped = k.compare(ctx, p, file, found)
	}
	if told.err == nil && stopped == nil && len(k.Set) > 0 {
		told.err = k.changed(ctx, told.to, found, units)
	}
	if told.err == nil {
		told.err = report.WriteWeekEnd(told.to, found, units)
	}
	if told.err == nil && told.json != nil && stopped == nil {
		told.err = writeJSON(told.json, rpc.RankingResponse(found), false)
	}
	if told.err != nil {
		return told.err
	}
	if k.Out != "" {
		writing := ctx
		if stopped != nil { // what was done until then is written all the same
			writing = context.WithoutCancel(ctx)
		}
		files, err := k.outputs(writing, s, launches, found, page.Bytes(), units)
		if err != nil {
			return err
		}
		if err := writeAll(k.Out, files); err != nil {
			return err
		}
	}
	if stopped == nil && k.Gate && !slices.ContainsFunc(found.Windows, isGo) {
		return errNoGo
	}
	return stopped
}

// changed writes what the --set change at the best launch time, before and after.
func (k *week) changed(ctx context.Context, to io.Writer, found report.Week, units quantity.System) error {
	best, ok := found.Best()
	if !ok {
		return nil
	}
	before := *k
	before.Set = nil
	was, err := before.at(ctx, best.Time)
	if err != nil {
		if ctx.Err() != nil {
			return err
		}
		return report.WriteNoBefore(to, inUnits(err, units).Error(), units)
	}
	if _, err := fmt.Fprintf(to, "\nWithout what was set, and with it, at the best launch time:\n\n"); err != nil {
		return err
	}
	return report.WriteChange(to, was, best.Launch, units)
}

// at flies the plan from its own site at a time.
func (k *week) at(ctx context.Context, launch time.Time) (report.Launch, error) {
	p, err := k.input().flown()
	if err != nil {
		return report.Launch{}, err
	}
	p.Launch = launch
	world, err := k.input().world(ctx, p)
	if err != nil {
		return report.Launch{}, err
	}
	return mission.Fly(ctx, world, p, mission.Options{Version: version})
}

// compare flies the same launch times on an earlier cycle.
func (k *week) compare(ctx context.Context, p plan.Plan, file string, found report.Week) (report.Week, error) {
	before := *k
	before.Forecast = []string{file}
	launches, err := before.launches(ctx, p)
	if err != nil {
		return found, fmt.Errorf("--earlier: %w", err)
	}
	launches = mission.Shared(launches, found)
	if len(launches) == 0 {
		return found, fmt.Errorf("--earlier: %s: none of the launch times: want an earlier cycle that reaches them", file)
	}
	earlier, err := mission.Week(ctx, before.worlds, launches, mission.WeekOptions{Version: version})
	if err != nil {
		return found, err
	}
	if !earlier.Forecast.Cycle.Before(found.Forecast.Cycle) {
		return found, fmt.Errorf("--earlier: %s: cycle of %s: want one before %s", file,
			earlier.Forecast.Cycle.Format(time.RFC3339), found.Forecast.Cycle.Format(time.RFC3339))
	}
	return mission.Compare(found, earlier), nil
}

// isGo is a launch time within every limit, and within none where there is none.
func isGo(w report.Window) bool {
	return w.NotCovered == "" && (w.Launch.Verdict == launch.Go || w.Launch.Verdict == launch.Unlimited)
}

func (k *week) input() input { return input{plan: k.Plan, sets: k.Set, files: k.Forecast} }

// launches are the plan's launch times that the forecast covers.
func (k *week) launches(ctx context.Context, p plan.Plan) ([]plan.Plan, error) {
	launches, _, err := k.covered(ctx, p)
	return launches, err
}

// covered are they, and the forecast's cycle.
func (k *week) covered(ctx context.Context, p plan.Plan) ([]plan.Plan, time.Time, error) {
	const little = 0.01 // degrees; times are all that is wanted
	at := p.Site.At
	fields, _, err := k.input().forecast(ctx, p, wind.Part{Box: geo.Box{
		South: max(at.Lat-little, -90), North: min(at.Lat+little, 90), West: at.Lon - little, East: at.Lon + little,
	}})
	if err != nil {
		return nil, time.Time{}, err
	}
	first, last := fields[0].Covers()
	launches, err := mission.Launches(p, first, last)
	if err != nil {
		return nil, time.Time{}, fmt.Errorf("%s: %w", k.Plan, err)
	}
	return launches, fields[0].Cycle(), nil
}

// worlds are those of some launches.
func (k *week) worlds(ctx context.Context, launches []plan.Plan) (map[geo.Point]mission.World, error) {
	return k.input().worlds(ctx, mission.NeedsOf(launches), launches)
}

// outputs are the files of --out.
func (k *week) outputs(ctx context.Context, s *streams, launches []plan.Plan, found report.Week, page []byte, units quantity.System) ([]output, error) {
	files := []output{
		{"week.txt", func(w io.Writer) error { _, err := w.Write(page); return err }},
		{"week.csv", func(w io.Writer) error { return report.WriteWeekCSV(w, found) }},
	}
	shown := report.Page{Week: found}
	if best, ok := found.Best(); ok {
		i := slices.IndexFunc(launches, func(p plan.Plan) bool { return p.Launch.Equal(best.Time) && p.Site.Name == best.Site })
		world, err := k.input().world(ctx, launches[i])
		if err != nil {
			return nil, err
		}
		shown.Map = world.Ground.Map
		if label, err := mission.Label(launches[i]); err == nil { // else the plan does not say whom to call
			shown.Label = &label
		}
		if !isGo(best) {
			if shown.Varied, err = k.varied(ctx, s, launches[i]); err != nil {
				return nil, err
			}
		}
		l, err := mission.Fly(ctx, world, launches[i], mission.Options{Version: version})
		if err != nil {
			return nil, err
		}
		message, err := written(rpc.Response(l))
		if err != nil {
			return nil, err
		}
		var summary bytes.Buffer
		if err := report.WriteText(&summary, l, units); err != nil {
			return nil, err
		}
		files = append(files, launchFiles(l, summary.Bytes(), message)...)
	}
	files = append(files, output{"index.html", func(w io.Writer) error { return report.WritePage(w, shown, units) }})
	return files, nil
}

// varied are better plans for a launch time; none where the plan leaves nothing to vary.
func (k *week) varied(ctx context.Context, s *streams, p plan.Plan) (*report.Varied, error) {
	plans, err := mission.Variants(p)
	if err != nil {
		return nil, nil //nolint:nilerr,nilnil // a train that was measured, say: vary tells why
	}
	found, err := k.input().vary(ctx, s, plans)
	if err != nil {
		return nil, err
	}
	return &found, nil
}

// printer prints a week as it comes.
type printer struct {
	to     io.Writer
	units  quantity.System
	bar    *bar
	week   report.Week
	before time.Time
	json   io.Writer // for answers as JSON; nil: none is wanted
	total  int       // launch times
	err    error
}

func (p *printer) begin(k report.Week) {
	p.week, p.err = k, report.WriteWeekHead(p.to, k, p.units)
}

func (p *printer) each(done int, w report.Window) {
	p.bar.clear()
	if p.err == nil {
		p.err = report.WriteWindow(p.to, p.week, w, p.before, p.units)
	}
	if p.err == nil && p.json != nil {
		p.err = writeJSON(p.json, rpc.WindowResponse(w, done, p.total), false)
	}
	p.before = w.Time
	p.bar.show(done)
}
