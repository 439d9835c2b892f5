package grib

import (
	"fmt"
	"math"
)

// Parameter is discipline·65536 + category·256 + number of code tables 0.0,
// 4.1 and 4.2.
type Parameter uint32

// The parameters that the project uses. The numbers and units are those of
// WMO-No. 306, volume I.2, code table 4.2; the short names that String prints are
// the abbreviations of the NCEP tables, which forecast index files use too.
const (
	Temperature        Parameter = 0<<16 | 0<<8 | 0  // TMP, K
	DewPoint           Parameter = 0<<16 | 0<<8 | 6  // DPT, K
	RelativeHumidity   Parameter = 0<<16 | 1<<8 | 1  // RH, %
	PrecipitationRate  Parameter = 0<<16 | 1<<8 | 7  // PRATE, kg m⁻² s⁻¹
	TotalPrecipitation Parameter = 0<<16 | 1<<8 | 8  // APCP, kg m⁻²
	EastwardWind       Parameter = 0<<16 | 2<<8 | 2  // UGRD, m/s toward the east (or along i, see Grid.Turn)
	NorthwardWind      Parameter = 0<<16 | 2<<8 | 3  // VGRD, m/s toward the north (or along j)
	VerticalVelocity   Parameter = 0<<16 | 2<<8 | 8  // VVEL, Pa/s, positive downward
	Gust               Parameter = 0<<16 | 2<<8 | 22 // GUST, m/s
	Pressure           Parameter = 0<<16 | 3<<8 | 0  // PRES, Pa
	SeaLevelPressure   Parameter = 0<<16 | 3<<8 | 1  // PRMSL, Pa
	Geopotential       Parameter = 0<<16 | 3<<8 | 4  // GP, m²/s²: g₀ = 9.80665 m/s² times GeopotentialHeight
	GeopotentialHeight Parameter = 0<<16 | 3<<8 | 5  // HGT, geopotential metres
	CloudCover         Parameter = 0<<16 | 6<<8 | 1  // TCDC, %
	CAPE               Parameter = 0<<16 | 7<<8 | 6  // CAPE, J/kg
	CIN                Parameter = 0<<16 | 7<<8 | 7  // CIN, J/kg
	Visibility         Parameter = 0<<16 | 19<<8 | 0 // VIS, m
	LandCover          Parameter = 2<<16 | 0<<8 | 0  // LAND, proportion 0 (sea) to 1 (land)
)

// String is the short name of a parameter, else its three numbers, such as
// "parameter 0.2.1". Numbers from 192 on belong to the centres and have none.
func (p Parameter) String() string {
	if name, ok := parameterNames[p]; ok {
		return name
	}
	return fmt.Sprintf("parameter %d.%d.%d", p>>16, p>>8&255, p&255)
}

// Surface is a type of fixed surface, code table 4.5.
type Surface uint8

// The surfaces that the project uses, with the unit of their value.
const (
	Ground            Surface = 1   // ground or water surface; no value
	TopOfAtmosphere   Surface = 8   // nominal top; no value
	Atmosphere        Surface = 10  // the entire atmosphere; no value
	Isobaric          Surface = 100 // Pa
	MeanSeaLevel      Surface = 101 // no value
	HeightAboveSea    Surface = 102 // m
	HeightAboveGround Surface = 103 // m
	Sigma             Surface = 104 // proportion of the surface pressure
	Hybrid            Surface = 105 // level of a model, counted; no unit
	NoSurface         Surface = 255 // there is no such surface
)

// Level is where a field lies: on one surface, or in the layer between two.
// Messages give a value and a scale factor of any size and sign, which the value
// here is free of: 0.4 hPa is 40 Pa, whether written as 40, 4·10¹ or 400·10⁻¹.
type Level struct {
	Surface Surface
	Value   float64 // in the SI unit of Surface; NaN if the message gives none

	Surface2 Surface // far side of a layer, NoSurface if it is no layer
	Value2   float64 // in the SI unit of Surface2; 0 if it is no layer, NaN if the message gives none
}

// At reports whether the field lies on the one surface s at the value v, in the
// SI unit of s.
func (l Level) At(s Surface, v float64) bool {
	return l.Surface == s && l.Value == v && l.Surface2 == NoSurface
}

// String is such as "at 50000 Pa", "at 10 m above ground", "at the ground" or
// "at surface 104: 0.995".
func (l Level) String() string {
	if l.Surface2 == NoSurface {
		return "at " + surfaceText(l.Surface, l.Value)
	}
	return "from " + surfaceText(l.Surface, l.Value) + " to " + surfaceText(l.Surface2, l.Value2)
}

func surfaceText(s Surface, v float64) string {
	switch s {
	case Ground:
		return "the ground"
	case MeanSeaLevel:
		return "mean sea level"
	case Isobaric:
		return fmt.Sprintf("%g Pa", v)
	case HeightAboveSea:
		return fmt.Sprintf("%g m above sea level", v)
	case HeightAboveGround:
		return fmt.Sprintf("%g m above ground", v)
	case Hybrid:
		return fmt.Sprintf("model level %g", v)
	}
	if math.IsNaN(v) {
		return fmt.Sprintf("surface %d", uint8(s))
	}
	return fmt.Sprintf("surface %d: %g", uint8(s), v)
}

// Statistic is a type of statistical processing over an interval, code table
// 4.10.
type Statistic uint8

// The kinds of processing that the project tells apart.
const (
	Average      Statistic = 0
	Accumulation Statistic = 1
	Maximum      Statistic = 2
	Minimum      Statistic = 3
	Instant      Statistic = 255 // none: the field holds at one instant
)
