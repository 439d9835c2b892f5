package wind

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// Quantity is a surface field that bears on a launch or a landing.
type Quantity uint8

// The surface fields that are kept where a forecast carries them.
const (
	SurfaceEast   Quantity = iota // wind toward east 10 m above ground, m/s
	SurfaceNorth                  // wind toward north 10 m above ground, m/s
	Gust                          // gust at the ground, m/s
	Cloud                         // cloud cover of the whole sky, %
	Precipitation                 // precipitation rate, kg m⁻² s⁻¹, which is mm/s of water
	Visibility                    // visibility at the ground, m
	CAPE                          // convective available potential energy, J/kg
	quantities
)

// surfaceQuantity says which surface quantity a field is, if any.
func surfaceQuantity(f *grib.Field) (Quantity, bool) {
	ground := f.Level.Surface == grib.Ground
	tenMetres := f.Level.At(grib.HeightAboveGround, 10)
	sky := f.Level.Surface == grib.Atmosphere
	switch p := f.Parameter(); {
	case p == grib.EastwardWind && tenMetres:
		return SurfaceEast, true
	case p == grib.NorthwardWind && tenMetres:
		return SurfaceNorth, true
	case p == grib.Gust && ground:
		return Gust, true
	case p == grib.CloudCover && sky:
		return Cloud, true
	case p == grib.PrecipitationRate && ground:
		return Precipitation, true
	case p == grib.Visibility && ground:
		return Visibility, true
	case p == grib.CAPE && ground:
		return CAPE, true
	}
	return 0, false
}

// Surface is a surface quantity at a place and a time in seconds since Start:
// bilinear in latitude and longitude, then linear in time. It is Missing where
// the forecast does not carry the quantity at the steps around, as often at
// the first step for means over an interval, whose value counts for its end.
func (f *Field) Surface(q Quantity, p geo.Point, t float64) (float64, Outcome) {
	step, frac, out := f.step(t)
	if out != Inside {
		return 0, out
	}
	cell, ok := f.grid.Cell(p)
	if !ok {
		return 0, OffGrid
	}
	if q >= quantities {
		return 0, Missing
	}
	value := bilinear(f.surface[q][step], cell)
	if frac > 0 {
		value += frac * (bilinear(f.surface[q][step+1], cell) - value)
	}
	if math.IsNaN(value) {
		return 0, Missing
	}
	return value, Inside
}

// bilinear interpolates in a cell; NaN where there are no values.
func bilinear(v []float32, c geo.Cell) float64 {
	if v == nil {
		return math.NaN()
	}
	south := float64(v[c.SW]) + c.X*float64(v[c.SE]-v[c.SW])
	north := float64(v[c.NW]) + c.X*float64(v[c.NE]-v[c.NW])
	return south + c.Y*(north-south)
}

// field is how a forecast tags a quantity.
func (q Quantity) field() (grib.Parameter, grib.Surface, float64) {
	none := math.NaN()
	switch q {
	case SurfaceEast:
		return grib.EastwardWind, grib.HeightAboveGround, 10
	case SurfaceNorth:
		return grib.NorthwardWind, grib.HeightAboveGround, 10
	case Gust:
		return grib.Gust, grib.Ground, none
	case Cloud:
		return grib.CloudCover, grib.Atmosphere, none
	case Precipitation:
		return grib.PrecipitationRate, grib.Ground, none
	case Visibility:
		return grib.Visibility, grib.Ground, none
	}
	return grib.CAPE, grib.Ground, none
}

// Quantities is how many surface quantities there are.
const Quantities = quantities

// String is the quantity in words.
func (q Quantity) String() string {
	switch q {
	case SurfaceEast:
		return "10 m wind toward east"
	case SurfaceNorth:
		return "10 m wind toward north"
	case Gust:
		return "gust"
	case Cloud:
		return "cloud"
	case Precipitation:
		return "precipitation"
	case Visibility:
		return "visibility"
	case CAPE:
		return "CAPE"
	}
	return fmt.Sprintf("surface quantity %d", uint8(q))
}
