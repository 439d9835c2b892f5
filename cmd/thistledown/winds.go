package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/report"
)

// winds are the commands on forecasts.
type winds struct {
	Pull   windsPull   `cmd:"" help:"Bring the newest complete cycle of an open forecast: only what flights need of it."`
	List   windsList   `cmd:"" help:"Say what forecast files, folders or cubes hold; without any, which forecasts are kept."`
	Pack   windsPack   `cmd:"" help:"Pack the part of a forecast that flights need into one small file, a cube."`
	Check  windsCheck  `cmd:"" help:"Say what in forecast files is broken or not supported, a line each."`
	Invent windsInvent `cmd:"" help:"Write an invented week of weather as GRIB2 files, for demonstrations and load tests; nothing to fly on."`
}

// windsList is the command of that name.
type windsList struct {
	Path  []string `arg:"" optional:"" help:"GRIB2 files in any naming, folders of them, or cubes; none: what is kept in the folder winds here." placeholder:"PATH"`
	All   bool     `help:"Also the fields that no flight is flown on."`
	JSON  bool     `name:"json" help:"One JSON object for each field, in file order."`
	Stats bool     `help:"With --json: unpack each field, and add missing, min, max and mean."`
}

// Run does it.
func (l *windsList) Run(ctx context.Context, s *streams) error {
	if l.Stats && !l.JSON {
		return errors.New("--stats: without --json: want both")
	}
	if len(l.Path) == 0 {
		if l.JSON || l.All {
			return errors.New("--json, --all: without files: want files, folders or cubes")
		}
		return listKept(s.out, keptHere, time.Now())
	}
	var inventory report.Inventory
	fields := 0
	err := archive.List(ctx, l.Path, l.Stats, func(r archive.Row) error {
		if r.Parameter != "" {
			fields++
		}
		if l.JSON {
			return report.WriteRow(s.out, r)
		}
		inventory.Add(r, l.All)
		return nil
	})
	if err != nil {
		return err
	}
	if !l.JSON {
		if err := inventory.Write(s.out); err != nil {
			return err
		}
	}
	if fields == 0 {
		return fmt.Errorf("%s: no forecast field in it: want GRIB2 files or a cube", strings.Join(l.Path, ", "))
	}
	return nil
}

// windsCheck is the command of that name.
type windsCheck struct {
	Path []string `arg:"" help:"GRIB2 files in any naming, folders of them, or cubes." placeholder:"PATH"`
}

// Run does it.
func (c *windsCheck) Run(ctx context.Context, s *streams) error {
	found, err := archive.Check(ctx, c.Path, func(line string) error {
		_, err := fmt.Fprintln(s.out, line)
		return err
	})
	if err != nil {
		return err
	}
	if _, err = fmt.Fprintf(s.out, "Fields: %d, of them of use to flights: %d; broken: %d; not supported: %d\n",
		found.Fields, found.Flown, found.Broken, found.Unsupported); err != nil {
		return err
	}
	if found.Unusable != nil {
		// Bad input, and not a forecast that does not reach.
		return fmt.Errorf("%s: %s", strings.Join(c.Path, ", "), found.Unusable.Error())
	}
	return nil
}

// windsPack is the command of that name.
type windsPack struct {
	Path  []string `arg:"" help:"GRIB2 files of one forecast in any naming, or folders of them." placeholder:"PATH"`
	Out   string   `required:"" placeholder:"FILE" help:"The cube to write."`
	Plan  string   `placeholder:"PLAN" help:"Keep what the flights of this plan can reach."`
	Box   string   `placeholder:"BOX" help:"Or keep this box, in degrees: south=44,north=62,west=-5,east=25; west greater than east is a box across the date line."`
	Cycle string   `placeholder:"TIME" help:"The forecast's cycle, RFC 3339, where the files hold several."`
}

// Run does it.
func (p *windsPack) Run(ctx context.Context, s *streams) error {
	box, err := p.box()
	if err != nil {
		return err
	}
	choice, err := choiceOf(p.Cycle)
	if err != nil {
		return err
	}
	source, err := archive.Open(ctx, p.Path, choice)
	if err != nil {
		return err
	}
	defer func() { _ = source.Close() }() // nothing was written to it
	holding, err := source.Contents()
	if err != nil {
		return err
	}
	if err := report.WriteContents(s.out, holding); err != nil {
		return err
	}
	bar := newBar(s.err, "packing", 100)
	packed, err := source.Pack(ctx, box, p.Out, func(share float64) { bar.show(int(100 * share)) })
	bar.clear()
	if err != nil {
		return err
	}
	return report.WritePacked(s.out, packed)
}

// box is what of the forecast is kept.
func (p *windsPack) box() (geo.Box, error) {
	switch {
	case (p.Plan == "") == (p.Box == ""):
		return geo.Box{}, errors.New("--plan, --box: want one of them, to say what to keep")
	case p.Box != "":
		box, err := parseBox(p.Box)
		if err != nil {
			return geo.Box{}, fmt.Errorf("--box %s: %w", p.Box, err)
		}
		return box, nil
	}
	read, err := input{plan: p.Plan}.read()
	if err != nil {
		return geo.Box{}, err
	}
	return mission.Reach(read), nil
}

// parseBox reads south=44,north=62,west=-5,east=25, in any order.
func parseBox(s string) (geo.Box, error) {
	const want = "want south=, north=, west= and east=, in degrees, with commas between"
	var box geo.Box
	edges := map[string]*float64{"south": &box.South, "north": &box.North, "west": &box.West, "east": &box.East}
	for part := range strings.SplitSeq(s, ",") {
		name, value, _ := strings.Cut(part, "=")
		edge := edges[strings.TrimSpace(name)]
		if edge == nil {
			return box, fmt.Errorf("%q: %s", part, want)
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
		if err != nil {
			return box, fmt.Errorf("%q: %s", part, want)
		}
		*edge = v
		delete(edges, strings.TrimSpace(name))
	}
	if len(edges) > 0 {
		return box, errors.New(want)
	}
	return box, box.Check()
}

// choiceOf is the forecast that a cycle's time names.
func choiceOf(cycle string) (archive.Choice, error) {
	if cycle == "" {
		return archive.Choice{}, nil
	}
	t, err := time.Parse(time.RFC3339, cycle)
	if err != nil {
		return archive.Choice{}, fmt.Errorf("--cycle %s: want a time such as 2017-03-22T00:00:00Z", cycle)
	}
	return archive.Choice{Cycle: t.UTC()}, nil
}
