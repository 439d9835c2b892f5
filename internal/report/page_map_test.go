package report

import (
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/page"
	"example.org/thistledown/internal/quantity"
)

// svgRings reads paths as they are on the page.
func svgRings(t *testing.T, d string) (rings []orb.Ring) {
	t.Helper()
	for _, part := range strings.Split(d, "M")[1:] {
		var x, y float64
		var ring orb.Ring
		numbers := strings.Fields(strings.NewReplacer("l", " ", "z", "").Replace(part))
		for i := 0; i+1 < len(numbers); i += 2 {
			dx, err := strconv.ParseFloat(numbers[i], 64)
			require.NoError(t, err)
			dy, err := strconv.ParseFloat(numbers[i+1], 64)
			require.NoError(t, err)
			x, y = x+dx, y+dy
			ring = append(ring, orb.Point{x, y})
		}
		rings = append(rings, ring)
	}
	return rings
}

// filled tells whether a place is filled by a drawn shape.
func filled(shapes [][]orb.Ring, evenOdd []bool, x, y float64) bool {
	for i, rings := range shapes {
		winding, crossings := 0, 0
		for _, r := range rings {
			for k := range r {
				a, b := r[k], r[(k+1)%len(r)]
				if (a[1] > y) != (b[1] > y) && x < a[0]+(b[0]-a[0])*(y-a[1])/(b[1]-a[1]) {
					crossings++
					if b[1] > a[1] {
						winding++
					} else {
						winding--
					}
				}
			}
		}
		if evenOdd[i] && crossings%2 == 1 || !evenOdd[i] && winding != 0 {
			return true
		}
	}
	return false
}

// The map shows what the figures were worked out with: at random places water,
// forest and landing regions are drawn where they are, but for 1 % near an outline.
func TestMapShowsTheGround(t *testing.T) {
	for name, at := range map[string]geo.Point{"lakes": {Lat: 58.22, Lon: 12.8}, "coast": {Lat: 56.9, Lon: 12.2}, "date line": {Lat: -17, Lon: 179.4}} {
		p := weekAt(t, at, name)
		text := &text{zone: time.UTC}
		full := inFull(p.Week)
		chart := chartOf(p, full)
		m := text.mapOf(p, full, chart)
		drawn := func(class string) (shapes [][]orb.Ring, evenOdd []bool) {
			for _, b := range m.Base {
				if b.Class == class {
					for _, s := range b.Shapes {
						shapes, evenOdd = append(shapes, svgRings(t, s.Path)), append(evenOdd, s.EvenOdd)
					}
				}
			}
			return shapes, evenOdd
		}
		var region [][]orb.Ring
		var holes []bool
		for _, s := range m.Flights[0].Regions[0].Shapes {
			region, holes = append(region, svgRings(t, s.Path)), append(holes, s.EvenOdd)
		}
		regions := p.Windows[full[0]].Launch.Landing.Regions
		widest := regions[len(regions)-1]
		water, waterHoles := drawn("water")
		forest, forestHoles := drawn("forest")
		r := rand.New(rand.NewPCG(5, 8))
		west, south, east, north := chart.Box()
		wrong, inRegion, inWater := 0, 0, 0
		const tries = 6000
		for i := range tries {
			lon, lat := west+(east-west)*r.Float64(), south+(north-south)*r.Float64()
			if i%2 == 0 { // half of them at the landing
				likely := p.Windows[full[0]].Launch.Landing.MostLikely
				lon, lat = likely.Lon+0.3*r.NormFloat64(), likely.Lat+0.15*r.NormFloat64()
			}
			where := geo.Point{Lat: lat, Lon: geo.WrapLon(lon)}
			x, y := chart.At(lon, lat)
			if x < 0 || x > page.Wide || y < 0 || y > page.High {
				continue
			}
			under := p.Map.At(where, time.Time{}).Under
			for _, pair := range [][2]bool{
				{under.Has(ground.Water), filled(water, waterHoles, x, y)},
				{under.Has(ground.Forest), filled(forest, forestHoles, x, y)},
				{widest.Contains(where), filled(region, holes, x, y)},
			} {
				if pair[0] != pair[1] {
					wrong++
				}
			}
			if widest.Contains(where) {
				inRegion++
			}
			if under.Has(ground.Water) {
				inWater++
			}
		}
		assert.Less(t, wrong, tries/100, name)
		assert.Greater(t, inRegion, 100, name)
		assert.Greater(t, inWater, 50, name)
	}
}

// A graph's curve goes through its values, read off by its own axis marks.
func TestGraphsAreToScale(t *testing.T) {
	l := weekAt(t, geo.Point{Lat: 58.22, Lon: 12.8}, "x").Windows[0].Launch
	for _, units := range []quantity.System{quantity.SI, quantity.US} {
		text := &text{units: units, zone: time.UTC}
		perHeight, perSpeed := 1000.0, 1.0 // m and m/s in one of the axis
		if units == quantity.US {
			perHeight, perSpeed = 304.8, 0.44704
		}
		readOff := func(ticks []tickView, at float64) float64 {
			a, b := ticks[0], ticks[len(ticks)-1]
			va, err := strconv.ParseFloat(a.Text, 64)
			require.NoError(t, err)
			vb, err := strconv.ParseFloat(b.Text, 64)
			require.NoError(t, err)
			return va + (at-a.At)/(b.At-a.At)*(vb-va)
		}
		curve := func(g *graphView) (xs, ys []float64) {
			for _, part := range strings.FieldsFunc(g.Line, func(r rune) bool { return r == 'M' || r == 'L' }) {
				x, y, ok := strings.Cut(part, " ")
				require.True(t, ok)
				vx, err := strconv.ParseFloat(x, 64)
				require.NoError(t, err)
				vy, err := strconv.ParseFloat(y, 64)
				require.NoError(t, err)
				assert.True(t, vx >= float64(g.Left) && vx <= float64(g.Right) && vy >= float64(g.Top) && vy <= float64(g.Low), "%g, %g in the plot", vx, vy)
				xs, ys = append(xs, readOff(g.XTicks, vx)), append(ys, readOff(g.YTicks, vy)*perHeight)
			}
			return xs, ys
		}
		heights := text.heights(l)
		xs, ys := curve(heights)
		require.Len(t, xs, len(l.Path.Points))
		for i, q := range l.Path.Points {
			assert.InDelta(t, q.Time.Sub(l.Path.Points[0].Time).Minutes(), xs[i], 0.1)
			assert.InDelta(t, q.Height, ys[i], 30)
		}
		winds, table := text.windGraph(l)
		xs, ys = curve(winds)
		require.Len(t, xs, len(l.Winds))
		for i, w := range l.Winds {
			assert.InDelta(t, w.Speed, xs[i]*perSpeed, 0.03)
			assert.InDelta(t, w.Height, ys[i], 30)
		}
		assert.NotEmpty(t, table)
		assert.Contains(t, heights.Spoken, "burst at "+units.Altitude(27000))
	}
}

func TestAxis(t *testing.T) {
	for _, c := range []struct {
		least, greatest float64
		first, last     string
	}{{0, 27, "0", "30"}, {-0.3, 27, "-5", "30"}, {0, 133, "0", "150"}, {0, 20, "0", "20"}, {0.1, 25.7, "0", "30"}, {0, 3.1, "0", "4"}} {
		_, ticks := axis(c.least, c.greatest, 0, 100)
		assert.Equal(t, c.first, ticks[0].Text, "%v", c)
		assert.Equal(t, c.last, ticks[len(ticks)-1].Text, "%v", c)
		assert.True(t, len(ticks) >= 2 && len(ticks) <= 8, "%v: %d marks", c, len(ticks))
	}
	_, ticks := axis(0, 0, 0, 100)
	assert.True(t, len(ticks) >= 2 && len(ticks) <= 12, "of nothing: %d marks", len(ticks))
}
