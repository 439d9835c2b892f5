package ensemble

import (
	"math"

	"example.org/thistledown/internal/flight"
)

// turn is an orthogonal rotation of the standard normal values that a flight is
// made of. Such values keep their law when they are turned, so that flights do;
// but points of a Sobol' sequence are spread the most evenly along their first
// dimensions, and where a flight lands depends on all of its values together. The
// turn gives the first dimension the direction, among all values, that carries
// landings farthest, and the second the one that carries them farthest across;
// what side of a line a flight lands on then depends on two dimensions, nearly.
// ([ImaiTan2006] choose directions so.)
//
// It is two Householder reflections, the second applied first, and depends on the
// spec, on the first scene and on the members' winds, not on points.
type turn [2][dimensions]float64

// turned are the dimensions of normal values, in the order of points: those of
// the train and the launch, of the wind error and of what lies between members.
func turned(d int) bool {
	return ofLaunch(d) || d >= firstModeDimension && d < courseDimension || d >= dressDimension
}

// ofLaunch are the dimensions of the train and the launch.
func ofLaunch(d int) bool { return d < memberDimension || d >= gasDimension && d < scatterDimension }

// newTurn is the turn for flights from a drawer along a way. It is nil where the
// planned flight shows no way at all or nothing moves landings.
func newTurn(scene flight.Scene, d *drawer, w way, dress *dressing) *turn {
	var push [2][dimensions]float64 // m east and north for one standard deviation
	scene.Layer = errorSpacing      // rough, but a turn is right however it came about
	for k := range dimensions {
		if ofLaunch(k) && (k < memberDimension || d.weigher != nil) && !d.pilot(scene, k, &push) {
			return nil
		}
	}
	for k := range windModes {
		winds := make([]float64, 2*len(w))
		for i := range d.up {
			winds[i], winds[len(w)+i] = float64(d.up[i][k]), float64(d.down[i][k])
		}
		path := w.path(winds)
		far := path[len(path)-1][0]
		push[0][firstModeDimension+2*k], push[1][firstModeDimension+2*k+1] = far, far
	}
	if dress != nil {
		for k, mode := range dress.modes {
			path := w.path(widened(mode))
			push[0][dressDimension+k], push[1][dressDimension+k] = path[len(path)-1][0], path[len(path)-1][1]
		}
	}
	return turnTo(push)
}

func widened(v []float32) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = float64(v[i])
	}
	return out
}

// pilot writes how far two flights, as planned but for one dimension at one
// standard deviation either way, end apart, halved.
func (d *drawer) pilot(scene flight.Scene, dimension int, push *[2][dimensions]float64) bool {
	h := newHand(lanes)
	for lane := range lanes {
		for k := range h.points[lane] {
			h.points[lane][k] = 0.5
		}
		// Nothing breaks: of the course's interval the last part is as planned.
		h.points[lane][courseDimension] = math.Nextafter(1, 0)
		h.points[lane][dimension] = normalShare(float64(2*(lane%2) - 1))
	}
	d.draw(h, 0)
	low, high := scene.Fly(h.releases[0], nil), scene.Fly(h.releases[1], nil)
	if len(low.Path) == 0 || len(high.Path) == 0 {
		return false
	}
	apart := plane(low.Path[len(low.Path)-1].At, high.Path[len(high.Path)-1].At)
	push[0][dimension], push[1][dimension] = apart[0]/2, apart[1]/2
	return true
}

// turnTo is the turn whose first two dimensions are the leading right singular
// vectors of what pushes landings.
func turnTo(push [2][dimensions]float64) *turn {
	xx, yy, xy := dot(&push[0], &push[0]), dot(&push[1], &push[1]), dot(&push[0], &push[1])
	if !(xx+yy > 1) || math.IsInf(xx+yy, 0) { // m²
		return nil
	}
	sin, cos := math.Sincos(math.Atan2(2*xy, xx-yy) / 2)
	var first, second [dimensions]float64
	for d := range first {
		first[d] = cos*push[0][d] + sin*push[1][d]
		second[d] = cos*push[1][d] - sin*push[0][d]
	}
	var t turn
	t[0] = reflection(first, 0)
	reflect(&t[0], &second)
	second[0] = 0 // but for rounding, as the two are perpendicular
	t[1] = reflection(second, 1)
	return &t
}

// reflection is the unit normal of the mirror that takes a dimension's axis to
// the direction of v, or to its opposite if that is farther; nothing for v = 0.
func reflection(v [dimensions]float64, axis int) (w [dimensions]float64) {
	size := math.Sqrt(dot(&v, &v))
	if !(size > 0) {
		return w
	}
	w = v
	w[axis] += math.Copysign(size, v[axis])
	norm := math.Sqrt(dot(&w, &w))
	for d := range w {
		w[d] /= norm
	}
	return w
}

func dot(a, b *[dimensions]float64) (sum float64) {
	for d, x := range a {
		sum += x * b[d]
	}
	return sum
}

// reflect mirrors v.
func reflect(w, v *[dimensions]float64) {
	k := 2 * dot(w, v)
	for d := range v {
		v[d] -= k * w[d]
	}
}

// apply turns standard normal values.
func (t *turn) apply(z *[dimensions]float64) {
	reflect(&t[1], z)
	reflect(&t[0], z)
}
