package main

import (
	"context"
	"fmt"
	"log/slog"
	"net"
	"os"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
)

// drain is how long calls may go on after the program is told to end.
const drain = 10 * time.Second

// serve is the command of that name.
type serve struct {
	Forecast []string `required:"" sep:"none" placeholder:"FILE" help:"A GRIB2 file, folder or cube of the forecast to fly on. May be given again."`
	Above    []string `sep:"none" placeholder:"FILE" help:"One of a forecast to fly on above the highest level of that. May be given again."`
	Listen   string   `default:"127.0.0.1:7420" placeholder:"HOST:PORT" help:"Where to listen. Anybody who can reach it can use it: there is no lock on it."`
	Layers   string   `placeholder:"DIR" help:"Folder of the files that plans may name: layers, airspace, rasters."`
	South    float64  `default:"-90" help:"Southern edge of the area kept, degrees."`
	North    float64  `default:"90" help:"Northern edge."`
	West     float64  `default:"-180" help:"Western edge; greater than the eastern across the date line."`
	East     float64  `default:"180" help:"Eastern edge."`
}

// Run does it until the context ends.
func (s *serve) Run(ctx context.Context, to *streams) error {
	area := geo.Box{South: s.South, North: s.North, West: s.West, East: s.East}
	if err := area.Check(); err != nil {
		return fmt.Errorf("--south, --north, --west, --east: %w", err)
	}
	if info, err := os.Stat(s.Layers); s.Layers != "" && (err != nil || !info.IsDir()) {
		return fmt.Errorf("--layers %s: want a folder", s.Layers)
	}
	fields, warnings, err := mission.Forecast(ctx, s.Forecast, s.Above, wind.Part{Box: area})
	if err != nil {
		return err
	}
	built, err := mission.BuiltIn(geo.Box{South: -90, North: 90, West: -180, East: 180})
	if err != nil {
		return fmt.Errorf("%w: %w", errInternal, err)
	}
	listener, err := net.Listen("tcp", s.Listen)
	if err != nil {
		return fmt.Errorf("--listen %s: %w", s.Listen, err)
	}
	log := slog.New(slog.NewTextHandler(to.err, nil))
	for _, w := range warnings {
		log.Warn(w)
	}
	forecasts := rpc.NewCatalogue(0, "forecast")
	forecasts.Put("forecast", rpc.Forecast{Winds: fields, Warnings: warnings})
	server := rpc.NewServer(rpc.Planner{
		Forecasts: forecasts, Built: built,
		Find: mission.Within(s.Layers), Version: version, Log: log,
	})
	log.Info("serving", "address", listener.Addr().String(),
		"cycle", fields[0].Cycle(), "from", fields[0].Start(), "to", fields[0].End(), "members", len(fields))
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(listener) }()
	select {
	case err := <-ended:
		return fmt.Errorf("%w: %w", errInternal, err)
	case <-ctx.Done():
	}
	log.Info("ending", "after", "calls under way, or "+drain.String())
	drained := make(chan struct{})
	go func() {
		server.GracefulStop()
		close(drained)
	}()
	select {
	case <-drained:
	case <-time.After(drain):
		// A call that does not heed its context ends with the process.
		log.Warn("calls still under way are cut off")
	}
	return nil
}
