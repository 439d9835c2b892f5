package geo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

var (
	globalGrid   = Grid{NX: 144, NY: 73, Lat0: -90, Lon0: 0, DLat: 2.5, DLon: 2.5}
	halfCellGrid = Grid{NX: 36, NY: 18, Lat0: -85, Lon0: -175, DLat: 10, DLon: 10} // no row on a pole
	regionalGrid = Grid{NX: 11, NY: 6, Lat0: 40, Lon0: -5, DLat: 0.1, DLon: 0.1}
	pacificGrid  = Grid{NX: 21, NY: 11, Lat0: -5, Lon0: 170, DLat: 1, DLon: 1}     // 170 to -170
	closedGrid   = Grid{NX: 361, NY: 181, Lat0: -90, Lon0: -180, DLat: 1, DLon: 1} // last column is the first again
	thirdsGrid   = Grid{NX: 1080, NY: 541, Lat0: -90, Lon0: 0, DLat: 1. / 3, DLon: 1. / 3}
)

func TestGridCell(t *testing.T) {
	for _, c := range []struct {
		name string
		g    Grid
		p    Point
		want Cell
	}{
		{"inside", globalGrid, Point{1, 1}, Cell{SW: 36 * 144, SE: 36*144 + 1, NW: 37 * 144, NE: 37*144 + 1, X: 0.4, Y: 0.4}},
		{"west of Greenwich", globalGrid, Point{1, -0.5}, Cell{SW: 36*144 + 143, SE: 36 * 144, NW: 37*144 + 143, NE: 37 * 144, X: 0.8, Y: 0.4}},
		{"the same in 0 to 360", globalGrid, Point{1, 359.5}, Cell{SW: 36*144 + 143, SE: 36 * 144, NW: 37*144 + 143, NE: 37 * 144, X: 0.8, Y: 0.4}},
		{"a turn too many", globalGrid, Point{1, 721}, Cell{SW: 36 * 144, SE: 36*144 + 1, NW: 37 * 144, NE: 37*144 + 1, X: 0.4, Y: 0.4}},
		{"north pole", globalGrid, Point{90, 0}, Cell{SW: 71 * 144, SE: 71*144 + 1, NW: 72 * 144, NE: 72*144 + 1, X: 0, Y: 1}},
		{"south pole", globalGrid, Point{-90, 5}, Cell{SW: 2, SE: 3, NW: 146, NE: 147, X: 0, Y: 0}},
		{"date line, global", globalGrid, Point{0, -180}, Cell{SW: 36*144 + 72, SE: 36*144 + 73, NW: 37*144 + 72, NE: 37*144 + 73, X: 0, Y: 0}},
		{"between last and first column", halfCellGrid, Point{-80, 180}, Cell{SW: 35, SE: 0, NW: 71, NE: 36, X: 0.5, Y: 0.5}},
		{"south-west corner", regionalGrid, Point{40, -5}, Cell{SW: 0, SE: 1, NW: 11, NE: 12, X: 0, Y: 0}},
		{"north-east corner", regionalGrid, Point{40.5, -4}, Cell{SW: 53, SE: 54, NW: 64, NE: 65, X: 1, Y: 1}},
		{"on the date line", pacificGrid, Point{0.5, -180}, Cell{SW: 5*21 + 10, SE: 5*21 + 11, NW: 6*21 + 10, NE: 6*21 + 11, X: 0, Y: 0.5}},
		{"beyond the date line", pacificGrid, Point{0.5, -170.5}, Cell{SW: 5*21 + 19, SE: 5*21 + 20, NW: 6*21 + 19, NE: 6*21 + 20, X: 0.5, Y: 0.5}},
		{"its east edge", pacificGrid, Point{5, -170}, Cell{SW: 9*21 + 19, SE: 9*21 + 20, NW: 10*21 + 19, NE: 10*21 + 20, X: 1, Y: 1}},
	} {
		got, ok := c.g.Cell(c.p)
		x, y := got.X, got.Y
		got.X, got.Y = c.want.X, c.want.Y
		if !ok || got != c.want || math.Abs(x-c.want.X) > 1e-9 || math.Abs(y-c.want.Y) > 1e-9 {
			t.Errorf("%s: %+v.Cell(%v) = %+v (X %g, Y %g), %v, want %+v", c.name, c.g, c.p, got, x, y, ok, c.want)
		}
	}
}

func TestGridCellOutside(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		g Grid
		p Point
	}{
		{regionalGrid, Point{39.9999, -4.5}},
		{regionalGrid, Point{40.5001, -4.5}},
		{regionalGrid, Point{40.2, -5.0001}},
		{regionalGrid, Point{40.2, -3.9999}},
		{regionalGrid, Point{40.2, 175}},
		{regionalGrid, Point{-40.2, -4.5}},
		{pacificGrid, Point{0, 169.999}},
		{pacificGrid, Point{0, -169.999}},
		{pacificGrid, Point{0, 0}},
		{halfCellGrid, Point{85.1, 0}},
		{halfCellGrid, Point{-86, 0}},
		{globalGrid, Point{90.1, 0}},
		{globalGrid, Point{-90.1, 0}},
		{globalGrid, Point{nan, 0}},
		{globalGrid, Point{0, nan}},
		{globalGrid, Point{inf, 0}},
		{globalGrid, Point{0, inf}},
		{globalGrid, Point{0, -inf}},
		{globalGrid, Point{nan, nan}},
		{regionalGrid, Point{nan, -4.5}},
		{regionalGrid, Point{40.2, nan}},
		{regionalGrid, Point{40.2, inf}},
		{closedGrid, Point{0, nan}},
		{thirdsGrid, Point{nan, 0}},
	} {
		if got, ok := c.g.Cell(c.p); ok || got != (Cell{}) {
			t.Errorf("%+v.Cell(%v) = %+v, %v, want outside", c.g, c.p, got, ok)
		}
	}
}

// TestGridEdges walks round the edge of each grid as its own arithmetic gives
// it and as another order of rounding does.
func TestGridEdges(t *testing.T) {
	for _, g := range []Grid{globalGrid, halfCellGrid, regionalGrid, pacificGrid, closedGrid, thirdsGrid} {
		east, north := g.Lon0+float64(g.NX-1)*g.DLon, g.Lat0+float64(g.NY-1)*g.DLat
		sum := g.Lon0
		for range g.NX - 1 {
			sum += g.DLon // rounds at each step
		}
		for _, p := range []Point{
			{g.Lat0, g.Lon0},
			{g.Lat0, east},
			{north, g.Lon0},
			{north, east},
			{g.Lat0, sum},
			{g.Lat0, WrapLon(east)},
			{g.Lat0, WrapLon(g.Lon0)},
			{g.Lat0, math.Nextafter(g.Lon0, -999)},
			{g.Lat0, math.Nextafter(east, 999)},
			{math.Nextafter(g.Lat0, -999), g.Lon0},
			{math.Nextafter(north, 999), g.Lon0},
		} {
			c, ok := g.Cell(p)
			assert.True(t, ok, "%+v.Cell(%v) is outside", g, p)
			assertSound(t, g, p, c)
		}
	}
}

// assertSound holds a cell to its own meaning: its nodes are neighbours, and
// weighting them bilinearly gives back the point.
func assertSound(t *testing.T, g Grid, p Point, c Cell) {
	t.Helper()
	if !(c.X >= 0 && c.X <= 1 && c.Y >= 0 && c.Y <= 1) {
		t.Errorf("%+v.Cell(%v) = %+v: fractions not from 0 to 1", g, p, c)
	}
	sw, se, nw, ne := g.Node(c.SW), g.Node(c.SE), g.Node(c.NW), g.Node(c.NE)
	lat := (1-c.Y)*((1-c.X)*sw.Lat+c.X*se.Lat) + c.Y*((1-c.X)*nw.Lat+c.X*ne.Lat)
	lon := func(q Point) float64 { return WrapLon(q.Lon - p.Lon) } // relative to p
	off := (1-c.Y)*((1-c.X)*lon(sw)+c.X*lon(se)) + c.Y*((1-c.X)*lon(nw)+c.X*lon(ne))
	if math.Abs(lat-p.Lat) > 1e-9*g.DLat+1e-12 || math.Abs(off) > 1e-9*g.DLon+1e-12 {
		t.Errorf("%+v.Cell(%v) = %+v: its nodes weigh out to latitude %g, longitude off by %g", g, p, c, lat, off)
	}
}

// TestGridRandom holds Cell to Node on random grids and points, and to a search
// through every column and row for whether the point is inside.
func TestGridRandom(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 2))
	in, out := 0, 0
	for range 3000 {
		g := Grid{NX: 2 + r.IntN(40), NY: 2 + r.IntN(20), Lat0: -90 + 80*r.Float64(), Lon0: 720*r.Float64() - 360}
		g.DLat = (90 - g.Lat0) / float64(g.NY-1) * r.Float64()
		g.DLon = 360 / float64(g.NX)
		if r.IntN(2) == 0 {
			g.DLon *= r.Float64()
		}
		if err := g.Check(); err != nil {
			t.Fatalf("%+v: %v", g, err)
		}
		p := Point{180*r.Float64() - 90, 720*r.Float64() - 360}
		want := false
		for k := range g.NX*g.NY - g.NX {
			if k%g.NX == g.NX-1 && !g.Wraps() {
				continue
			}
			south, lon := g.Lat0+float64(k/g.NX)*g.DLat, g.Lon0+float64(k%g.NX)*g.DLon
			d := math.Mod(math.Mod(p.Lon-lon, 360)+360, 360)
			want = want || p.Lat >= south && p.Lat <= south+g.DLat && d <= g.DLon
		}
		c, ok := g.Cell(p)
		if ok != want {
			t.Errorf("%+v.Cell(%v) is inside: %v, want %v", g, p, ok, want)
			continue
		}
		if !ok {
			out++
			continue
		}
		in++
		assertSound(t, g, p, c)
	}
	assert.Greater(t, min(in, out), 500, "a lopsided sample: %d inside, %d outside", in, out)
}

func TestGridNode(t *testing.T) {
	for _, g := range []Grid{globalGrid, halfCellGrid, regionalGrid, pacificGrid, thirdsGrid} {
		for k := range g.NX * g.NY {
			p := g.Node(k)
			assert.NoError(t, p.Check(), "%+v.Node(%d)", g, k)
			c, ok := g.Cell(p)
			share := map[int]float64{}
			for _, n := range []struct {
				k      int
				weight float64
			}{{c.SW, (1 - c.X) * (1 - c.Y)}, {c.SE, c.X * (1 - c.Y)}, {c.NW, (1 - c.X) * c.Y}, {c.NE, c.X * c.Y}} {
				share[n.k] += n.weight
			}
			if !ok || math.Abs(share[k]-1) > 1e-9 {
				t.Fatalf("%+v.Cell(Node(%d) = %v) = %+v, %v: want all weight on that node", g, k, p, c, ok)
			}
		}
	}
	over := 0
	for rows := 3; rows < 500; rows++ {
		g := Grid{NX: 2, NY: rows, Lat0: -90, DLat: 180 / float64(rows-1), DLon: 1}
		if g.Lat0+float64(rows-1)*g.DLat > 90 {
			over++ // rounding carries the sum beyond the pole
		}
		assert.Equal(t, 90.0, math.Round(g.Node(2*rows-1).Lat*1e9)/1e9)
		assert.NoError(t, g.Node(2*rows-1).Check(), "%+v", g)
	}
	assert.Positive(t, over, "no grid that rounds beyond the pole")
	assert.Equal(t, Point{-90, 0}, globalGrid.Node(0))
	assert.Equal(t, Point{-87.5, 2.5}, globalGrid.Node(145))
	assert.Equal(t, Point{-90, -180}, globalGrid.Node(72))
	assert.PanicsWithValue(t, "geo: node 66 of a grid of 66", func() { regionalGrid.Node(66) })
	assert.PanicsWithValue(t, "geo: node -1 of a grid of 66", func() { regionalGrid.Node(-1) })
}

func TestGridWraps(t *testing.T) {
	for _, c := range []struct {
		g    Grid
		want bool
	}{
		{globalGrid, true},
		{halfCellGrid, true},
		{thirdsGrid, true},
		{regionalGrid, false},
		{pacificGrid, false},
		{closedGrid, false},
		{Grid{NX: 1440, NY: 2, DLat: 1, DLon: 0.25}, true},
		{Grid{NX: 1440, NY: 2, DLat: 1, DLon: 0.25 + 0.9e-6/1440}, true},
		{Grid{NX: 1440, NY: 2, DLat: 1, DLon: 0.25 + 1.1e-6/1440}, false},
		{Grid{NX: 359, NY: 2, DLat: 1, DLon: 1}, false},
	} {
		assert.Equal(t, c.want, c.g.Wraps(), "%+v.Wraps()", c.g)
	}
	// A spacing rounded downward leaves no gap before the first column.
	rounded := Grid{NX: 1440, NY: 2, DLat: 1, DLon: 0.25 - 0.9e-6/1440}
	c, ok := rounded.Cell(Point{0.5, -1e-7})
	assert.True(t, ok)
	assert.Equal(t, Cell{SW: 1439, SE: 0, NW: 2879, NE: 1440, X: c.X, Y: 0.5}, c)
	assert.InDelta(t, 1, c.X, 1e-5)
}

func TestGridCheck(t *testing.T) {
	for _, g := range []Grid{globalGrid, halfCellGrid, regionalGrid, pacificGrid, closedGrid, thirdsGrid} {
		assert.NoError(t, g.Check(), "%+v.Check()", g)
	}
	nan := math.NaN()
	for _, c := range []struct {
		g    Grid
		want string
	}{
		{Grid{}, "grid of 0 columns and 0 rows: want at least 2 of each"},
		{Grid{NX: 5, NY: 1, DLat: 1, DLon: 1}, "grid of 5 columns and 1 rows: want at least 2 of each"},
		{Grid{NX: 1 << 40, NY: 1 << 40, DLat: 1, DLon: 1}, "grid of 1099511627776 columns and 1099511627776 rows: want at most 268435456 nodes"},
		{Grid{NX: 5, NY: 5, DLat: -1, DLon: 1}, "grid spacing in latitude -1: want over 0 to 180"},
		{Grid{NX: 5, NY: 5, DLat: 1, DLon: nan}, "grid spacing in longitude NaN: want over 0 to 360"},
		{Grid{NX: 5, NY: 5, DLat: 1, DLon: 1, Lon0: nan}, "grid's west edge NaN: want -360 to 360"},
		{Grid{NX: 5, NY: 5, Lat0: 88, DLat: 1, DLon: 1}, "grid rows from latitude 88 to 92: want -90 to 90"},
		{Grid{NX: 5, NY: 5, Lat0: nan, DLat: 1, DLon: 1}, "grid rows from latitude NaN to NaN: want -90 to 90"},
		{Grid{NX: 362, NY: 5, DLat: 1, DLon: 1}, "grid columns over 361 degrees: want at most 360"},
	} {
		assert.EqualError(t, c.g.Check(), c.want, "%+v.Check()", c.g)
	}
}

func TestCellAllocatesNothing(t *testing.T) {
	n := testing.AllocsPerRun(100, func() { globalGrid.Cell(Point{40, -105}) })
	assert.Zero(t, n)
}

// BenchmarkCell finds the cells of a thousand scattered points in a round.
func BenchmarkCell(b *testing.B) {
	for _, c := range []struct {
		name string
		g    Grid
		p    Point
	}{
		{"global", globalGrid, Point{40, -105}},
		{"regional", Grid{NX: 61, NY: 61, Lat0: 33, Lon0: -112, DLat: 0.25, DLon: 0.25}, Point{40, -105}},
		{"dateline", pacificGrid, Point{0, -180}},
		{"seam", globalGrid, Point{40, -1.25}}, // between the last column and the first
	} {
		b.Run(c.name, func(b *testing.B) {
			r := rand.New(rand.NewPCG(1, 1))
			points := make([]Point, 1000)
			for i := range points {
				points[i] = Point{c.p.Lat + r.Float64() - 0.5, c.p.Lon + r.Float64() - 0.5}
			}
			sum := 0.0
			for b.Loop() {
				for _, p := range points {
					cell, ok := c.g.Cell(p)
					if !ok {
						b.Fatalf("%v is outside", p)
					}
					sum += cell.X
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/1000, "ns/cell")
		})
	}
}
