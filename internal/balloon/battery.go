package balloon

import (
	"fmt"
	"math"
)

// Limits of a battery and of the time that it has to last.
const (
	MinBatteryEnergy = 1    // J, of one cell or pack
	MaxBatteryEnergy = 36e6 // J, 10 kWh
	MaxBatteries     = 1000
	MinDraw          = 1e-6 // W
	MaxDraw          = 1e4  // W
	MaxStays         = 100000
	MaxStayTime      = 3.2e7 // s, a year, of all stays together

	minBatteryTemperature = 173.15 // K, −100 °C
	maxBatteryTemperature = 333.15 // K, +60 °C
)

// WattHours is an energy of so many watt hours in J.
func WattHours(energy float64) float64 { return energy * 3600 }

// MilliampHours is the energy in J of a charge in mAh at a voltage in V.
func MilliampHours(charge, voltage float64) float64 { return charge * voltage * 3.6 }

// Milliamps is the power in W of a current in mA at a voltage in V.
func Milliamps(current, voltage float64) float64 { return current * voltage / 1000 }

// Chemistry is the kind of a battery.
type Chemistry uint8

// The kinds of battery.
const (
	LithiumPrimary     Chemistry = iota + 1 // lithium cells that are not recharged
	LithiumIon                              // rechargeable lithium
	NickelMetalHydride                      // rechargeable nickel
	Alkaline                                // alkaline manganese
)

// cold is the share of the rated energy that a battery gives at a temperature.
type cold struct {
	celsius float64
	share   [Alkaline + 1]float64 // by Chemistry
}

// coldTable is common practice with low confidence: from memory, rounded
// downward, no source seen. At high draw the cold bites harder than this.
var coldTable = [...]cold{
	{-60, [...]float64{LithiumPrimary: 0, LithiumIon: 0, NickelMetalHydride: 0, Alkaline: 0}},
	{-40, [...]float64{LithiumPrimary: 0.30, LithiumIon: 0, NickelMetalHydride: 0, Alkaline: 0}},
	{-30, [...]float64{LithiumPrimary: 0.50, LithiumIon: 0.20, NickelMetalHydride: 0.10, Alkaline: 0.05}},
	{-20, [...]float64{LithiumPrimary: 0.70, LithiumIon: 0.45, NickelMetalHydride: 0.35, Alkaline: 0.20}},
	{-10, [...]float64{LithiumPrimary: 0.85, LithiumIon: 0.65, NickelMetalHydride: 0.60, Alkaline: 0.40}},
	{0, [...]float64{LithiumPrimary: 0.95, LithiumIon: 0.80, NickelMetalHydride: 0.80, Alkaline: 0.60}},
	{20, [...]float64{LithiumPrimary: 1, LithiumIon: 1, NickelMetalHydride: 1, Alkaline: 1}},
}

// ColdSource is where the shares of Chemistry.Share come from.
const ColdSource = "common practice, low confidence: from memory, rounded downward, no source seen"

// String is the kind in words.
func (c Chemistry) String() string {
	switch c {
	case LithiumPrimary:
		return "lithium primary"
	case LithiumIon:
		return "lithium-ion"
	case NickelMetalHydride:
		return "nickel-metal hydride"
	case Alkaline:
		return "alkaline"
	}
	return fmt.Sprintf("chemistry %d", uint8(c))
}

// known tells whether there is such a kind.
func (c Chemistry) known() bool { return c >= LithiumPrimary && c <= Alkaline }

// Share is the share of its rated energy that a battery gives at its own
// temperature in K, by linear interpolation in a table of ColdSource: 1 from
// 20 °C upward, 0 at −60 °C and below; NaN for no kind.
func (c Chemistry) Share(temperature float64) float64 {
	if !c.known() || math.IsNaN(temperature) {
		return math.NaN()
	}
	t := temperature - 273.15
	if t <= coldTable[0].celsius {
		return coldTable[0].share[c]
	}
	for i := 1; i < len(coldTable); i++ {
		a, b := coldTable[i-1], coldTable[i]
		if t <= b.celsius {
			f := (t - a.celsius) / (b.celsius - a.celsius)
			return a.share[c] + f*(b.share[c]-a.share[c])
		}
	}
	return 1
}

// Battery is what feeds a tracker.
type Battery struct {
	Chemistry Chemistry
	Energy    float64 // J of one, as rated at room temperature
	Count     int     // 1 to MaxBatteries
	Draw      float64 // W, the mean of all that it feeds
}

// Check reports every quantity of the battery that is outside its limits.
func (b Battery) Check() error {
	var w wants
	if !b.Chemistry.known() {
		w = append(w, fmt.Errorf("battery of %s: want %s, %s, %s or %s", b.Chemistry, LithiumPrimary, LithiumIon, NickelMetalHydride, Alkaline))
	}
	w.between("battery energy", b.Energy, MinBatteryEnergy, MaxBatteryEnergy, "J")
	w.between("draw", b.Draw, MinDraw, MaxDraw, "W")
	if b.Count < 1 || b.Count > MaxBatteries {
		w = append(w, fmt.Errorf("batteries %d: want 1 to %d", b.Count, MaxBatteries))
	}
	return w.err()
}

// Life is how long in s the battery feeds its draw at one temperature in K.
func (b Battery) Life(temperature float64) float64 {
	return float64(b.Count) * b.Energy * b.Chemistry.Share(temperature) / b.Draw
}

// Stay is some time at one temperature of the battery. The temperature of the
// air is the cold side of it: a box with a working load in it is warmer.
type Stay struct {
	Time        float64 // s
	Temperature float64 // K, 173.15 to 333.15
}

// Endurance is a battery's life against the time for which it is wanted:
// waiting before the launch, aloft, and until it is found.
type Endurance struct {
	Wanted        float64 // s
	Coldest, Mean float64 // K, the mean weighted with time
	// LifeColdest and LifeMean are the life in s if it were that cold throughout.
	LifeColdest, LifeMean float64
	// Margin is LifeColdest less Wanted, s: the cautious one of the two.
	Margin float64
	// Used is the share of the battery used up along the stays, each at its own
	// temperature; above 1 it does not last, and +Inf where it is too cold to
	// give anything.
	Used float64
	// Dies is the time in s from the start of the first stay at which Used
	// passes 1; Wanted if it lasts. A cold battery that warms up again recovers
	// a part, which is not counted on.
	Dies  float64
	Lasts bool
}

// Over is the battery's endurance over stays, in their order.
func (b Battery) Over(stays []Stay) (Endurance, error) {
	var w wants
	w.add("battery", b.Check())
	if len(stays) < 1 || len(stays) > MaxStays {
		w = append(w, fmt.Errorf("stays %d: want 1 to %d", len(stays), MaxStays))
		return Endurance{}, w.err()
	}
	e := Endurance{Coldest: math.Inf(1)}
	for i, s := range stays {
		w.between(fmt.Sprintf("stay %d: time", i+1), s.Time, 0, MaxStayTime, "s")
		w.between(fmt.Sprintf("stay %d: temperature", i+1), s.Temperature, minBatteryTemperature, maxBatteryTemperature, "K")
		e.Wanted += s.Time
		e.Mean += s.Time * s.Temperature
		if s.Time > 0 {
			e.Coldest = min(e.Coldest, s.Temperature)
		}
	}
	w.between("time of all stays", e.Wanted, 1, MaxStayTime, "s")
	if err := w.err(); err != nil {
		return Endurance{}, err
	}
	e.Mean = max(e.Mean/e.Wanted, e.Coldest) // rounding may take one stay below itself
	e.LifeColdest, e.LifeMean = b.Life(e.Coldest), b.Life(e.Mean)
	e.Margin = e.LifeColdest - e.Wanted
	e.Used, e.Dies = b.along(stays)
	e.Lasts = e.Used <= 1
	if e.Lasts {
		e.Dies = e.Wanted
	}
	return e, nil
}

// along is the share of the battery used up over stays, and the time in s at
// which it passed 1, +Inf if it did not.
func (b Battery) along(stays []Stay) (used, dies float64) {
	dies = math.Inf(1)
	var now float64
	for _, s := range stays {
		if s.Time == 0 {
			continue
		}
		life := b.Life(s.Temperature)
		part := s.Time / life
		if used <= 1 && used+part > 1 {
			dies = now + (1-used)*life
		}
		used += part
		now += s.Time
	}
	return used, dies
}
