package mission

import (
	"context"
	"fmt"
	"slices"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/report"
)

// The bounds of Options.Until. The lower is about half of what MaxFlights random
// flights can do for a share of a half, ±0.002.
const (
	MinUntil = 0.001
	MaxUntil = 0.5
	// MaxFlights bounds the flights of one answer, as the plan's schema does.
	MaxFlights = 262144
	// MaxExplain bounds those that Options.Explain adds.
	MaxExplain = ensemble.ExplainRows * 9
)

// CheckUntil is the fault of such a half-width, if it has one.
func CheckUntil(halfWidth float64) error {
	if !(halfWidth >= MinUntil && halfWidth <= MaxUntil) {
		return fmt.Errorf("%g: want %g to %g", halfWidth, MinUntil, MaxUntil)
	}
	return nil
}

// fly flies a spec, and if asked goes on with further scrambles of the same size
// until the answer is as narrow as it should be. The spec then has all the
// scrambles that were flown.
//
// How narrow it is is looked at after each half as many flights again, at most
// 15 times: to stop at the first look that pleases favours intervals that are
// narrow by chance, and the fewer the looks the less so.
func fly(ctx context.Context, scenes []flight.Scene, over *ground.Map, spec *ensemble.Spec, o Options) ([]ensemble.Outcome, *report.Until, error) {
	if o.Until != 0 { // also if it is not a number
		if err := CheckUntil(o.Until); err != nil {
			return nil, nil, fmt.Errorf("half-width %w", err)
		}
	}
	outcomes, err := ensemble.Run(ctx, scenes, over, *spec, o.Progress)
	if err != nil || o.Until == 0 {
		return outcomes, nil, err
	}
	for {
		widest, err := halfWidth(ctx, outcomes, spec.Scrambles, over)
		if err != nil {
			return nil, nil, err
		}
		room := MaxFlights/spec.PerScramble - spec.Scrambles
		if widest <= o.Until || room <= 0 {
			return outcomes, &report.Until{HalfWidth: o.Until, Widest: widest, Reached: widest <= o.Until}, nil
		}
		further := *spec
		further.First, further.Scrambles = spec.Scrambles, min((spec.Scrambles+1)/2, room)
		before := len(outcomes)
		more, err := ensemble.Run(ctx, scenes, over, further, func(done int) {
			if o.Progress != nil {
				o.Progress(before + done)
			}
		})
		if err != nil {
			return nil, nil, err
		}
		outcomes = append(outcomes, more...)
		spec.Scrambles += further.Scrambles
	}
}

// halfWidth is half the widest 95 % interval of the probabilities that an answer
// reports; the error is the context's.
func halfWidth(ctx context.Context, outcomes []ensemble.Outcome, scrambles int, over *ground.Map) (float64, error) {
	widest := 0.0
	for _, e := range endings(outcomes, scrambles) {
		widest = max(widest, e.Share.HalfWidth())
	}
	for _, c := range courses(outcomes, scrambles) {
		widest = max(widest, c.Share.HalfWidth())
	}
	met, err := metBy(ctx, outcomes)
	if err != nil {
		return 0, err
	}
	if slices.ContainsFunc(met, func(m hazard.Met) bool { return m.Landed }) { // else the answer has no landing and no hazard
		widest = max(widest, hazard.Assess(met, scrambles, hazard.Severity{}, over).HalfWidth)
	}
	return widest, ctx.Err()
}

// explain splits the scatter of the landings by cause; so many flights were flown
// before.
func explain(ctx context.Context, scenes []flight.Scene, spec ensemble.Spec, before int, o Options) (*ensemble.Explanation, error) {
	e, err := ensemble.Explain(ctx, scenes, spec, func(done int) {
		if o.Progress != nil {
			o.Progress(before + done)
		}
	})
	if err != nil {
		return nil, err
	}
	return &e, nil
}
