// Package plan is how a plan is written: as YAML for the command line, as a
// protobuf message for the service. It turns either into values that the
// computing packages take, or into a list of everything that is wrong with it.
//
// It hides YAML, protobuf and the rules of the schema: which fields there are
// (proto/thistledown/v1, plan.proto and train.proto), which are required, their
// ranges, and the defaults of those left out. Everything that it returns is SI,
// latitude and longitude are degrees, times are UTC; the site's time zone comes
// along for printing.
//
// It reads no file: a layer's or forecast's name stays as it was written, and
// a relative one is the caller's to resolve. It does not know whether the
// forecast reaches the site, nor what the files hold.
package plan

import (
	"fmt"
	"time"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/quantity"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// What holds where a plan says nothing. Each is documented with its source at
// its field in plan.proto.
const (
	// DefaultAscentSpread is the standard deviation of the mean ascent rate as
	// a share of it: flights filled alike scatter by 0.3 to 0.6 m/s about 5 to
	// 6 m/s (common practice, low confidence).
	DefaultAscentSpread = 0.08
	// DefaultBurstSpread is the standard deviation of the burst height, metres
	// (common practice, low confidence: 1,500 to 3,000).
	DefaultBurstSpread = 2000.0
	// DefaultLandingSpread is the standard deviation of the speed of fall as a
	// share of it (assumed; no source).
	DefaultLandingSpread = 0.10
	// DefaultDelay is the centre of the launch delay, seconds (assumed).
	DefaultDelay = 0.0
	// DefaultDelaySpread is its standard deviation, seconds (assumed).
	DefaultDelaySpread = 300.0
	// DefaultScrambles is the number of independent scrambles: 8 × 128 flights are
	// worth 10 times as many plain random ones for a share of a half and 6 times
	// for one of a tenth, 16 × 64 are worth 9 and 5, 4 × 256 give a rough error
	// (measured on real winds; see BenchmarkShares of package ensemble).
	DefaultScrambles = 8
	// DefaultPerScramble is the number of flights in each.
	DefaultPerScramble = 128
	// DefaultSeed is the seed, any number doing as well as another.
	DefaultSeed = 1
)

// DefaultSeverity is how bad each outcome is where the plan does not say: this
// tool's own judgement.
func DefaultSeverity() Severity {
	return Severity{Water: 1, Forest: 0.5, BuiltUp: 0.8, Closed: 0.9, Airfield: 0.9, Abroad: 0.6, Airspace: 0.7}
}

// DefaultOffNominal is how often something breaks where the plan does not say:
// assumed; no source.
func DefaultOffNominal() ensemble.Chances {
	return ensemble.Chances{EarlyBurst: 0.03, CanopyFails: 0.01, CanopyFouled: 0.02, SlowLeak: 0.02, Float: 0.01}
}

// Plan is one intended launch, checked. Only Read and Check make one.
type Plan struct {
	Name   string    // in reports, one line
	Site   Site      // where it starts
	Launch time.Time // when it is let go, UTC, 1950 to 2200

	Train Train
	// How the train moves, where that was measured; nothing where it was weighed.
	Ascent  quantity.Uncertain // mean ascent rate, m/s, 0.5 to 15
	Burst   quantity.Uncertain // burst height, geometric metres above mean sea level, 1,000 to 45,000
	Landing quantity.Uncertain // speed of fall at 1.225 kg/m³, m/s, 0.5 to 30
	Delay   quantity.Uncertain // how late it is let go, seconds, −6 h to 24 h

	WindError float64 // standard deviation on each axis, m/s, 0 to 30; NaN: by height and the forecast's age
	WindDoubt float64 // how far that size is itself in doubt, a share of it, 0 to 0.5
	WindScale float64 // height over which that error stays correlated, metres, 1,000 to 30,000; NaN: by height

	OffNominal ensemble.Chances // of what breaks, 0 to 0.2 each

	Layers   []Layer     // ground beside what is built in
	Cover    []LandCover // rasters of land cover
	Heights  []string    // files of heights of the ground, as written, the finest first
	Ways     []Ways      // roads and tracks
	Airspace []Airspace  // volumes of air
	People   *People     // nil where the plan does not say how many there are
	Severity Severity
	Limits   launch.Limits
	Schedule Schedule     // of a week's search
	Rules    *Regulations // of the air; nil where the plan names none
	Vary     Vary         // what could be otherwise

	ForecastFiles []string // as written in the plan
	ForecastName  string   // of one of the service's forecasts; none: its first
	ForecastAbove []string // of the forecast flown on above the highest level of those, as written
	HoldAboveTop  bool     // above the highest level, fly on with that level's wind

	Scrambles   int // independent scrambles, 2 to 64
	PerScramble int // flights in each, a power of two, 8 to 65,536
	Seed        uint64
	Draws       ensemble.Draws // how flights are drawn
}

// Site is a place to launch from.
type Site struct {
	Name      string
	At        geo.Point      // longitude −180 to 180
	Elevation float64        // metres above mean sea level, −430 to 6,000; NaN: the forecast model's terrain
	Zone      *time.Location // in which times are printed
}

// Schedule is at which times, and from where, a launch is possible.
type Schedule struct {
	Step  time.Duration  // between two launch times, 5 min to 24 h
	Hours []ground.Hours // in the zone of the plan's own site; none: by daylight
	Sites []Site         // beside the plan's own
}

// DefaultStep is the time between two launch times.
const DefaultStep = time.Hour

// Layer is a GeoJSON file of polygons, lines and points that are all of one
// class.
type Layer struct {
	ground.LayerSource
	File string // as written in the plan
}

// LandCover is a raster of land cover.
type LandCover struct {
	ground.CoverSource
	File string // as written in the plan
}

// Ways is a GeoJSON file of roads or tracks.
type Ways struct {
	Name string
	File string // as written in the plan
}

// People is how many people there are out of doors, and how wide the payload is.
type People struct {
	Open, BuiltUp float64 // per m²
	Width         float64 // m
}

// Airspace is a file of volumes of air.
type Airspace struct {
	Name     string
	File     string         // as written in the plan
	Severity float64        // 0 to 1; NaN: that of Severity
	Active   []ground.Hours // none: as the file says
	Kinds    []string       // that are looked at; none: all
}

// Severity is how bad each outcome is, from 0, no matter, to 1, as bad as it
// gets.
type Severity struct {
	Water, Forest, BuiltUp, Closed, Airfield, Abroad, Airspace float64
}

// Read reads a plan written in YAML. file is its name in faults. Each of sets
// is FIELD=VALUE: FIELD the proto path of a field ("site.latitude",
// "ground.layers[0].class"), VALUE what it shall be instead, as text, or as a
// YAML flow sequence or mapping where the field is one. An empty VALUE takes
// the field away, or an item out of its list, of which the others keep their
// indices for the other sets; an index one past the end of a list appends to it.
//
// The message it returns is the plan with sets applied. Where the input is
// bad, the error is Faults and holds all of them, except that a file that is
// not YAML hides what is in it, and so does a list that is too long.
func Read(file string, yaml []byte, sets []string) (*thistledownv1.Plan, Plan, error) {
	d := newDraft(file, sets)
	message := &thistledownv1.Plan{}
	if root := d.parse(yaml, message.ProtoReflect().Descriptor()); root != nil {
		for i := range sets {
			d.apply(root, i)
		}
		d.prune(root)
		d.places[""] = place{line: root.Line}
		d.message(root, message.ProtoReflect(), "")
	}
	if d.stopped {
		return nil, Plan{}, d.done()
	}
	return d.finish(message)
}

// Check is Read for a plan that came as a message: its faults name fields but
// no file. A nil plan is a fault. A list that is too long hides all others.
func Check(message *thistledownv1.Plan) (Plan, error) {
	d := newDraft("", nil)
	if message == nil {
		d.stop(problem{value: missing, want: "a plan"})
		return Plan{}, d.done()
	}
	_, p, err := d.finish(message)
	return p, err
}

// finish holds a decoded message to the rules and turns it into values.
func (d *draft) finish(message *thistledownv1.Plan) (*thistledownv1.Plan, Plan, error) {
	if d.lists(message); d.stopped {
		return nil, Plan{}, d.done()
	}
	if err := d.rules(message); err != nil {
		return nil, Plan{}, fmt.Errorf("plan: the schema's rules cannot be checked: %w", err)
	}
	p := d.convert(message)
	if err := d.done(); err != nil {
		return nil, Plan{}, err
	}
	return message, p, nil
}
