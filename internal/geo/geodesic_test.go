package geo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// geodesicError is the error that Inverse and Direct promise, in metres.
const geodesicError = 30e-9

// apart is the distance in metres between two points that are close together,
// computed without geodesics.
func apart(a, b Point) float64 {
	pa, pb := cartesian(a), cartesian(b)
	return math.Sqrt((pa[0]-pb[0])*(pa[0]-pb[0]) + (pa[1]-pb[1])*(pa[1]-pb[1]) + (pa[2]-pb[2])*(pa[2]-pb[2]))
}

func cartesian(p Point) [3]float64 {
	_, n := Radii(p.Lat)
	sinLat, cosLat := sincosDeg(p.Lat)
	sinLon, cosLon := sincosDeg(p.Lon)
	return [3]float64{n * cosLat * cosLon, n * cosLat * sinLon, n * (1 - eccentric2) * sinLat}
}

// sideways is what an error in a bearing is worth in metres at the other end
// of a line.
func sideways(got, want, metres float64) float64 {
	const radius = 6.37e6
	return 2 * math.Abs(math.Sin((got-want)*degree/2)*math.Sin(metres/radius)) * radius
}

// TestGeodesicError holds Inverse and Direct to the error that they promise,
// and the promise to the error.
func TestGeodesicError(t *testing.T) {
	var worstLength, worstPlace, worstBearing float64
	for _, l := range fixtureLines(t) {
		metres, bearing, final := Inverse(l.a, l.b)
		length := math.Abs(metres - l.metres)
		side := max(sideways(bearing, l.azi1, l.metres), sideways(final, l.azi2, l.metres))
		end := Direct(l.a, l.azi1, l.metres)
		if place := apart(end, l.b); place > geodesicError || length > geodesicError || side > geodesicError {
			t.Errorf("%s: Inverse(%v, %v) = %.9f, %.12f, %.12f, want %.9f, %.12f, %.12f; Direct = %v, off by %.2g m",
				l.kind, l.a, l.b, metres, bearing, final, l.metres, l.azi1, l.azi2, end, place)
		}
		worstLength, worstPlace = max(worstLength, length), max(worstPlace, apart(end, l.b))
		worstBearing = max(worstBearing, side)
	}
	t.Logf("worst: length %.2g m, end point %.2g m, bearing %.2g m sideways", worstLength, worstPlace, worstBearing)
	assert.Greater(t, worstLength, geodesicError/10, "the promise is slack")
	assert.Greater(t, worstPlace, geodesicError/10, "the promise is slack")
}

// TestGeodTestLines: lines that GeographicLib's own test suite takes from
// C. F. F. Karney's GeodTest set, doi:10.5281/zenodo.32156 (MIT licence).
func TestGeodTestLines(t *testing.T) {
	for _, l := range []struct{ lat1, lon1, azi1, lat2, lon2, azi2, metres float64 }{
		{35.60777, -139.44815, 111.09874842956033, -11.17491, -69.95921, 129.28927088970877, 8935244.56048183},
		{55.52454, 106.05087, 22.0200598809828, 77.03196, 197.18234, 109.11204111067151, 4105086.171392441},
		{-21.97856, 142.59065, -32.44456876433189, 41.84138, 98.56635, -41.84359951440466, 8394328.894657671},
		{-66.99028, 112.2363, 173.73491240878403, -12.70631, 285.90344, 2.512956620913668, 11150344.231208025},
		{-17.42761, 173.34268, -159.03355766119293, -15.84784, 5.93557, -20.78748465153699, 16076603.163118068},
		{32.84994, 48.28919, 150.492927788122, -56.28556, 202.29132, 48.11344939981676, 16727068.943816446},
		{6.96833, 52.74123, 92.58158538631771, -7.39675, 206.17291, 90.72169216592391, 17102477.249695837},
		{-50.56724, -16.30485, -105.43967990759016, -33.56571, -94.97412, -47.34854783565033, 6455670.511866869},
		{-58.93002, -8.90775, 140.96539790250068, -8.91104, 133.13503, 19.255429433416598, 11756066.021986462},
		{-68.82867, -74.28391, 93.77434776311487, -50.63005, -8.36685, 34.65564085411343, 3956936.926063544},
		{-10.62672, -32.0898, -86.42671328674776, 5.883, -134.31681, -80.47378097103487, 11470869.386456301},
		{-21.76221, 166.90563, 29.31942120693643, 48.72884, 213.97627, 43.50867194641017, 9098627.398655491},
		{-19.79938, -174.47484, 71.16727578017154, -11.99349, -154.35109, 65.58909977519923, 2319004.860116939},
		{-11.95887, -116.94513, 92.71261983045255, 4.57352, 7.16501, 78.64960934409585, 13834722.580140138},
		{-87.85331, 85.66836, -65.12031304024275, 66.48646, 16.09921, -4.888658719272296, 17286615.314714465},
		{1.74708, 128.32011, -101.58484363117385, -11.16617, 11.87109, -86.32579329643748, 12942901.124134742},
		{-25.72959, -144.90758, -153.6474686931172, -57.70581, -269.17879, -48.34398315887649, 9413446.745245311},
		{-41.22777, 122.32875, 14.285113402275739, -7.57291, 130.37946, 10.805303085187369, 3812686.035106021},
		{11.01307, 138.25278, 79.43682622782374, 6.62726, 247.05981, 103.70809021552266, 11911190.819018409},
		{-29.47124, 95.14681, -163.77913044168838, -27.46601, -69.15955, -15.90933594555497, 13487015.838114548},
	} {
		a, b := Point{l.lat1, l.lon1}, Point{l.lat2, l.lon2}
		metres, bearing, final := Inverse(a, b)
		if math.Abs(metres-l.metres) > geodesicError || turn(bearing, l.azi1) > 1e-12 || turn(final, l.azi2) > 1e-12 {
			t.Errorf("Inverse(%v, %v) = %.9f, %.13f, %.13f, want %.9f, %.13f, %.13f",
				a, b, metres, bearing, final, l.metres, l.azi1, l.azi2)
		}
		if end := Direct(a, l.azi1, l.metres); apart(end, b) > geodesicError {
			t.Errorf("Direct(%v, %g, %g) = %v, want %v", a, l.azi1, l.metres, end, b)
		}
	}
}

// turn is the angle between two bearings, 0 to 180 degrees.
func turn(a, b float64) float64 { return math.Abs(WrapLon(a - b)) }

func TestInverse(t *testing.T) {
	for _, c := range []struct {
		name                   string
		a, b                   Point
		metres, bearing, final float64
		toMetres, toDegrees    float64
	}{
		// GeographicLib's GeodSolve: its own tests, to the digits that they print,
		// and a line that it was given.
		{"Atlantic", Point{40.6, -73.8}, Point{49 + 1./60, 2.55}, 5853226, 53.47022, 111.59367, 0.5, 5e-6},
		{"half the equator", Point{0, 0}, Point{0, 179.5}, 19980862, 55.96650, 124.03350, 0.5, 5e-6},
		{"over the north pole", Point{0, 0}, Point{0, 180}, 20003931, 0, 180, 0.5, 0},
		{
			"within 1e-7 m of the equator",
			Point{-6.8148482552550324e-13, 23.295408238395567},
			Point{-2.2471366587997414e-13, -69.988293707121983},
			10384294.1998865139, 269.99999999999973, 270.000000000000696, geodesicError, 1e-12,
		},
		// The quadrant was computed apart from this code in Python.
		{"quadrant", Point{0, 10}, Point{90, 10}, 10001965.7293, 0, 0, 5e-5, 0},
		// What follows from symmetry or from the definition alone.
		{"west on the equator", Point{0, 11}, Point{0, 10}, semiMajor * degree, 270, 270, 1e-8, 0},
		{"due south", Point{90, 20}, Point{-90, 20}, 2 * 10001965.7293, 180, 180, 1e-4, 0},
		{"same point", Point{47, 8}, Point{47, 8}, 0, 0, 0, 0, 0},
		{"same point, other name", Point{47, 180}, Point{47, -180}, 0, 0, 0, 0, 0},
		{"same pole, other meridian", Point{90, 0}, Point{90, 77}, 0, 0, 0, 0, 0},
		{"from the north pole", Point{90, 0}, Point{0, 20}, 10001965.7293, 160, 180, 5e-5, 1e-12},
		{"from the south pole", Point{-90, 0}, Point{0, 20}, 10001965.7293, 20, 0, 5e-5, 1e-12},
		{"to the north pole", Point{0, 20}, Point{90, 0}, 10001965.7293, 0, 340, 5e-5, 1e-12},
		{"across the date line", Point{0, 179.5}, Point{0, -179.5}, semiMajor * degree, 90, 90, 1e-8, 0},
		{"across it, longitude 0 to 360", Point{0, 179.5}, Point{0, 180.5}, semiMajor * degree, 90, 90, 1e-8, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			metres, bearing, final := Inverse(c.a, c.b)
			if math.Abs(metres-c.metres) > c.toMetres || turn(bearing, c.bearing) > c.toDegrees || turn(final, c.final) > c.toDegrees {
				t.Errorf("Inverse(%v, %v) = %.9f, %.12f, %.12f, want %.9f, %.12f, %.12f",
					c.a, c.b, metres, bearing, final, c.metres, c.bearing, c.final)
			}
			for _, b := range []float64{bearing, final} {
				assert.True(t, b >= 0 && b < 360 && !math.Signbit(b), "bearing %g: want 0 to 360", b)
			}
		})
	}
}

// TestMeridian adds up the meridian's radius of curvature by quadrature.
func TestMeridian(t *testing.T) {
	for lat := 1.0; lat <= 90; lat++ {
		want := quadrature(func(x float64) float64 { m, _ := Radii(x / degree); return m }, lat*degree)
		metres, bearing, final := Inverse(Point{lat, 8}, Point{0, 8})
		if math.Abs(metres-want) > geodesicError || bearing != 180 || final != 180 {
			t.Errorf("Inverse from %g north = %.9f, %g, %g, want %.9f, 180, 180", lat, metres, bearing, final, want)
		}
	}
}

func TestNotANumber(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	good := Point{47, 8}
	for _, bad := range []Point{{nan, 8}, {47, nan}, {inf, 8}, {47, inf}, {47, -inf}, {90.001, 8}, {-91, 8}} {
		for _, pair := range [][2]Point{{bad, good}, {good, bad}} {
			metres, bearing, final := Inverse(pair[0], pair[1])
			assert.True(t, math.IsNaN(metres) && math.IsNaN(bearing) && math.IsNaN(final),
				"Inverse(%v, %v) = %g, %g, %g, want NaN", pair[0], pair[1], metres, bearing, final)
		}
		end := Direct(bad, 10, 1000)
		assert.True(t, math.IsNaN(end.Lat) && math.IsNaN(end.Lon), "Direct(%v, 10, 1000) = %v, want NaN", bad, end)
	}
	for _, bad := range []float64{nan, inf, -inf} {
		for _, end := range []Point{Direct(good, bad, 1000), Direct(good, 10, bad)} {
			assert.True(t, math.IsNaN(end.Lat) && math.IsNaN(end.Lon), "Direct with %g = %v, want NaN", bad, end)
		}
	}
}

func TestDirect(t *testing.T) {
	// The first five: computed apart from this code with Karney's algorithm in
	// Python; the sixth: a test of GeographicLib's GeodSolve.
	for _, c := range []struct {
		from            Point
		bearing, metres float64
		want            Point
		digits          float64 // degrees, half a unit of the last digit given
	}{
		{Point{40, -105}, 65, 150e3, Point{40.5598323563, -103.3947622559}, 5e-11},
		{Point{52.2, 0.12}, 101.5, 87654.321, Point{52.0362865282, 1.3717586654}, 5e-11},
		{Point{-33.9, 151.2}, 250, 42195, Point{-34.0293577721, 150.7706645601}, 5e-11},
		{Point{78.2, 15.6}, 350, 100e3, Point{79.0809559831, 14.7791569138}, 5e-11},
		{Point{0.5, 179.9}, 90, 50e3, Point{0.4999845326, -179.6508253699}, 5e-11},
		{Point{40.63972222, -73.77888889}, 53.5, 5850e3, Point{49.01467, 2.56106}, 5e-6},
		{Point{47, 8}, 123, 0, Point{47, 8}, 1e-13},
		{Point{0, 170}, 90, 20 * semiMajor * degree, Point{0, -170}, 1e-12},
		{Point{90, 0}, 90, 10001965.7293, Point{0, 90}, 5e-10},
		{Point{-90, 0}, 90, 10001965.7293, Point{0, 90}, 5e-10},
		{Point{0, 0}, 0, 4 * 10001965.7293, Point{0, 0}, 5e-9}, // once round
	} {
		got := Direct(c.from, c.bearing, c.metres)
		if math.Abs(got.Lat-c.want.Lat) > c.digits || turn(got.Lon, c.want.Lon) > c.digits || got.Lon >= 180 || got.Lon < -180 {
			t.Errorf("Direct(%v, %g, %g) = %.12f, want %.12f", c.from, c.bearing, c.metres, got, c.want)
		}
	}
}

// TestSymmetry: a line reversed, mirrored in a meridian or in the equator, or
// shifted in longitude is the same line; what Inverse measures, Direct follows.
func TestSymmetry(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for range 2000 {
		a := Point{math.Asin(2*r.Float64()-1) / degree, 360*r.Float64() - 180}
		b := Direct(a, 360*r.Float64(), math.Pow(10, 1+6.2*r.Float64()))
		metres, bearing, final := Inverse(a, b)
		side := func(got, want float64) float64 { return sideways(got, want, metres) }

		m, f, s := Inverse(b, a)
		assert.InDelta(t, metres, m, geodesicError, "Inverse(%v, %v) reversed", a, b)
		assert.Less(t, max(side(s, bearing+180), side(f, final+180)), geodesicError, "Inverse(%v, %v) reversed", a, b)

		m, s, f = Inverse(Point{-a.Lat, a.Lon}, Point{-b.Lat, b.Lon})
		assert.InDelta(t, metres, m, geodesicError, "Inverse(%v, %v) mirrored in the equator", a, b)
		assert.Less(t, max(side(s, 180-bearing), side(f, 180-final)), geodesicError, "Inverse(%v, %v) mirrored in the equator", a, b)

		m, s, f = Inverse(Point{a.Lat, -a.Lon}, Point{b.Lat, -b.Lon})
		assert.InDelta(t, metres, m, geodesicError, "Inverse(%v, %v) mirrored in a meridian", a, b)
		assert.Less(t, max(side(s, -bearing), side(f, -final)), geodesicError, "Inverse(%v, %v) mirrored in a meridian", a, b)

		end := Direct(a, bearing, metres)
		assert.Less(t, apart(end, b), 2*geodesicError, "Direct(Inverse(%v, %v))", a, b)
		assert.Less(t, apart(Direct(b, final, -metres), a), 2*geodesicError, "backwards along Inverse(%v, %v)", a, b)
	}
}

func BenchmarkInverse(b *testing.B) {
	from, to := Point{40, -105}, Point{40.56, -103.39}
	for b.Loop() {
		Inverse(from, to)
	}
}

func BenchmarkDirect(b *testing.B) {
	from := Point{40, -105}
	for b.Loop() {
		Direct(from, 65, 150e3)
	}
}
