package ground

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// The other properties of a feature.
func TestVolumeProperties(t *testing.T) {
	v, err := ReadVolumes("x", []byte(features(
		closed(`{"floor":"450 m AGL","ceiling":"FL 95","class":"D","severity":0.25,"active":["Mon 07:00-08:00","Sat 00:00-24:00"]}`),
		closed(`{"floor_m":300,"ceiling":"UNL"}`),
	)))
	require.NoError(t, err)
	assert.Equal(t, []any{Limit{AboveGround, 450}, "D", 0.25, 2}, []any{v[0].Floor, v[0].Kind, v[0].Severity, len(v[0].Hours)})
	assert.Equal(t, []any{Limit{AboveSea, 300}, Limit{Ref: Unlimited}, 0}, []any{v[1].Floor, v[1].Ceiling, len(v[1].Hours)})
	assert.True(t, math.IsNaN(v[1].Severity))
	for properties, want := range map[string]string{
		`{"floor":"FL 95","ceiling":"FL 20"}`:           "floor FL 95 and ceiling FL 20: want the floor below the ceiling",
		`{"floor":"x","ceiling":"FL 20"}`:               `floor: height "x": want such as`,
		`{"floor":"GND","floor_m":0,"ceiling":"FL 20"}`: "properties floor_m and floor: want one of them",
		`{"floor_m":0,"ceiling_m":300000}`:              "ceiling_m 300000: want -1000 to 200000 m",
		`{"floor_m":0,"ceiling_m":3,"severity":1.5}`:    "severity 1.5: want 0 to 1",
		`{"floor_m":0,"ceiling_m":3,"active":["noon"]}`: `hours "noon": want such as`,
		`{"floor_m":0,"ceiling_m":3,"active":"always"}`: "active as a list of texts",
		`{"floor_m":0,"ceiling_m":3,"class":"D\u001b"}`: "class",
		`{"floor_m":0}`: "property ceiling_m is missing: want metres above mean sea level, or ceiling as text",
	} {
		_, err := ReadVolumes("x", []byte(features(closed(properties))))
		assert.ErrorContains(t, err, want, properties)
	}
}

// No limit is outside Bottom and Top, where a flight level lies in the warmest
// and the coldest of columns: with 1,085 and 870 hPa at sea level (the records,
// from memory), and 15 % off the standard's temperatures.
func TestTopAndBottom(t *testing.T) {
	for _, level := range []float64{10, 100, 300, 600} {
		v := &Volume{Floor: Limit{FlightLevel, level * 30.48}, Ceiling: Limit{FlightLevel, level * 30.48}}
		z := level * 30.48
		assert.Greater(t, v.Top(), z*1.15+29.27*288*1.15*math.Log(1085/1013.25))
		assert.Less(t, v.Bottom(), z*0.85+29.27*288*1.15*math.Log(870/1013.25))
	}
	assert.Equal(t, 400.0, (&Volume{Ceiling: Limit{AboveSea, 400}}).Top())
	assert.Equal(t, 9400.0, (&Volume{Ceiling: Limit{AboveGround, 400}}).Top())
	assert.Equal(t, math.Inf(1), (&Volume{Ceiling: Limit{Ref: Unlimited}}).Top())
	assert.Equal(t, 400.0, (&Volume{Floor: Limit{AboveSea, 400}}).Bottom())
	assert.Equal(t, math.Inf(-1), (&Volume{Floor: Limit{Ref: AboveGround}}).Bottom())
}

// Between neighbouring cuts a line is all in the area or all outside it, and at a
// cut that changes, as random points tell; on the date line as elsewhere.
func TestCuts(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, lon := range []string{"8", "-180"} {
		shift := map[string]float64{"8": 0, "-180": -188.5}[lon]
		text := closed(`{"floor_m":0,"ceiling_m":1}`)
		if shift != 0 {
			text = `{"type":"Feature","properties":{"floor_m":0,"ceiling_m":1},"geometry":{"type":"Polygon","coordinates":` +
				`[[[-180.5,50],[-179.5,50],[-179.5,51],[-180.5,51],[-180.5,50]],[[-180.1,50.4],[-179.9,50.4],[-179.9,50.6],[-180.1,50.6],[-180.1,50.4]]]}}`
		}
		v, err := ReadVolumes("x", []byte(text))
		require.NoError(t, err)
		cutsSeen := 0
		for range 300 {
			point := func() geo.Point {
				return geo.Point{Lat: 49.5 + 2*r.Float64(), Lon: geo.WrapLon(7.5 + 2*r.Float64() + shift)}
			}
			a, b := point(), point()
			at := func(w float64) geo.Point {
				return geo.Point{Lat: a.Lat + w*(b.Lat-a.Lat), Lon: geo.WrapLon(a.Lon + w*geo.WrapLon(b.Lon-a.Lon))}
			}
			cuts := v[0].Cuts(a, b, []float64{0, 1})
			slices.Sort(cuts)
			for i := 1; i < len(cuts); i++ {
				if cuts[i]-cuts[i-1] < 1e-5 {
					continue
				}
				in := v[0].Over(at((cuts[i-1] + cuts[i]) / 2))
				for range 20 {
					w := cuts[i-1] + (cuts[i]-cuts[i-1])*(0.001+0.998*r.Float64())
					require.Equal(t, in, v[0].Over(at(w)), "from %v to %v at %g, cuts %v", a, b, w, cuts)
				}
				cutsSeen++
			}
		}
		assert.Greater(t, cutsSeen, 500)
	}
}

// Near never says no of a box that a volume is over.
func TestNear(t *testing.T) {
	west := readOne(t, openAirOf("V X=10:00:00 S 179:50:00 E", "DC 30"))
	for _, c := range []struct {
		b    geo.Box
		want bool
	}{
		{geo.Box{South: -10, North: -9, West: 179, East: 179.5}, true},
		{geo.Box{South: -10, North: -9, West: -179.9, East: -179.8}, true},
		{geo.Box{South: -10, North: -9, West: 180.1, East: 180.2}, true},
		{geo.Box{South: -10, North: -9, West: -180.5, East: -180.4}, true},
		{geo.Box{South: -10, North: -9, West: -179, East: -178}, false},
		{geo.Box{South: -9, North: -8, West: 179, East: 180}, false},
		{geo.Box{South: -20, North: 20, West: -170, East: 190}, true},
	} {
		assert.Equal(t, c.want, west.Near(c.b), "%+v", c.b)
	}
}

// Whatever the octets, ReadOpenAir ends with a fault or with volumes that have a
// name, limits that are in order, and an area.
func FuzzReadOpenAir(f *testing.F) {
	f.Add([]byte(openAirOf("DP 54:15:00 N 010:00:00 E", "DP 54:15:00 N 010:12:00 E", "DP 54:24:00 N 010:12:00 E")))
	f.Add([]byte(openAirOf("V X=54:20:00 N 010:50:00 E", "DC 5", "V D=-", "DA 10,30,200", "DB 54:25 N 10 E, 54:15 N 10 E")))
	f.Add([]byte("AC UNC\r\nAY TMZ\r\nAN H\xf6he\r\nAL 1000M AGL\r\nAH UNL\r\nV W=3\r\nDY 1:00 N 1:00 E\r\nDY 1:30 N 1:00 E\r\nDY 1:30 N 2:00 E"))
	f.Fuzz(func(t *testing.T, text []byte) {
		volumes, err := ReadOpenAir("air", text)
		if err == nil && (len(volumes) == 0 || len(volumes) > MaxVolumes) {
			t.Fatalf("ReadOpenAir: %d volumes", len(volumes))
		}
		for _, v := range volumes {
			if v.Name == "" || checkLimits(v.Floor, v.Ceiling) != nil || len(v.shapes.rings) == 0 || v.extent.west > v.extent.east {
				t.Fatalf("ReadOpenAir: %+v", v)
			}
			for _, r := range v.shapes.rings {
				if r.to-r.from < 4 || r.to-r.from > 2*maxCorners {
					t.Fatalf("a ring of %d corners", r.to-r.from)
				}
			}
			at := geo.Point{Lat: float64(v.extent.south) / steps, Lon: float64(v.extent.west) / steps}
			v.Over(at)
			v.Cuts(at, geo.Point{Lat: 1, Lon: 2}, nil)
		}
	})
}

// A country's worth of airspace: 1,500 circles of 74 corners.
func BenchmarkReadOpenAir(b *testing.B) {
	var text []byte
	for i := range 1500 {
		text = fmt.Appendf(text, "AC R\nAN Z%d\nAL GND\nAH FL 95\nV X=%d:30 N %d:30 E\nDC 10\n", i, 40+i/64, i%64)
	}
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		if _, err := ReadOpenAir("bench", text); err != nil {
			b.Fatal(err)
		}
	}
}
