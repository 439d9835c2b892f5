package flight_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/realwind"
)

// hills is six squares of heights 3 seconds of arc apart around the bench's
// landings: waves of 200 m every 3 km on the model's own ground.
func hills(b testing.TB, own ground.Terrain) []ground.Terrain {
	b.Helper()
	const side = 1201
	var all []ground.Terrain
	for _, south := range []float64{51, 52} {
		for _, west := range []float64{9, 10, 11} {
			octets := make([]byte, 0, 2*side*side)
			for row := range side {
				for col := range side {
					p := geo.Point{Lat: south + 1 - float64(row)/1200, Lon: west + float64(col)/1200}
					z, _ := own.At(p)
					octets = binary.BigEndian.AppendUint16(octets, uint16(int16(z+100+100*math.Sin(p.Lat*230)*math.Sin(p.Lon*140))))
				}
			}
			name := fmt.Sprintf("N%02.0fE%03.0f.hgt", south, west)
			h, err := ground.ReadTerrain(name, bytes.NewReader(octets), int64(len(octets)), geo.Box{South: -90, North: 90, West: -180, East: 180})
			require.NoError(b, err)
			all = append(all, h)
		}
	}
	return all
}

func BenchmarkFiner(b *testing.B) {
	scene, releases := benchScene(b)
	fine := scene
	fine.Terrain.Finer = hills(b, scene.Terrain)
	raised := scene
	raised.Terrain.Height = make([]float32, len(scene.Terrain.Height))
	for i, h := range scene.Terrain.Height {
		raised.Terrain.Height[i] = h + 150
	}

	for _, c := range []struct {
		name  string
		scene flight.Scene
	}{{"own", scene}, {"raised", raised}, {"finer", fine}} {
		b.Run(c.name, func(b *testing.B) {
			var k flight.Kernel
			k.Prepare(c.scene, flight.Site{At: releases[0].At, Height: releases[0].Height})
			results := make([]flight.Result, len(releases))
			k.Fly(releases, results)
			for b.Loop() {
				k.Fly(releases, results)
			}
			b.ReportMetric(float64(b.N*len(results))/b.Elapsed().Seconds(), "flights/s")
			require.Zero(b, k.Handed())
		})
		b.Run(c.name+",fresh", func(b *testing.B) {
			results := make([]flight.Result, len(releases))
			for b.Loop() {
				var k flight.Kernel
				k.Prepare(c.scene, flight.Site{At: releases[0].At, Height: releases[0].Height})
				k.Fly(releases, results)
			}
			b.ReportMetric(float64(b.N*len(results))/b.Elapsed().Seconds(), "flights/s")
		})
	}
}

// Over finer ground the kernel lands where the integrator does, as over the
// forecast's own.
func TestKernelLandsOnFinerGround(t *testing.T) {
	scene := sceneOf(realwind.Field(t))
	scene.Terrain.Finer = hills(t, scene.Terrain)
	releases := drawn(200, geo.Point{Lat: 52.2, Lon: 9.4}, 100, 6*3600)
	var k flight.Kernel
	k.Prepare(scene, flight.Site{At: releases[0].At, Height: releases[0].Height})
	results := make([]flight.Result, len(releases))
	k.Fly(releases, results)
	assert.Zero(t, k.Handed())
	only := ground.Terrain{Finer: scene.Terrain.Finer}
	var path []flight.Step
	for i, r := range releases {
		f := scene.Fly(r, path)
		path = f.Path
		require.Equal(t, flight.Landed, f.End)
		require.Equal(t, flight.Landed, results[i].End)
		metres, _, _ := geo.Inverse(path[len(path)-1].At, results[i].At)
		assert.Less(t, metres, 10.0, "flight %d", i) // m, the bound of the numerical error at landing
		z, ok := only.At(results[i].At)
		require.True(t, ok, "flight %d is on the finer ground", i)
		assert.InDelta(t, z, float64(results[i].Height), 0.1, "flight %d", i)
	}
}
