package report

import (
	"time"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// Chase is what is known of a flight under way by where it was seen.
type Chase struct {
	// Launch is the flights on from the last believed fix, and what is where they come
	// down. Distances from the site are those from the launch.
	Launch Launch
	Phase  ensemble.Phase
	// Seen are the believed fixes in the order of time, at least one, Given how many
	// there were, and Rejected those that are not believed.
	Seen     []Seen
	Given    int
	Rejected []Unseen
	// Rise is the mean rate of ascent to come, m/s, Fall the speed of fall in air of
	// 1.225 kg/m³, m/s, Burst the burst's height, past or to come, m.
	Rise, Fall, Burst Spread
	// Distance and Bearing lead from the last fix to the most likely landing, m and
	// degrees; zero where nothing lands.
	Distance, Bearing float64
	// Members is how likely each member of the forecast is by what was seen; nil for a
	// single forecast.
	Members []float64
}

// Last is the last believed fix.
func (c *Chase) Last() Seen { return c.Seen[len(c.Seen)-1] }

// Seen is where a flight was seen.
type Seen struct {
	Number int // among the fixes given, from 0
	Time   time.Time
	At     geo.Point
	Height float64 // m above mean sea level
}

// Unseen is a fix that is not believed, and why, to be read after "it".
type Unseen struct {
	Seen
	Why string
}

// Search is where to look for a payload.
type Search struct {
	Chase
	Side  float64 // of a cell, m; sides run east and north
	Cells []Cell  // the likeliest first
	// Searched is how likely it would have been found by now where it was looked for.
	Searched float64
}

// Cell is a square of ground.
type Cell struct {
	Middle            geo.Point
	Share, Contained  float64 // how likely the payload is in it; in it or one before it
	Distance, Bearing float64 // from the last fix to its middle, m and degrees
	On                []ground.Class
	Owners            []string // whose land its middle is, as far as layers tell
}
