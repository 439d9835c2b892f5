package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"time"

	"example.org/thistledown/internal/fetch"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/rpc"
	"example.org/thistledown/internal/wind"
)

// lookEvery is how often a folder is looked at for a newer cycle.
const lookEvery = 5 * time.Second

// errNothingKept is that of a folder without cubes of the source.
var errNothingKept = errors.New("no cube of that source: want one as winds pull leaves it")

// turnover keeps one forecast of the service up to date.
type turnover struct {
	of    plan.KeptForecast
	area  geo.Box
	into  *rpc.Catalogue
	log   *slog.Logger
	every time.Duration // 0: lookEvery
	again chan struct{} // to read it again at once

	file string // the cube that was loaded last
	what string // was loaded, in words
}

// load reads the forecast beside the one that is flown on, and puts it in its place.
// A cube that is loaded already is not read again.
func (t *turnover) load(ctx context.Context) error {
	files := t.of.Files
	if t.of.Kept != "" {
		kept, err := fetch.Kept(t.of.Kept)
		if err != nil {
			return fmt.Errorf("forecast %s: %w", t.of.Name, err)
		}
		i := slices.IndexFunc(kept, func(c fetch.Cube) bool { return c.Source == t.of.Source }) // the newest first
		if i < 0 {
			t.what = "none yet in " + t.of.Kept
			return fmt.Errorf("forecast %s: %s: %s: %w", t.of.Name, t.of.Kept, t.of.Source, errNothingKept)
		}
		if kept[i].File == t.file {
			return nil
		}
		files = []string{kept[i].File}
	}
	began := time.Now()
	fields, warnings, err := mission.Forecast(ctx, files, t.of.Above, wind.Part{Box: t.area})
	if err != nil {
		return fmt.Errorf("forecast %s: %w", t.of.Name, err)
	}
	for _, w := range warnings {
		t.log.Warn(w, "forecast", t.of.Name)
	}
	t.into.Put(t.of.Name, rpc.Forecast{Winds: fields, Warnings: warnings})
	t.file = files[0]
	f := fields[0]
	t.what = fmt.Sprintf("cycle %s, winds from %s to %s, %d members, of %s",
		f.Cycle().UTC().Format(time.RFC3339), f.Start().UTC().Format(time.RFC3339), f.End().UTC().Format(time.RFC3339), len(fields), strings.Join(files[:min(len(files), 3)], ", "))
	t.log.Info("forecast loaded", "forecast", t.of.Name, "cycle", f.Cycle(), "from", f.Start(), "to", f.End(), "members", len(fields), "took", time.Since(began).Round(time.Millisecond))
	return nil
}

// ask has the forecast read again soon.
func (t *turnover) ask() {
	select {
	case t.again <- struct{}{}:
	default: // it will be
	}
}

// watch looks for newer cycles until the context ends. What cannot be read is logged,
// once, and the forecast at hand stays.
func (t *turnover) watch(ctx context.Context) {
	every := t.every
	if every == 0 {
		every = lookEvery
	}
	tick := time.NewTicker(every)
	defer tick.Stop()
	last := ""
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.again:
			t.file = ""
		case <-tick.C:
			if t.of.Kept == "" {
				continue
			}
		}
		err := t.load(ctx)
		switch {
		case err == nil:
			last = ""
		case ctx.Err() == nil && err.Error() != last:
			t.log.Error("forecast not loaded", "forecast", t.of.Name, "error", err)
			last = err.Error()
		}
	}
}
