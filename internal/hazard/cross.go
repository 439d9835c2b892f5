package hazard

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// Met is what one flight met.
type Met struct {
	Landed   bool
	Under    ground.Set // classes of ground under the landing
	Assessed ground.Set // classes that some layer says something of there
	// Own are those of the classes under it that only layers with a severity of
	// their own say of; Layers are the map's layers that it came down on, Parcels
	// whose land it is: see ground.Found.
	Own     ground.Set
	Layers  ground.LayerSet
	Parcels []ground.Parcel
	Crossed Crossed // volumes of the map that were active
	// OffNominal says that it did not go as planned. Meet does not know; whoever
	// flew it does.
	OffNominal bool
}

// Sky is what the limits of airspace need to know of the day and of the ground.
// The zero value knows nothing, and starts in the year 1.
type Sky struct {
	Start   time.Time      // UTC: the times of a path are seconds since then
	Terrain ground.Terrain // what heights above ground count from
	// PressureAltitude is the pressure altitude (see atmos) at a place, a height
	// and a time in seconds since Start; false where it is not known, and nil
	// where it is not known anywhere.
	PressureAltitude func(p geo.Point, z atmos.Geometric, t float64) (atmos.Geopotential, bool)
}

// Meet finds what a flight met. What it comes down on is what is there at the time
// of its landing. A volume is crossed where the path, straight in
// longitude, latitude, height and time between its points, is over the volume's
// area and between its floor and ceiling while it is active; floor and ceiling
// belong to it. Against limits above mean sea level this is exact. The height
// above ground is taken every 100 m of the way, the pressure altitude every 250 m
// of height, and both as straight in between, the latter to 1.5 m. Where one of them is not known,
// the path is taken to be on the volume's side of that limit. A floor on the
// ground is below every path: a site may lie in a valley that the terrain has
// not. A path goes down where its height becomes less, and up everywhere else.
//
// It panics if the map has more than ground.MaxVolumes volumes, which is a bug of
// the caller.
func Meet(m *ground.Map, f flight.Flight, sky Sky) Met {
	mustFit(len(m.Volumes))
	met := Met{Landed: f.End == flight.Landed}
	if met.Landed && len(f.Path) > 0 {
		met.comeDown(m, f.Path[len(f.Path)-1], sky.Start)
	}
	if len(m.Volumes) > 0 && len(f.Path) > 0 {
		met.Crossed = crossed(m.Volumes, f.Path, &sky)
	}
	return met
}

// crossed is which volumes a path crosses, which has at least one point.
func crossed(volumes []*ground.Volume, path []flight.Step, sky *Sky) Crossed {
	var space [64]byte
	marks := space[:0]
	around := boxAround(path)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range path {
		low, high = min(low, float64(path[i].Height)), max(high, float64(path[i].Height))
	}
	for i, v := range volumes {
		if !v.Near(around) || v.Top() < low || v.Bottom() > high {
			continue
		}
		if way := ways(path, v, sky); way != 0 {
			marks = mark(marks, i, way)
		}
	}
	return Crossed{string(marks)}
}

// ways is on which ways a path crosses a volume.
func ways(path []flight.Step, v *ground.Volume, sky *Sky) Way {
	if len(path) == 1 {
		path = []flight.Step{path[0], path[0]}
	}
	w := crossing{volume: v, sky: sky}
	var all Way
	for i := 1; i < len(path); i++ {
		w.from, w.to = &path[i-1], &path[i]
		way := Up
		if w.to.Height < w.from.Height {
			way = Down
		}
		if all&way == 0 && w.crosses() {
			all |= way
		}
	}
	return all
}

// boxAround is the box around a path. It may reach beyond the date line.
func boxAround(path []flight.Step) geo.Box {
	first := path[0].At
	lon := geo.WrapLon(first.Lon)
	b := geo.Box{South: first.Lat, North: first.Lat, West: lon, East: lon}
	for i := 1; i < len(path); i++ {
		at := path[i].At
		lon += geo.WrapLon(at.Lon - lon)
		b.South, b.North = min(b.South, at.Lat), max(b.North, at.Lat)
		b.West, b.East = min(b.West, lon), max(b.East, lon)
	}
	return b
}

// crossing is one piece of a path against one volume.
type crossing struct {
	volume   *ground.Volume
	sky      *Sky
	from, to *flight.Step
}

// crosses reports whether the piece is in the volume while that is active. It
// cuts the piece at the edges of the area, so that each part of it is all inside
// or all outside.
func (c *crossing) crosses() bool {
	v := c.volume
	low, high := float64(min(c.from.Height, c.to.Height)), float64(max(c.from.Height, c.to.Height))
	if v.Top() < low || v.Bottom() > high {
		return false
	}
	west := geo.WrapLon(c.from.At.Lon)
	east := west + geo.WrapLon(c.to.At.Lon-west)
	if !v.Near(geo.Box{
		South: min(c.from.At.Lat, c.to.At.Lat), North: max(c.from.At.Lat, c.to.At.Lat), West: min(west, east), East: max(west, east),
	}) {
		return false
	}
	var space [32]float64
	cuts := v.Cuts(c.from.At, c.to.At, append(space[:0], 0, 1))
	slices.Sort(cuts)
	for i := 1; i < len(cuts); i++ {
		start, end := cuts[i-1], cuts[i]
		if start == end && len(cuts) > 2 {
			continue
		}
		if v.Over(c.at((start+end)/2)) && c.between(start, end) {
			return true
		}
	}
	return false
}

// at is the place of a fraction of the piece.
func (c *crossing) at(w float64) geo.Point {
	a, b := c.from.At, c.to.At
	return geo.Point{Lat: a.Lat + w*(b.Lat-a.Lat), Lon: geo.WrapLon(a.Lon + w*geo.WrapLon(b.Lon-a.Lon))}
}

// How finely a way is followed where its height above ground, or its pressure
// altitude, is wanted; and in how many parts at most.
const (
	groundStep   = 100.0 // m of the way over ground
	pressureStep = 250.0 // m of height; see TestPressureAltitudeIsStraight
	mostParts    = 256
)

// between reports whether some of a part of the piece, which is all over the
// area, is between floor and ceiling while the volume is active.
func (c *crossing) between(start, end float64) bool {
	parts := 1.0
	for _, l := range [...]ground.Limit{c.volume.Floor, c.volume.Ceiling} {
		switch l.Ref {
		case ground.AboveGround:
			if l.Metres == 0 {
				continue
			}
			parts = max(parts, (end-start)*c.length()/groundStep)
		case ground.FlightLevel:
			parts = max(parts, (end-start)*math.Abs(float64(c.to.Height-c.from.Height))/pressureStep)
		}
	}
	n := int(min(math.Ceil(parts), mostParts))
	floor, ceiling := c.margin(c.volume.Floor, start), -c.margin(c.volume.Ceiling, start)
	for i := 1; i <= n; i++ {
		a, b := start+(end-start)*float64(i-1)/float64(n), start+(end-start)*float64(i)/float64(n)
		nextFloor, nextCeiling := c.margin(c.volume.Floor, b), -c.margin(c.volume.Ceiling, b)
		low, high := positive(floor, nextFloor)
		l, h := positive(ceiling, nextCeiling)
		if low, high = max(low, l), min(high, h); low <= high && c.active(a+(b-a)*low, a+(b-a)*high) {
			return true
		}
		floor, ceiling = nextFloor, nextCeiling
	}
	return false
}

// length is that of the piece over ground, m, to 1 %.
func (c *crossing) length() float64 {
	const degree = 111.7e3 // m, the longest of latitude
	north := c.to.At.Lat - c.from.At.Lat
	east := geo.WrapLon(c.to.At.Lon-c.from.At.Lon) * math.Cos((c.from.At.Lat+c.to.At.Lat)/2*math.Pi/180)
	return degree * math.Hypot(north, east)
}

// margin is by how much a point of the piece is above a limit, m; NaN where that
// is not known.
func (c *crossing) margin(l ground.Limit, w float64) float64 {
	height := float64(c.from.Height) + w*float64(c.to.Height-c.from.Height)
	switch l.Ref {
	case ground.AboveSea:
		return height - l.Metres
	case ground.AboveGround:
		if l.Metres == 0 {
			return math.Inf(1)
		}
		if under, ok := c.sky.Terrain.At(c.at(w)); ok {
			return height - under - l.Metres
		}
		return math.NaN()
	case ground.FlightLevel:
		if c.sky.PressureAltitude != nil {
			if a, ok := c.sky.PressureAltitude(c.at(w), atmos.Geometric(height), c.time(w)); ok {
				return float64(a) - l.Metres
			}
		}
		return math.NaN()
	}
	return math.Inf(-1)
}

func (c *crossing) time(w float64) float64 { return c.from.Time + w*(c.to.Time-c.from.Time) }

// positive is from where to where, from 0 to 1, a value is at least 0 that goes
// straight from one to another: all the way where one is NaN, and from 1 to 0,
// so nowhere, where both are less.
func positive(from, to float64) (start, end float64) {
	switch {
	case from < 0 && to < 0:
		return 1, 0
	case from < 0 && to >= 0:
		return from / (from - to), 1
	case from >= 0 && to < 0:
		return 0, from / (from - to)
	}
	return 0, 1
}

// active reports whether the volume is active at any time of a part of the piece.
func (c *crossing) active(start, end float64) bool {
	if len(c.volume.Hours) == 0 {
		return true
	}
	when := func(w float64) time.Time { return c.sky.Start.Add(time.Duration(c.time(w) * float64(time.Second))) }
	return c.volume.Active(when(start), when(end))
}

// mustFit sees to it that each volume has a number in Crossed.
func mustFit(volumes int) {
	if volumes > ground.MaxVolumes {
		panic(fmt.Sprintf("hazard: %d closed volumes: want at most %d", volumes, ground.MaxVolumes))
	}
}
