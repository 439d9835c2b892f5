package ground

import (
	"fmt"

	"example.org/thistledown/internal/geo"
)

// World is what is built in of the map of the Earth, in one box of it. Its data
// are public domain: Natural Earth's coast, lakes, borders, rivers and places,
// and the airports of an open list of airports.
type World struct {
	near      geo.Box
	layers    []*Layer
	countries []territory
}

// BuiltIn gives the built-in map within a box. Outside of it nothing is
// assessed, so the box should hold all that flights may reach; the smaller it
// is, the faster it is made: some ten milliseconds for 2,000 by 2,000 km, some
// tenths of a second for the whole Earth.
func BuiltIn(near geo.Box) (*World, error) {
	if err := near.Check(); err != nil {
		return nil, fmt.Errorf("built-in map: %w", err)
	}
	w := &World{near: near}
	window := windowOf(near)
	for _, part := range [...]struct {
		name string
		add  func(box) error
	}{
		{"coast and lakes", w.addWater},
		{"rivers", w.addRivers},
		{"towns", w.addTowns},
		{"airports", w.addAirports},
		{"borders", w.addBorders},
	} {
		if err := part.add(window); err != nil {
			return nil, fmt.Errorf("built-in map: %s: %w", part.name, err)
		}
	}
	return w, nil
}

// Layers are the layers of the map, without the borders, which see Abroad for.
//
//   - Coast and lakes: class Water, as BuiltInWater has them, assessed in all of the
//     box.
//   - Rivers: class Water, 300 and 100 m to either side of the
//     centre lines of Natural Earth at 1:10m, its ranks 0 to 3 and 4 to 6. The
//     source knows no widths: these are assumed, and far too narrow for an estuary,
//     too wide for an upper reach. Lines are off by some hundreds of metres: a
//     point's answer means little, the share of many landings more. Smaller rivers
//     are absent.
//   - Towns: class BuiltUp, a circle round each of Natural Earth's 6,917 populated
//     places of 1,000 people or more, as large as its people fill at 4,000 to the
//     km² (assumed). Half of their area is in Natural Earth's urban areas (1:50m),
//     and a third of those is in circles. No town is a circle, most villages are absent, and single
//     houses all are: nothing outside is assessed.
//   - Airports: class Airfield, 3,000 and 1,500 m (assumed) round the reference
//     points of 463 large and 4,747 medium airports. Runways are not in it, nor are
//     small airports, heliports, glider and club fields: nothing outside is
//     assessed, and a plan should add a list of those.
func (w *World) Layers() []*Layer { return w.layers }

// add adds a layer.
func (w *World) add(s LayerSource, areas *shapes) {
	w.layers = append(w.layers, &Layer{source: s, areas: newIndex(areas), shapes: areas, polygons: len(areas.polygons)})
}

// addWater adds the sea, as what is left of the box without the land, and the
// lakes.
func (w *World) addWater(window box) error {
	water, err := decodeWaterIn(waterFile, window)
	if err != nil {
		return err
	}
	w.add(LayerSource{Name: waterName, Class: Water, Credit: waterCredit, Covers: []geo.Box{w.near}}, water)
	return nil
}

func (w *World) addRivers(window box) error {
	rivers, err := decodeRivers(riversFile, window.widened(greatRiverHalf))
	w.add(LayerSource{
		Name: "rivers", Class: Water,
		Credit: "Natural Earth, centre lines of rivers and lakes 1:10m, public domain; widths assumed",
	}, rivers)
	return err
}

func (w *World) addAirports(window box) error {
	airports, err := decodePoints(airportsFile, window.widened(largeAirport))
	w.add(LayerSource{
		Name: "airports", Class: Airfield,
		Credit: "OurAirports, large and medium airports, public domain; radii assumed",
	}, circles(airports, airportRadius))
	return err
}

func (w *World) addTowns(window box) error {
	towns, err := decodePoints(townsFile, window.widened(maxTownRadius))
	w.add(LayerSource{
		Name: "towns", Class: BuiltUp,
		Credit: "Natural Earth, populated places 1:10m, public domain; circles of an assumed density",
	}, circles(towns, townRadius))
	return err
}

func (w *World) addBorders(window box) (err error) {
	w.countries, err = decodeBorders(bordersFile, window)
	return err
}
