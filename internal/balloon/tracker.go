package balloon

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/atmos"
)

// ReceiverStop is the height above which many receivers of satellite positions
// stop, by the custom that export controls have made: 18 km (60,000 ft), often
// together with 515 m/s. Some stop at either, some only at both. Common
// practice, from memory.
const ReceiverStop atmos.Geometric = 18000

// TrackerKind is how a tracker reports.
type TrackerKind uint8

// The kinds of tracker.
const (
	RadioTracker     TrackerKind = iota + 1 // to a receiver within its radio horizon
	SatelliteTracker                        // by satellite
	PhoneTracker                            // by a mobile telephone network
)

// Tracker reports where the payload is.
type Tracker struct {
	Kind     TrackerKind
	Interval float64 // s between reports, 0.1 to 86400
	// WorksAbove tells that whoever plans has stated that its receiver gives
	// positions above ReceiverStop; without that it is taken to stop there.
	WorksAbove bool
}

// Check reports every quantity of the tracker that is outside its limits.
func (t Tracker) Check() error {
	var w wants
	if t.Kind < RadioTracker || t.Kind > PhoneTracker {
		w = append(w, fmt.Errorf("tracker of kind %d: want radio, satellite or phone", t.Kind))
	}
	w.between("time between reports", t.Interval, 0.1, 86400, "s")
	return w.err()
}

// Reports is how many reports fall into a time in s, the one at its start left
// out.
func (t Tracker) Reports(time float64) int {
	return int(math.Floor(time / t.Interval * (1 + 1e-12)))
}

// Spacing is the way in m between two reports at a speed downward and a wind,
// both m/s: near the ground, how far from the last report it may lie.
func (t Tracker) Spacing(speed, wind float64) float64 {
	return t.Interval * math.Hypot(speed, wind)
}

// Moment is a time in s and the height then.
type Moment struct {
	Time   float64
	Height atmos.Geometric
}

// Blind is the part of a flight without positions.
type Blind struct {
	From, To float64 // s, the first and the last moment without; both 0 without any
	Time     float64 // s without in all
	Share    float64 // of the flight's time, 0 to 1
	Missed   int     // reports that fall into it
}

// Blind is the part of a flight, given as moments in order with straight legs
// between them, that the tracker spends above ReceiverStop without a position.
func (t Tracker) Blind(flight []Moment) (Blind, error) {
	var w wants
	w.add("tracker", t.Check())
	if len(flight) < 2 {
		w = append(w, fmt.Errorf("flight of %d moments: want 2 or more", len(flight)))
	}
	for i, m := range flight {
		if i > 0 && !(m.Time > flight[i-1].Time) || math.IsNaN(m.Time) || math.IsInf(m.Time, 0) {
			w = append(w, fmt.Errorf("moment %d: time %g s: want it after the moment before", i+1, m.Time))
		}
		w.between(fmt.Sprintf("moment %d: height", i+1), float64(m.Height), -1000, 80e3, "m")
	}
	if err := w.err(); err != nil {
		return Blind{}, err
	}
	if t.WorksAbove {
		return Blind{}, nil
	}
	var b Blind
	for i := 1; i < len(flight); i++ {
		from, to, over := above(flight[i-1], flight[i])
		if !over {
			continue
		}
		if b.Time == 0 {
			b.From = from
		}
		b.To = to
		b.Time += to - from
		b.Missed += reportsIn(from-flight[0].Time, to-flight[0].Time, t.Interval)
	}
	b.Share = b.Time / (flight[len(flight)-1].Time - flight[0].Time)
	return b, nil
}

// reportsIn is how many whole multiples of an interval lie after one time and
// not after another.
func reportsIn(from, to, interval float64) int {
	return int(math.Floor(to/interval) - math.Floor(from/interval))
}

// above is the times between which a straight leg is above ReceiverStop.
func above(a, b Moment) (from, to float64, over bool) {
	if a.Height <= ReceiverStop && b.Height <= ReceiverStop {
		return 0, 0, false
	}
	from, to = a.Time, b.Time
	cross := func() float64 {
		return a.Time + (b.Time-a.Time)*float64((ReceiverStop-a.Height)/(b.Height-a.Height))
	}
	if a.Height < ReceiverStop {
		from = cross()
	}
	if b.Height < ReceiverStop {
		to = cross()
	}
	return from, to, true
}

// Caution is something that whoever plans should know, with its source.
type Caution struct{ Text, Source string }

// Cautions is what to know of trackers on a flight to a height.
func Cautions(trackers []Tracker, top atmos.Geometric) []Caution {
	var out []Caution
	var phone, stops bool
	for _, t := range trackers {
		phone = phone || t.Kind == PhoneTracker
		stops = stops || !t.WorksAbove
	}
	if phone {
		out = append(out, Caution{
			"a mobile telephone is no tracker in the air: in the United States one aboard a balloon must not be operated while airborne, and networks point their beams at the ground; count on it after landing only, where there is coverage",
			"47 CFR 22.925, seen as a copy, of the 800 MHz service; the beams: common practice",
		})
	}
	if stops && top > ReceiverStop {
		out = append(out, Caution{
			"many receivers of satellite positions give none above 60,000 ft, which is 18\u00a0km, and this flight goes higher: ask the maker of yours",
			"common practice, from memory",
		})
	}
	if len(trackers) < 2 {
		out = append(out, Caution{"one tracker that fails is a payload lost: fly two that share neither battery nor network", "common practice"})
	}
	return out
}
