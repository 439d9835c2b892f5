// Package report says an answer to whoever asked: as text to read, as GeoJSON
// and KML for maps, as GPX for navigation devices and as CSV for reckoning.
//
// It hides layout and wording. Everything it prints is in the units and the
// time zone that were asked for; everything in its machine formats is SI, UTC
// and degrees. It writes to a given io.Writer only, and knows nothing of how
// the answer was found.
package report

import (
	"math"
	"time"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/hazard"
	"example.org/thistledown/internal/landing"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/rules"
)

// Launch is the whole answer for one launch time.
type Launch struct {
	Train *Train // what followed from the weighed parts; nil for a train that was measured

	Plan string // the plan's name
	Site string // the site's name
	Zone *time.Location

	Time                  time.Time // of the launch as planned, UTC
	At                    geo.Point
	Elevation             float64 // of the ground there, m above mean sea level
	ElevationFromForecast bool    // it is the forecast model's

	Forecast Forecast
	Weather  []Reading // at the ground at launch, as far as the forecast says
	Winds    []WindAt  // over the site at launch, the lowest first, up to the burst as planned

	Flights, Scrambles int
	Draws              ensemble.Draws
	Seed               uint64
	Version            string // of the program
	// The wind error's standard deviation on each axis, m/s: its least and its
	// greatest between the site and the burst as planned.
	WindError, WindErrorGreatest float64
	WindErrorDoubt               float64 // how far that is in doubt, a share of it

	Until *Until // nil unless flying was to go on until the answer is narrow

	// What was drawn: rate of ascent, m/s; burst height, m above mean sea level;
	// speed of fall in air of 1.225 kg/m³, m/s; delay of the launch, s.
	Ascent, Burst, Fall, Delay Spread

	Endings []Ending      // by end, those that came up
	Courses []Course      // by course, those that came up
	Landing *Landing      // nil where no flight landed
	Hazard  *hazard.Score // nil where no flight landed

	Verdict   launch.Verdict
	Reasons   []launch.Reason // of every limit that the plan sets, the worst first
	Access    *Access         // nil where no flight landed
	Contacts  []Contact       // of each radio tracker
	PeopleHit *float64        // expected number for one flight; nil where the plan does not say how many there are

	Rules *rules.Assessment // nil for a plan without rules
	Calls *Calls            // whom to call about it; nil outside of a week

	Members *Members // nil for a single forecast

	Flown []Flown // every flight, in the order in which they were drawn
	Path  *Path   // nil where the release itself is outside the forecast

	Explanation *ensemble.Explanation // nil unless it was asked for

	Warnings []string // whole sentences
	Cautions []string // whole sentences
}

// Area is that of the landing region that holds a share of the landings, m²; NaN
// where there is none of that share.
func (l Launch) Area(share float64) float64 {
	if l.Landing != nil {
		for _, r := range l.Landing.Regions {
			if r.Share == share {
				return r.Area
			}
		}
	}
	return math.NaN()
}

// Until is what became of flying on until no probability's 95 % interval has
// more than a half-width.
type Until struct {
	HalfWidth float64 // asked for, a share
	Widest    float64 // of all probabilities in the answer, a share
	Reached   bool    // false: the bound on flights came first
}

// Members are the members of a forecast side by side.
type Members struct {
	ensemble.Members
	Split []Group // the larger first; empty unless they fall into two
}

// Group is some members of a forecast whose landings lie together.
type Group struct {
	Numbers           []int     // of its members, from 0
	MostLikely        geo.Point // of their landings
	Distance, Bearing float64   // of that from the site, m and degrees
}

// Spread is an uncertain quantity: its centre and one standard deviation.
type Spread struct{ Centre, Spread float64 }

// Forecast is the forecast that was flown on.
type Forecast struct {
	Centre      uint16 // WMO Common Code Table C-11
	Cycle       time.Time
	First, Last time.Time
	Levels      []float64 // Pa, lowest height first
	Grid        geo.Grid
	Members     int // 1 for a single forecast
}

// Reading is one thing that the forecast says of the weather at the ground.
type Reading struct {
	Kind  ReadingKind
	Value float64 // in the unit that the kind says
	Known bool    // false: the forecast does not say
}

// ReadingKind is a kind of reading.
type ReadingKind uint8

// The kinds of reading, in the order in which they are told.
const (
	WindSpeed     ReadingKind = iota // 10 m above ground, m/s
	WindFrom                         // where that wind blows from, degrees clockwise from north
	Gust                             // m/s
	Cloud                            // %
	Precipitation                    // kg m⁻² s⁻¹
	Visibility                       // m
	CAPE                             // J/kg
)

// WindAt is the forecast's wind at a height.
type WindAt struct {
	Height float64 // m above mean sea level
	Speed  float64 // m/s
	From   float64 // where it blows from, degrees clockwise from north, 0 to 360
	Held   bool    // that of the forecast's highest level, held above it
}

// Ending is one way in which flights ended.
type Ending struct {
	End   flight.End
	Share hazard.Probability
}

// Course is one way in which flights went.
type Course struct {
	Course ensemble.Course
	Share  hazard.Probability
}

// Landing is where flights came down.
type Landing struct {
	landing.Distribution
	Distance float64 // from the site to the most likely place, m
	Bearing  float64 // and its bearing from the site, degrees
	// Early, Middle and Late are when 5, 50 and 95 % of flights are down.
	Early, Middle, Late time.Time
	Aloft               float64 // mean time in the air, s
	Burst               float64 // mean burst height, m above mean sea level
	Speed               float64 // mean speed of fall at the ground, m/s
}

// Flown is how one of the flights ended.
type Flown struct {
	Member int // of the forecast, from 0
	Course ensemble.Course
	End    flight.End
	At     geo.Point // of the landing, or of its last point inside the forecast
	Height float64   // where it landed: of the ground there, m above mean sea level
	Time   time.Time // of that point
	Aloft  float64   // s from the release to that point
	Burst  float64   // m above mean sea level, of the burst, or of where it hung
	Speed  float64   // where it landed: of fall at the ground, m/s
}

// Path is the flight with nothing drawn: every quantity at its centre, no wind
// error, nothing breaking, the winds of the forecast's first member. It is one
// flight and no mean of them all.
type Path struct {
	Points []PathPoint // from the release on, at least one
	Burst  int         // index of the burst, or -1 where it was not reached
	End    flight.End
	// Within bounds in metres how far the flight, as it was flown, was at any of
	// its steps from where straight lines between the points have it at that time.
	Within float64
}

// PathPoint is one point of a path.
type PathPoint struct {
	Time   time.Time
	At     geo.Point
	Height float64 // m above mean sea level
}

// centres are issuing centres by their number in WMO Common Code Table C-11.
var centres = map[uint16]string{
	7:  "US National Weather Service, National Centers for Environmental Prediction",
	34: "Japan Meteorological Agency, Tokyo",
	38: "China Meteorological Administration, Beijing",
	54: "Canadian Meteorological Service, Montreal",
	74: "UK Met Office, Exeter",
	78: "Deutscher Wetterdienst, Offenbach",
	85: "Météo-France, Toulouse",
	98: "European Centre for Medium-Range Weather Forecasts",
}

// CentreName is a centre's name, or empty where it is not known here.
func CentreName(number uint16) string { return centres[number] }

// Cautions hold for every flight.
func Cautions() []string {
	return []string{
		"This is arithmetic on a forecast. It does not say that a flight may take place: the local aviation authority decides, and the current text of its rules holds.",
		"Call the airfields near the site, the path and the landing area before the launch.",
		"Hydrogen burns: keep it from sparks and flames, outdoors, with trained people only.",
		"Never fly over crowds. What falls has mass, and a canopy can fail.",
		"Never go alone into water, forest or closed ground for a payload, and ask whoever owns the land.",
	}
}
