package ensemble

import (
	"math"
	"slices"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// The axes of a forecast's grid between whose nodes winds are linear.
const (
	alongLongitude = iota
	alongLatitude
	alongTime
	gridAxes
)

// mostLost bounds the share of members' variance that is taken to be lost along
// one axis: no more is where nodes next to each other have nothing to do with each
// other, half-way between them.
const mostLost = 0.5

// smoothing is by what members' deviations along a way are to be multiplied so
// that they scatter as their winds do at nodes: 1, or a little more.
//
// A wind between two nodes is a mean of theirs, (1-θ)·u + θ·u', and means scatter
// less. Where the variance is the same all over, that of the mean is it less
// θ(1-θ) times the mean square of u' - u: the wave of wavenumber k loses
// 2θ(1-θ)(1 - cos kΔ) of its variance over a spacing Δ, a quarter half-way between
// nodes that are a sixth of its length apart. Truth loses nothing of the kind. So
// with two members' difference over one spacing, times √(θ(1-θ)), in place of their
// winds, the drift's variance comes out as what was lost of it. It is worked out for
// each axis; what is left is the product over the axes of one less each share. Of
// heights it is not: a drift is an integral through them, which straight lines
// between them leave as it is.
//
// own are the deviations from the mean of each group of members.
func (w way) smoothing(scenes []flight.Scene, launch flight.Release, own [][]float64, second []bool) float64 {
	all := w.square(own)
	if !(all > 0) {
		return 1
	}
	var steps [gridAxes][][]float64
	for _, scene := range scenes {
		for axis, step := range w.steps(scene, launch) {
			steps[axis] = append(steps[axis], step)
		}
	}
	left := 1.0
	for _, of := range steps {
		centred(of, second, false)
		centred(of, second, true)
		left *= 1 - min(w.square(of)/all, mostLost)
	}
	return 1 / math.Sqrt(left)
}

// square is the sum of the squares of how far winds, in rows, carry a flight along
// a way.
func (w way) square(profiles [][]float64) (sum float64) {
	for _, p := range profiles {
		path := w.path(p)
		end := path[len(path)-1]
		sum += end[0]*end[0] + end[1]*end[1]
	}
	return sum
}

// steps is how the wind of a scene along a way differs, in rows, from that one
// spacing of the nodes of each axis farther, or nearer where the forecast ends, times
// √(θ(1-θ)); 0 where it is not known at both.
func (w way) steps(scene flight.Scene, launch flight.Release) (out [gridAxes][]float64) {
	n := len(w) / 2
	for axis := range out {
		out[axis] = make([]float64, rows*n)
	}
	f := scene.Wind
	grid, times := f.Grid(), f.Times()
	for i := range w {
		at, when := w[i].whereabouts(launch)
		height := atmos.Geometric(float64(i%n) * errorSpacing)
		here, in := f.At(at, height, when)
		if in != wind.Inside {
			continue
		}
		for axis, row := range out {
			spacing, share := cellOf(grid, times, axis, at, when)
			if !(share > 0 && share < 1) {
				continue
			}
			for _, by := range [...]float64{spacing, -spacing} {
				to, later := moved(axis, by, at, when)
				there, in := f.At(to, height, later)
				if in == wind.Inside {
					k := math.Sqrt(share * (1 - share))
					row[2*(i/n)*n+i%n] = k * (there.East - here.East)
					row[(2*(i/n)+1)*n+i%n] = k * (there.North - here.North)
					break
				}
			}
		}
	}
	return out
}

// moved is a place and a time farther along an axis, degrees or seconds.
func moved(axis int, by float64, at geo.Point, when float64) (geo.Point, float64) {
	switch axis {
	case alongLongitude:
		at.Lon = geo.WrapLon(at.Lon + by)
	case alongLatitude:
		at.Lat += by
	case alongTime:
		when += by
	}
	return at, when
}

// cellOf is how far apart the nodes of an axis are around a moment, degrees or
// seconds, and what share of the way from one to the next it lies; none outside.
func cellOf(grid geo.Grid, times []float64, axis int, at geo.Point, when float64) (spacing, share float64) {
	if axis == alongTime {
		k, exact := slices.BinarySearch(times, when)
		if exact || k == 0 || k == len(times) {
			return 0, 0
		}
		spacing = times[k] - times[k-1]
		return spacing, (when - times[k-1]) / spacing
	}
	cell, ok := grid.Cell(at)
	switch {
	case !ok:
		return 0, 0
	case axis == alongLongitude:
		return grid.DLon, cell.X
	}
	return grid.DLat, cell.Y
}
