package launch

import (
	"math"
	"time"

	"example.org/thistledown/internal/hazard"
)

// Weather is the weather at the site at launch; NaN: not known.
type Weather struct {
	Wind, Gust    float64 // m/s, at 10 m
	Cloud         float64 // share of the sky
	Visibility    float64 // m
	Precipitation float64 // kg/m² a second, 1/3600 being a millimetre an hour
	CAPE          float64 // J/kg
}

// Unknown is weather of which nothing is known.
func Unknown() Weather {
	nan := math.NaN()
	return Weather{nan, nan, nan, nan, nan, nan}
}

// Facts are what a launch is held against.
type Facts struct {
	Score    *hazard.Score // nil where no flight landed
	Distance float64       // m, of the most likely landing from the site
	// Late is that nineteen of twenty flights are down by, There that a car which
	// leaves the site at the release is at the most likely landing, and not before
	// Late; reasons tell both in the zone they have. Sunset is the first after Late,
	// Dusk the first end of civil twilight after There; zero where it is dark by then.
	Late, Sunset, There, Dusk time.Time
	Weather                   Weather
	Train                     []Reason // what the train itself stands in the way with; none: nothing
}
