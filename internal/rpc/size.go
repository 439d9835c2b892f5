package rpc

import (
	"context"
	"math"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/report"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// SizeTrain works out what follows from a plan's weighed train.
func (s *service) SizeTrain(ctx context.Context, request *thistledownv1.SizeTrainRequest) (*thistledownv1.SizeTrainResponse, error) {
	p, err := s.plan(request.GetPlan())
	if err != nil {
		return nil, err
	}
	leave, err := s.admit(ctx, 1)
	if err != nil {
		return nil, err
	}
	defer leave()
	if p, err = mission.Sited(ctx, p, s.planner.Find); err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	on, err := s.forecast(ctx, p)
	if err != nil {
		return nil, err
	}
	r, err := mission.Size(p, on.Winds[0])
	if err != nil {
		return nil, err
	}
	return SizeResponse(r), nil
}

// SizeResponse is what follows from a train as the schema has it.
func SizeResponse(r report.Train) *thistledownv1.SizeTrainResponse {
	return &thistledownv1.SizeTrainResponse{Train: sized(r)}
}

func weight(w balloon.Weighed) *thistledownv1.Weight {
	return &thistledownv1.Weight{MassKg: w.Mass, SpreadKg: w.Spread}
}

// sized is a train as the schema has it.
func sized(r report.Train) *thistledownv1.SizedTrain {
	m := &thistledownv1.SizedTrain{
		Load: weight(r.Load), Lifted: weight(r.Lifted), Falling: weight(r.Falling), Landing: weight(r.Landing),
		Gas: &thistledownv1.SizedGas{
			Helium: r.Gas.Gas.Helium, Hydrogen: r.Gas.Gas.Hydrogen, MassKg: r.Gas.Mass, VolumeM3: r.Gas.Volume,
			PressurePa: float64(r.Gas.At.Pressure), TemperatureK: r.Gas.At.Temperature, Spread: r.Gas.Spread,
		},
		ReleaseDiameterM: r.Release.Diameter, GrossLiftKg: r.Release.Gross, NeckLiftKg: r.Release.Pull, FreeLiftKg: r.Release.Free,
		AscentRateMS: r.Ascent.Centre, AscentRateSpreadMS: r.Ascent.Spread, AscentRateNearGroundMS: r.NearGround,
		BurstHeightM: r.Burst.Centre, BurstHeightSpreadM: r.Burst.Spread, Floats: r.Ending == balloon.Floats,
		FallSpeedMS: r.Fall.Centre, FallSpeedSpreadMS: r.Fall.Spread,
		TimeUpS: r.Up, TimeDownS: r.Down, OpeningForceN: r.Opening.Greatest,
		EnvelopeMassKg: r.Envelope.Mass, EnvelopeBurstsAtM: r.Envelope.Burst, EnvelopeFound: r.Found != nil,
		StandardAir: r.Standard, Warnings: r.Warnings, Cautions: r.Cautions,
		Rules: checks(r.Rules),
	}
	for _, t := range r.Landings {
		m.Touchdowns = append(m.Touchdowns, &thistledownv1.Touchdown{Way: t.Name, SpeedMS: t.Speed, EnergyJ: t.Energy})
	}
	for _, c := range r.Causes {
		m.Causes = append(m.Causes, &thistledownv1.TrainCause{
			Name: c.Name, Spread: c.Spread, AscentRateMS: c.Ascent, BurstHeightM: c.Burst, FallSpeedMS: c.Fall,
		})
	}
	if b := r.Bill; b != nil {
		m.Bill = &thistledownv1.GasBill{
			Cylinders: uint32(b.Cylinders), Opened: uint32(b.Opened), Short: b.Short / r.Gas.Moles, //nolint:gosec // at most 1,000
			LastGaugePa: b.Last, Cost: b.Cost.Amount, Currency: b.Cost.Currency,
		}
	}
	for _, b := range r.Batteries {
		// JSON has no infinity: a battery that gives nothing has used itself up.
		used := min(b.Used, 1e6)
		if math.IsNaN(used) {
			used = 1e6
		}
		m.Batteries = append(m.Batteries, &thistledownv1.BatteryLife{
			Name: b.Name, WantedS: b.Wanted, Used: used, DiesS: b.Dies, ColdestK: b.Coldest,
		})
	}
	return m
}
