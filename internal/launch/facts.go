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

// Usual are the limits of weather and light that are usual: of cloud and visibility
// those of 14 CFR 101.33(a) and (b), five tenths and five statute miles; the others
// common practice, of low confidence.
func Usual() Limits {
	const mile, hour = 1609.344, 3600.0
	l := None()
	l.Weather = Weather{Wind: 5, Gust: 10, Cloud: 0.5, Visibility: 5 * mile, Precipitation: 0.1 / hour, CAPE: 500}
	l.Sunset, l.Dark = 2*hour, hour/2
	return l
}

// OrUsual is the limits with what is usual for those of weather and light that
// there are none of.
func (l Limits) OrUsual() Limits {
	u := Usual()
	for _, pair := range [...]struct {
		limit *float64
		usual float64
	}{
		{&l.Weather.Wind, u.Weather.Wind},
		{&l.Weather.Gust, u.Weather.Gust},
		{&l.Weather.Cloud, u.Weather.Cloud},
		{&l.Weather.Visibility, u.Weather.Visibility},
		{&l.Weather.Precipitation, u.Weather.Precipitation},
		{&l.Weather.CAPE, u.Weather.CAPE},
		{&l.Sunset, u.Sunset},
		{&l.Dark, u.Dark},
	} {
		if math.IsNaN(*pair.limit) {
			*pair.limit = pair.usual
		}
	}
	return l
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
	Hinders                   []Reason // what the train itself, or the rules, stand in the way with; none: nothing
}
