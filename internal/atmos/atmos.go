// Package atmos is still air at rest: the two kinds of height above mean sea
// level, the density and viscosity of dry air, and the U.S. Standard Atmosphere
// 1976.
//
// It hides how gravity changes with latitude and height, and the layers of the
// standard. Heights are metres above mean sea level, taken as the surface of
// the WGS84 ellipsoid for gravity's sake; latitudes are geodetic degrees;
// temperatures K, pressures Pa, densities kg/m³, viscosities Pa·s.
//
// It knows nothing of moisture, of wind, or of any day's weather.
package atmos

// StandardGravity is the acceleration in the definition of the geopotential
// metre and of the standard atmosphere, m/s² (exact).
const StandardGravity = 9.80665

// GasConstant is the specific gas constant of dry air, 287.05307 J/(kg K). It
// is R*/M0 of the U.S. Standard Atmosphere 1976 without rounding: 8.31432
// J/(mol K) over 28.9644 g/mol. Today's molar gas constant, 8.314462618, would
// make densities 1.7e-5 smaller.
const GasConstant = 8.31432 / 0.0289644

// SeaLevelDensity is the density of the standard atmosphere at sea level,
// kg/m³, 1.2250 to the digits that the standard prints.
const SeaLevelDensity = seaLevelPressure / (GasConstant * seaLevelTemperature)

// Density is the density of dry air in kg/m³ as an ideal gas, from its pressure
// in Pa and its temperature in K (above zero).
func Density(pressure, temperature float64) float64 {
	return pressure / (GasConstant * temperature)
}
