package ground

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// parcel is a feature over the square of one degree north-east of a place.
func parcel(properties string, lat, lon float64) string {
	return fmt.Sprintf(`{"type":"Feature","properties":%[1]s,"geometry":{"type":"Polygon","coordinates":[[[%[3]g,%[2]g],[%[4]g,%[2]g],[%[4]g,%[5]g],[%[3]g,%[5]g],[%[3]g,%[2]g]]]}}`,
		properties, lat, lon, lon+1, lat+1)
}

func TestParcels(t *testing.T) {
	text := features(
		parcel(`{"owner":"North farm","name":"Long field"}`, 51, 8), parcel(`{"name":"Mill"}`, 50, 8), parcel(`null`, 49, 8), parcel(`{"owner":" "}`, 48, 8),
		parcel(`{"owner":"North farm"}`, 51, 9), parcel(`{"owner":"Late"}`, 51.5, 8), parcel(`{"owner":"Island"}`, 10, 179.5),
		`{"type":"Feature","properties":{"owner":"Mill race"},"geometry":`+geometry("LineString", "[[12,50],[12,51]]")+`}`,
	)
	land, err := ReadLayer(LayerSource{Name: "land", Parcels: true, Buffer: 1000}, []byte(text))
	require.NoError(t, err)
	m := Map{Layers: []*Layer{forest(t, geometry("Polygon", wood)), land}}
	for _, tt := range []struct {
		lat, lon float64
		want     string // all owners
	}{
		{51.2, 8.5, "North farm"},
		{51.2, 9.5, "North farm"},
		{50.5, 8.5, "Mill"},
		{49.5, 8.5, "feature 3, whose owner is not given"},
		{48.5, 8.5, "feature 4, whose owner is not given"},
		{51.7, 8.5, "North farm; Late"},
		{52.2, 8.5, "Late"},
		{10.5, -179.7, "Island"},
		{50.5, 12.01, "Mill race"},
		{50.5, 11.99, "Mill race"},
		{50.5, 9.01, "Mill"},
		{50.5, 9.1, ""},
		{50.5, 12.1, ""},
	} {
		found := m.At(geo.Point{Lat: tt.lat, Lon: tt.lon}, noon)
		assert.Equal(t, tt.want, owners(&m, found), "owners at %g, %g", tt.lat, tt.lon)
		assert.Equal(t, tt.want != "", found.Layers.Has(1))
		assert.Zero(t, found.Under&^Set(0).With(Forest), "a parcel without a class is none")
		assert.Zero(t, found.Assessed&^Set(0).With(Forest), "a parcel without a class assesses none")
	}
	assert.Empty(t, land.Owner(0))
	assert.Empty(t, land.Owner(1000))
	assert.Empty(t, m.Layers[0].Owner(1))
	for properties, want := range map[string]string{
		`{"owner":3}`:      "feature 2: properties: json: cannot unmarshal number",
		`{"owner":"a\n"}`:  "",
		`{"owner":"a\nb"}`: "feature 2: owner \"a\\nb\": want at most 120 characters, all of them printable",
		`{"name":"` + strings.Repeat("x", 121) + `"}`: "want at most 120 characters",
	} {
		_, err := ReadLayer(LayerSource{Name: "land", Parcels: true}, []byte(features(parcel("null", 1, 2), parcel(properties, 1, 2))))
		if want == "" {
			assert.NoError(t, err)
			continue
		}
		assert.ErrorContains(t, err, want)
	}
}

// Whose land it is by two layers, and by two features of one: each is named.
func TestParcelsOfSeveral(t *testing.T) {
	farms, err := ReadLayer(LayerSource{Name: "farms", Parcels: true}, []byte(features(
		parcel(`{"owner":"Brook"}`, 50, 8), parcel(`{"owner":"Hill"}`, 50, 8), parcel(`{"owner":"Brook"}`, 50.5, 8))))
	require.NoError(t, err)
	shoots, err := ReadLayer(LayerSource{Name: "shoots", Parcels: true, Buffer: 1000}, []byte(features(parcel(`{"owner":"Estate"}`, 50, 8))))
	require.NoError(t, err)
	m := Map{Layers: []*Layer{farms, shoots}}
	for lat, want := range map[float64]string{50.2: "Brook; Hill; Estate", 50.7: "Brook; Hill; Estate", 51.005: "Brook; Estate", 51.2: "Brook", 49.995: "Estate", 49: ""} {
		assert.Equal(t, want, owners(&m, m.At(geo.Point{Lat: lat, Lon: 8.5}, noon)), "owners at %g, 8.5", lat)
	}
}

// owners are the names of all whose land was found.
func owners(m *Map, f Found) string {
	var names []string
	for _, p := range f.Parcels {
		names = append(names, m.Layers[p.Layer].Owner(p.Owner))
	}
	return strings.Join(names, "; ")
}

// A farm in the hole of an estate that comes first in the file is the farm's.
func TestParcelInAHole(t *testing.T) {
	land, err := ReadLayer(LayerSource{Name: "land", Parcels: true}, []byte(features(
		`{"type":"Feature","properties":{"owner":"Estate"},"geometry":`+geometry("Polygon", wood)+`}`,
		`{"type":"Feature","properties":{"owner":"Farm"},"geometry":`+geometry("Polygon", `[[[8.4,50.4],[8.6,50.4],[8.6,50.6],[8.4,50.6],[8.4,50.4]]]`)+`}`)))
	require.NoError(t, err)
	for lon, want := range map[float64]string{8.2: "Estate", 8.5: "Farm"} {
		found := (&Map{Layers: []*Layer{land}}).At(geo.Point{Lat: 50.5, Lon: lon}, noon)
		assert.Equal(t, want, land.Owner(found.Parcels[0].Owner), "owner at 50.5, %g", lon)
	}
}

// Own is where only layers with a severity of their own say that ground is of a
// class.
func TestOwnSeverities(t *testing.T) {
	half := 0.5
	read := func(own *float64, class Class, rings string) *Layer {
		l, err := ReadLayer(LayerSource{Name: "x", Class: class, Severity: own}, []byte(geometry("Polygon", rings)))
		require.NoError(t, err)
		return l
	}
	m := Map{Layers: []*Layer{
		read(&half, Forest, `[[[0,0],[2,0],[2,2],[0,2],[0,0]]]`), read(nil, Forest, `[[[1,0],[3,0],[3,2],[1,2],[1,0]]]`),
		read(&half, Water, `[[[0,0],[3,0],[3,1],[0,1],[0,0]]]`),
	}}
	half = 0.9
	assert.InDelta(t, 0.5, *m.Layers[0].Source().Severity, 0, "a layer does not change once it is made")
	for _, tt := range []struct {
		lat, lon float64
		under    Set
		own      Set
		layers   LayerSet
	}{
		{1.5, 0.5, Set(0).With(Forest), Set(0).With(Forest), LayerSet{1}},
		{1.5, 1.5, Set(0).With(Forest), 0, LayerSet{3}},
		{0.5, 0.5, Set(0).With(Forest).With(Water), Set(0).With(Forest).With(Water), LayerSet{5}},
		{0.5, 1.5, Set(0).With(Forest).With(Water), Set(0).With(Water), LayerSet{7}},
		{0.5, 2.5, Set(0).With(Forest).With(Water), Set(0).With(Water), LayerSet{6}},
		{5, 5, 0, 0, LayerSet{}},
	} {
		found := m.At(geo.Point{Lat: tt.lat, Lon: tt.lon}, noon)
		assert.Equal(t, Found{Under: tt.under, Assessed: tt.under, Own: tt.own, Layers: tt.layers}, found, "At(%g, %g)", tt.lat, tt.lon)
	}
}

// Every place of a map has a bit, and a map of too many layers is a bug.
func TestLayerSet(t *testing.T) {
	woods := forest(t, geometry("Polygon", wood))
	m := Map{}
	for i := range MaxLayers {
		m.Layers = append(m.Layers, woods)
		s := LayerSet{}.With(i)
		for k := range MaxLayers {
			assert.Equal(t, k == i, s.Has(k), "With(%d).Has(%d)", i, k)
		}
	}
	assert.Equal(t, LayerSet{math.MaxUint64, math.MaxUint64}, m.At(geo.Point{Lat: 50.2, Lon: 8.2}, noon).Layers)
	m.Layers = append(m.Layers, woods)
	assert.PanicsWithValue(t, "ground: 129 layers: want at most 128", func() { m.At(geo.Point{}, noon) })
}

func TestExtent(t *testing.T) {
	for _, tt := range []struct {
		text   string
		buffer float64
		want   geo.Box
	}{
		{geometry("Polygon", corner), 0, geo.Box{South: 50, West: 10, North: 51, East: 11}},
		{geometry("Polygon", corner), 100, geo.Box{South: 50, West: 10, North: 51, East: 11}},
		{geometry("LineString", "[[-3,4],[5,6]]"), 100, geo.Box{South: 4, West: -3, North: 6, East: 5}},
		{geometry("LineString", "[[179,4],[181,6]]"), 100, geo.Box{South: 4, West: -180, North: 6, East: 180}},
	} {
		got, ok := buffered(t, tt.buffer, tt.text).Extent()
		assert.True(t, ok)
		assert.Equal(t, tt.want, got)
	}
	_, ok := water(t).Extent()
	assert.False(t, ok)
}
