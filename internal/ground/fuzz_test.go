package ground

import (
	"strings"
	"testing"

	"example.org/thistledown/internal/geo"
)

// Whatever the text, ReadLayer ends with one line of fault or with a layer that
// answers like the count of all edges of the same polygons.
func FuzzReadLayer(f *testing.F) {
	for _, text := range []string{
		geometry("Polygon", wood), geometry("MultiPolygon", fijiCut), collection(geometry("Polygon", fijiPast), geometry("Polygon", corner)),
		closed(`{"floor_m":1,"ceiling_m":2}`), `{"type":"FeatureCollection","features":[null]}`, geometry("Polygon", "[[[1]]]"), geometry("Polygon", `[[[{"a":[`), "",
	} {
		f.Add([]byte(text), 50.2, 8.2)
	}
	f.Fuzz(func(t *testing.T, text []byte, lat, lon float64) {
		l, err := ReadLayer(LayerSource{Name: "woods", Class: Forest}, text)
		if err != nil {
			if !strings.HasPrefix(err.Error(), `layer "woods": `) || strings.Contains(err.Error(), "\n") {
				t.Fatalf("ReadLayer: fault %q", err)
			}
			return
		}
		p := geo.Point{Lat: lat, Lon: lon}
		v, ok := place(p)
		hit, covered := l.At(p, noon)
		if hit != covered || hit && !ok {
			t.Fatalf("At(%v) = %v, %v", p, hit, covered)
		}
		features, err := readFeatures(text)
		if err != nil {
			t.Fatal(err)
		}
		var s shapes
		for _, g := range features {
			for _, polygon := range g.polygons {
				s.add(polygon)
			}
		}
		if want := ok && newTwin(&s).contains(v); hit != want {
			t.Fatalf("At(%v) = %v, want %v", p, hit, want)
		}
	})
}

// Whatever the text, a layer with a buffer and with owners is read or refused in
// one line, and what is in its areas is also in its buffer and somebody's.
func FuzzReadParcels(f *testing.F) {
	for _, text := range []string{
		collection(geometry("Polygon", fijiPast), geometry("LineString", "[[1,2],[3,4]]")), features(parcel(`{"owner":"a"}`, 50, 8), parcel(`{"name":"b"}`, 51, 8)),
		`{"type":"GeometryCollection","geometries":[` + geometry("MultiPoint", "[[8,50],[9,50]]") + `]}`, geometry("MultiLineString", "[[[179,-17],[181,-16]]]"), "",
	} {
		f.Add([]byte(text), 50.2, 8.2)
	}
	f.Fuzz(func(t *testing.T, text []byte, lat, lon float64) {
		l, err := ReadLayer(LayerSource{Name: "land", Parcels: true, Buffer: 10_000}, text)
		if err != nil {
			if !strings.HasPrefix(err.Error(), `layer "land": `) || strings.Contains(err.Error(), "\n") {
				t.Fatalf("ReadLayer: fault %q", err)
			}
			return
		}
		p := geo.Point{Lat: lat, Lon: lon}
		found := (&Map{Layers: []*Layer{l}}).At(p, noon)
		hit, covered := l.At(p, noon)
		if hit != covered || hit != found.Layers.Has(0) || hit != (len(found.Parcels) > 0) {
			t.Fatalf("At(%v) = %v, %v, found %+v", p, hit, covered, found)
		}
		for _, parcel := range found.Parcels {
			if parcel.Layer != 0 || l.Owner(parcel.Owner) == "" {
				t.Fatalf("At(%v): parcel %+v of nobody", p, parcel)
			}
		}
		if v, ok := place(p); ok && l.areas.contains(v) && !hit {
			t.Fatalf("At(%v): in the areas and not hit", p)
		}
	})
}

// Whatever the octets, ReadVolumes ends with a fault or with volumes that have a
// name and a floor below their ceiling.
func FuzzReadVolumes(f *testing.F) {
	f.Add([]byte(features(closed(`{"name":"a","floor_m":300,"ceiling_m":5000}`))))
	f.Add([]byte(closed(`{"floor_m":300,"ceiling_m":1e400}`)))
	f.Fuzz(func(t *testing.T, text []byte) {
		volumes, err := ReadVolumes("ranges", text)
		if err == nil && (len(volumes) == 0 || len(volumes) > MaxVolumes) {
			t.Fatalf("ReadVolumes: %d volumes", len(volumes))
		}
		for _, v := range volumes {
			if v.Name == "" || checkLimits(v.Floor, v.Ceiling) != nil {
				t.Fatalf("ReadVolumes: %+v", v)
			}
			v.Over(geo.Point{Lat: 1, Lon: 2})
		}
	})
}

// Whatever the octets, decodeWater ends with a fault or with shapes of which an
// index can be made that answers like the count of all edges.
func FuzzDecodeWater(f *testing.F) {
	f.Add(waterFile[:2000], int32(0), int32(0))
	one := append([]byte{1, 1}, waterFile[2:34]...) // a group's axes
	f.Add(append(one, 1, 1, 0, 3, 0, 0, 2, 0, 0, 2), int32(-halfTurn), int32(-quarterTurn))
	f.Add(append(one, 1, 1, 1, 3, 0, 0, 2, 0, 0, 2), int32(-halfTurn), int32(-quarterTurn))
	f.Fuzz(func(t *testing.T, b []byte, x, y int32) {
		land, lakes, err := decodeWater(b)
		if err != nil {
			return
		}
		v := vertex{x % halfTurn, y % quarterTurn}
		for _, s := range []*shapes{land, lakes} {
			if got, want := newIndex(s).contains(v), newTwin(s).contains(v); got != want {
				t.Fatalf("contains(%v) = %v, want %v", v, got, want)
			}
		}
	})
}
