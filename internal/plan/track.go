package plan

import (
	"fmt"
	"time"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// Track is where a flight was seen, and where it was looked for.
type Track struct {
	Fixes    []Fix      // in any order, 1 to MaxFixes
	Searched []Searched // at most 64
}

// MaxFixes bounds the fixes of one flight.
const MaxFixes = ensemble.MaxFixes

// Fix is one position at which a flight was seen.
type Fix struct {
	Time   time.Time
	At     geo.Point
	Height float64 // m above mean sea level, -500 m to 50 km
	Error  float64 // one standard deviation on each axis, m; 0: not said
}

// Searched is a round piece of ground on which the payload was looked for.
type Searched struct {
	At        geo.Point
	Radius    float64 // m
	Detection float64 // how likely it would have been found, were it there, 0 to 1
}

var (
	fixHeightSpec = spec{field: "thistledown.v1.Fix.height", kind: plainLength, example: "12340 m", low: -500, high: 50000}
	fixErrorSpec  = spec{field: "thistledown.v1.Fix.error", kind: plainLength, example: "15 m", low: 1, high: 5000}
	radiusSpec    = spec{field: "thistledown.v1.Searched.radius", kind: plainLength, example: "150 m", low: 1, high: 20000}
	detectionSpec = spec{field: "thistledown.v1.Searched.detection", kind: plainPercent, example: "80 %", low: 0, high: 1}
	cellSpec      = spec{field: "thistledown.v1.SearchRequest.cell", kind: plainLength, example: "100 m", low: 10, high: 5000}
)

// trackSpecs is all quantities of a track.
var trackSpecs = [...]spec{fixHeightSpec, fixErrorSpec, radiusSpec, detectionSpec, cellSpec}

// CheckTrack turns a track into values. Its Faults name fields of the track, such as
// fixes[0].height. A nil track is a fault.
func CheckTrack(m *thistledownv1.Track) (Track, error) {
	d := newDraft("", nil)
	if m == nil {
		d.stop(problem{value: missing, want: "a track: fixes, with the time, latitude, longitude and height of each"})
		return Track{}, d.done()
	}
	if d.lists(m); d.stopped {
		return Track{}, d.done()
	}
	if err := d.rules(m); err != nil {
		return Track{}, fmt.Errorf("track: the schema's rules cannot be checked: %w", err)
	}
	t := Track{Searched: d.searched(m.GetSearched())}
	for i, f := range m.GetFixes() {
		at := item("fixes", i)
		if f.GetTime() != nil && !f.GetTime().IsValid() {
			d.refuse(join(at, "time"), shownTime(f.GetTime()), "a time from the year 1 to 9999")
		}
		t.Fixes = append(t.Fixes, Fix{
			Time: f.GetTime().AsTime(), At: geo.Point{Lat: f.GetLatitude(), Lon: geo.WrapLon(f.GetLongitude())},
			Height: d.quantity(join(at, "height"), f.GetHeight(), fixHeightSpec).Centre,
			Error:  d.quantity(join(at, "error"), f.GetError(), fixErrorSpec).Centre,
		})
	}
	if err := d.done(); err != nil {
		return Track{}, err
	}
	return t, nil
}

// searched is where it was looked for.
func (d *draft) searched(all []*thistledownv1.Searched) []Searched {
	var out []Searched
	for i, s := range all {
		at := item("searched", i)
		out = append(out, Searched{
			At:        geo.Point{Lat: s.GetLatitude(), Lon: geo.WrapLon(s.GetLongitude())},
			Radius:    d.quantity(join(at, "radius"), s.GetRadius(), radiusSpec).Centre,
			Detection: d.quantity(join(at, "detection"), s.GetDetection(), detectionSpec).Centre,
		})
	}
	return out
}

// CheckSearched is CheckTrack for what of a track is no fix.
func CheckSearched(all []*thistledownv1.Searched) ([]Searched, error) {
	d := newDraft("", nil)
	m := &thistledownv1.Track{Searched: all}
	if d.lists(m); d.stopped {
		return nil, d.done()
	}
	for i, s := range all {
		one := newDraft("", nil)
		if err := one.rules(s); err != nil {
			return nil, fmt.Errorf("searched: the schema's rules cannot be checked: %w", err)
		}
		for _, f := range one.faults {
			d.refuse(join(item("searched", i), f.Field), f.Value, f.Want)
		}
	}
	out := d.searched(all)
	if err := d.done(); err != nil {
		return nil, err
	}
	return out, nil
}

// CheckCell reads the side of a cell, m; 0 where it is not said.
func CheckCell(text string) (float64, error) {
	d := newDraft("", nil)
	side := d.quantity("cell", text, cellSpec).Centre
	return side, d.done()
}
