package atmos

import "math"

// PressureAltitude is the geopotential height at which the U.S. Standard
// Atmosphere 1976 has a pressure in Pa: what an altimeter set to 1013.25 hPa
// shows. Flight level 100 is 10,000 ft, 3,048 m, of it. False for pressures that
// the standard has not between -5 and 80 km, and for NaN.
func PressureAltitude(pressure float64) (Geopotential, bool) {
	const (
		lowest  = earthRadius * standardBottom / (earthRadius + standardBottom)
		highest = earthRadius * standardTop / (earthRadius + standardTop)
		rounded = 1e-6 // m
	)
	l := layers[0]
	for i := 1; i < len(layers) && pressure <= layers[i].pressure; i++ {
		l = layers[i]
	}
	h := l.height(pressure)
	return Geopotential(h), h >= lowest-rounded && h <= highest+rounded
}

// height is the geopotential height of a pressure in the layer: its at, turned
// round.
func (l layer) height(pressure float64) float64 {
	const k = StandardGravity / GasConstant // K/m
	if l.lapse == 0 {
		return l.base + l.temperature/k*math.Log(l.pressure/pressure)
	}
	return l.base + l.temperature/l.lapse*(math.Pow(l.pressure/pressure, l.lapse/k)-1)
}
