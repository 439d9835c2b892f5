package plan

import (
	"math"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/quantity"
)

// Dimensions of a train.
var (
	uncertainMass    = dimension{"a mass", "kg", quantity.UncertainMass}
	uncertainVolume  = dimension{"a volume", "m³", quantity.UncertainVolume}
	uncertainPercent = dimension{"a percentage", "%", quantity.UncertainPercent}
	plainVolume      = dimension{"a volume", "m³", exactly(quantity.Volume)}
	plainPressure    = dimension{"a pressure", "bar", exactly(quantity.Pressure)}
	plainTemperature = dimension{"a temperature", "°C", exactly(quantity.Temperature)}
	plainDifference  = dimension{"a temperature difference", "K", exactly(quantity.TemperatureDifference)}
	plainDuration    = dimension{"a duration", "h", exactly(quantity.Duration)}
	plainRate        = dimension{"a rate", "%/h", exactly(quantity.PercentPerHour)}
	plainEnergy      = dimension{"an energy", "Wh", exactly(quantity.Energy)}
	plainCharge      = dimension{"a charge", "mAh", exactly(quantity.Charge)}
	plainVoltage     = dimension{"a voltage", "V", exactly(quantity.Voltage)}
	plainPower       = dimension{"a power", "W", exactly(quantity.Power)}
	plainCurrent     = dimension{"a current", "mA", exactly(quantity.Current)}
)

// kelvin is 0 °C in K.
const kelvin = 273.15

// What hangs together.
var (
	waitingSpec = spec{
		field: "thistledown.v1.Train.waiting", kind: plainDuration, example: "45 min", high: 24 * hour,
	}
	searchingSpec = spec{
		field: "thistledown.v1.Train.searching", kind: plainDuration, example: "6 h", high: 30 * 24 * hour,
	}
	partMassSpec = spec{
		field: "thistledown.v1.Part.mass", kind: uncertainMass, example: "640 g",
		low: 1e-4, high: balloon.MaxPartMass, share: true, spread: DefaultPartSpread, maxSpread: 0.5,
	}
	everySpec = spec{
		field: "thistledown.v1.Tracker.every", kind: plainDuration, example: "2 min", low: 0.1, high: 24 * hour,
	}
)

// antennaSpec is a receiver's.
var antennaSpec = spec{
	field: "thistledown.v1.Tracker.antenna", kind: plainLength, example: "3 m", high: balloon.MaxAntenna,
}

// The envelope.
var (
	envelopeMassSpec = spec{
		field: "thistledown.v1.Envelope.mass", kind: uncertainMass, example: "600 g",
		low: balloon.MinEnvelope, high: balloon.MaxEnvelope, share: true, spread: DefaultEnvelopeSpread, maxSpread: 0.5,
	}
	burstsAtSpec = spec{
		field: "thistledown.v1.Envelope.bursts_at", kind: uncertainLength, example: "6.0 m",
		low: balloon.MinBurstAt, high: balloon.MaxBurstAt, share: true, spread: DefaultBurstAtSpread, maxSpread: 0.5,
	}
	fullestSpec = spec{
		field: "thistledown.v1.Envelope.fullest", kind: plainVolume, example: "2.5 m3", low: 1e-3, high: 1000,
	}
	hangsOnSpec = spec{
		field: "thistledown.v1.Envelope.hangs_on", kind: uncertainPercent, example: "30 %",
		high: 1, spread: DefaultHangsOnSpread, maxSpread: 0.5,
	}
)

// findEnvelope is where the fields of what an envelope is looked for by stand in
// the schema.
const findEnvelope = "thistledown.v1.FindEnvelope."

// What an envelope is looked for by.
var (
	findBurstSpec = spec{
		field: findEnvelope + "bursts_near", kind: plainLength, example: "30 km", low: 1000, high: 45000,
	}
	findRateSpec = spec{
		field: findEnvelope + "ascent_rate", kind: plainSpeed, example: "5 m/s", low: balloon.MinAscent, high: balloon.MaxAscent,
	}
	findLiftSpec = spec{
		field: findEnvelope + "free_lift", kind: plainMass, example: "900 g", low: 1e-3, high: balloon.MaxLoad,
	}
)

// gas is where the fields of the gas stand in the schema.
const gas = "thistledown.v1.Gas."

// The gas. Of the amounts those that have a spread are given one for want of
// another in fill.
var (
	heliumSpec   = spec{field: gas + "helium", kind: plainPercent, example: "99 %", high: 1}
	hydrogenSpec = spec{field: gas + "hydrogen", kind: plainPercent, example: "99 %", high: 1}
	volumeSpec   = spec{
		field: gas + "volume", kind: uncertainVolume, example: "2.6 m3", low: 1e-3, high: 20000, share: true, maxSpread: 0.5,
	}
	neckLiftSpec = spec{
		field: gas + "neck_lift", kind: uncertainMass, example: "2400 g", low: 1e-3, high: balloon.MaxLoad, share: true, maxSpread: 0.5,
	}
	freeLiftSpec = spec{
		field: gas + "free_lift", kind: uncertainMass, example: "900 g", low: 1e-3, high: balloon.MaxLoad, share: true, maxSpread: 0.5,
	}
	wantedRateSpec = spec{
		field: gas + "ascent_rate", kind: plainSpeed, example: "5 m/s", low: balloon.MinAscent, high: balloon.MaxAscent,
	}
	wantedBurstSpec = spec{
		field: gas + "bursts_near", kind: plainLength, example: "30 km", low: 1000, high: 45000,
	}
	gasTemperatureSpec = spec{
		field: gas + "temperature", kind: plainTemperature, example: "15 °C", low: kelvin - 40, high: kelvin + 60,
	}
	gasPressureSpec = spec{
		field: gas + "pressure", kind: plainPressure, example: "1013 hPa", low: 100, high: 2e5,
	}
	superheatSpec = spec{
		field: gas + "superheat", kind: plainDifference, example: "5 K", low: balloon.MinSuperheat, high: balloon.MaxSuperheat,
	}
	skinPressureSpec = spec{
		field: gas + "skin_pressure", kind: plainPressure, example: "1 hPa", high: balloon.MaxOverpressure,
	}
	leakSpec       = spec{field: gas + "leak", kind: plainRate, example: "1 %/h", high: balloon.MaxLeak}
	leftInEachSpec = spec{
		field: gas + "left_in_each", kind: plainPressure, example: "2 bar", low: 50e3, high: 100e5,
	}
	dragSpreadSpec = spec{field: gas + "drag_spread", kind: plainPercent, example: "10 %", high: 0.5}
)

// A cylinder.
var (
	cylinderSizeSpec = spec{
		field: "thistledown.v1.Cylinder.size", kind: plainVolume, example: "50 L",
		low: balloon.MinWaterVolume, high: balloon.MaxWaterVolume,
	}
	gaugeSpec = spec{
		field: "thistledown.v1.Cylinder.gauge", kind: plainPressure, example: "180 bar", high: 400e5,
	}
	cylinderTemperatureSpec = spec{
		field: "thistledown.v1.Cylinder.temperature", kind: plainTemperature, example: "15 °C",
		low: kelvin - 40, high: kelvin + 60,
	}
)

// A canopy.
var (
	canopySizeSpec = spec{
		field: "thistledown.v1.Canopy.size", kind: plainLength, example: "1.2 m",
		low: balloon.MinCanopySize, high: balloon.MaxCanopySize,
	}
	canopySpreadSpec = spec{field: "thistledown.v1.Canopy.drag_spread", kind: plainPercent, example: "20 %", high: 0.5}
)

// battery is where the fields of a battery stand in the schema.
const battery = "thistledown.v1.Battery."

// A battery. What it holds and gives is bounded by balloon's own limits besides.
var (
	energySpec  = spec{field: battery + "energy", kind: plainEnergy, example: "10 Wh", low: balloon.MinBatteryEnergy, high: balloon.MaxBatteryEnergy}
	chargeSpec  = spec{field: battery + "charge", kind: plainCharge, example: "3000 mAh", low: 3.6, high: 3.6e7}
	voltageSpec = spec{field: battery + "voltage", kind: plainVoltage, example: "3.7 V", low: 0.5, high: 1000}
	powerSpec   = spec{field: battery + "power", kind: plainPower, example: "0.4 W", low: balloon.MinDraw, high: balloon.MaxDraw}
	currentSpec = spec{field: battery + "current", kind: plainCurrent, example: "120 mA", low: 1e-6, high: 1e4}
	warmerSpec  = spec{field: battery + "warmer", kind: plainDifference, example: "15 K", high: 60}
)

// trainSpecs is all of them.
var trainSpecs = [...]spec{
	waitingSpec, searchingSpec, partMassSpec, everySpec, antennaSpec,
	envelopeMassSpec, burstsAtSpec, fullestSpec, hangsOnSpec,
	heliumSpec, hydrogenSpec, volumeSpec, neckLiftSpec, freeLiftSpec, wantedRateSpec, wantedBurstSpec,
	gasTemperatureSpec, gasPressureSpec, superheatSpec, skinPressureSpec, leakSpec, leftInEachSpec, dragSpreadSpec,
	cylinderSizeSpec, gaugeSpec, cylinderTemperatureSpec, canopySizeSpec, canopySpreadSpec,
	energySpec, chargeSpec, voltageSpec, powerSpec, currentSpec, warmerSpec,
	findBurstSpec, findRateSpec, findLiftSpec,
}

// stated reports whether a text gives its own spread: never where the field
// takes none.
func (s spec) stated(text string) bool {
	u, err := s.kind.read(text)
	return err == nil && s.maxSpread > 0 && !math.IsNaN(u.Spread)
}
