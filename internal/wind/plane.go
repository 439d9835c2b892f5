package wind

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/grib"
)

// upper is one of the quantities that every isobaric level needs or may have.
type upper uint8

const (
	east upper = iota
	north
	height
	temperature
	uppers
)

var upperNames = [uppers]string{"eastward wind", "northward wind", "geopotential height", "temperature"}

// kind is what a map shows: one of the uppers, a surface quantity, or terrain.
type kind uint8

const (
	surfaceKinds = kind(uppers)
	terrainKind  = surfaceKinds + kind(quantities)
)

// plane is what one map of a forecast shows.
type plane struct {
	pressure int32 // hundredths of a pascal; 0 if it is no isobaric level
	kind     kind
}

// rank orders fields that show the same: the lowest is taken.
type rank uint8

const (
	first   rank = iota
	convert      // a geopotential, to be made a height
	mean         // over an interval, where an instant is wanted
)

// planeOf says what a field shows, if it is anything that is used here.
func planeOf(f *grib.Field) (plane, rank, bool) {
	if u, pressure, r, ok := upperField(f); ok {
		return plane{pressure, kind(u)}, r, true
	}
	if q, ok := surfaceQuantity(f); ok {
		if f.Statistic != grib.Instant {
			return plane{0, surfaceKinds + kind(q)}, mean, true
		}
		return plane{0, surfaceKinds + kind(q)}, first, true
	}
	if r, ok := isTerrain(f); ok {
		return plane{0, terrainKind}, r, true
	}
	return plane{}, 0, false
}

// Wanted reports whether a forecast that carries a field makes use of it.
func Wanted(f *grib.Field) bool {
	_, _, ok := planeOf(f)
	return ok
}

// upperField says which quantity of which isobaric level a field is, if any.
func upperField(f *grib.Field) (upper, int32, rank, bool) {
	// Over 2,000 hPa no level lies, and a hundredth of a pascal is 80 km up.
	if !f.Level.At(grib.Isobaric, f.Level.Value) || !(f.Level.Value >= 0.01 && f.Level.Value <= 200e3) ||
		f.Statistic != grib.Instant {
		return 0, 0, 0, false
	}
	pressure := int32(math.Round(f.Level.Value * 100))
	switch f.Parameter() {
	case grib.EastwardWind:
		return east, pressure, first, true
	case grib.NorthwardWind:
		return north, pressure, first, true
	case grib.GeopotentialHeight:
		return height, pressure, first, true
	case grib.Geopotential:
		return height, pressure, convert, true
	case grib.Temperature:
		return temperature, pressure, first, true
	}
	return 0, 0, 0, false
}

// isTerrain reports whether a field is the height of the model's own ground.
func isTerrain(f *grib.Field) (rank, bool) {
	if f.Level.Surface != grib.Ground {
		return 0, false
	}
	if f.Parameter() == grib.Geopotential {
		return convert, true
	}
	return first, f.Parameter() == grib.GeopotentialHeight
}

// hectopascals lists pressures in hundredths of a pascal.
func hectopascals(pressures []int32) string {
	text := ""
	for i, p := range pressures {
		if i > 0 {
			text += ", "
		}
		text += fmt.Sprintf("%g", float64(p)/1e4)
	}
	return text + " hPa"
}
