package rpc

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/types/known/durationpb"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/wind"
)

// Forecast is one forecast as it was loaded. It is read-only.
type Forecast struct {
	Winds    []*wind.Field // of each member
	Warnings []string      // what the forecast lacks, in whole sentences
}

// Catalogue is the forecasts that a service flies on, by name. They turn over while
// calls run: a call sees the catalogue as it was when the call began, and no other, to
// its end.
//
// A forecast lies unpacked in ordinary memory, its file closed before it comes here.
// So nothing counts who uses one that was replaced: the collector takes it once the
// last call that flies on it has ended.
type Catalogue struct {
	oldest time.Duration // age of a cycle beyond which it is told; 0: none is too old
	now    atomic.Pointer[shelf]

	mutex   sync.Mutex
	changed []func()    // called with each change of what is fit to be flown on
	expiry  *time.Timer // of the newest
}

// shelf is a catalogue at one time. It never changes.
type shelf struct {
	names     []string
	forecasts []*Forecast // by name; nil: not loaded yet
}

// NewCatalogue is a catalogue of some names, the first of which stands for a plan that
// names none. None of them is loaded yet. Cycles older than the given age are flown on,
// but with a warning, and health says that nothing is served; 0 is for any age.
func NewCatalogue(oldest time.Duration, names ...string) *Catalogue {
	c := &Catalogue{oldest: oldest}
	c.now.Store(&shelf{names: names, forecasts: make([]*Forecast, len(names))})
	return c
}

// Put puts a forecast in the place of the one of that name. Calls under way end on what
// they began with. A name that the catalogue was not made with is a bug and panics.
func (c *Catalogue) Put(name string, f Forecast) {
	c.mutex.Lock()
	defer c.mutex.Unlock()
	was := c.now.Load()
	i := slices.Index(was.names, name)
	if i < 0 {
		panic("rpc: no forecast is called " + name)
	}
	is := &shelf{names: was.names, forecasts: slices.Clone(was.forecasts)}
	is.forecasts[i] = &f
	c.now.Store(is)
	if c.expiry != nil {
		c.expiry.Stop()
	}
	if c.oldest > 0 {
		if left := c.oldest - is.age(time.Now()); left > 0 {
			c.expiry = time.AfterFunc(left+time.Millisecond, func() {
				c.mutex.Lock()
				defer c.mutex.Unlock()
				c.tell()
			})
		}
	}
	c.tell()
}

// onChange calls a function now and whenever what is fit to be flown on may have changed.
func (c *Catalogue) onChange(do func()) {
	c.mutex.Lock()
	defer c.mutex.Unlock()
	c.changed = append(c.changed, do)
	do()
}

func (c *Catalogue) tell() {
	for _, do := range c.changed {
		do()
	}
}

// fit reports whether there is a forecast that is not too old.
func (c *Catalogue) fit(now time.Time) bool {
	s := c.now.Load()
	return s.loaded() && (c.oldest == 0 || s.age(now) <= c.oldest)
}

// loaded reports whether there is any.
func (s *shelf) loaded() bool {
	return slices.ContainsFunc(s.forecasts, func(f *Forecast) bool { return f != nil })
}

// age is that of the newest cycle; 0 without any.
func (s *shelf) age(now time.Time) time.Duration {
	var newest time.Time
	for _, f := range s.forecasts {
		if f != nil && f.Winds[0].Cycle().After(newest) {
			newest = f.Winds[0].Cycle()
		}
	}
	if newest.IsZero() {
		return 0
	}
	return now.Sub(newest)
}

// shelfKey is where a context has the catalogue that its call sees.
type shelfKey struct{}

// seeing is the context of a call that sees the catalogue as it is now.
func (c *Catalogue) seeing(ctx context.Context) context.Context {
	return context.WithValue(ctx, shelfKey{}, c.now.Load())
}

// shelf is the catalogue as a call sees it.
func (*service) shelf(ctx context.Context) *shelf {
	all, ok := ctx.Value(shelfKey{}).(*shelf)
	if !ok {
		panic("rpc: a call without its catalogue")
	}
	return all
}

// forecast is the one that a plan is flown on.
func (s *service) forecast(ctx context.Context, p plan.Plan) (*Forecast, error) {
	all, i := s.shelf(ctx), 0
	if p.ForecastName != "" {
		if i = slices.Index(all.names, p.ForecastName); i < 0 {
			return nil, plan.Faults{{Field: "forecast.name", Value: fmt.Sprintf("%q", p.ForecastName), Want: "one of this service's: " + strings.Join(all.names, ", ")}}
		}
	}
	if all.forecasts[i] == nil {
		return nil, detailed(codes.Unavailable, "forecast "+all.names[i]+": not loaded yet",
			&errdetails.RetryInfo{RetryDelay: durationpb.New(loadRetry)})
	}
	return all.forecasts[i], nil
}

// loadRetry is when to ask again for a forecast that is being loaded.
const loadRetry = 5 * time.Second

// world is a forecast as a plan is flown on it, without the ground.
func (s *service) world(f *Forecast) mission.World {
	w := mission.World{Winds: f.Winds, Warnings: f.Warnings}
	oldest := s.planner.Forecasts.oldest
	if age := time.Since(f.Winds[0].Cycle()); oldest > 0 && age > oldest {
		w.Warnings = append([]string{fmt.Sprintf(
			"The forecast's cycle is %.0f h old, more than the %.0f h that this service is run with: newer ones failed to come.", age.Hours(), oldest.Hours(),
		)}, w.Warnings...)
	}
	return w
}
