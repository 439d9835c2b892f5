package rpc

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/types/known/durationpb"

	"example.org/thistledown/internal/mission"
	"example.org/thistledown/internal/plan"
)

// Limits bound the work that a service takes on.
type Limits struct {
	Waiting   int // calls that may wait for their turn, short and long ones each
	PerCaller int // calls of one caller, worked on and waiting
	Flights   int // of one call
}

// DefaultLimits are those of a service that is told no others.
func DefaultLimits() Limits { return Limits{Waiting: 64, PerCaller: 16, Flights: 16 << 20} }

const (
	// longFrom is from how many flights on a call is a long one, which waits among its
	// like: a week never holds up a single launch.
	longFrom = 32768
	// atOnce and longAtOnce are how many short and long calls are worked on at the same
	// time. Each uses every processor and the memory of its own layers.
	atOnce, longAtOnce = 2, 1
	// firstPace is how many flights a second are expected before any were flown.
	firstPace = 50e3
	// The soonest and the latest that a caller is told to come again.
	soonestRetry, latestRetry = time.Second, time.Minute
)

// admission lets calls in one after the other.
type admission struct {
	limits Limits

	mutex   sync.Mutex
	short   lane
	long    lane
	callers map[string]int // calls worked on and waiting
	pace    float64        // flights/s of late
	flights float64        // of calls that were let in and have ended
	refused int64          // calls
}

// lane is a queue and what is worked on of it.
type lane struct {
	free    int
	waiting []*ticket // the first has waited longest
	running map[string]int
	ahead   float64 // flights of all that are here
}

// ticket is one call that waits.
type ticket struct {
	caller string
	turn   chan struct{} // closed when it is its turn
}

func newAdmission(l Limits) *admission {
	return &admission{
		limits: l, callers: map[string]int{}, pace: firstPace,
		short: lane{free: atOnce, running: map[string]int{}}, long: lane{free: longAtOnce, running: map[string]int{}},
	}
}

// flightsOf is how many flights so many launches of a plan are at most. A forecast's
// members share them: more members are not more flights.
func flightsOf(p plan.Plan, launches int, o mission.Options) float64 {
	each := float64(p.Scrambles * p.PerScramble)
	if o.Until > 0 {
		each = mission.MaxFlights
	}
	if o.Explain {
		each += explainFlights
	}
	return each * float64(launches)
}

// explainFlights is what an explanation flies besides, at most: as the schema says,
// 1,024 for each of a dozen causes and 2,048.
const explainFlights = 14 * 1024

// enter waits for a caller's turn to fly so many flights, which ends with leave, once
// or again. Among those who wait it is the turn of whoever has the least under way. What is too much is
// refused at once: the error is a status, or the context's.
func (a *admission) enter(ctx context.Context, caller string, flights float64) (leave func(), err error) {
	if flights > float64(a.limits.Flights) {
		return nil, detailed(codes.ResourceExhausted, fmt.Sprintf("%.0f flights in one call: want at most %d: fewer launch times, plans or flights each", flights, a.limits.Flights),
			&errdetails.QuotaFailure{Violations: []*errdetails.QuotaFailure_Violation{{Subject: "call", Description: "flights"}}})
	}
	l := &a.short
	if flights >= longFrom {
		l = &a.long
	}
	t, err := a.queue(l, caller, flights)
	if err != nil {
		return nil, err
	}
	select {
	case <-t.turn:
	case <-ctx.Done():
		a.give(l, t, flights)
		return nil, ctx.Err()
	}
	began := time.Now()
	return sync.OnceFunc(func() {
		a.flown(flights, time.Since(began))
		a.give(l, t, flights)
	}), nil
}

// queue takes a call in, or refuses it.
func (a *admission) queue(l *lane, caller string, flights float64) (*ticket, error) {
	a.mutex.Lock()
	defer a.mutex.Unlock()
	switch {
	case a.callers[caller] >= a.limits.PerCaller:
		return nil, a.refuse(l, "caller", fmt.Sprintf("%d calls of this caller under way: want at most %d", a.callers[caller], a.limits.PerCaller))
	case l.free == 0 && len(l.waiting) >= a.limits.Waiting:
		return nil, a.refuse(l, "service", fmt.Sprintf("%d calls wait: want at most %d", len(l.waiting), a.limits.Waiting))
	}
	t := &ticket{caller: caller, turn: make(chan struct{})}
	a.callers[caller]++
	l.ahead += flights
	l.waiting = append(l.waiting, t)
	l.next()
	return t, nil
}

// next gives free places to those who wait.
func (l *lane) next() {
	for l.free > 0 && len(l.waiting) > 0 {
		first := 0
		for i, t := range l.waiting {
			if l.running[t.caller] < l.running[l.waiting[first].caller] {
				first = i
			}
		}
		t := l.waiting[first]
		l.waiting = slices.Delete(l.waiting, first, first+1)
		l.free--
		l.running[t.caller]++
		close(t.turn)
	}
}

// give takes a call out, whether it had its turn or only waited.
func (a *admission) give(l *lane, t *ticket, flights float64) {
	a.mutex.Lock()
	defer a.mutex.Unlock()
	less(a.callers, t.caller)
	l.ahead -= flights
	if i := slices.Index(l.waiting, t); i >= 0 {
		l.waiting = slices.Delete(l.waiting, i, i+1)
		return
	}
	less(l.running, t.caller)
	l.free++
	l.next()
}

// less counts one off, and forgets who has none.
func less(counts map[string]int, of string) {
	if counts[of]--; counts[of] <= 0 {
		delete(counts, of)
	}
}

// flown notes how fast flights were flown, for what refused callers are told.
func (a *admission) flown(flights float64, took time.Duration) {
	const least, weight = 1000, 0.1
	a.mutex.Lock()
	defer a.mutex.Unlock()
	if a.flights += flights; flights < least || took <= 0 {
		return
	}
	a.pace += weight * (flights/took.Seconds() - a.pace)
}

// refuse is the status of a call that is one too many, and says when to come again:
// once what is ahead of it should be flown.
func (a *admission) refuse(l *lane, subject, what string) error {
	a.refused++
	after := time.Duration(math.Min(l.ahead/a.pace, latestRetry.Seconds()) * float64(time.Second))
	return detailed(codes.ResourceExhausted, what+": come again later",
		&errdetails.RetryInfo{RetryDelay: durationpb.New(max(after, soonestRetry))},
		&errdetails.QuotaFailure{Violations: []*errdetails.QuotaFailure_Violation{{Subject: subject, Description: what}}})
}

// waits is how many calls wait and are worked on.
func (a *admission) waits() (waiting, running int) {
	a.mutex.Lock()
	defer a.mutex.Unlock()
	return len(a.short.waiting) + len(a.long.waiting), atOnce + longAtOnce - a.short.free - a.long.free
}

// admit waits for the turn of a call that flies so many flights.
func (s *service) admit(ctx context.Context, flights float64) (leave func(), err error) {
	return s.admission.enter(ctx, callerOf(ctx), flights)
}
