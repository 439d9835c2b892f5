package ground

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/golang/geo/s2"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

func BenchmarkBuiltInWater(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := BuiltInWater(); err != nil {
			b.Fatal(err)
		}
	}
}

// spreads are where the points of a benchmark lie: over the whole Earth; within
// 0.1 degree of a vertex of the coast, any; or like the landings of one site,
// 30 km wide on the west coast of Norway, where the coast is as fine as anywhere.
var spreads = [...]struct {
	name string
	at   func(r *rand.Rand, s *shapes) geo.Point
}{
	{"everywhere", func(r *rand.Rand, _ *shapes) geo.Point { return anywhere(r) }},
	{"shores", func(r *rand.Rand, s *shapes) geo.Point {
		v := s.vertices[r.IntN(len(s.vertices))]
		return geo.Point{
			Lat: min(max(float64(v.y)/steps+0.2*r.Float64()-0.1, -90), 90),
			Lon: geo.WrapLon(float64(v.x)/steps + 0.2*r.Float64() - 0.1),
		}
	}},
	{"fjords", func(r *rand.Rand, _ *shapes) geo.Point {
		return geo.Point{Lat: 60.3 + 0.27*r.NormFloat64(), Lon: 5.2 + 0.54*r.NormFloat64()}
	}},
}

// pointsOf is many points of a spread.
func pointsOf(at func(*rand.Rand, *shapes) geo.Point, s *shapes) []geo.Point {
	r := rand.New(rand.NewPCG(7, 8))
	points := make([]geo.Point, 1<<14)
	for i := range points {
		points[i] = at(r, s)
	}
	return points
}

// BenchmarkWaterAt asks the built-in layer for one point after another.
func BenchmarkWaterAt(b *testing.B) {
	land, _, err := decodeWater(waterFile)
	require.NoError(b, err)
	l := water(b)
	for _, tt := range spreads {
		points := pointsOf(tt.at, land)
		b.Run(tt.name, func(b *testing.B) {
			b.ReportAllocs()
			hits, i := 0, 0
			for b.Loop() {
				if hit, _ := l.At(points[i%len(points)], noon); hit {
					hits++
				}
				i++
			}
			b.ReportMetric(float64(hits)/float64(b.N), "hits/point")
		})
	}
}

// BenchmarkLandAgainstS2 asks the same land for the same points, by this
// package's index and by that of the s2 module, in turns, and reports the ratio
// of the times and the share of points on which they differ (s2 takes edges to
// be great circles).
func BenchmarkLandAgainstS2(b *testing.B) {
	land, _, err := decodeWater(waterFile)
	require.NoError(b, err)
	ix := newIndex(land)
	other := s2Land(b, land)
	for _, tt := range spreads {
		points := pointsOf(tt.at, land)
		b.Run(tt.name, func(b *testing.B) {
			query := s2.NewContainsPointQuery(other, s2.VertexModelSemiOpen)
			ours, theirs := make([]bool, len(points)), make([]bool, len(points))
			var ourTime, theirTime float64
			for b.Loop() {
				ourTime += seconds(func() {
					for i, p := range points {
						v, _ := place(p)
						ours[i] = ix.contains(v)
					}
				})
				theirTime += seconds(func() {
					for i, p := range points {
						theirs[i] = query.Contains(s2.PointFromLatLng(s2.LatLngFromDegrees(p.Lat, p.Lon)))
					}
				})
			}
			differ := 0
			for i := range ours {
				if ours[i] != theirs[i] {
					differ++
				}
			}
			n := float64(b.N * len(points))
			b.ReportMetric(ourTime*1e9/n, "ours-ns/point")
			b.ReportMetric(theirTime*1e9/n, "s2-ns/point")
			b.ReportMetric(theirTime/ourTime, "s2/ours")
			b.ReportMetric(float64(differ)/float64(len(points)), "differ/point")
		})
	}
}

func seconds(f func()) float64 {
	start := time.Now()
	f()
	return time.Since(start).Seconds()
}

// s2Land is the land as one s2 shape index. Vertices that s2 would take for
// repeated ones are left out, as is the way over the pole; rings that are not
// valid to s2 all the same are left out whole and counted.
func s2Land(b *testing.B, s *shapes) *s2.ShapeIndex {
	b.Helper()
	index := s2.NewShapeIndex()
	invalid := 0
	for k := range s.polygons {
		var loops []*s2.Loop
		for _, ring := range degrees(s, k) {
			var points []s2.Point
			seen := map[s2.Point]bool{}
			for _, at := range ring {
				p := s2.PointFromLatLng(s2.LatLngFromDegrees(at.Lat(), at.Lon()))
				if !seen[p] && at.Lat() > -90 {
					seen[p] = true
					points = append(points, p)
				}
			}
			loop := s2.LoopFromPoints(points)
			if loop.Area() > 2*math.Pi { // by area, not by turns: spikes upset those
				loop.Invert()
			}
			far := s2.Point{Vector: points[0].Mul(-1)}
			if loop.Validate() != nil || loop.ContainsPoint(far) { // a sliver that s2 takes for all but itself
				invalid++
				continue
			}
			loops = append(loops, loop)
		}
		if len(loops) > 0 {
			index.Add(s2.PolygonFromLoops(loops))
		}
	}
	index.Build()
	b.Logf("%d of %d rings are left out of the s2 index", invalid, len(s.rings))
	return index
}

// BenchmarkMapAt asks a map of the built-in water, twenty thousand parcels with
// their owners, and the coast again with a buffer of 500 m, for one landing after
// another.
func BenchmarkMapAt(b *testing.B) {
	land, _, err := decodeWater(waterFile)
	require.NoError(b, err)
	farms := make([]string, 20_000)
	for k := range farms {
		lat, lon := 59.5+float64(k/200)*0.016, 3.6+float64(k%200)*0.016
		farms[k] = fmt.Sprintf(`{"type":"Feature","properties":{"owner":"Farm %d"},"geometry":{"type":"Polygon","coordinates":`+
			`[[[%[2]g,%[3]g],[%[4]g,%[3]g],[%[4]g,%[5]g],[%[2]g,%[5]g],[%[2]g,%[3]g]]]}}`, k, lon, lat, lon+0.015, lat+0.015)
	}
	parcels, err := ReadLayer(LayerSource{Name: "parcels", Parcels: true}, []byte(features(farms...)))
	require.NoError(b, err)
	shore := &Layer{source: LayerSource{Name: "shore", Class: Closed, Buffer: 500}, areas: newIndex(&shapes{}), near: newNear(land)}
	points := pointsOf(spreads[2].at, land)
	for _, tt := range []struct {
		name   string
		layers []*Layer
	}{
		{"water", []*Layer{water(b)}},
		{"parcels", []*Layer{parcels}},
		{"shore", []*Layer{shore}},
		{"all", []*Layer{water(b), parcels, shore}},
	} {
		m := Map{Layers: tt.layers}
		b.Run(tt.name, func(b *testing.B) {
			b.ReportAllocs()
			hits, i := 0, 0
			for b.Loop() {
				if m.At(points[i%len(points)], noon).Layers != (LayerSet{}) {
					hits++
				}
				i++
			}
			b.ReportMetric(float64(hits)/float64(b.N), "hits/point")
		})
	}
}
