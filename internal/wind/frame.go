package wind

import (
	"fmt"
	"math"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// frame is the grid on which a forecast is kept, and how its fields come to be
// on it: cut out of a regular latitude-longitude grid, or taken bilinearly from
// a grid of another kind.
type frame struct {
	grid  geo.Grid
	parts map[grib.Grid]*source
}

// source is how fields on one grid come to be on a frame's.
type source struct {
	window grib.Window // what is unpacked
	nodes  []spot      // where each node of the frame lies in the window; nil if the window is the frame
	turn   []angle     // of each node, from the grid's directions to east and north; nil if none is needed
}

// spot is a place in a window: the node to its south-west, -1 for none, how many
// nodes farther the next to the east is stored, and how far the place is from
// there to the next nodes, 0 to 1.
type spot struct {
	node, east int32
	x, y       float32
}

type angle struct{ sin, cos float32 }

// newFrame is the frame of a forecast whose winds come on a grid. It is an
// error if the grid is not usable or has no part in the box.
func newFrame(g grib.Grid, box geo.Box) (*frame, error) {
	if err := box.Check(); err != nil {
		return nil, err
	}
	if r, ok := g.LatLon(); ok {
		c, err := newCrop(geo.Grid{NX: r.NX, NY: r.NY, Lat0: r.Lat0, Lon0: r.Lon0, DLat: r.DLat, DLon: r.DLon}, box)
		if err != nil {
			return nil, err
		}
		f := &frame{grid: c.grid, parts: map[grib.Grid]*source{}}
		f.parts[g] = &source{window: c.window()}
		return f, nil
	}
	grid, err := regularOver(g, box)
	if err != nil {
		return nil, err
	}
	return &frame{grid: grid, parts: map[grib.Grid]*source{}}, nil
}

// read unpacks a field onto the frame's grid; NaN where the field has no value.
func (f *frame) read(field *grib.Field, u *grib.Unpacker, dst []float32) ([]float32, error) {
	s := f.source(field.Grid)
	if s.nodes == nil {
		return u.Window(field, s.window, dst)
	}
	values, err := u.Window(field, s.window, nil)
	if err != nil {
		return nil, err
	}
	dst = dst[:0]
	wide := s.window.Cols
	for _, at := range s.nodes {
		dst = append(dst, between(values, wide, at))
	}
	return dst, nil
}

// between is the bilinear value at a spot, from the nodes that it depends on.
func between(values []float32, wide int, at spot) float32 {
	if at.node < 0 {
		return float32(math.NaN())
	}
	k := int(at.node)
	v := values[k]
	if at.x > 0 {
		v += at.x * (values[k+int(at.east)] - v)
	}
	if at.y == 0 {
		return v
	}
	w := values[k+wide]
	if at.x > 0 {
		w += at.x * (values[k+wide+int(at.east)] - w)
	}
	return v + at.y*(w-v)
}

// source finds or makes the way from a grid to the frame.
func (f *frame) source(g grib.Grid) *source {
	if _, ok := g.LatLon(); ok {
		g.AlongGrid = false
	}
	s := f.parts[g]
	if s == nil {
		s = newSource(g, f.grid)
		f.parts[g] = s
	}
	return s
}

// newSource looks up where each node of a frame lies on another grid.
func newSource(g grib.Grid, frame geo.Grid) *source {
	columns := frame.NX * frame.NY
	s := &source{nodes: make([]spot, columns)}
	if g.AlongGrid {
		s.turn = make([]angle, columns)
	}
	type place struct{ x, y float64 }
	places := make([]place, columns)
	low, high := place{math.Inf(1), math.Inf(1)}, place{math.Inf(-1), math.Inf(-1)}
	for k := range columns {
		p := frame.Node(k)
		x, y, ok := g.Locate(p.Lat, p.Lon)
		if !ok {
			s.nodes[k].node = -1
			continue
		}
		places[k] = place{x, y}
		low = place{min(low.x, x), min(low.y, y)}
		high = place{max(high.x, x), max(high.y, y)}
		if s.turn != nil {
			sin, cos := g.Turn(p.Lat, p.Lon)
			s.turn[k] = angle{float32(sin), float32(cos)}
		}
	}
	if low.x > high.x { // no node lies on the grid
		s.window = grib.Window{Rows: 1, Cols: 1}
		return s
	}
	s.window.Col, s.window.Row = int(low.x), int(low.y)
	s.window.Cols = int(math.Ceil(high.x)) - s.window.Col + 1
	if s.window.Col+s.window.Cols > g.NX { // it goes round, and on with the first column after the last
		s.window.Col, s.window.Cols = 0, g.NX
	}
	s.window.Rows = int(math.Ceil(high.y)) - s.window.Row + 1
	for k, at := range places {
		if s.nodes[k].node < 0 {
			continue
		}
		i, j := int(at.x), int(at.y)
		next := 1
		if i+1 == g.NX {
			next = -i
		}
		s.nodes[k] = spot{
			node: int32((j-s.window.Row)*s.window.Cols + i - s.window.Col), east: int32(next),
			x: float32(at.x - float64(i)), y: float32(at.y - float64(j)),
		}
	}
	return s
}

// finer is by how much the frame's spacing is smaller than that of a grid of
// another kind: the bilinear values between its nodes then miss those of the
// grid itself by a fraction of what bilinear interpolation misses anyway.
const finer = 2

// maxColumns bounds the columns of a frame that a forecast is resampled on.
const maxColumns = 4 << 20

// regularOver is a regular grid over that part of a box in which a grid of
// another kind has nodes.
func regularOver(g grib.Grid, box geo.Box) (geo.Grid, error) {
	part := span{south: math.Inf(1), north: math.Inf(-1), west: math.Inf(1), east: math.Inf(-1)}
	width := box.East - box.West
	if width < 360 {
		width = mod(width, 360)
	}
	middle := box.West + width/2
	for j := range g.NY {
		for i := range g.NX {
			lat, lon := g.Place(i, j)
			if box.Contains(geo.Point{Lat: lat, Lon: geo.WrapLon(lon)}) {
				part.take(lat, geo.WrapLon(lon-middle))
			}
		}
	}
	if part.south > part.north {
		return geo.Grid{}, fmt.Errorf("%w: the forecast's grid, %v, has no node at latitudes %.4g to %.4g, longitudes %.4g to %.4g: want some",
			ErrNoWind, g, box.South, box.North, box.West, box.East)
	}
	step := g.Spacing() / finer
	// Up to one spacing beyond the outermost nodes inside lie cells that the box
	// has a part of.
	south, north := max(part.south-g.Spacing(), -90), min(part.north+g.Spacing(), 90)
	stretch := math.Cos(math.Pi / 180 * min(max(math.Abs(south), math.Abs(north)), 85))
	west, east := max(part.west-g.Spacing()/stretch, -180), min(part.east+g.Spacing()/stretch, 180)
	r := geo.Grid{DLat: step, DLon: step / math.Cos(math.Pi/180*min(math.Abs(south+north)/2, 85))}
	r.NY = max(int(math.Ceil((north-south)/r.DLat))+1, 2)
	if south+float64(r.NY-1)*r.DLat > 90 {
		r.NY--
	}
	if east-west > 360-2*r.DLon {
		r.NX = int(360 / r.DLon)
		r.DLon = 360 / float64(r.NX)
		west = -180
	} else {
		r.NX = max(int(math.Ceil((east-west)/r.DLon))+1, 2)
	}
	if r.NX > maxColumns/r.NY {
		return geo.Grid{}, fmt.Errorf("the area takes %d × %d columns of the grid %v: want at most %d", r.NX, r.NY, g, maxColumns)
	}
	r.Lat0, r.Lon0 = south, geo.WrapLon(middle+west)
	return r, r.Check()
}

// span is a range of latitudes and longitudes, degrees.
type span struct{ south, north, west, east float64 }

func (s *span) take(lat, lon float64) {
	s.south, s.north = min(s.south, lat), max(s.north, lat)
	s.west, s.east = min(s.west, lon), max(s.east, lon)
}

// band is the part of the frame from row on that has the given number of rows.
func (f *frame) band(row, rows int) *frame {
	b := &frame{grid: f.grid, parts: map[grib.Grid]*source{}}
	b.grid.Lat0 += float64(row) * f.grid.DLat
	b.grid.NY = rows
	for g, s := range f.parts {
		if s.nodes == nil {
			w := s.window
			w.Row, w.Rows = w.Row+row, rows
			b.parts[g] = &source{window: w}
		}
	}
	return b
}
