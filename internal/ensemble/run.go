// Package ensemble flies one launch many times over, each time with other draws
// of what is uncertain about it.
//
// It hides the draws, the seeds and the workers. Flights are drawn from
// independent scrambles of a Sobol' sequence, so that they fill the range of
// the uncertain quantities evenly and the scatter between scrambles tells how
// far a share can be trusted; or, if asked, from plain random points in as many
// groups. Flight i of a scramble depends on the seed, on
// the scramble's number and on i alone: not on how many scrambles or flights
// there are, and the result is the same for one worker or many. No path is kept
// beyond its flight. Units are SI, heights are above mean sea level. The package
// knows nothing of what the answers are for.
package ensemble

import (
	"context"
	"errors"
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
	End    flight.End
	Course Course
	Scene  int       // which of the scenes it flew in
	At     geo.Point // of the last point inside the forecast: the landing, if it landed
	Time   float64   // of that point, s since the forecast's first time
	Aloft  float64   // s from release to that point
	Burst  float64   // m above mean sea level, of the burst, or of where it hung
	Speed  float64   // m/s, of fall at the ground
	Held   bool      // part of it flew on the highest level's wind, held
	Met    hazard.Met
}

// Run flies a spec over a map, through scenes that are as likely as each other,
// one for each member of a forecast: at least one, all with the same start.
// Flights are spread evenly over them. Outcome i is flight i; scramble r has the
// PerScramble flights from r·PerScramble on. progress, if not nil, is called
// after every block of at most 128 flights with how many are done, from several
// goroutines.
//
// The error is a fault of the spec or the scenes, or the context's once it is
// done: flying stops within one block of that.
func Run(ctx context.Context, scenes []flight.Scene, over *ground.Map, s Spec, progress func(done int)) ([]Outcome, error) {
	if err := s.checkWith(scenes); err != nil {
		return nil, err
	}
	r := newFlying(scenes, over, s)
	p := newPoints(s, r.draw.used)
	r.point, r.outcomes = p.point, make([]Outcome, s.Scrambles*s.PerScramble)
	r.share(p.coordinate)
	return r.run(ctx, progress)
}

func (s Spec) checkWith(scenes []flight.Scene) error {
	if err := s.Check(); err != nil {
		return err
	}
	if len(scenes) == 0 {
		return errors.New("no scenes: want at least one")
	}
	return nil
}

// run flies the blocks.
func (r *flying) run(ctx context.Context, progress func(done int)) ([]Outcome, error) {
	var next, done atomic.Int64
	var workers sync.WaitGroup
	for range r.spec.workers(len(r.blocks)) {
		workers.Go(func() {
			w := worker{flying: r, hand: newHand(blockSize), results: make([]flight.Result, blockSize), scene: -1}
			for ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= len(r.blocks) {
					return
				}
				w.fly(r.blocks[i])
				if n := int(done.Add(int64(len(r.blocks[i].flights)))); progress != nil {
					progress(n)
				}
			}
		})
	}
	workers.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return r.outcomes, nil
}

// blockSize is how many flights a worker takes at a time.
const blockSize = 128

// flying is one Run under way.
type flying struct {
	spec   Spec
	scenes []flight.Scene
	over   *ground.Map
	draw   *drawer
	dress  *dressing                // nil: members are flown as they are
	point  func(i int, u []float64) // writes the point that flight i is drawn from
	// deal draws flights through a scene, whose points are in a hand, into it.
	deal     func(h *hand, from, scene int, flights [lanes]int)
	blocks   []block
	outcomes []Outcome
}

// newFlying is a run of a spec that is sound; what it flies is to be said yet.
func newFlying(scenes []flight.Scene, over *ground.Map, s Spec) *flying {
	w := s.planned(scenes[0])
	r := &flying{spec: s, scenes: scenes, over: over, draw: newDrawer(s, w), dress: newDressing(scenes, w, s.Launch)}
	if r.dress != nil {
		r.draw.used = dimensions
	}
	if s.Draws == Sobol {
		r.draw.turn = newTurn(scenes[0], r.draw, w, r.dress)
	}
	r.deal = func(h *hand, from, scene int, _ [lanes]int) {
		r.draw.draw(h, from)
		if r.dress != nil {
			for lane := range lanes {
				s := r.dress.scale.of(h.points[lane][scatterDimension])
				z := h.normals[lane][dressDimension:][:len(r.dress.modes)]
				for k := range z {
					z[k] *= s
				}
				r.dress.add(h, from+lane, scene, s, z)
			}
		}
	}
	return r
}

// block is some flights through one scene.
type block struct {
	scene   int
	flights []int
}

// share makes blocks of the flights, scene by scene; coordinate is that of flight
// i's point in a dimension.
func (r *flying) share(coordinate func(i, dimension int) float64) {
	members := make([][2][]int, len(r.scenes))
	for i := range r.outcomes {
		m, off := &members[int(coordinate(i, memberDimension)*float64(len(r.scenes)))], 0
		if coordinate(i, courseDimension) < r.spec.OffNominal.Sum() {
			off = 1 // slow ones would hold the others up
		}
		m[off] = append(m[off], i)
	}
	r.blocks = blocksOf(members)
}

// blocksOf are blocks of the flights of each scene, of which those that may be slow ones
// come second.
func blocksOf(members [][2][]int) (blocks []block) {
	for m := range members {
		for _, flights := range members[m] {
			for len(flights) > 0 {
				n := min(blockSize, len(flights))
				blocks = append(blocks, block{m, flights[:n]})
				flights = flights[n:]
			}
		}
	}
	return blocks
}

// worker flies one block after the other.
type worker struct {
	*flying
	hand    *hand
	results []flight.Result
	kernel  *flight.Kernel
	scene   int        // of the kernel
	sky     hazard.Sky // of the scene
	landing [1]flight.Step
}

func (w *worker) fly(b block) {
	if w.scene != b.scene {
		w.prepare(b.scene)
	}
	for from := 0; from < len(b.flights); from += lanes {
		var flights [lanes]int
		for lane := range lanes {
			// A last one that does not fill its lanes is drawn more than once.
			flights[lane] = b.flights[min(from+lane, len(b.flights)-1)]
			w.point(flights[lane], w.hand.points[lane][:w.draw.used])
		}
		w.deal(w.hand, from, b.scene, flights)
	}
	releases := w.hand.releases[:len(b.flights)]
	w.kernel.Fly(releases, w.results[:len(releases)])
	for k, i := range b.flights {
		if w.hand.moves != nil {
			moveEnd(&w.results[k], w.hand.moves[k])
		}
		w.outcomes[i] = w.outcome(&w.results[k], &releases[k])
		w.outcomes[i].Scene, w.outcomes[i].Course = b.scene, w.hand.courses[k]
		w.outcomes[i].Met.OffNominal = w.hand.courses[k] != Nominal
		if w.hand.bursts != nil {
			w.outcomes[i].Burst = w.hand.bursts[k]
		}
	}
}

// moveEnd moves where a flight ended, m east and north.
func moveEnd(f *flight.Result, by [2]float64) {
	f.At = place(f.At, by)
	if n := len(f.Path); n > 0 {
		f.Path[n-1].At = f.At
	}
}

// prepare makes the kernel ready for a scene.
func (w *worker) prepare(scene int) {
	if w.kernel == nil {
		w.kernel = new(flight.Kernel)
	}
	w.kernel.Prepare(w.scenes[scene], flight.Site{At: w.spec.Launch.At, Height: w.spec.Launch.Height})
	for _, v := range w.over.Volumes {
		w.kernel.Trace, w.kernel.TraceTop = true, max(w.kernel.TraceTop, v.Top())
	}
	w.scene, w.sky = scene, skyOf(w.scenes[scene])
}

func (s Spec) workers(blocks int) int {
	n := s.Workers
	if n <= 0 {
		n = runtime.GOMAXPROCS(0)
	}
	return min(n, blocks)
}

// outcome reduces a flight to what is kept of it.
func (w *worker) outcome(f *flight.Result, r *flight.Release) Outcome {
	path := f.Path
	if len(path) == 0 && f.End == flight.Landed {
		w.landing[0].At, w.landing[0].Time = f.At, f.Time
		path = w.landing[:]
	}
	return Outcome{
		End:   f.End,
		At:    f.At,
		Time:  f.Time,
		Aloft: f.Time - r.Time,
		Burst: float64(r.Train.Burst),
		Speed: f.Speed,
		Held:  f.Held,
		Met:   hazard.Meet(w.over, flight.Flight{End: f.End, Path: path}, w.sky),
	}
}
