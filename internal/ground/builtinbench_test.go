package ground

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// sites are where the landings of a benchmark lie, some 60 km wide, and the box
// of 2,000 km round them for which the map is made: fjords on the west coast of
// Norway, the plains of Colorado far from any coast, and the upper Rhine with
// three countries, towns, rivers and airports.
var sites = [...]struct {
	name string
	site geo.Point
}{
	{"coast", geo.Point{Lat: 60.3, Lon: 5.4}},
	{"inland", geo.Point{Lat: 39.5, Lon: -103}},
	{"border", geo.Point{Lat: 47.7, Lon: 7.9}},
	{"date line", geo.Point{Lat: -16.7, Lon: 179.9}},
}

func BenchmarkBuiltIn(b *testing.B) {
	for _, tt := range sites {
		b.Run(tt.name, func(b *testing.B) {
			for b.Loop() {
				w, err := BuiltIn(boxRound(tt.site, 10))
				require.NoError(b, err)
				if tt.name != "coast" {
					_, err = w.Abroad(tt.site)
					require.NoError(b, err)
				}
			}
		})
	}
	b.Run("whole Earth", func(b *testing.B) {
		for b.Loop() {
			_, err := BuiltIn(everywhere)
			require.NoError(b, err)
		}
	})
}

// BenchmarkBuiltInAt asks the layers, borders among them, for one landing after
// another of a million different ones: each layer, and all at once.
func BenchmarkBuiltInAt(b *testing.B) {
	for _, tt := range sites {
		w := builtIn(b, boxRound(tt.site, 10))
		abroad, err := w.Abroad(tt.site)
		require.NoError(b, err)
		r := rand.New(rand.NewPCG(9, 10))
		points := make([]geo.Point, 1_000_000)
		for i := range points {
			points[i] = geo.Point{Lat: tt.site.Lat + 0.27*r.NormFloat64(), Lon: geo.WrapLon(tt.site.Lon + 0.54*r.NormFloat64())}
		}
		for _, l := range append(w.Layers(), abroad) {
			b.Run(tt.name+"/"+l.source.Name, func(b *testing.B) {
				i, hits := 0, 0
				for b.Loop() {
					if hit, _ := l.At(points[i%len(points)], time.Time{}); hit {
						hits++
					}
					i++
				}
				b.ReportMetric(float64(hits)/float64(b.N), "hits/point")
			})
		}
		m := Map{Layers: append(w.Layers(), abroad)}
		b.Run(tt.name+"/all", func(b *testing.B) {
			b.ReportAllocs()
			i := 0
			for b.Loop() {
				m.At(points[i%len(points)], time.Time{})
				i++
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)*float64(len(points)), "s/million")
		})
	}
}
