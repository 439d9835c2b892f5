package grib

import "slices"

// orient brings values from the order of the message, scanning mode flag table
// 3.4, into rows from south to north, each from west to east.
func (f *Field) orient(values []float32) {
	nx, ny := f.Grid.NX, f.Grid.NY
	rowMajor, inner, outer := true, nx, ny
	if f.scanning&jAdjacent != 0 {
		rowMajor, inner, outer = false, ny, nx
	}
	backward := f.scanning&iNegative != 0 // along a line of adjacent points
	reversed := f.scanning&jPositive == 0 // from line to line
	if !rowMajor {
		backward, reversed = reversed, backward
	}
	for k := range outer {
		turned := f.scanning&boustro != 0 && k%2 == 1
		if backward != turned {
			slices.Reverse(values[k*inner:][:inner])
		}
	}
	if reversed {
		reverseLines(values, inner, outer)
	}
	if !rowMajor {
		transpose(values, nx, ny)
	}
}

// reverseLines swaps the first of n lines of the given length with the last, and
// so on.
func reverseLines(values []float32, length, n int) {
	for low, high := 0, n-1; low < high; low, high = low+1, high-1 {
		a, b := values[low*length:][:length], values[high*length:][:length]
		for i, v := range a {
			a[i], b[i] = b[i], v
		}
	}
}

// transpose turns nx columns of ny values into ny rows of nx values.
func transpose(values []float32, nx, ny int) {
	columns := slices.Clone(values)
	for i := range nx {
		for j, v := range columns[i*ny:][:ny] {
			values[j*nx+i] = v
		}
	}
}
