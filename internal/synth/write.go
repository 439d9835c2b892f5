package synth

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/grib"
)

// Limits of what is written.
const (
	maxPoints  = 1 << 18 // of the grid: the Earth at 0.5° has 259,920
	maxMembers = 100
	maxHours   = 384
	maxValues  = 16 << 30 // of all fields
)

// levels are the pressures that are written, in Pa: those of the GFS down from
// 1 hPa, every 50 hPa in the troposphere.
var levels = [...]float64{
	100000, 97500, 95000, 92500, 90000, 85000, 80000, 75000, 70000, 65000, 60000, 55000, 50000, 45000, 40000, 35000,
	30000, 25000, 20000, 15000, 10000, 7000, 5000, 4000, 3000, 2000, 1500, 1000, 700, 500, 300, 200, 100,
}

// Forecast is an invented forecast as it is written, GRIB2 on a grid of
// latitude and longitude. The same settings give the same octets; on another
// kind of processor, which rounds elsewhere, a value may differ by one step of
// its packing.
type Forecast struct {
	Seed  uint64
	Start time.Time // the cycle, UTC, to the hour; years 1 to 9998
	Box   geo.Box   // widened outward to whole spacings
	// Spacing of the grid in degrees, from 0.05 to 10, in whole millionths, a
	// whole part of 180.
	Spacing float64
	// Hours is the last step and Every the distance of steps, both in hours.
	Hours, Every int
	// First and Last are the numbers of the members, 0 to 99. If both are 0 it
	// is a single forecast, else an ensemble of which 0 is the control.
	First, Last int
}

// Check reports every setting that is out of range.
func (f Forecast) Check() error {
	errs := []error{f.Box.Check()}
	if y := f.Start.UTC().Year(); y < 1 || y > 9998 || !f.Start.Equal(f.Start.Truncate(time.Hour)) {
		errs = append(errs, fmt.Errorf("start %s: want a full hour in the years 1 to 9998", f.Start.Format(time.RFC3339)))
	}
	whole := func(x float64) bool { return math.Abs(x-math.Round(x)) < 1e-6 }
	if !(f.Spacing >= 0.05 && f.Spacing <= 10) || !whole(180/f.Spacing) || !whole(f.Spacing*1e6) {
		errs = append(errs, fmt.Errorf("spacing %g degrees: want 0.05 to 10, a whole part of 180 in whole millionths", f.Spacing))
	}
	if f.Every < 1 || f.Hours < 0 || f.Hours > maxHours || f.Hours%max(f.Every, 1) != 0 {
		errs = append(errs, fmt.Errorf("%d hours every %d: want 0 to %d, a multiple of at least 1", f.Hours, f.Every, maxHours))
	}
	if f.First < 0 || f.First > f.Last || f.Last >= maxMembers {
		errs = append(errs, fmt.Errorf("members %d to %d: want 0 to %d, the first first", f.First, f.Last, maxMembers-1))
	}
	if err := errors.Join(errs...); err != nil {
		return err
	}
	g := f.Grid()
	if g.NX > maxPoints/g.NY {
		return fmt.Errorf("%d × %d points: want at most %d; take a smaller box or a wider spacing", g.NX, g.NY, maxPoints)
	}
	values := int64(g.NX*g.NY) * int64(f.Steps()) * int64(f.Last-f.First+1) * int64(len(plan()))
	if values > maxValues {
		return fmt.Errorf("%d values in all: want at most %d; take a smaller box, fewer steps or fewer members", values, int64(maxValues))
	}
	return nil
}

// Steps is how many steps there are.
func (f Forecast) Steps() int { return f.Hours/max(f.Every, 1) + 1 }

// Step is the k-th step, from 0, after Start.
func (f Forecast) Step(k int) time.Duration { return time.Duration(k*f.Every) * time.Hour }

// Grid is the grid that is written: the nodes, at whole multiples of Spacing,
// around the box, at least two each way.
func (f Forecast) Grid() geo.Grid {
	rows, columns := int(math.Round(180/f.Spacing)), int(math.Round(360/f.Spacing))
	const slack = 1e-9 // of a cell: an edge on a node is one
	south := max(int(math.Floor((f.Box.South+90)/f.Spacing+slack)), 0)
	north := min(int(math.Ceil((f.Box.North+90)/f.Spacing-slack)), rows)
	if north == south {
		south, north = max(south-1, 0), min(north+1, rows)
	}
	g := geo.Grid{NY: north - south + 1, DLat: f.Spacing, DLon: f.Spacing, Lat0: -90 + float64(south)*f.Spacing}
	width := f.Box.East - f.Box.West
	if width < 0 {
		width += 360
	}
	west := math.Floor(f.Box.West/f.Spacing + slack)
	east := math.Ceil((f.Box.West+width)/f.Spacing - slack)
	g.NX = min(max(int(east-west)+1, 2), columns)
	g.Lon0 = west * f.Spacing
	if g.NX == columns {
		g.Lon0 = -180
	}
	return g
}

// note is what each message says of itself.
const note = "INVENTED WEATHER, written by thistledown winds invent. No observation and no model: not to be flown on. Seed %d."

// WriteStep writes the k-th step of all members, one GRIB2 message for each
// field: wind, temperature and height on isobaric levels, the surface fields of
// Surface, and the terrain. The forecast must have passed its Check. The
// originating centre is given as missing, the generating process as local, and
// a note in plain text says in each message that the weather is invented.
func (f Forecast) WriteStep(out io.Writer, k int) error {
	if k < 0 || k >= f.Steps() {
		return fmt.Errorf("step %d: want 0 to %d", k, f.Steps()-1)
	}
	week := New(f.Seed, f.Start)
	s := sheet{grid: f.Grid(), fields: plan()}
	s.planes = make([][]float32, len(s.fields))
	for i := range s.planes {
		s.planes[i] = make([]float32, s.grid.NX*s.grid.NY)
	}
	var message []byte
	for m := f.First; m <= f.Last; m++ {
		s.fill(week.Member(m), f.Step(k).Seconds())
		for i, what := range s.fields {
			var err error
			if message, err = f.header(what, s.grid, k, m).Append(message[:0], s.planes[i]); err != nil {
				return err
			}
			if _, err := out.Write(message); err != nil {
				return err
			}
		}
	}
	return nil
}

// header is that of one field.
func (f Forecast) header(what field, g geo.Grid, k, member int) grib.Header {
	h := grib.Header{
		Centre: 65535, Status: 2, Process: 192, Note: fmt.Sprintf(note, f.Seed),
		Reference: f.Start.UTC(), Step: f.Step(k), Statistic: grib.Instant,
		Parameter: what.parameter, Precision: what.precision,
		Level: grib.Level{Surface: what.surface, Value: what.value, Surface2: grib.NoSurface},
		NX:    g.NX, NY: g.NY, South: g.Lat0, West: g.Lon0, DLat: g.DLat, DLon: g.DLon,
	}
	if f.Last > 0 {
		h.Ensemble.Size, h.Ensemble.Number, h.Ensemble.Kind = uint8(f.Last-f.First+1), uint8(member), 3
		if member == 0 {
			h.Ensemble.Kind = 1
		}
	}
	return h
}

// field is one field of a step, and how finely it is packed, in its own unit.
type field struct {
	parameter grib.Parameter
	surface   grib.Surface
	value     float64
	precision float64
}

// onLevel and atGround are the fields of a level, and those at the ground, in
// the order in which sheet fills them in.
var (
	onLevel = [...]field{
		{grib.GeopotentialHeight, grib.Isobaric, 0, 0.1},
		{grib.Temperature, grib.Isobaric, 0, 0.02},
		{grib.EastwardWind, grib.Isobaric, 0, 0.02},
		{grib.NorthwardWind, grib.Isobaric, 0, 0.02},
	}
	atGround = [...]field{
		{grib.GeopotentialHeight, grib.Ground, math.NaN(), 0.5},
		{grib.EastwardWind, grib.HeightAboveGround, 10, 0.02},
		{grib.NorthwardWind, grib.HeightAboveGround, 10, 0.02},
		{grib.Gust, grib.Ground, math.NaN(), 0.02},
		{grib.CloudCover, grib.Atmosphere, math.NaN(), 0.5},
		{grib.PrecipitationRate, grib.Ground, math.NaN(), 1e-7},
		{grib.Visibility, grib.Ground, math.NaN(), 10},
		{grib.CAPE, grib.Ground, math.NaN(), 1},
	}
)

// plan is the fields of a step in order.
func plan() []field {
	var all []field
	for _, p := range levels {
		for _, f := range onLevel {
			f.value = p
			all = append(all, f)
		}
	}
	return slices.Concat(all, atGround[:])
}

// sheet is the fields of one step of one member.
type sheet struct {
	grid   geo.Grid
	fields []field
	planes [][]float32
}

func (s sheet) fill(sky *Sky, t float64) {
	var on [len(levels)]level
	for i, p := range levels {
		on[i] = sky.week.level(p)
	}
	for k := range s.grid.NX * s.grid.NY {
		place := s.grid.Node(k)
		c := sky.Column(place, t)
		for i := range on {
			a := c.on(&on[i])
			for j, v := range [...]float64{float64(a.Height), a.Temperature, a.East, a.North} {
				s.planes[i*len(onLevel)+j][k] = float32(v)
			}
		}
		g := c.Surface()
		for j, v := range [...]float64{
			float64(g.Terrain.Geopotential(place.Lat)), g.East, g.North, g.Gust, g.Cloud, g.Precipitation, g.Visibility, g.CAPE,
		} {
			s.planes[len(on)*len(onLevel)+j][k] = float32(v)
		}
	}
}
