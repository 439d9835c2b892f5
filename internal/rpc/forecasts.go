package rpc

import (
	"context"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/report"
	"example.org/thistledown/internal/wind"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// ListForecasts tells which forecasts the service flies on.
func (s *service) ListForecasts(ctx context.Context, _ *thistledownv1.ListForecastsRequest) (*thistledownv1.ListForecastsResponse, error) {
	all, m := s.shelf(ctx), &thistledownv1.ListForecastsResponse{}
	for i, name := range all.names {
		if f := all.forecasts[i]; f != nil {
			m.Forecasts = append(m.Forecasts, forecast(name, f.Winds, time.Now()))
		}
	}
	return m, nil
}

// forecast is a forecast of one member or more as the schema has it.
func forecast(name string, winds []*wind.Field, now time.Time) *thistledownv1.Forecast {
	f := winds[0]
	g := f.Grid()
	m := &thistledownv1.Forecast{
		Name: name, Centre: uint32(f.Centre()), Model: report.CentreName(f.Centre()),
		Cycle: timestamppb.New(f.Cycle()), Members: uint32(len(winds)), //nolint:gosec // a forecast has a few dozen
		Box: area(g.Box()), GridLatitudeDeg: g.DLat, GridLongitudeDeg: g.DLon,
		TopM: f.LowestTop(), AgeS: now.Sub(f.Cycle()).Seconds(),
	}
	for _, t := range f.Times() {
		m.Steps = append(m.Steps, timestamppb.New(f.Start().Add(time.Duration(t*float64(time.Second)))))
	}
	return m
}

// area is a box as the schema has it.
func area(b geo.Box) *thistledownv1.Area {
	if b.East-b.West < 360 {
		b.West, b.East = geo.WrapLon(b.West), geo.WrapLon(b.East)
	}
	return &thistledownv1.Area{South: b.South, North: b.North, West: b.West, East: b.East}
}
