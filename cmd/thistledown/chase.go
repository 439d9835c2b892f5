package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rpc"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// chase is the command of that name.
type chase struct {
	Plan     string   `arg:"" help:"The plan of the flight as it was launched, a YAML file." placeholder:"PLAN"`
	Fixes    string   `required:"" placeholder:"FILE" help:"Where it was seen: CSV with the columns time, latitude, longitude, height_m (or height_ft), or GPX. - is standard input."`
	Follow   bool     `help:"Read CSV lines from standard input as they come, and answer each with a line."`
	Search   bool     `xor:"how" help:"Say where to look for it: cells of ground, in order."`
	Cell     string   `placeholder:"LENGTH" help:"With --search: the side of a cell, such as '100 m'. Left out, one that fits."`
	Searched []string `sep:"none" placeholder:"LAT,LON,RADIUS,DETECTION" help:"Where it was looked for and not found, how far around, and how surely it would have been found, such as '58.41,13.2,150 m,80%'. May be given again."`
	Set      []string `sep:"none" placeholder:"FIELD=VALUE" help:"Change a field of the plan, such as train.measured.landing_speed='6 m/s' of a train that became lighter. May be given again."`
	Forecast []string `sep:"none" placeholder:"FILE" help:"A GRIB2 file, folder or cube of the forecast, instead of the plan's. May be given again."`
	Out      string   `placeholder:"DIR" help:"Also write chase.txt, chase.json, chase.geojson and chase.gpx there."`
	JSON     bool     `name:"json" help:"Print the answer's message as JSON and nothing else; with --follow one a line."`
	Units    string   `default:"si" enum:"si,us" help:"Units of what is printed: si or us."`
}

// Help says what it does with fixes.
func (c *chase) Help() string {
	return `The flight goes on, a thousand times over, from the last fix that can be believed, as all of them say that it rises, falls and drifts. Wrong fixes are told and left out; late and missing ones do no harm. README.md says more.`
}

// Run does it.
func (c *chase) Run(ctx context.Context, s *streams) error {
	units, err := quantity.ParseSystem(c.Units)
	if err != nil {
		return err
	}
	if c.Cell != "" && !c.Search {
		return errors.New("--cell: without --search: want both, or neither")
	}
	if c.Follow && (c.Fixes != "-" || c.Search || c.Out != "") {
		return errors.New("--follow: want --fixes - with it, and neither --search nor --out")
	}
	side, err := plan.CheckCell(c.Cell)
	if err != nil {
		return fmt.Errorf("--%w", err)
	}
	searched, err := c.searched()
	if err != nil {
		return err
	}
	in := input{plan: c.Plan, sets: c.Set, files: c.Forecast}
	p, err := in.flown()
	if err != nil {
		return err
	}
	var fixes []plan.Fix
	if !c.Follow {
		if fixes, err = c.read(); err != nil {
			return err
		}
	}
	world, err := in.world(ctx, p)
	if err != nil {
		return inUnits(err, units)
	}
	hunt := hunt{command: c, plan: p, world: world, units: units, streams: s, track: plan.Track{Fixes: fixes, Searched: searched}}
	if c.Follow {
		return hunt.follow(ctx, os.Stdin)
	}
	return inUnits(hunt.once(ctx, side), units)
}

// read reads the fixes.
func (c *chase) read() ([]plan.Fix, error) {
	name, content, err := c.Fixes, []byte(nil), error(nil)
	if c.Fixes == "-" {
		name = "standard input"
		content, err = io.ReadAll(io.LimitReader(os.Stdin, plan.MaxFixesFile+1))
	} else {
		content, err = archive.ReadFile(c.Fixes, plan.MaxFixesFile)
	}
	if err != nil {
		return nil, fmt.Errorf("--fixes %s: %w", name, err)
	}
	return plan.ReadFixes(name, content)
}

// searched are the places where it was looked for.
func (c *chase) searched() ([]plan.Searched, error) {
	m := &thistledownv1.Track{}
	for _, text := range c.Searched {
		parts := strings.Split(text, ",")
		if len(parts) != 4 {
			return nil, fmt.Errorf("--searched: %.80q: want LATITUDE,LONGITUDE,RADIUS,DETECTION, such as '58.41,13.2,150 m,80%%'", text)
		}
		var at [2]float64
		for i := range at {
			var err error
			if at[i], err = strconv.ParseFloat(strings.TrimSpace(parts[i]), 64); err != nil {
				return nil, fmt.Errorf("--searched: %.40q: want decimal degrees, such as 58.41", parts[i])
			}
		}
		m.Searched = append(m.Searched, &thistledownv1.Searched{
			Latitude: &at[0], Longitude: &at[1], Radius: strings.TrimSpace(parts[2]), Detection: strings.TrimSpace(parts[3]),
		})
	}
	searched, err := plan.CheckSearched(m.Searched)
	if err != nil {
		return nil, fmt.Errorf("--%w", err)
	}
	return searched, nil
}

// hunt is a chase under way.
type hunt struct {
	command *chase
	plan    plan.Plan
	world   mission.World
	units   quantity.System
	streams *streams
	track   plan.Track
}

// once answers for all fixes together.
func (h *hunt) once(ctx context.Context, side float64) error {
	bar := newBar(h.streams.err, "flying", h.plan.Scrambles*h.plan.PerScramble)
	o := mission.Options{Version: version, Progress: bar.show}
	var found report.Search
	var err error
	if h.command.Search {
		found, err = mission.Search(ctx, h.world, h.plan, h.track, side, o)
	} else {
		found.Chase, err = mission.Narrow(ctx, h.world, h.plan, h.track, o)
	}
	bar.clear()
	if err != nil {
		return err
	}
	var b bytes.Buffer
	var m proto.Message
	if h.command.Search {
		err, m = report.WriteSearch(&b, found, h.units), rpc.SearchResponse(found)
	} else {
		err, m = report.WriteChase(&b, found.Chase, h.units), rpc.NarrowResponse(found.Chase)
	}
	if err != nil {
		return err
	}
	message, err := written(m)
	if err != nil {
		return err
	}
	text := b.Bytes()
	if h.command.Out != "" {
		err := writeAll(h.command.Out, []output{
			{"chase.txt", func(w io.Writer) error { _, err := w.Write(text); return err }},
			{"chase.json", func(w io.Writer) error { _, err := w.Write(message); return err }},
			{"chase.geojson", func(w io.Writer) error { return report.WriteChaseGeoJSON(w, found) }},
			{"chase.gpx", func(w io.Writer) error { return report.WriteSearchGPX(w, found) }},
		})
		if err != nil {
			return err
		}
	}
	if h.command.JSON {
		text = message
	}
	_, err = h.streams.out.Write(text)
	return err
}

// maxFixLine bounds a line of fixes, octets.
const maxFixLine = 4096

// follow answers each line as it comes. A line that cannot be read is told, and the next
// one is waited for.
func (h *hunt) follow(ctx context.Context, from io.Reader) error {
	lines := bufio.NewScanner(from)
	lines.Buffer(make([]byte, maxFixLine), maxFixLine)
	head := ""
	for number := 1; lines.Scan(); number++ {
		line := strings.TrimSpace(lines.Text())
		switch {
		case line == "":
			continue
		case head == "":
			head = line
			continue
		}
		fixes, err := plan.ReadFixes("standard input", []byte(head+"\n"+line+"\n"))
		if err != nil {
			_, _ = fmt.Fprintf(h.streams.err, "thistledown: line %d: %v\n", number, err)
			continue
		}
		h.track.Fixes = append(h.track.Fixes, fixes...)
		if len(h.track.Fixes) > plan.MaxFixes {
			return fmt.Errorf("standard input: more than %d fixes: want fewer, such as one each ten seconds", plan.MaxFixes)
		}
		if err := h.answer(ctx); err != nil {
			return err
		}
	}
	if err := lines.Err(); err != nil {
		return fmt.Errorf("standard input: %w: want lines of at most %d octets", err, maxFixLine)
	}
	if len(h.track.Fixes) == 0 {
		return errors.New("standard input: no fixes: want a line of column names, and then a line for each")
	}
	return nil
}

// answer says what is known by now, in a line.
func (h *hunt) answer(ctx context.Context) error {
	c, err := mission.Narrow(ctx, h.world, h.plan, h.track, mission.Options{Version: version})
	var fault *mission.TrackFault
	if errors.As(err, &fault) {
		_, _ = fmt.Fprintf(h.streams.err, "thistledown: %v\n", err)
		return nil
	} else if err != nil {
		return err
	}
	if h.command.JSON {
		return writeJSON(h.streams.out, rpc.NarrowResponse(c), false)
	}
	return report.WriteChaseLine(h.streams.out, c, h.units)
}
