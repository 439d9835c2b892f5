package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/rules"
)

// notice is the command of that name.
type notice struct {
	Plan      string   `arg:"" help:"The plan, a YAML file with rules." placeholder:"PLAN"`
	Stage     string   `required:"" enum:"before,launched,delayed,cancelled,descending,lost,found,ended" placeholder:"STAGE" help:"What it is about: before, launched, delayed, cancelled, descending, lost, found or ended."`
	Set       []string `sep:"none" placeholder:"FIELD=VALUE" help:"Change a field of the plan, such as launch=2017-03-22T09:30:00+01:00 of one put off. May be given again."`
	Forecast  []string `sep:"none" placeholder:"FILE" help:"A GRIB2 file, folder or cube of the forecast, instead of the plan's. May be given again. Without any, paths and times are left blank."`
	At        string   `placeholder:"TIME" help:"When it took place, RFC 3339: the launch, the last position, the landing."`
	Latitude  *float64 `placeholder:"DEGREES" help:"Where that was, north positive."`
	Longitude *float64 `placeholder:"DEGREES" help:"Where that was, east positive."`
	Height    string   `placeholder:"HEIGHT" help:"How high that was above mean sea level, such as '30000 ft'."`
	Out       string   `placeholder:"DIR" help:"Also write notice-STAGE.txt there."`
	JSON      bool     `name:"json" help:"Print the answer's message as JSON and nothing else."`
}

// Run does it.
func (n *notice) Run(ctx context.Context, s *streams) error {
	of, err := n.of()
	if err != nil {
		return err
	}
	sets := func(field string) bool {
		return slices.ContainsFunc(n.Set, func(s string) bool { return strings.HasPrefix(s, field+"=") })
	}
	if of.Stage == rules.Delayed && !sets("launch") {
		return errors.New("--stage delayed: no new launch time: want it, by --set launch=TIME")
	}
	told, err := n.told(ctx, s, of)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := report.WriteNotice(&b, told); err != nil {
		return err
	}
	if n.Out != "" {
		text := b.Bytes()
		if err := writeAll(n.Out, []output{
			{"notice-" + n.Stage + ".txt", func(w io.Writer) error { _, err := w.Write(text); return err }},
		}); err != nil {
			return err
		}
	}
	if n.JSON {
		m, err := rpc.NoticeResponse(told)
		if err != nil {
			return fmt.Errorf("%w: %w", errInternal, err)
		}
		message, err := written(m)
		if err != nil {
			return err
		}
		_, err = s.out.Write(message)
		return err
	}
	_, err = s.out.Write(b.Bytes())
	return err
}

// of is what is asked for.
func (n *notice) of() (mission.NoticeOf, error) {
	of := mission.NoticeOf{Stage: rules.Stage(n.Stage), Height: math.NaN()}
	if n.At != "" {
		t, err := time.Parse(time.RFC3339, n.At)
		if err != nil {
			return of, fmt.Errorf("--at: %q: want RFC 3339 with an offset, such as 2017-03-22T08:00:00+01:00", n.At)
		}
		of.Now = t.UTC()
	}
	if (n.Latitude == nil) != (n.Longitude == nil) {
		return of, errors.New("--latitude and --longitude: one of them alone: want both or neither")
	}
	if n.Latitude != nil {
		if !(math.Abs(*n.Latitude) <= 90) {
			return of, fmt.Errorf("--latitude: %g: want -90 to 90", *n.Latitude)
		}
		if !(math.Abs(*n.Longitude) <= 180) {
			return of, fmt.Errorf("--longitude: %g: want -180 to 180", *n.Longitude)
		}
		of.Position = &geo.Point{Lat: *n.Latitude, Lon: *n.Longitude}
	}
	if n.Height != "" {
		h, err := quantity.Length(n.Height)
		if err != nil {
			return of, fmt.Errorf("--height: %w", err)
		}
		if !(h >= -500 && h <= 60e3) {
			return of, fmt.Errorf("--height: %q: want -500 m to 60000 m", n.Height)
		}
		of.Height = h
	}
	return of, nil
}

// told is what is told, with the figures of flights where there is a forecast.
func (n *notice) told(ctx context.Context, s *streams, of mission.NoticeOf) (report.Told, error) {
	in := input{plan: n.Plan, sets: n.Set, files: n.Forecast}
	p, err := in.read()
	if err != nil {
		return report.Told{}, err
	}
	if len(n.Forecast) == 0 && len(p.ForecastFiles) == 0 {
		told, err := mission.Notice(p, of)
		return told, located(err, n.Plan)
	}
	if err := p.Named(1); err != nil { // before anything is flown
		return report.Told{}, located(err, n.Plan)
	}
	world, err := in.world(ctx, p)
	if err != nil {
		return report.Told{}, err
	}
	bar := newBar(s.err, "flying", p.Scrambles*p.PerScramble)
	told, _, err := mission.NoticeFlown(ctx, world, p, of, mission.Options{Version: version, Progress: bar.show})
	bar.clear()
	return told, err
}

// located is an error with the name of the plan's file in faults that have none.
func located(err error, file string) error {
	var faults plan.Faults
	if !errors.As(err, &faults) {
		return err
	}
	told := slices.Clone(faults)
	for i := range told {
		if told[i].File == "" {
			told[i].File = file
		}
	}
	return told
}
