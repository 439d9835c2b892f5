package ground

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// parcels are the polygons of a layer with the owners of each.
type parcels struct {
	shapes *shapes
	extent []box    // of the polygons
	tree   *tree    // over the polygons
	ring   []uint32 // the owner of each ring, closed or not, as a number from 1
	names  []string // of the owners: the first is number 1
}

// newParcels makes the index of the first polygons of s, those that are not mere
// lines; owners are those of all rings.
func newParcels(s *shapes, polygons int, ring []uint32, names []string) *parcels {
	p := &parcels{shapes: s, extent: make([]box, polygons), ring: ring, names: names}
	for k := range p.extent {
		p.extent[k], _ = s.measure(k)
	}
	p.tree = newSortedTree(polygons, func(k uint32) box { return p.extent[k] })
	return p
}

// owners are those of the polygons that have v, -180 <= longitude < 180, in
// them, each once, in order.
func (p *parcels) owners(v vertex) []uint32 {
	var in []uint32
	for turns := int64(-1); turns <= 1; turns++ {
		x := int64(v.x) + turns*turn
		q, ok := wide{x, int64(v.y), x, int64(v.y)}.moved(0)
		if !ok {
			continue
		}
		at := vertex{q.west, q.south}
		p.tree.touch(q, func(k uint32) bool {
			if p.extent[k].touches(q) && p.shapes.contains(int(k), at) {
				in = append(in, p.ring[p.shapes.polygons[k].from])
			}
			return true
		})
	}
	slices.Sort(in)
	return slices.Compact(in)
}

// contains reports whether v is in polygon k by the even-odd rule, counting the
// edges west of it: what lies on a west or south edge is in, as in an index.
func (s *shapes) contains(k int, v vertex) bool {
	in := false
	for _, r := range s.rings[s.polygons[k].from:s.polygons[k].to] {
		for i := r.from; i < r.to-1; i++ {
			a, b := s.vertices[i], s.vertices[i+1]
			if (a.y <= v.y) != (b.y <= v.y) && eastOf(v, a, b) {
				in = !in
			}
		}
	}
	return in
}

// ownerOf is whom a feature's properties name as its owner: "owner", or else
// "name", or else the feature's number.
func ownerOf(properties json.RawMessage, feature int) (string, error) {
	var p struct {
		Owner *string `json:"owner"`
		Name  *string `json:"name"`
	}
	if len(properties) > 0 {
		if err := json.Unmarshal(properties, &p); err != nil {
			return "", fmt.Errorf("properties: %w: want owner and name as text", err)
		}
	}
	name := fmt.Sprintf("feature %d, whose owner is not given", feature)
	for _, s := range [...]*string{p.Owner, p.Name} {
		if s != nil && strings.TrimSpace(*s) != "" {
			name = strings.TrimSpace(*s)
			break
		}
	}
	unprintable := func(r rune) bool { return !unicode.IsPrint(r) }
	if len([]rune(name)) > maxName || strings.ContainsFunc(name, unprintable) {
		return "", fmt.Errorf("owner %.40q: want at most %d characters, all of them printable", name, maxName)
	}
	return name, nil
}
