package hazard

import (
	"cmp"
	"slices"
	"time"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/ground"
)

// MaxParcels is how many parcels a score lists.
const MaxParcels = 20

// LayerShare is one layer of the map.
type LayerShare struct {
	Name  string
	Class ground.Class // 0: none, the layer only says whose land it is
	// Severity is the layer's own or that of its class; 0 without a class.
	Severity float64
	Landing  Probability // of the flights that landed: known hits only
	// Points are those of the score, of landings on which nothing is worse. They
	// are among its class's; where two layers are as bad, the first in the map
	// has them.
	Points float64
}

// ParcelShare is one owner of land.
type ParcelShare struct {
	Owner   string
	Layer   string      // that names the owner
	Landing Probability // of the flights that landed
}

// comeDown notes what is under a landing.
func (m *Met) comeDown(over *ground.Map, at flight.Step, start time.Time) {
	found := over.At(at.At, start.Add(time.Duration(at.Time*float64(time.Second))))
	m.Under, m.Assessed, m.Own = found.Under, found.Assessed, found.Own
	m.Layers, m.Parcels = found.Layers, found.Parcels
}

// layered is the layers' part of an assessment.
type layered struct {
	severity Severity
	layers   []*ground.Layer
	own      []float64 // each layer's severity
	on       []tally
	points   []float64               // sums of severities by layer
	parcels  map[ground.Parcel][]int // hits by scramble
}

func newLayered(scrambles int, s Severity, layers []*ground.Layer) *layered {
	if len(layers) > ground.MaxLayers {
		panic("hazard: more layers than a map may hold")
	}
	l := &layered{
		severity: s, layers: layers,
		own: make([]float64, len(layers)), on: make([]tally, len(layers)), points: make([]float64, len(layers)),
		parcels: map[ground.Parcel][]int{},
	}
	for i, layer := range layers {
		source := layer.Source()
		l.own[i] = s.Ground[source.Class]
		if source.Severity != nil {
			l.own[i] = *source.Severity
		}
		l.on[i] = newTally(scrambles)
	}
	return l
}

// worst is the most that a landing can be.
func (l *layered) worst() float64 {
	worst := 0.0
	for c := range ground.Classes() {
		worst = max(worst, l.severity.Ground[c])
	}
	for _, v := range l.own {
		worst = max(worst, v)
	}
	return worst
}

// add takes in one landing; it gives S_land and the class that makes it.
func (l *layered) add(f Met, scramble int) (worst float64, by ground.Class) {
	for c := range ground.Classes() {
		if v := l.severity.Ground[c]; f.Under.Has(c) && !f.Own.Has(c) && v > worst {
			worst, by = v, c
		}
	}
	for i, layer := range l.layers {
		hit := f.Layers.Has(i)
		l.on[i].add(scramble, hit)
		if source := layer.Source(); hit && source.Severity != nil && l.own[i] > worst {
			worst, by = l.own[i], source.Class
		}
	}
	for i, layer := range l.layers {
		if worst > 0 && f.Layers.Has(i) && l.own[i] == worst && layer.Source().Class == by {
			l.points[i] += worst
			break
		}
	}
	for _, parcel := range f.Parcels {
		hits := l.parcels[parcel]
		if hits == nil {
			hits = make([]int, len(l.on[parcel.Layer].hits))
			l.parcels[parcel] = hits
		}
		hits[scramble]++
	}
	return worst, by
}

// halfWidth is half the widest interval of a layer's landings.
func (l *layered) halfWidth() float64 {
	widest := 0.0
	for _, t := range l.on {
		widest = max(widest, t.probability().HalfWidth())
	}
	return widest
}

// shares are the layers, in the map's order, over so many landings.
func (l *layered) shares(landed float64) []LayerShare {
	var shares []LayerShare
	for i, layer := range l.layers {
		source := layer.Source()
		shares = append(shares, LayerShare{
			Name: source.Name, Class: source.Class, Severity: l.own[i],
			Landing: l.on[i].probability(), Points: 100 * l.points[i] / landed,
		})
	}
	return shares
}

// owners are the owners on whose land the most landings are, the most first, and
// how many others there are; landings are those of each scramble.
func (l *layered) owners(landings []int) (list []ParcelShare, others int) {
	type counted struct {
		parcel ground.Parcel
		hits   int
	}
	all := make([]counted, 0, len(l.parcels))
	for p, hits := range l.parcels {
		c := counted{parcel: p}
		for _, n := range hits {
			c.hits += n
		}
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b counted) int {
		return cmp.Or(cmp.Compare(b.hits, a.hits), cmp.Compare(a.parcel.Layer, b.parcel.Layer), cmp.Compare(a.parcel.Owner, b.parcel.Owner))
	})
	for _, c := range all[:min(len(all), MaxParcels)] {
		layer := l.layers[c.parcel.Layer]
		list = append(list, ParcelShare{
			Owner: layer.Owner(c.parcel.Owner), Layer: layer.Source().Name,
			Landing: tally{hits: l.parcels[c.parcel], of: landings}.probability(),
		})
	}
	return list, len(all) - len(list)
}

// mustKnow sees to it that a flight came down on layers that are given.
func (l *layered) mustKnow(f Met) {
	known := ground.LayerSet{}
	for i := range l.layers {
		known = known.With(i)
	}
	for k, word := range f.Layers {
		if word&^known[k] != 0 {
			panic("hazard: a flight came down on a layer that is not given")
		}
	}
	for _, parcel := range f.Parcels {
		if int(parcel.Layer) >= len(l.layers) {
			panic("hazard: a flight came down on a parcel of a layer that is not given")
		}
	}
}
