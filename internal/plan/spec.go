package plan

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/quantity"
)

// dimension is a kind of quantity.
type dimension struct {
	noun string // with its article
	si   string // the unit in which limits are told where the text has none
	read func(string) (quantity.Uncertain, error)
}

// spec is what one quantity field takes, in SI units. The numbers are those of
// the schema's comments.
type spec struct {
	field   protoreflect.FullName
	kind    dimension
	example string
	// low and high bound the centre.
	low, high float64
	// share: spread and maxSpread are shares of the centre and not in its unit.
	share bool
	// spread is the default of the standard deviation.
	spread float64
	// maxSpread is its greatest value; 0 where the field takes none. Beyond half the centre's size a normal
	// draw would be negative too often (1 in 44 at two spreads); a burst spread
	// of 15 km, or a delay spread of 6 h, says that nothing is known.
	maxSpread float64
}

// Dimensions with a spread, and without.
var (
	uncertainSpeed    = dimension{"a speed", "m/s", quantity.UncertainSpeed}
	uncertainLength   = dimension{"a length", "m", quantity.UncertainLength}
	uncertainDuration = dimension{"a duration", "h", quantity.UncertainDuration}
	plainSpeed        = dimension{"a speed", "m/s", exactly(quantity.Speed)}
	plainLength       = dimension{"a length", "m", exactly(quantity.Length)}
	plainPercent      = dimension{"a percentage", "%", exactly(quantity.Percent)}
)

const hour = 3600.0 // s

var (
	ascentSpec = spec{
		field: "thistledown.v1.MeasuredTrain.ascent_rate", kind: uncertainSpeed, example: "5 m/s",
		low: 0.5, high: 15, share: true, spread: DefaultAscentSpread, maxSpread: 0.5,
	}
	burstSpec = spec{
		field: "thistledown.v1.MeasuredTrain.burst_altitude", kind: uncertainLength, example: "30 km",
		low: 1000, high: 45000, spread: DefaultBurstSpread, maxSpread: 15000,
	}
	landingSpec = spec{
		field: "thistledown.v1.MeasuredTrain.landing_speed", kind: uncertainSpeed, example: "5 m/s",
		low: 0.5, high: 30, share: true, spread: DefaultLandingSpread, maxSpread: 0.5,
	}
	delaySpec = spec{
		field: "thistledown.v1.Uncertainty.launch_delay", kind: uncertainDuration, example: "+45 min",
		low: -6 * hour, high: 24 * hour, spread: DefaultDelaySpread, maxSpread: 6 * hour,
	}
	windErrorSpec = spec{
		field: "thistledown.v1.Uncertainty.wind_error", kind: uncertainSpeed, example: "3 m/s",
		low: 0, high: 30, share: true, spread: ensemble.DefaultWindDoubt, maxSpread: ensemble.MaxWindDoubt,
	}
	windScaleSpec = spec{
		field: "thistledown.v1.Uncertainty.wind_error_height_scale", kind: plainLength, example: "3 km",
		low: 1000, high: 30000,
	}
	elevationSpec = spec{
		field: "thistledown.v1.Site.elevation", kind: plainLength, example: "120 m",
		low: -430, high: 6000,
	}
)

// offNominal is where the chances of what breaks stand in the schema.
const offNominal = "thistledown.v1.OffNominal."

// mostOff bounds each chance; all of them together are certainty.
const mostOff = 0.2

// Chances of what breaks.
var (
	earlyBurstSpec   = spec{field: offNominal + "early_burst", kind: plainPercent, example: "3 %", high: mostOff}
	canopyFailsSpec  = spec{field: offNominal + "canopy_fails", kind: plainPercent, example: "3 %", high: mostOff}
	canopyFouledSpec = spec{field: offNominal + "canopy_fouled", kind: plainPercent, example: "3 %", high: mostOff}
	slowLeakSpec     = spec{field: offNominal + "slow_leak", kind: plainPercent, example: "3 %", high: mostOff}
	floatSpec        = spec{field: offNominal + "float", kind: plainPercent, example: "3 %", high: mostOff}
)

// specs is all of them but those of trains.
var specs = [...]spec{
	ascentSpec, burstSpec, landingSpec, delaySpec, windErrorSpec, windScaleSpec, elevationSpec,
	earlyBurstSpec, canopyFailsSpec, canopyFouledSpec, slowLeakSpec, floatSpec,
}

// exactly reads a quantity that has no spread.
func exactly(read func(string) (float64, error)) func(string) (quantity.Uncertain, error) {
	return func(s string) (quantity.Uncertain, error) {
		v, err := read(s)
		return quantity.Uncertain{Centre: v}, err
	}
}

// specOf is the spec of a field, if it holds a quantity.
func specOf(fd protoreflect.FieldDescriptor) (spec, bool) {
	for _, all := range [...][]spec{specs[:], trainSpecs[:], groundSpecs[:], ruleSpecs[:], varySpecs[:], settingsSpecs[:], trackSpecs[:]} {
		for _, s := range all {
			if s.field == fd.FullName() {
				return s, true
			}
		}
	}
	return spec{}, false
}

// want says how the field is written.
func (s spec) want() string {
	return fmt.Sprintf("%s with its unit, such as %q", s.kind.noun, s.example)
}

// quantity reads the text of the field at path, holds it to its limits, and
// fills in the default spread.
func (d *draft) quantity(path, text string, s spec) quantity.Uncertain {
	if text == "" || !d.sound(path) {
		return quantity.Uncertain{}
	}
	u, err := s.kind.read(text)
	if err != nil {
		value, want := unread(text, err, s)
		if s.maxSpread == 0 && spreadMark.MatchString(text) {
			value, want = quote(text)+": no spread is taken here", s.want()
		}
		d.refuse(path, value, want)
		return quantity.Uncertain{}
	}
	unit := s.unitOf(text)
	if !(u.Centre >= s.low && u.Centre <= s.high) {
		d.refuse(path, quote(text), s.tell(s.low, unit, math.Ceil)+" to "+s.tell(s.high, unit, math.Floor))
	}
	one := 1.0
	if s.share {
		one = math.Abs(u.Centre)
	}
	u = u.Or(s.spread * one)
	if !(u.Spread >= 0 && u.Spread <= s.maxSpread*one*(1+rounding)) {
		most := s.tell(s.maxSpread, unit, math.Floor)
		if s.share {
			most = fmt.Sprintf("%g %%", 100*s.maxSpread)
		}
		d.refuse(path, quote(text), "a spread of at most "+most)
	}
	return u
}

// rounding is what a share written in per cent may be off by, relatively.
const rounding = 1e-12

// unread parts the error of the quantity package into what is wrong with the
// text and what was wanted.
func unread(text string, err error, s spec) (value, want string) {
	reason := strings.TrimPrefix(err.Error(), quote(text)+": ")
	value = quote(text)
	before, want, ok := strings.Cut(reason, "want ")
	if !ok {
		before, want = reason, s.want()
	}
	if strings.HasPrefix(want, s.kind.noun+" with its unit") {
		want = s.want() // with this field's own example
	}
	if before = strings.TrimRight(before, ":, "); before != "" {
		value += ": " + before
	}
	return value, want
}

// spreadMark is what stands before a spread.
var spreadMark = regexp.MustCompile(`±|\+-|\+/-`)

// unitName is what could be a unit.
var unitName = regexp.MustCompile(`/?[A-Za-z°%]+[23²³]?(/[A-Za-z]+)?`)

// unitOf is the first unit in a text that can be read.
func (s spec) unitOf(text string) string {
	for _, name := range unitName.FindAllString(text, -1) {
		if _, err := s.kind.read("1 " + name); err == nil {
			return name
		}
	}
	return s.kind.si
}

// tell writes a limit in a unit to four digits, rounded so that what it says
// is within the limit.
func (s spec) tell(limit float64, unit string, round func(float64) float64) string {
	// Temperatures do not begin at zero.
	zero, _ := s.kind.read("0 " + unit)
	one, err := s.kind.read("1 " + unit)
	v := (limit - zero.Centre) / (one.Centre - zero.Centre)
	if err != nil || v == 0 {
		return "0 " + unit
	}
	exponent := int(math.Floor(math.Log10(math.Abs(v)))) - 3
	n := v / math.Pow10(exponent)
	if near := math.Round(n); math.Abs(n-near) < 1e-6 { // the conversion's own rounding
		n = near
	}
	digits := strconv.FormatFloat(round(n)*math.Pow10(exponent), 'f', max(0, -exponent), 64)
	if strings.Contains(digits, ".") {
		digits = strings.TrimRight(strings.TrimRight(digits, "0"), ".")
	}
	return digits + " " + unit
}
