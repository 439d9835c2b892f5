package ground

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Limits of untangling: how often one outline may cross itself, and how many
// pairs of edges are looked at in all outlines of a text together. An outline
// that does not cross itself takes a few for each corner.
const (
	maxTangles = 1000
	maxPairs   = 50_000_000
)

var errKnotted = fmt.Errorf("an outline that crosses itself more than %d times, or comes after others as hard to follow: want simple ones", maxTangles)

// untangle takes a ring apart where it crosses or touches itself, into loops that
// do not. All that one of the loops goes round is what the ring goes round: none
// of it is left out, as the even-odd rule would leave out what it goes round
// twice. left is how many pairs of edges may still be looked at.
func untangle(ring []vertex, left *int) ([][]vertex, error) {
	open, loops := simple(ring), [][]vertex(nil)
	for splits := 0; len(open) > 0; {
		r := open[len(open)-1]
		open = open[:len(open)-1]
		i, j, at, crosses := firstCrossing(r, left)
		if *left <= 0 {
			return nil, errKnotted
		}
		if !crosses {
			loops = append(loops, r)
			continue
		}
		if splits++; splits > maxTangles {
			return nil, errKnotted
		}
		inner := append([]vertex{at}, r[i+1:j+1]...)
		outer := append(slices.Clone(r[:i+1]), at)
		outer = append(outer, r[j+1:]...)
		open = append(open, simple(inner)...)
		open = append(open, simple(outer)...)
	}
	if len(loops) == 0 {
		return nil, errFewCorners
	}
	return loops, nil
}

// simple takes a ring apart where a corner comes again, into loops whose corners
// are all different; what has fewer than three goes round nothing.
func simple(ring []vertex) [][]vertex {
	var loops [][]vertex
	var way []vertex
	place := make(map[vertex]int, len(ring))
	for _, v := range ring {
		if from, again := place[v]; again {
			if len(way)-from > 2 {
				loops = append(loops, slices.Clone(way[from:]))
			}
			for _, u := range way[from+1:] {
				delete(place, u)
			}
			way = way[:from+1]
			continue
		}
		place[v] = len(way)
		way = append(way, v)
	}
	if len(way) > 2 {
		loops = append(loops, way)
	}
	return loops
}

// firstCrossing finds two edges of a ring that cross or touch beside its corners,
// the i-th before the j-th, and where. It goes over the edges by their west ends,
// so that it looks at those pairs alone that overlap in longitude; left is how
// many pairs it may still look at.
func firstCrossing(r []vertex, left *int) (i, j int, at vertex, ok bool) {
	order := make([]int, len(r))
	for k := range order {
		order[k] = k
	}
	end := func(k int) vertex { return r[(k+1)%len(r)] }
	west := func(k int) int32 { return min(r[k].x, end(k).x) }
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(west(a), west(b)) })
	var active []int
	for _, k := range order {
		active = slices.DeleteFunc(active, func(a int) bool { return max(r[a].x, end(a).x) < west(k) })
		*left -= len(active)
		if *left <= 0 {
			return 0, 0, vertex{}, false
		}
		for _, a := range active {
			if at, ok := knot(r[a], end(a), r[k], end(k)); ok {
				return min(a, k), max(a, k), at, true
			}
		}
		active = append(active, k)
	}
	return 0, 0, vertex{}, false
}

// knot is where two edges cross, rounded, or where an end of one lies on the
// other; false where they do not meet, and where they meet at an end of both.
func knot(a, b, c, d vertex) (vertex, bool) {
	if max(a.y, b.y) < min(c.y, d.y) || max(c.y, d.y) < min(a.y, b.y) {
		return vertex{}, false
	}
	s, t := leftOf(a, b, c), leftOf(a, b, d)
	u, v := leftOf(c, d, a), leftOf(c, d, b)
	switch {
	case s == 0 && between(a, b, c):
		return c, true
	case t == 0 && between(a, b, d):
		return d, true
	case u == 0 && between(c, d, a):
		return a, true
	case v == 0 && between(c, d, b):
		return b, true
	case !(s > 0 && t < 0 || s < 0 && t > 0) || !(u > 0 && v < 0 || u < 0 && v > 0):
		return vertex{}, false
	}
	w := float64(u) / (float64(u) - float64(v))
	return vertex{
		int32(math.RoundToEven(float64(a.x) + w*(float64(b.x)-float64(a.x)))),
		int32(math.RoundToEven(float64(a.y) + w*(float64(b.y)-float64(a.y)))),
	}, true
}

// between reports whether p, which lies on the line through a and b, lies
// between them and is neither.
func between(a, b, p vertex) bool {
	return p != a && p != b && p.x >= min(a.x, b.x) && p.x <= max(a.x, b.x) && p.y >= min(a.y, b.y) && p.y <= max(a.y, b.y)
}

// leftOf is over 0 where p lies left of the line from a to b.
func leftOf(a, b, p vertex) int64 {
	// At most 2·(1080·2^21)·(180·2^21) < 2^61: no overflow.
	return (int64(b.x)-int64(a.x))*(int64(p.y)-int64(a.y)) - (int64(b.y)-int64(a.y))*(int64(p.x)-int64(a.x))
}
