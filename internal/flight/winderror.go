package flight

import "math"

// WindError is how one flight's wind differs from the forecast's: values at
// evenly spaced heights from mean sea level up, linear between them, constant
// below the first and above the last. It is the same for the whole flight, up
// and down: errors of a forecast live longer than a flight does (from memory,
// low confidence: six hours and more). The zero value is no error.
type WindError struct {
	Spacing     float64   // m between heights, over 0 where there are values
	East, North []float64 // m/s, as many of each
}

// At is the error at a height above mean sea level, m/s toward east and north.
func (e WindError) At(height float64) (east, north float64) {
	last := len(e.East) - 1
	if last < 0 {
		return 0, 0
	}
	x := math.Min(math.Max(height/e.Spacing, 0), float64(last))
	i := int(x)
	if i == last {
		return e.East[last], e.North[last]
	}
	w := x - float64(i)
	return e.East[i] + w*(e.East[i+1]-e.East[i]), e.North[i] + w*(e.North[i+1]-e.North[i])
}
