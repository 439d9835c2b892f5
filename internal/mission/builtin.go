package mission

import (
	"slices"
	"sync"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// Built is what is built in of the map of the Earth, for many goroutines at once. It
// keeps what it put together last, which takes longer than a thousand flights.
type Built struct {
	world *ground.World

	mutex  sync.Mutex
	abroad []abroad // the one asked for last is last
	kept   int64    // times that it was at hand
	made   int64    // and was not
}

// maxAbroad is of how many countries the ground outside is kept, some 10 MB each: most
// callers ask from one.
const maxAbroad = 4

// abroad is all ground outside a country.
type abroad struct {
	from  ground.Country
	layer *ground.Layer
}

// BuiltIn is ground.BuiltIn for many plans.
func BuiltIn(near geo.Box) (*Built, error) {
	world, err := ground.BuiltIn(near)
	if err != nil {
		return nil, err
	}
	return &Built{world: world}, nil
}

// Counts is how often ground abroad was at hand, and how often it was put together.
func (b *Built) Counts() (kept, made int64) {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	return b.kept, b.made
}

// outside is the ground abroad as seen from a site.
func (b *Built) outside(site geo.Point) (*ground.Layer, error) {
	from, ok := b.world.Country(site)
	if !ok {
		return b.world.Abroad(site) // which says why not
	}
	b.mutex.Lock()
	defer b.mutex.Unlock()
	if i := slices.IndexFunc(b.abroad, func(a abroad) bool { return a.from == from }); i >= 0 {
		found := b.abroad[i]
		b.kept++
		b.abroad = append(slices.Delete(b.abroad, i, i+1), found)
		return found.layer, nil
	}
	layer, err := b.world.Abroad(site)
	if err != nil {
		return nil, err
	}
	b.made++
	if len(b.abroad) == maxAbroad {
		b.abroad = slices.Delete(b.abroad, 0, 1)
	}
	b.abroad = append(b.abroad, abroad{from, layer})
	return layer, nil
}
