package grib

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"github.com/nilsmagnus/grib/griblib"
)

// Flag table 3.3, resolution and component flags.
const (
	iIncrement = 0x20 // Di is given
	jIncrement = 0x10 // Dj is given
	alongGrid  = 0x08
)

// Flag table 3.4, scanning mode.
const (
	iNegative   = 0x80 // along a row values go west
	jPositive   = 0x40 // rows go north
	jAdjacent   = 0x20 // adjacent values lie in a column, not in a row
	boustro     = 0x10 // every second row (column) goes the other way, as the ox ploughs
	staggered   = 0x0f // rows or columns are offset against each other
	missing32   = math.MaxUint32
	microdegree = 1e-6
)

// Flag table 3.5, projection centre.
const (
	southPole = 0x80 // the south pole is on the plane
	bipolar   = 0x40
)

// locate reads section 3.
//
//	octets  field
//	6       source of the grid definition, 0 if it is this section
//	7–10    number of points
//	11–12   octets per entry, and meaning, of a list of points in each row
//	13–14   grid definition template number
//	15–     template: see regular, rotated, gaussian, lambert
//
// What makes the grid one that is not supported goes to blame.
func (f *Field) locate(b []byte, blame *error) error {
	f.scanning = 0
	f.Points = int(binary.BigEndian.Uint32(b[6:]))
	f.Grid = Grid{Template: binary.BigEndian.Uint16(b[12:])}
	if b[5] != 0 {
		*blame = fmt.Errorf("grid defined elsewhere (source %d of code table 3.0) not supported", b[5])
		return nil
	}
	if b[10] != 0 && isSupported(f.Grid.Template) {
		*blame = f.refuseReduced()
		return nil
	}
	var grid Grid
	var err error
	switch f.Grid.Template {
	case 0:
		grid, err = f.regular(b, blame)
	case 1:
		grid, err = f.rotated(b, blame)
	case 30:
		grid, err = f.lambert(b, blame)
	case 40:
		grid, err = f.gaussian(b, blame)
	default:
		*blame = refuse("grid 3.", f.Grid.Template, gridName(f.Grid.Template))
	}
	if err != nil {
		return err
	}
	if *blame == nil {
		f.Grid = grid
	}
	return nil
}

func isSupported(template uint16) bool {
	return template == 0 || template == 1 || template == 30 || template == 40
}

// refuseReduced is the error for rows of different length.
func (f *Field) refuseReduced() error {
	if f.Grid.Template == 40 {
		return errors.New("grid 3.40 with rows of different length (reduced Gaussian, quasi-regular) not supported")
	}
	return fmt.Errorf("grid 3.%d with rows of different length (quasi-regular) not supported", f.Grid.Template)
}

// scan checks number of points and scanning mode, which all templates have.
func (f *Field) scan(nx, ny uint32, mode uint8, blame *error) error {
	if nx == missing32 || ny == missing32 {
		*blame = f.refuseReduced()
		return nil
	}
	f.scanning = mode
	if mode&staggered != 0 {
		*blame = fmt.Errorf("scanning mode %#02x (staggered rows) not supported", mode)
		return nil
	}
	if nx == 0 || ny == 0 || uint64(nx)*uint64(ny) != uint64(f.Points) {
		return fmt.Errorf("%d × %d points: want the %d of octets 7–10", nx, ny, f.Points)
	}
	return nil
}

// regular reads template 3.0.
//
//	octets  field
//	15–30   shape of the Earth, which does not matter here
//	31–38   Ni, Nj: points along a row and a column
//	39–46   basic angle and its subdivisions; both 0 or missing: microdegrees
//	47–54   latitude and longitude of the first point
//	55      resolution and component flags
//	56–63   latitude and longitude of the last point
//	64–71   Di, Dj: increments, without sign
//	72      scanning mode
func (f *Field) regular(b []byte, blame *error) (Grid, error) {
	var t griblib.Grid0
	if err := decode(b, 14, &t); err != nil {
		return Grid{}, err
	}
	if err := f.scan(t.Ni, t.Nj, t.ScanningMode, blame); err != nil || *blame != nil {
		return Grid{}, err
	}
	return lattice(t, 360)
}

// lattice converts template 3.0. Spacings are taken from the corners, which are
// given to the same unit as the increments but for the whole grid; increments,
// where given, must agree. Longitudes go up to most.
func lattice(t griblib.Grid0, most float64) (Grid, error) {
	c, err := cornersOf(t, most)
	if err != nil {
		return Grid{}, err
	}
	rows := axis{name: "j", n: t.Nj, span: c.north - c.south, unit: c.unit}
	rows.increment, rows.given = uint32(t.Dj), t.ResolutionAndComponentFlags&jIncrement != 0
	dlat, err := rows.spacing()
	if err != nil {
		return Grid{}, err
	}
	dlon, err := c.columns(t)
	if err != nil {
		return Grid{}, err
	}
	return Grid{
		NX: int(t.Ni), NY: int(t.Nj),
		Lat0: c.south, Lon0: wrap(c.west),
		DLat: dlat, DLon: dlon,
		AlongGrid: t.ResolutionAndComponentFlags&alongGrid != 0,
	}, nil
}

// rotated reads template 3.1: 3.0 in rotated coordinates and
//
//	octets  field
//	73–76   latitude of the southern pole of the coordinates
//	77–80   its longitude
//	81–84   angle of rotation, degrees, IEEE 754 single precision
//
// Integers of microdegrees in octets 81–84, should anyone write such, read as
// angles below 1e-24.
func (f *Field) rotated(b []byte, blame *error) (Grid, error) {
	var t struct {
		griblib.Grid0
		Lat, Lon uint32
		Angle    float32
	}
	if err := decode(b, 14, &t); err != nil {
		return Grid{}, err
	}
	if err := f.scan(t.Ni, t.Nj, t.ScanningMode, blame); err != nil || *blame != nil {
		return Grid{}, err
	}
	unit, err := angleUnit(t.BasicAngle)
	if err != nil {
		return Grid{}, err
	}
	r := Rotation{Lat: float64(signed32(t.Lat)) / unit, Lon: float64(signed32(t.Lon)) / unit, Angle: float64(t.Angle)}
	if !(r.Lat >= -90 && r.Lat <= 90 && r.Lon >= -360 && r.Lon <= 360) {
		return Grid{}, fmt.Errorf("southern pole of rotation at latitude %g, longitude %g: want -90 to 90 and -360 to 360", r.Lat, r.Lon)
	}
	if size := math.Abs(r.Angle); r.Angle != 0 && !(size >= microdegree && size <= 360) {
		*blame = fmt.Errorf("angle of rotation %g not supported: want degrees from -360 to 360 in IEEE 754", r.Angle)
		return Grid{}, nil
	}
	r.Lon = wrap(r.Lon)
	// Some centres count on in a row across the rotated zero meridian.
	g, err := lattice(t.Grid0, 720)
	g.Template, g.Rotation = 1, r
	return g, err
}

// gaussian reads template 3.40: 3.0 but for
//
//	octets  field
//	68–71   N: rows between a pole and the equator
//
// (griblib's own struct for it lacks four octets.) The rows are the Gaussian
// latitudes from that of the first point to that of the last.
func (f *Field) gaussian(b []byte, blame *error) (Grid, error) {
	var t griblib.Grid0
	if err := decode(b, 14, &t); err != nil {
		return Grid{}, err
	}
	if err := f.scan(t.Ni, t.Nj, t.ScanningMode, blame); err != nil || *blame != nil {
		return Grid{}, err
	}
	c, err := cornersOf(t, 360)
	if err != nil {
		return Grid{}, err
	}
	n := uint32(t.Dj)
	if n < 1 || n > maxGauss {
		return Grid{}, fmt.Errorf("grid 3.40 of %d rows between pole and equator: want 1 to %d", n, maxGauss)
	}
	gauss := Gauss{N: int(n)}
	south, err := gauss.match(c.south)
	if err != nil {
		return Grid{}, err
	}
	north, err := gauss.match(c.north)
	if err != nil {
		return Grid{}, err
	}
	if north-south+1 != int(t.Nj) {
		return Grid{}, fmt.Errorf("%d rows from latitude %g to %g: want the %d Gaussian rows of N = %d there", t.Nj, c.south, c.north, north-south+1, n)
	}
	dlon, err := c.columns(t)
	if err != nil {
		return Grid{}, err
	}
	gauss.South = south
	return Grid{
		Template: 40,
		NX:       int(t.Ni), NY: int(t.Nj),
		Lat0: gauss.latitude(0), Lon0: wrap(c.west), DLon: dlon,
		Gauss:     gauss,
		AlongGrid: t.ResolutionAndComponentFlags&alongGrid != 0,
	}, nil
}

// match returns which row of the globe has a latitude that a message gives, in
// degrees. Some centres round to a thousandth of a degree, as GRIB edition 1 did.
func (g Gauss) match(lat float64) (int, error) {
	const rounding = 1.001e-3
	k, nearest := g.nearest(lat)
	if math.Abs(nearest-lat) > rounding {
		return 0, fmt.Errorf("row at latitude %g: want one of the %d Gaussian latitudes of N = %d, of which %.6f is nearest", lat, 2*g.N, g.N, nearest)
	}
	return k, nil
}

// lambert reads template 3.30.
//
//	octets  field
//	15–30   shape of the Earth
//	31–38   Nx, Ny
//	39–46   latitude and longitude of the first point, microdegrees
//	47      resolution and component flags
//	48–51   LaD, latitude at which Dx and Dy hold
//	52–55   LoV, meridian along which y increases toward the north
//	56–63   Dx, Dy, mm
//	64      projection centre, flag table 3.5
//	65      scanning mode
//	66–73   Latin 1, Latin 2: standard parallels
//	74–81   southern pole of projection, for oblique cones; not used
func (f *Field) lambert(b []byte, blame *error) (Grid, error) {
	var t griblib.Grid30
	if err := decode(b, 14, &t); err != nil {
		return Grid{}, err
	}
	if err := f.scan(t.Nx, t.Ny, t.ScanningMode, blame); err != nil || *blame != nil {
		return Grid{}, err
	}
	e, err := earth(t.GridHeader, blame)
	if err != nil || *blame != nil {
		return Grid{}, err
	}
	degrees := func(n uint32) float64 { return float64(signed32(n)) / 1e6 }
	c := Cone{
		Latin1: degrees(t.Latin1), Latin2: degrees(t.Latin2), LoV: degrees(uint32(t.Lov)),
		DX: float64(uint32(t.Dx)) / 1000, DY: float64(uint32(t.Dy)) / 1000,
		Earth: e,
	}
	g := Grid{
		Template: 30,
		NX:       int(t.Nx), NY: int(t.Ny),
		Lat0: degrees(uint32(t.La1)), Lon0: degrees(uint32(t.Lo1)), Cone: c,
		AlongGrid: t.ResolutionAndComponentFlags&alongGrid != 0,
	}
	if err := g.checkCone(); err != nil {
		return Grid{}, err
	}
	g.Lon0, g.Cone.LoV = wrap(g.Lon0), wrap(c.LoV)
	if *blame = c.refuse(t.ProjectionCenter, degrees(uint32(t.Lad))); *blame != nil {
		return Grid{}, nil
	}
	return g.fromFirst(t.ScanningMode)
}

// checkCone holds the numbers of a Lambert grid against the ranges that make
// sense.
func (g Grid) checkCone() error {
	c := g.Cone
	switch {
	case !(math.Abs(c.Latin1) <= 89 && math.Abs(c.Latin2) <= 89):
		return fmt.Errorf("standard parallels %g and %g: want -89 to 89", c.Latin1, c.Latin2)
	case math.Abs(c.Latin1+c.Latin2) < 0.1:
		return fmt.Errorf("standard parallels %g and %g: want them not to lie alike about the equator, as no cone has such", c.Latin1, c.Latin2)
	case !(math.Abs(g.Lat0) < 90):
		return fmt.Errorf("first point at latitude %g: want it between the poles", g.Lat0)
	case math.Abs(g.Lon0) > 360 || math.Abs(c.LoV) > 360:
		return fmt.Errorf("first point at longitude %g, LoV %g: want -360 to 360", g.Lon0, c.LoV)
	case c.DX == 0 || c.DY == 0:
		return fmt.Errorf("spacings %g and %g m: want them above 0", c.DX, c.DY)
	case float64(g.NX-1)*c.DX > maxPlane || float64(g.NY-1)*c.DY > maxPlane:
		return fmt.Errorf("%d × %d points %g and %g m apart: want at most %g m from side to side", g.NX, g.NY, c.DX, c.DY, float64(maxPlane))
	}
	return nil
}

// refuse returns what of a projection is not supported. A spacing that holds at
// a latitude where the scale is not 1 is read in two ways, as a distance on the
// plane or at that latitude; they differ by more than a field of winds bears.
func (c Cone) refuse(centre uint8, lad float64) error {
	d := c.develop()
	switch {
	case centre&bipolar != 0:
		return errors.New("grid 3.30 with a bipolar projection not supported")
	case centre&southPole != 0 && d.n > 0:
		return errors.New("grid 3.30 with a cone about the south pole and northern parallels not supported")
	}
	if scale := d.scale(lad, c.Earth.Major); !(math.Abs(scale-1) < 1e-6) {
		return fmt.Errorf("grid 3.30 with spacings at latitude %g, where the scale is %.4g, not supported: want those at a standard parallel, %g or %g", lad, scale, c.Latin1, c.Latin2)
	}
	return nil
}

// fromFirst makes node (0, 0) of a Lambert grid from the first point of the
// message, which another corner is if rows go west or south.
func (g Grid) fromFirst(scanning uint8) (Grid, error) {
	d := g.Cone.develop()
	x, y := d.plane(g.Lat0, g.Lon0)
	wide, high := float64(g.NX-1)*g.Cone.DX, float64(g.NY-1)*g.Cone.DY
	firstX, firstY := x, y
	if scanning&iNegative != 0 {
		x -= wide
	}
	if scanning&jPositive == 0 {
		y -= high
	}
	if d.cut(x, y, x+wide, y+high) {
		return Grid{}, fmt.Errorf("%d × %d points from latitude %g, longitude %g reach beyond the meridian opposite LoV %g or a pole: want them on the cone", g.NX, g.NY, g.Lat0, g.Lon0, g.Cone.LoV)
	}
	if x != firstX || y != firstY {
		g.Lat0, g.Lon0 = d.earth(x, y)
	}
	return g, nil
}
