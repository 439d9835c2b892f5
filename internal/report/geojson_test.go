package report

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
)

type jsonFeature struct {
	Type     string
	Geometry *struct {
		Type        string
		Coordinates json.RawMessage
	}
	Properties map[string]any
}

type jsonCollection struct {
	Type     string
	BBox     []float64
	Features []jsonFeature
}

func (c jsonCollection) part(name string) []jsonFeature {
	var found []jsonFeature
	for _, f := range c.Features {
		if f.Properties["part"] == name {
			found = append(found, f)
		}
	}
	return found
}

// rings is the lines or rings of a feature.
func (f jsonFeature) rings(t *testing.T) [][]orb.Point {
	t.Helper()
	if f.Geometry == nil {
		return nil
	}
	var out [][]orb.Point
	var into any
	var polygons [][][]orb.Point
	var line []orb.Point
	var point orb.Point
	switch f.Geometry.Type {
	case "Point":
		into = &point
	case "LineString":
		into = &line
	case "MultiLineString":
		into = &out
	case "MultiPolygon":
		into = &polygons
	default:
		require.Fail(t, "geometry of type "+f.Geometry.Type)
	}
	require.NoError(t, json.Unmarshal(f.Geometry.Coordinates, into))
	for _, p := range polygons {
		for k, ring := range p {
			require.GreaterOrEqual(t, len(ring), 4, "RFC 7946, 3.1.6")
			require.Equal(t, ring[0], ring[len(ring)-1], "a ring is not closed")
			want := orb.CCW
			if k > 0 {
				want = orb.CW
			}
			require.Equal(t, want, orb.Ring(ring).Orientation(), "right-hand rule, RFC 7946, 3.1.6")
			out = append(out, ring)
		}
	}
	if line != nil {
		out = append(out, line)
	}
	if f.Geometry.Type == "Point" {
		out = append(out, []orb.Point{point})
	}
	return out
}

// requireGeoJSON reads GeoJSON and holds it to RFC 7946.
func requireGeoJSON(t *testing.T, document string) jsonCollection {
	t.Helper()
	var c jsonCollection
	require.NoError(t, json.Unmarshal([]byte(document), &c))
	require.Equal(t, "FeatureCollection", c.Type)
	require.Len(t, c.BBox, 4)
	west, south, east, north := c.BBox[0], c.BBox[1], c.BBox[2], c.BBox[3]
	for _, v := range []float64{west, east} {
		require.True(t, v >= -180 && v <= 180, "bbox %v", c.BBox)
	}
	for _, f := range c.Features {
		require.Equal(t, "Feature", f.Type)
		for _, ring := range f.rings(t) {
			for i, p := range ring {
				require.True(t, p[0] >= -180 && p[0] <= 180 && p[1] >= -90 && p[1] <= 90, "position %v", p)
				if i > 0 {
					require.LessOrEqual(t, math.Abs(p[0]-ring[i-1][0]), 180.0, "over the date line: RFC 7946, 3.1.9")
				}
				in := p[0] >= west && p[0] <= east
				if west > east {
					in = p[0] >= west || p[0] <= east
				}
				require.True(t, in && p[1] >= south && p[1] <= north, "position %v is outside the bbox %v", p, c.BBox)
			}
		}
	}
	return c
}

func TestGeoJSONEverywhere(t *testing.T) {
	everywhere(t, func(t *testing.T, l Launch) {
		c := requireGeoJSON(t, written(t, WriteGeoJSON, l))
		regions := c.part("landing region")
		require.Len(t, regions, 3)
		require.Equal(t, []any{0.95, 0.8, 0.5}, []any{regions[0].Properties["share"], regions[1].Properties["share"], regions[2].Properties["share"]})
		require.Len(t, c.part("landing"), 500)
		require.Len(t, c.part("most likely landing"), 1)
		require.Len(t, c.part("ground and airspace"), 1)
		path := c.part("central path")[0]
		n := 0
		for _, line := range path.rings(t) {
			n += len(line)
		}
		assert.Len(t, path.Properties["heights_m"], n)
		assert.Len(t, path.Properties["times"], n)
		assert.Equal(t, 27000.0, path.Properties["burst_m"])
		if l.Landing.Radius95 < 50e3 && math.Abs(l.At.Lat) < 80 {
			width := c.BBox[2] - c.BBox[0]
			if width < 0 {
				width += 360
			}
			assert.Less(t, width, 10.0, "the box goes the short way")
		}
	})
}

// A path over the date line is cut there, half-way in everything where that is half-way.
func TestCut(t *testing.T) {
	at := time.Date(2017, 3, 22, 7, 0, 0, 0, time.UTC)
	point := func(lon, lat, height float64, s int) PathPoint {
		return PathPoint{Time: at.Add(time.Duration(s) * time.Second), At: geo.Point{Lat: lat, Lon: lon}, Height: height}
	}
	for _, c := range []struct {
		name   string
		points []PathPoint
		want   [][]PathPoint
	}{
		{"nothing", nil, nil},
		{"a point", []PathPoint{point(1, 1, 1, 0)}, nil},
		{"clear of it", []PathPoint{point(1, 1, 1, 0), point(2, 2, 2, 1)}, [][]PathPoint{{point(1, 1, 1, 0), point(2, 2, 2, 1)}}},
		{
			"eastward",
			[]PathPoint{point(179, 1, 100, 0), point(-179, 3, 300, 10)},
			[][]PathPoint{{point(179, 1, 100, 0), point(180, 2, 200, 5)}, {point(-180, 2, 200, 5), point(-179, 3, 300, 10)}},
		},
		{
			"westward",
			[]PathPoint{point(-179, 1, 100, 0), point(179, 3, 300, 10)},
			[][]PathPoint{{point(-179, 1, 100, 0), point(-180, 2, 200, 5)}, {point(180, 2, 200, 5), point(179, 3, 300, 10)}},
		},
		{
			"through a point on it",
			[]PathPoint{point(179, 1, 100, 0), point(-180, 2, 200, 5), point(-179, 3, 300, 10)},
			[][]PathPoint{{point(179, 1, 100, 0), point(180, 2, 200, 5)}, {point(-180, 2, 200, 5), point(-179, 3, 300, 10)}},
		},
		{"up to it", []PathPoint{point(179, 1, 100, 0), point(-180, 2, 200, 5)}, [][]PathPoint{{point(179, 1, 100, 0), point(180, 2, 200, 5)}}},
		{"from it", []PathPoint{point(-180, 1, 100, 0), point(179, 2, 200, 5)}, [][]PathPoint{{point(180, 1, 100, 0), point(179, 2, 200, 5)}}},
	} {
		assert.Equal(t, c.want, cut(c.points), c.name)
	}
}

// The box around things is the smallest: a slow search over where it might begin finds no
// smaller one, and all things are in it.
func TestBounds(t *testing.T) {
	var b bounds
	b.add(orb.Point{179, 1}, orb.Point{180, 2})
	b.add(orb.Point{-180, 2}, orb.Point{-178, -3})
	assert.Equal(t, [4]float64{179, -3, -178, 2}, b.box())
	b = bounds{}
	b.add(orb.Point{-180, 80}, orb.Point{0, 85}, orb.Point{180, 80})
	assert.Equal(t, [4]float64{-180, 80, 180, 85}, b.box())
	r := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		var b bounds
		var points []orb.Point
		for range 1 + r.IntN(5) {
			west := float64(r.IntN(360) - 180)
			east := min(west+float64(r.IntN(90)), 180)
			b.add(orb.Point{west, 0}, orb.Point{east, 1})
			for x := west; x <= east; x++ {
				points = append(points, orb.Point{x, 0})
			}
		}
		least := 360.0
		for west := -180.0; west < 180; west++ {
			reach := 0.0
			for _, p := range points {
				reach = max(reach, math.Mod(p[0]-west+360, 360))
			}
			least = min(least, reach)
		}
		box := b.box()
		width := math.Mod(box[2]-box[0]+360, 360)
		if box[2] == 180 && box[0] == -180 {
			width = 360
		}
		if least == 359 { // whole degrees do not tell a gap of one from none
			width = min(width, 359)
		}
		require.Equal(t, least, width, "points %v in box %v", points, box)
	}
}

// The landings of a sample are as evenly spread over all as whole numbers can be.
func TestSample(t *testing.T) {
	for _, c := range []struct{ landed, want int }{{0, 0}, {1, 1}, {500, 500}, {501, 500}, {1018, 500}, {20000, 500}} {
		var flown []Flown
		rank := map[int]int{} // among those that landed, by index
		for i := range c.landed {
			rank[len(flown)] = i
			flown = append(flown, Flown{})
			if i%10 == 0 {
				flown = append(flown, Flown{End: flight.OffGrid})
			}
		}
		chosen := sample(flown)
		require.Len(t, chosen, c.want)
		for k, i := range chosen {
			require.Equal(t, flight.Landed, flown[i].End)
			if k > 0 {
				apart := float64(rank[i] - rank[chosen[k-1]])
				stride := float64(c.landed) / float64(c.want)
				require.True(t, apart == math.Floor(stride) || apart == math.Ceil(stride), "%g apart of %d", apart, c.landed)
			}
		}
	}
}
