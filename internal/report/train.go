package report

import (
	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/launch"
	"example.org/thistledown/internal/rules"
)

// Train is what follows from the weighed parts of a train, its gas and its
// canopies, in the air over its site.
type Train struct {
	Plan string // name, one line
	Site string

	Parts    []balloon.Part
	Envelope balloon.Envelope
	Found    *FoundEnvelope // why this envelope; nil for the plan's own
	// Load is what hangs below the envelope; Lifted that and the envelope; Falling
	// what comes down from the burst on; Landing what reaches the ground.
	Load, Lifted, Falling, Landing balloon.Weighed

	// Standard says that the air is the standard atmosphere, for want of a forecast.
	Standard bool
	// Ground is the air at the release, and Top the highest that the forecast
	// itself knows of; above, the standard goes on.
	Ground balloon.Layer
	Top    atmos.Geometric

	Gas GasAmount
	// Release is the filled envelope at the release.
	Release balloon.Aloft

	// How it moves: mean rate up, burst, speed of fall at 1.225 kg/m³.
	Ascent, Burst, Fall Spread
	NearGround          float64 // m/s, rate of ascent
	Ending              balloon.Ending
	BurstAt             float64   // m, diameter at the end of the climb
	Up, Down            float64   // s, to the end of the climb and from there to the ground
	Heights             []Passing // every so often on the way up
	// Drag is the drag area of the canopies, m².
	Drag     float64
	Landings []Touchdown // as planned, fouled, failed
	Opening  balloon.Load

	Causes []TrainCause // what one spread of each makes, the drag of the envelope first
	Bill   *Bill        // nil where the plan names no cylinders

	Hinders []launch.Reason // what of the train stands in the way of a launch, beside any limit

	Batteries []BatteryLife
	Trackers  []TrackerSight

	Rules *rules.Assessment // nil for a plan without rules, and where a launch has them

	Warnings []string // of the envelope and its gas, in whole sentences
	Cautions []string
}

// FoundEnvelope is what an envelope was looked for by, and of which it is the
// lightest that does. What was not asked is 0.
type FoundEnvelope struct {
	Owned int     // how many were at hand; 0: any that is remembered
	Burst float64 // m above mean sea level
	Rate  float64 // m/s, mean
	Free  float64 // kg more than hangs on it
	Gas   float64 // m³ as a meter shows it
}

// GasAmount is the gas in the envelope.
type GasAmount struct {
	Gas    balloon.LiftingGas
	Moles  float64
	Mass   float64            // kg
	Volume float64            // m³ at At
	At     balloon.Conditions // at which a meter shows that
	Spread float64            // of the amount, a share of it
}

// Passing is when an ascent is at a height.
type Passing struct {
	Height atmos.Geometric
	Time   float64 // s after the release
	Speed  float64 // m/s
}

// Touchdown is one way to come down.
type Touchdown struct {
	Name   string
	Speed  float64 // m/s at the ground
	Energy float64 // J, without wind
}

// TrainCause is what one standard deviation of one cause does.
type TrainCause struct {
	Name   string // "the gas"
	Spread string // "3 %"
	// Ascent in m/s, Burst in m, Fall in m/s: what it adds.
	Ascent, Burst, Fall float64
}

// Bill is what the fill takes out of the cylinders at hand.
type Bill struct {
	Cylinders int // at hand
	balloon.Bill
	Usable float64 // mol in the rack above what stays in them
	Last   float64 // Pa, gauge: what the cylinder opened last then reads
}

// BatteryLife is whether a battery lasts.
type BatteryLife struct {
	Name string
	balloon.Endurance
}

// TrackerSight is how often a tracker reports, and where it is blind.
type TrackerSight struct {
	Kind     balloon.TrackerKind
	Interval float64 // s
	Reports  int     // while aloft
	Blind    balloon.Blind
	Apart    float64 // m between two reports near the ground, without wind
}
