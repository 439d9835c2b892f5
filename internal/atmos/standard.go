package atmos

import "math"

// Sea level of the U.S. Standard Atmosphere 1976, and the radius of the Earth
// that it uses for every latitude.
const (
	seaLevelPressure    = 101325.0  // P0, Pa
	seaLevelTemperature = 288.15    // T0, K
	earthRadius         = 6356766.0 // r0, m
)

// Standard's range, m. Above 80 km the standard's air is no longer of one
// composition, and its temperature no longer piecewise linear.
const (
	standardBottom = -5000
	standardTop    = 80000
)

// layer is a layer of the standard: what holds at its base, and the change of
// temperature with height.
type layer struct {
	base        float64 // geopotential m
	temperature float64 // K
	lapse       float64 // K per geopotential m
	pressure    float64 // Pa
}

// layers are those of table 4 of the standard. The pressures follow from the
// rest (equation 33) and are written out so that no call has to work through
// the layers below; computed with 40 digits.
var layers = [...]layer{
	{0, seaLevelTemperature, -6.5e-3, seaLevelPressure},
	{11000, 216.65, 0, 22632.063973462930},
	{20000, 216.65, 1e-3, 5474.8886696777796},
	{32000, 228.65, 2.8e-3, 868.01868475522733},
	{47000, 270.65, 0, 110.90630555496588},
	{51000, 270.65, -2.8e-3, 66.938873118687269},
	{71000, 214.65, -2e-3, 3.9564204280407287},
}

// State is the state of dry air: temperature in K, pressure in Pa, density in
// kg/m³.
type State struct{ Temperature, Pressure, Density float64 }

// Standard is the U.S. Standard Atmosphere 1976 at a height from -5 to 80 km;
// false outside, and for NaN. It turns the height into geopotential with the
// standard's own radius of 6356766 m, as its tables do, and not for a latitude.
func Standard(z Geometric) (State, bool) {
	if !(z >= standardBottom && z <= standardTop) {
		return State{}, false
	}
	h := earthRadius * float64(z) / (earthRadius + float64(z))
	l := layers[0]
	for i := 1; i < len(layers) && h >= layers[i].base; i++ {
		l = layers[i]
	}
	return l.at(h), true
}

// at is the state at a geopotential height in the layer (equations 23 and 33).
func (l layer) at(h float64) State {
	const k = StandardGravity / GasConstant // K/m
	t := l.temperature + l.lapse*(h-l.base)
	p := l.pressure
	if l.lapse == 0 {
		p *= math.Exp(-k * (h - l.base) / l.temperature)
	} else {
		p *= math.Pow(l.temperature/t, k/l.lapse)
	}
	return State{Temperature: t, Pressure: p, Density: Density(p, t)}
}
