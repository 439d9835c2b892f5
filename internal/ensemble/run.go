// Package ensemble flies one launch many times over, each time with other draws
// of what is uncertain about it.
//
// It hides the draws, the seeds and the workers. Flights are drawn from
// independent scrambles of a Sobol' sequence, so that they fill the range of
// the uncertain quantities evenly and the scatter between scrambles tells how
// far a share can be trusted. Flight i of a scramble depends on the seed, on
// the scramble's number and on i alone: not on how many scrambles or flights
// there are, and the result is the same for one worker or many. No path is kept
// beyond its flight. Units are SI, heights are above mean sea level. The package
// knows nothing of what the answers are for.
package ensemble

import (
	"context"
	"errors"
	"math/bits"
	"runtime"
	"sync"
	"sync/atomic"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
)

// Outcome is what is kept of one flight.
type Outcome struct {
	End   flight.End
	Scene int       // which of the scenes it flew in
	At    geo.Point // of the last point inside the forecast: the landing, if it landed
	Time  float64   // of that point, s since the forecast's first time
	Aloft float64   // s from release to that point
	Burst float64   // m above mean sea level, of the burst that was drawn
	Speed float64   // m/s, of fall at the ground
	Held  bool      // part of it flew on the highest level's wind, held
	Met   hazard.Met
}

// Run flies a spec over a map, through scenes that are as likely as each other,
// one for each member of a forecast: at least one, all with the same start.
// Flights are spread evenly over them. Outcome i is flight i; scramble r has the
// PerScramble flights from r·PerScramble on. progress, if not nil, is called
// after every 16 flights with how many are done, from several goroutines.
//
// The error is a fault of the spec or the scenes, or the context's once it is
// done: flying stops within one flight of that.
func Run(ctx context.Context, scenes []flight.Scene, over *ground.Map, s Spec, progress func(done int)) ([]Outcome, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	if len(scenes) == 0 {
		return nil, errors.New("no scenes: want at least one")
	}
	scrambles := make([]scramble, s.Scrambles)
	for r := range scrambles {
		scrambles[r] = newScramble(s.Seed, uint64(r), dimensions, bits.Len(uint(s.PerScramble-1)))
	}
	outcomes := make([]Outcome, s.Scrambles*s.PerScramble)
	draw := newDrawer(s)
	var next, done atomic.Int64
	var workers sync.WaitGroup
	for range s.workers(len(outcomes)) {
		workers.Go(func() {
			u := make([]float64, dimensions)
			var path []flight.Step
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= len(outcomes) {
					return
				}
				scrambles[i/s.PerScramble].point(i%s.PerScramble, u)
				release := draw.release(u)
				member := int(u[memberDimension] * float64(len(scenes)))
				f := scenes[member].Fly(release, path)
				outcomes[i] = outcome(f, over, release)
				outcomes[i].Scene = member
				path = f.Path
				if n := int(done.Add(1)); progress != nil && n%progressEvery == 0 {
					progress(n)
				}
			}
		})
	}
	workers.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return outcomes, nil
}

// progressEvery is how many flights pass between two calls of progress.
const progressEvery = 16

func (s Spec) workers(flights int) int {
	n := s.Workers
	if n <= 0 {
		n = runtime.GOMAXPROCS(0)
	}
	return min(n, flights)
}

// outcome reduces a flight to what is kept of it.
func outcome(f flight.Flight, over *ground.Map, r flight.Release) Outcome {
	o := Outcome{
		End:   f.End,
		At:    r.At,
		Time:  r.Time,
		Burst: float64(r.Train.Burst),
		Speed: f.Speed,
		Held:  f.Held,
		Met:   hazard.Meet(over, f),
	}
	if n := len(f.Path); n > 0 {
		o.At, o.Time = f.Path[n-1].At, f.Path[n-1].Time
		o.Aloft = o.Time - f.Path[0].Time
	}
	return o
}
