package landing_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/landing"
)

// Of a normal law of 600 m and 300 m a cell of 200 m holds the product of two differences
// of the error function (closed form), where it is; the likeliest come first, and fresh
// draws fall into the cells as often as these say.
func TestCellsOfANormalLaw(t *testing.T) {
	at := geo.Point{Lat: 58, Lon: 13}
	points := cloud(at, 4096, 5, normals(600, 300))
	cells, err := landing.Cells(points, 200, 0.95)
	require.NoError(t, err)
	share := func(low, high, sigma float64) float64 {
		return (math.Erf(high/sigma/math.Sqrt2) - math.Erf(low/sigma/math.Sqrt2)) / 2
	}
	sum := 0.0
	for i, c := range cells {
		metres, bearing, _ := geo.Inverse(at, c.Middle)
		east, north := metres*math.Sin(bearing*math.Pi/180), metres*math.Cos(bearing*math.Pi/180)
		want := share(east-100, east+100, 600) * share(north-100, north+100, 300)
		assert.InDelta(t, want, c.Share, 0.004, "cell %d, %.0f m east, %.0f m north", i, east, north)
		if i > 0 {
			assert.LessOrEqual(t, c.Share, cells[i-1].Share)
		}
		sum += c.Share
	}
	assert.GreaterOrEqual(t, sum, 0.95)
	assert.Less(t, sum-cells[len(cells)-1].Share, 0.95)

	random := rand.New(rand.NewPCG(9, 9))
	const n = 20000
	in := 0
	for range n {
		p := geo.Direct(geo.Direct(at, 90, 600*random.NormFloat64()), 0, 300*random.NormFloat64())
		for _, c := range cells {
			metres, bearing, _ := geo.Inverse(c.Middle, p)
			if math.Abs(metres*math.Sin(bearing*math.Pi/180)) < 100 && math.Abs(metres*math.Cos(bearing*math.Pi/180)) < 100 {
				in++
				break
			}
		}
	}
	assert.InDelta(t, sum, float64(in)/n, 0.015)
}

// However the size of a cell compares with the landings' scatter, all cells together hold
// everything once.
func TestCellsOfAnySize(t *testing.T) {
	at := geo.Point{Lat: -40, Lon: 179.99}
	for _, side := range []float64{10, 35, 200, 3000, 50000} {
		points := cloud(at, 1024, 5, normals(150, 150))
		cells, err := landing.Cells(points, side, 1)
		require.NoError(t, err)
		sum, in := 0.0, 0.0
		for _, c := range cells {
			sum += c.Share
			if metres, _, _ := geo.Inverse(at, c.Middle); metres < 150*math.Sqrt(2*math.Ln2) { // half of a round law
				in += c.Share
			}
		}
		assert.InDelta(t, 1, sum, 1e-9, "%g m", side)
		if side < 100 {
			assert.InDelta(t, 0.5, in, 0.04, "%g m", side)
		}
	}
	one := []landing.Weighted{{At: at, Weight: 1}}
	cells, err := landing.Cells(one, 100, 0.99)
	require.NoError(t, err)
	assert.LessOrEqual(t, len(cells), 4)
}

func TestCellsRefuse(t *testing.T) {
	points := cloud(geo.Point{Lat: 50}, 100, 5, normals(2e5, 2e5))
	for _, c := range []struct{ side, share float64 }{{0, 0.9}, {-1, 0.9}, {math.NaN(), 0.9}, {math.Inf(1), 0.9}, {100, 0}, {100, 1.1}, {100, math.NaN()}, {1, 0.9}, {20, 0.9}} {
		_, err := landing.Cells(points, c.side, c.share)
		assert.Error(t, err, "%+v", c)
	}
	_, err := landing.Cells(nil, 100, 0.9)
	assert.Error(t, err)
}
