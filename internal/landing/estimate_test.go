package landing

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/geo"
)

// TestAnywhere: the same landings, turned and put anywhere on the Earth, give the same areas,
// in sound polygons; the poles and the date line are no exception, nor are 300 km.
func TestAnywhere(t *testing.T) {
	for _, size := range []float64{5, 300} { // km, standard deviation
		var want [3]float64
		for k, at := range corners {
			sin, cos := math.Sincos(float64(k))
			var points []Weighted
			for _, u := range even(1024, 0.4) {
				x, y := 2*normal(u[0])*size/3, normal(u[1])*size/3
				points = append(points, Weighted{offset(at, x*cos-y*sin, x*sin+y*cos), 1})
			}
			d, err := Estimate(points, standard)
			require.NoError(t, err)
			for i, r := range d.Regions {
				requireSound(t, r.Shape)
				if k == 0 {
					want[i] = r.Area
				}
				// Turned landings lie otherwise on the lattice and along the curve that picks the
				// landmarks: as much as from one sample to the next, 1.7 % at 95 %.
				assert.InEpsilon(t, want[i], r.Area, 0.02, "area of region %g, %g km, at %v", r.Share, size, at)
				assert.InDelta(t, r.Share, inside(r, points), 0.015, "share of its own points, at %v", at)
			}
			off, _, _ := geo.Inverse(at, d.Mean)
			assert.Less(t, off, 0.01*1000*size, "mean at %v", at)
		}
	}
}

// TestOverThePole: a region around a pole contains it.
func TestOverThePole(t *testing.T) {
	for _, lat := range []float64{89.95, -89.95} {
		d, err := Estimate(circular.land(geo.Point{Lat: lat, Lon: 33}, even(1024, 0)), standard)
		require.NoError(t, err)
		pole := geo.Point{Lat: math.Copysign(90, lat), Lon: 120}
		assert.True(t, d.Regions[2].Contains(pole), "5.6 km from the pole with 95 %% within 9.8 km")
		d, err = Estimate(circular.land(geo.Point{Lat: math.Copysign(89.8, lat), Lon: 33}, even(1024, 0)), standard)
		require.NoError(t, err)
		assert.False(t, d.Regions[2].Contains(pole), "22 km from the pole")
	}
}

// TestMean: displacements from the mean cancel, to the statement of Distribution.
func TestMean(t *testing.T) {
	for _, at := range corners {
		var points []Weighted
		for _, u := range even(500, 0.1) {
			points = append(points, Weighted{offset(at, 300*math.Exp(normal(u[0])/2), 100*normal(u[1])), 0.5 + u[1]})
		}
		d, err := Estimate(points, nil)
		require.NoError(t, err)
		var x, y, total float64
		for _, p := range points {
			metres, bearing, _ := geo.Inverse(d.Mean, p.At)
			sin, cos := math.Sincos(bearing * math.Pi / 180)
			x, y, total = x+p.Weight*metres*sin, y+p.Weight*metres*cos, total+p.Weight
		}
		assert.Less(t, math.Hypot(x, y)/total, 0.005*200e3, "mean displacement in m from the mean around %v", at)
	}
}

// TestOrderAndWeights: neither the order of the points nor a factor on all weights matters,
// and a point twice is a point of twice the weight, to the last bit or to rounding.
func TestOrderAndWeights(t *testing.T) {
	points := smooth[2].land(site, random(700, 2, 9))
	r := rand.New(rand.NewPCG(9, 9))
	for i := range points {
		points[i].Weight = float64(1 + r.IntN(3))
	}
	want, err := Estimate(points, standard)
	require.NoError(t, err)

	shuffled := append([]Weighted(nil), points...)
	r.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
	got, err := Estimate(shuffled, standard)
	require.NoError(t, err)
	assert.True(t, reflect.DeepEqual(want, got), "other order")

	var apart, scaled []Weighted
	for _, p := range points {
		for range int(p.Weight) {
			apart = append(apart, Weighted{p.At, 1})
		}
		p.Weight *= 7e-200
		p.At.Lon -= 360
		scaled = append(scaled, p)
	}
	got, err = Estimate(apart, standard)
	require.NoError(t, err)
	for i, region := range got.Regions {
		assert.InEpsilon(t, want.Regions[i].Area, region.Area, 1e-9, "points repeated: region %g", region.Share)
	}
	got, err = Estimate(scaled, standard)
	require.NoError(t, err)
	for i, region := range got.Regions {
		assert.InEpsilon(t, want.Regions[i].Area, region.Area, 1e-6, "weights scaled: region %g", region.Share)
	}
	assert.InDelta(t, want.Effective, got.Effective, 1e-6)
}

// TestNested: a larger share's region holds the smaller one's, whatever the law.
func TestNested(t *testing.T) {
	shares := []float64{0.01, 0.2, 0.5, 0.501, 0.8, 0.95, 0.99}
	for _, l := range append([]law{disc}, smooth...) {
		points := l.land(site, random(500, 2, 11))
		places := l.land(site, random(3000, 2, 12))
		d, err := Estimate(points, shares)
		require.NoError(t, err)
		for i, r := range d.Regions[1:] {
			smaller := d.Regions[i]
			assert.Greater(t, r.Area, smaller.Area, "%s: %g and %g", l.name, smaller.Share, r.Share)
			for _, p := range places {
				require.True(t, r.Contains(p.At) || !smaller.Contains(p.At), "%s: %g in %g", l.name, smaller.Share, r.Share)
			}
		}
	}
}

// TestBlur: landings that coincide are circles of the stated size: radii of a circular normal
// law, reference/physics.md §8 (Hyndman 1996).
func TestBlur(t *testing.T) {
	one := Weighted{site, 2}
	for _, points := range [][]Weighted{{one}, {one, one, one}} {
		d, err := Estimate(points, standard)
		require.NoError(t, err)
		for i, radius := range []float64{1.177410, 1.794123, 2.447747} {
			got := math.Sqrt(d.Regions[i].Area / math.Pi)
			assert.InEpsilon(t, radius*Blur, got, 0.015, "radius of region %g of %d points", standard[i], len(points))
		}
		off, _, _ := geo.Inverse(site, d.MostLikely)
		assert.Less(t, off, 0.1)
		assert.InDelta(t, 2.447747*Blur, d.Radius95, 1e-4)
		assert.InDelta(t, float64(len(points)), d.Effective, 1e-12)
		assert.True(t, d.Few)
	}
	// A thousand landings within a metre, and on a line: as wide as Blur says.
	for _, c := range []struct {
		name       string
		x, y       float64 // km, standard deviations
		area, most float64 // m²
	}{
		{"within a metre", 0.0005, 0.0005, 18.822741 * Blur * Blur, 1.05},
		// 95 % of a normal law 5 km long and Blur wide is an ellipse.
		{"on a line", 5, 0, 18.822741 * 5000 * Blur, 1.3},
	} {
		var points []Weighted
		for _, u := range even(1024, 0.5) {
			points = append(points, Weighted{offset(site, c.x*normal(u[0]), c.y*normal(u[1])), 1})
		}
		d, err := Estimate(points, standard)
		require.NoError(t, err)
		assert.False(t, d.Few, c.name)
		assert.Greater(t, d.Regions[2].Area, 0.95*c.area, c.name)
		assert.Less(t, d.Regions[2].Area, c.most*c.area, c.name)
	}
}

// TestRadius: 95 % of a circular normal law lie within 2.4477 σ of its centre
// (reference/physics.md §8); the mode wanders, and with it the circle widens.
func TestRadius(t *testing.T) {
	points := circular.land(site, even(1024, 0.3))
	d, err := Estimate(points, standard)
	require.NoError(t, err)
	assert.InEpsilon(t, 2.447747*4000, d.Radius95, 0.03)
	within := 0
	for _, p := range points {
		if metres, _, _ := geo.Inverse(d.MostLikely, p.At); metres <= d.Radius95 {
			within++
		}
	}
	assert.InDelta(t, 0.95*1024, float64(within), 1, "landings within the radius")
}

// TestEffective: values of reference/physics.md §8 (Kish).
func TestEffective(t *testing.T) {
	for _, c := range []struct {
		weights []float64
		want    float64
	}{
		{[]float64{1, 2, 3, 4}, 3.333333},
		{[]float64{0.7, 0.1, 0.1, 0.1}, 1.923077},
		{[]float64{0, 1e300, 1e300}, 2},
	} {
		var points []Weighted
		for i, w := range c.weights {
			points = append(points, Weighted{geo.Point{Lat: float64(i)}, w})
		}
		d, err := Estimate(points, standard)
		require.NoError(t, err)
		assert.InDelta(t, c.want, d.Effective, 1e-6, "weights %v", c.weights)
		assert.True(t, d.Few)
	}
}

func TestFaultsAreNamed(t *testing.T) {
	good := Weighted{geo.Point{Lat: 1, Lon: 2}, 1}
	for _, c := range []struct {
		points []Weighted
		shares []float64
		want   string
	}{
		{nil, standard, "no landing points: want at least one"},
		{[]Weighted{good, {geo.Point{Lat: math.NaN()}, 1}}, standard, "landing point 1: latitude NaN: want -90 to 90"},
		{[]Weighted{good, good, {geo.Point{Lat: 95}, 1}}, standard, "landing point 2: latitude 95: want -90 to 90"},
		{[]Weighted{good, {good.At, -1}}, standard, "landing point 1: weight -1: want a number of 0 or more"},
		{[]Weighted{good, {good.At, math.Inf(1)}}, standard, "landing point 1: weight +Inf: want a number of 0 or more"},
		{[]Weighted{{good.At, 0}, {good.At, 0}}, standard, "all 2 landing points have weight 0: want at least one above 0"},
		{[]Weighted{good}, []float64{0.5, 1}, "share 1: 1: want above 0 and below 1"},
		{[]Weighted{good}, make([]float64, 33), "33 shares: want at most 32"},
		{[]Weighted{{geo.Point{Lat: 60, Lon: 1}, 1}, good, {geo.Point{Lat: -70}, 0}, good}, standard, ""},
		{[]Weighted{{geo.Point{Lat: -80}, 1}, good, good}, standard, "landing point 0: 62"}, // atan2(2 sin 81°, 1 + 2 cos 81°) = 56.4°, 6,270 km
		{[]Weighted{{geo.Point{Lat: 90}, 1}, {geo.Point{Lat: -90}, 1}}, standard, "km from the mean of all: want at most 5000 km"},
	} {
		_, err := Estimate(c.points, c.shares)
		if c.want == "" {
			assert.NoError(t, err)
			continue
		}
		require.Error(t, err, "want %q", c.want)
		assert.Contains(t, err.Error(), c.want)
	}
}

// FuzzEstimate: whatever the points, an error or sound regions that nest.
func FuzzEstimate(f *testing.F) {
	f.Add(uint64(1), 5, 10.0, 20.0, 1.0)
	f.Add(uint64(2), 40, 89.9, -180.0, 1e-4)
	f.Add(uint64(3), 300, -90.0, 0.0, 30.0)
	f.Add(uint64(4), 2, 0.0, 179.9, 40.0)
	f.Add(uint64(100), 3, -75.04083333333332, -148.21333333333334, -13.391127232142857) // a needle of 2,000 km
	f.Fuzz(func(t *testing.T, seed uint64, n int, lat, lon, size float64) {
		if n < 0 || n > 400 {
			t.Skip()
		}
		r := rand.New(rand.NewPCG(seed, 0))
		points := make([]Weighted, n)
		for i := range points {
			spread := size * math.Exp(-4*float64(r.IntN(3)))
			at := geo.Point{Lat: lat + spread*r.NormFloat64(), Lon: lon + spread*r.NormFloat64()}
			points[i] = Weighted{at, math.Exp(3 * r.NormFloat64())}
		}
		d, err := Estimate(points, standard)
		if err != nil {
			return
		}
		for i, region := range d.Regions {
			requireSound(t, region.Shape)
			require.NotEmpty(t, region.Shape)
			require.Greater(t, region.Area, 0.0)
			require.True(t, i == 0 || region.Area >= d.Regions[i-1].Area)
		}
	})
}

func BenchmarkEstimateMany(b *testing.B) {
	points := smooth[2].land(site, even(31*1024, 0))
	for b.Loop() {
		if _, err := Estimate(points, standard); err != nil {
			b.Fatal(err)
		}
	}
}
