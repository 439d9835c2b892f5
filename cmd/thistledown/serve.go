package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"golang.org/x/net/netutil"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/rpc"
)

// serve is the command of that name.
type serve struct {
	Config   string   `placeholder:"FILE" help:"Settings in YAML; instead of all flags but --check."`
	Check    bool     `help:"Load everything, tell what would be served, and leave."`
	NewToken bool     `help:"Invent a token, print it and its hash for the settings, and leave."`
	Forecast []string `sep:"none" placeholder:"FILE" help:"A GRIB2 file, folder or cube of the forecast to fly on. May be given again."`
	Above    []string `sep:"none" placeholder:"FILE" help:"One of a forecast to fly on above the highest level of that. May be given again."`
	Listen   string   `placeholder:"HOST:PORT" help:"Where to serve gRPC; default 127.0.0.1:7420. Beyond loopback only with tokens or certificates, see --config, or --open-to-everyone."`
	Gateway  string   `placeholder:"HOST:PORT" help:"Where to serve the same as JSON over HTTP."`
	Open     bool     `name:"open-to-everyone" help:"Let everybody who can reach it use it, with neither token nor certificate."`
	Layers   string   `placeholder:"DIR" help:"Folder of the files that plans may name: layers, airspace, rasters."`
	South    float64  `default:"-90" help:"Southern edge of the area kept, degrees."`
	North    float64  `default:"90" help:"Northern edge."`
	West     float64  `default:"-180" help:"Western edge; greater than the eastern across the date line."`
	East     float64  `default:"180" help:"Eastern edge."`
}

// Run does it until the context ends.
func (s *serve) Run(ctx context.Context, to *streams) error {
	if s.NewToken {
		token, hash := rpc.NewToken()
		_, err := fmt.Fprintf(to.out, "token:  %s\nsha256: %x\n", token, hash)
		return err
	}
	settings, err := s.settings()
	if err != nil {
		return err
	}
	log := slog.New(slog.NewTextHandler(to.err, nil))
	r, err := prepare(ctx, settings, log)
	if err != nil {
		return err
	}
	if s.Check {
		return r.tell(to.out)
	}
	return r.run(ctx)
}

// settings are those of the file, or of the flags.
func (s *serve) settings() (plan.Settings, error) {
	if s.Config != "" {
		if len(s.Forecast)+len(s.Above) > 0 || s.Listen != "" || s.Gateway != "" || s.Open || s.Layers != "" ||
			s.South != -90 || s.North != 90 || s.West != -180 || s.East != 180 {
			return plan.Settings{}, errors.New("--config with other flags: want all in the file, and --check alone beside it")
		}
		content, err := archive.ReadFile(s.Config, maxPlanFile)
		if err != nil {
			return plan.Settings{}, fmt.Errorf("%s: %w", s.Config, err)
		}
		return plan.ReadSettings(s.Config, content)
	}
	if len(s.Forecast) == 0 {
		return plan.Settings{}, errors.New("no forecast: want --forecast, or --config with forecasts")
	}
	area := geo.Box{South: s.South, North: s.North, West: s.West, East: s.East}
	if err := area.Check(); err != nil {
		return plan.Settings{}, fmt.Errorf("--south, --north, --west, --east: %w", err)
	}
	settings := plan.Settings{
		Listen: s.Listen, Gateway: s.Gateway, Layers: s.Layers, Area: area, OpenToEveryone: s.Open, Drain: plan.DefaultDrain,
		Forecasts: []plan.KeptForecast{{Name: "forecast", Files: s.Forecast, Above: s.Above}},
	}
	if settings.Listen == "" {
		settings.Listen = plan.DefaultListen
	}
	return settings, nil
}

// running is a service made ready.
type running struct {
	settings  plan.Settings
	log       *slog.Logger
	forecasts *rpc.Catalogue
	turns     []*turnover
	server    *rpc.Server
	keys      *keys // nil: in the clear
	seen      *seen
}

// prepare checks and loads all that is served. It listens nowhere yet.
func prepare(ctx context.Context, settings plan.Settings, log *slog.Logger) (*running, error) {
	r := &running{settings: settings, log: log}
	guard, err := guarding(settings)
	if err != nil {
		return nil, err
	}
	if info, err := os.Stat(settings.Layers); settings.Layers != "" && (err != nil || !info.IsDir()) {
		return nil, fmt.Errorf("layers: %s: want a folder", settings.Layers)
	}
	var options []grpc.ServerOption
	if settings.Certificate != "" {
		if r.keys, err = readKeys(settings.Certificate, settings.Key, settings.Callers, len(settings.Tokens) == 0); err != nil {
			return nil, err
		}
		options = append(options, grpc.Creds(credentials.NewTLS(r.keys.config("h2"))))
	}
	built, err := mission.BuiltIn(geo.Box{South: -90, North: 90, West: -180, East: 180})
	if err != nil {
		return nil, fmt.Errorf("%w: %w", errInternal, err)
	}
	var names []string
	for _, f := range settings.Forecasts {
		names = append(names, f.Name)
	}
	r.forecasts = rpc.NewCatalogue(settings.Oldest, names...)
	for _, f := range settings.Forecasts {
		t := &turnover{of: f, area: settings.Area, into: r.forecasts, log: log, again: make(chan struct{}, 1)}
		// A folder that nothing was pulled into yet is waited for; files are not.
		if err := t.load(ctx); err != nil && (f.Kept == "" || !errors.Is(err, errNothingKept)) {
			return nil, err
		}
		r.turns = append(r.turns, t)
	}
	if r.seen, err = seeing(ctx, settings); err != nil {
		return nil, err
	}
	limits := rpc.DefaultLimits()
	for _, set := range []struct {
		to    *int
		value int
	}{{&limits.Waiting, settings.Waiting}, {&limits.PerCaller, settings.PerCaller}, {&limits.Flights, settings.Flights}} {
		if set.value > 0 {
			*set.to = set.value
		}
	}
	r.server = rpc.NewServer(rpc.Planner{
		Forecasts: r.forecasts, Built: built, Find: mission.Within(settings.Layers),
		Limits: limits, Guard: guard, Version: version, Log: log, Seen: r.seen.calls(),
	}, options...)
	return r, r.seen.watch(r.server)
}

// guarding is who may call. Where everybody could from elsewhere, it is refused unless
// that is meant.
func guarding(settings plan.Settings) (rpc.Guard, error) {
	guard := rpc.Guard{Certificates: settings.Callers != ""}
	for _, t := range settings.Tokens {
		scope, _ := rpc.ParseScope(t.Scope) // the schema allows no other names
		guard.Tokens = append(guard.Tokens, rpc.Token{Name: t.Name, Scope: scope, Hash: t.Hash})
	}
	for _, at := range []string{settings.Listen, settings.Gateway} {
		if at == "" || loopback(at) {
			continue
		}
		if len(guard.Tokens) == 0 && !guard.Certificates && !settings.OpenToEveryone {
			return guard, fmt.Errorf("%s: not loopback, so everybody who can reach it could use it: want tokens, tls.callers, or open_to_everyone (--open-to-everyone)", at)
		}
		if len(guard.Tokens) > 0 && settings.Certificate == "" {
			return guard, fmt.Errorf("%s: not loopback, and tokens would go there in the clear: want tls.certificate and tls.key", at)
		}
	}
	if settings.Metrics != "" && !loopback(settings.Metrics) && !settings.OpenToEveryone {
		return guard, fmt.Errorf("%s: not loopback, and figures have no lock: want loopback, or open_to_everyone", settings.Metrics)
	}
	return guard, nil
}

// loopback reports whether only programs on this machine can reach an address.
func loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// tell says what would be served.
func (r *running) tell(to io.Writer) error {
	var out strings.Builder
	lock := "open to everyone who reaches it"
	switch s := r.settings; {
	case len(s.Tokens) > 0 && s.Callers != "":
		lock = fmt.Sprintf("for %d tokens and for certificates", len(s.Tokens))
	case len(s.Tokens) > 0:
		lock = fmt.Sprintf("for %d tokens", len(s.Tokens))
	case s.Callers != "":
		lock = "for certificates"
	}
	way := "in the clear"
	if r.keys != nil {
		way = "by TLS"
	}
	fmt.Fprintf(&out, "gRPC at %s, %s, %s\n", r.settings.Listen, way, lock)
	if r.settings.Gateway != "" {
		fmt.Fprintf(&out, "JSON over HTTP at %s, %s, %s\n", r.settings.Gateway, way, lock)
	}
	if r.settings.Metrics != "" {
		fmt.Fprintf(&out, "figures at %s/metrics, in the clear, open to everyone who reaches it\n", r.settings.Metrics)
	}
	for _, t := range r.turns {
		fmt.Fprintf(&out, "forecast %s: %s\n", t.of.Name, t.what)
	}
	if r.settings.Layers != "" {
		fmt.Fprintf(&out, "layers of %s\n", r.settings.Layers)
	}
	_, err := io.WriteString(to, out.String())
	return err
}

// Connections that may be open at a time on each listener, and how long a web client may
// take over its headers and may be idle.
const (
	maxConnections = 512
	headersWithin  = 10 * time.Second
	bodyWithin     = 30 * time.Second
	idleWithin     = 5 * time.Minute
)

// listen listens on an address of the settings.
func listen(setting, address string) (net.Listener, error) {
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("%s: %s: %w", setting, address, err)
	}
	return netutil.LimitListener(l, maxConnections), nil
}

// run serves until the context ends, and then lets calls end.
func (r *running) run(ctx context.Context) (err error) {
	native, err := listen("listen", r.settings.Listen)
	if err != nil {
		return err
	}
	defer r.server.Stop()
	ended := make(chan error, 3)
	var faces []*http.Server
	if r.settings.Gateway != "" {
		face, end, err := r.server.Gateway(r.settings.Origins)
		if err != nil {
			return errors.Join(fmt.Errorf("origins: %w", err), native.Close())
		}
		defer func() { err = errors.Join(err, end()) }()
		web := &http.Server{Handler: face, ReadHeaderTimeout: headersWithin, ReadTimeout: bodyWithin, IdleTimeout: idleWithin, MaxHeaderBytes: 16 << 10}
		if err := r.web("gateway", r.settings.Gateway, web, r.keys, ended); err != nil {
			return errors.Join(err, native.Close())
		}
		faces = append(faces, web)
	}
	if r.settings.Metrics != "" {
		web := &http.Server{Handler: r.seen, ReadHeaderTimeout: headersWithin, WriteTimeout: headersWithin, IdleTimeout: idleWithin}
		if err := r.web("metrics", r.settings.Metrics, web, nil, ended); err != nil {
			return errors.Join(err, native.Close())
		}
		defer func() { err = errors.Join(err, web.Close()) }()
	}
	go func() { ended <- r.server.Serve(native) }()
	again := make(chan os.Signal, 1)
	signal.Notify(again, syscall.SIGHUP)
	defer signal.Stop(again)
	for _, t := range r.turns {
		go t.watch(ctx)
	}
	r.log.Info("serving", "address", native.Addr().String())
	for {
		select {
		case err := <-ended:
			return fmt.Errorf("%w: %w", errInternal, err)
		case <-again:
			r.log.Info("forecasts are read again")
			for _, t := range r.turns {
				t.ask()
			}
		case <-ctx.Done():
			r.drain(faces)
			return r.seen.end()
		}
	}
}

// web serves HTTP on an address of the settings.
func (r *running) web(setting, address string, server *http.Server, keys *keys, ended chan<- error) error {
	l, err := listen(setting, address)
	if err != nil {
		return err
	}
	r.log.Info("serving HTTP", "for", setting, "address", l.Addr().String())
	if keys != nil {
		l = tls.NewListener(l, keys.config("h2", "http/1.1"))
	}
	go func() {
		if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			ended <- err
		}
	}()
	return nil
}

// drain tells health first, lets calls under way end, and cuts off those that do not.
func (r *running) drain(faces []*http.Server) {
	r.log.Info("ending", "after", "calls under way, or "+r.settings.Drain.String())
	r.server.Leaving()
	limit, stop := context.WithTimeout(context.Background(), r.settings.Drain)
	defer stop()
	drained := make(chan struct{})
	go func() {
		for _, web := range faces {
			_ = web.Shutdown(limit) // what is left then is cut off below
		}
		r.server.GracefulStop()
		close(drained)
	}()
	select {
	case <-drained:
	case <-limit.Done():
		r.log.Warn("calls still under way are cut off")
		r.server.Stop()
		for _, web := range faces {
			_ = web.Close()
		}
	}
}
