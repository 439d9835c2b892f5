package hazard

import (
	"fmt"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// Met is what one flight met.
type Met struct {
	Landed   bool
	Under    ground.Set // classes of ground under the landing
	Assessed ground.Set // classes that some layer says something of there
	Crossed  uint64     // bit i: it crossed the map's volume i
	// OffNominal says that it did not go as planned. Meet does not know; whoever
	// flew it does.
	OffNominal bool
}

// Meet finds what a flight met. A volume is crossed where a point of the path
// lies in it, or where the path goes through the height of its floor or its
// ceiling inside it. The path is taken as straight between its points and looked
// at every flight.Layer of height, so that a corner that is cut sideways in
// between can be missed. It panics if the map has more than ground.MaxVolumes
// volumes, which is a bug of the caller.
func Meet(m *ground.Map, f flight.Flight) Met {
	mustFit(len(m.Volumes))
	met := Met{Landed: f.End == flight.Landed}
	if met.Landed && len(f.Path) > 0 {
		met.Under, met.Assessed = m.At(f.Path[len(f.Path)-1].At)
	}
	for v, volume := range m.Volumes {
		if crosses(f.Path, volume) {
			met.Crossed |= 1 << v
		}
	}
	return met
}

func crosses(path []flight.Step, v *ground.Volume) bool {
	for i, s := range path {
		if v.Contains(s.At, float64(s.Height)) {
			return true
		}
		if i > 0 && goesThrough(path[i-1], s, v) {
			return true
		}
	}
	return false
}

// goesThrough reports whether a path meets a volume between two of its points.
func goesThrough(a, b flight.Step, v *ground.Volume) bool {
	low, high := min(float64(a.Height), float64(b.Height)), max(float64(a.Height), float64(b.Height))
	if high < v.Floor || low > v.Ceiling {
		return false
	}
	for _, height := range [...]float64{v.Floor, v.Ceiling} {
		if at, ok := passing(a, b, height); ok && v.Contains(at, height) {
			return true
		}
	}
	for height := max(low, v.Floor) + flight.Layer; height < min(high, v.Ceiling); height += flight.Layer {
		if at, ok := passing(a, b, height); ok && v.Contains(at, height) {
			return true
		}
	}
	return false
}

// passing is where a path goes through a height between two of its points;
// false where it does not.
func passing(a, b flight.Step, height float64) (geo.Point, bool) {
	from, to := float64(a.Height), float64(b.Height)
	if !(min(from, to) < height && height < max(from, to)) {
		return geo.Point{}, false
	}
	w := (height - from) / (to - from)
	return geo.Point{
		Lat: a.At.Lat + w*(b.At.Lat-a.At.Lat),
		Lon: geo.WrapLon(a.At.Lon + w*geo.WrapLon(b.At.Lon-a.At.Lon)),
	}, true
}

// mustFit sees to it that each volume has a bit of Met.Crossed.
func mustFit(volumes int) {
	if volumes > ground.MaxVolumes {
		panic(fmt.Sprintf("hazard: %d closed volumes: want at most %d", volumes, ground.MaxVolumes))
	}
}
