package mission

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/ensemble"
	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/wind"
)

// Ground is what is known of the ground, and of the air over it, where a plan's
// flights may come down.
type Ground struct {
	Map      *ground.Map
	Heights  []ground.Terrain // finer than the forecast's, the finest first
	Ways     []*ground.Ways   // roads and tracks
	Warnings []string         // in whole sentences
}

// maxLayers bounds the text files of one plan, octets, all together; maxRaster one
// raster file.
const (
	maxLayers = 64 << 20
	maxRaster = 8 << 30
)

// ReadGround reads the files of ground and airspace that a plan names, and puts
// them behind what is built in. Of rasters it reads what lies around the landings
// that the winds make likely, those of its other launch times among them. The error is plan.Faults, all of them at once and
// without any path, or the context's once it is done.
func ReadGround(ctx context.Context, p plan.Plan, built *Built, winds []*wind.Field, find Finder, others ...plan.Plan) (*Ground, error) {
	g := &Ground{Map: &ground.Map{Layers: built.world.Layers()}}
	if abroad, err := built.outside(p.Site.At); err != nil {
		g.Warnings = append(g.Warnings, "The site lies in no country that the built-in borders know: landings across a border are not told.")
	} else {
		g.Map.Layers = append(g.Map.Layers, abroad)
	}
	r := reader{ctx: ctx, find: find, left: maxLayers}
	r.layers(g, p)
	r.airspace(g, p)
	for i, w := range p.Ways {
		r.read(fmt.Sprintf("ground.ways[%d].file", i), w.File, func(content []byte) error {
			ways, err := ground.ReadWays(w.Name, content)
			g.Ways = append(g.Ways, ways)
			return err
		})
	}
	if len(p.Cover)+len(p.Heights) > 0 {
		box, err := LandingBox(ctx, p, winds)
		if err != nil {
			return nil, err
		}
		for _, other := range others {
			one, err := LandingBox(ctx, other, winds)
			if err != nil {
				return nil, err
			}
			box = union(box, one)
		}
		r.rasters(g, p, box)
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	if len(r.faults) > 0 {
		return nil, r.faults
	}
	return g, nil
}

// reader reads one file of a plan after the other.
type reader struct {
	ctx    context.Context //nolint:containedctx // that of the one call that it lives in
	find   Finder
	left   int64 // octets that may still be read
	faults plan.Faults
}

// layers reads the layers.
func (r *reader) layers(g *Ground, p plan.Plan) {
	for i, l := range p.Layers {
		field := fmt.Sprintf("ground.layers[%d].file", i)
		if len(g.Map.Layers) >= ground.MaxLayers {
			r.faults = append(r.faults, plan.Fault{Field: field, Value: "one layer too many", Want: fmt.Sprintf("at most %d with those built in", ground.MaxLayers)})
			return
		}
		r.read(field, l.File, func(content []byte) error {
			layer, err := ground.ReadLayer(l.LayerSource, content)
			if err != nil {
				return err
			}
			g.Map.Layers = append(g.Map.Layers, layer)
			g.Warnings = append(g.Warnings, swapped(layer, p.Site.At)...)
			return nil
		})
	}
}

// swapped warns of a layer that lies nowhere near the site, but would if its
// latitudes and longitudes were the other way round.
func swapped(l *ground.Layer, site geo.Point) []string {
	const near = 10.0 // degrees
	b, ok := l.Extent()
	if !ok {
		return nil
	}
	around := geo.Box{South: b.South - near, North: b.North + near, West: b.West - near, East: b.East + near}
	if around.Check() == nil && around.Contains(site) || !around.Contains(geo.Point{Lat: site.Lon, Lon: site.Lat}) {
		return nil
	}
	return []string{fmt.Sprintf("Layer %q lies far from the site, at latitude %.4g to %.4g: are its latitudes and longitudes swapped?", l.Source().Name, b.South, b.North)}
}

// airspace reads the volumes of air.
func (r *reader) airspace(g *Ground, p plan.Plan) {
	for i, a := range p.Airspace {
		r.read(fmt.Sprintf("ground.airspace[%d].file", i), a.File, func(content []byte) error {
			volumes, err := ground.ReadAirspace(a.Name, content)
			if err != nil {
				return err
			}
			g.Warnings = append(g.Warnings, absent(a, volumes)...)
			for _, v := range volumes {
				if len(a.Kinds) > 0 && !slices.Contains(a.Kinds, v.Kind) {
					continue
				}
				if !math.IsNaN(a.Severity) {
					v.Severity = a.Severity
				}
				if len(a.Active) > 0 {
					v.Hours = a.Active
				}
				g.Map.Volumes = append(g.Map.Volumes, v)
			}
			if len(g.Map.Volumes) > ground.MaxVolumes {
				return fmt.Errorf("%d closed volumes together with the files before it: want at most %d", len(g.Map.Volumes), ground.MaxVolumes)
			}
			return nil
		})
	}
}

// absent warns of kinds of airspace that a plan wants looked at and its file has
// none of: misspelt, they would be taken for looked at and empty.
func absent(a plan.Airspace, volumes []*ground.Volume) []string {
	const listed = 12
	var has []string
	for _, v := range volumes {
		if !slices.Contains(has, v.Kind) {
			has = append(has, v.Kind)
		}
	}
	var sentences []string
	for _, kind := range a.Kinds {
		if !slices.Contains(has, kind) {
			slices.Sort(has)
			more := ""
			if len(has) > listed {
				has, more = has[:listed], " and others"
			}
			sentences = append(sentences, fmt.Sprintf("Airspace %q has nothing of kind %q: it has %s%s.", a.Name, kind, strings.Join(has, ", "), more))
		}
	}
	return sentences
}

// rasters reads land cover and heights around a box.
func (r *reader) rasters(g *Ground, p plan.Plan, box geo.Box) {
	for i, c := range p.Cover {
		r.raster(fmt.Sprintf("ground.land_cover[%d].file", i), c.File, box, func(file io.ReaderAt, size int64, box geo.Box) error {
			cover, err := ground.ReadCover(c.CoverSource, file, size, box)
			if err != nil {
				return err
			}
			g.Map.Covers = append(g.Map.Covers, cover)
			if n := cover.Count(); n.Unknown > 0 {
				g.Warnings = append(g.Warnings, fmt.Sprintf("Land cover %q has %d pixels of codes that its legend does not know, such as %v: they count as not assessed.", c.Name, n.Unknown, n.Codes[0]))
			} else if n.Assessed == 0 {
				g.Warnings = append(g.Warnings, fmt.Sprintf("Land cover %q has nothing where the flights may come down.", c.Name))
			}
			return nil
		})
	}
	r.heights(g, p, box)
}

// heights reads heights around a box, and around the site.
func (r *reader) heights(g *Ground, p plan.Plan, box geo.Box) {
	for i, name := range p.Heights {
		read := func(file io.ReaderAt, size int64, box geo.Box) error {
			heights, err := ground.ReadTerrain(filepath.Base(name), file, size, box)
			if err == nil && len(heights.Height) > 0 {
				g.Heights = append(g.Heights, heights)
			}
			return err
		}
		field, faults := fmt.Sprintf("ground.heights[%d].file", i), len(r.faults)
		r.raster(field, name, box, read)
		if len(r.faults) == faults && !box.Contains(p.Site.At) {
			r.raster(field, name, around(p.Site.At), read)
		}
	}
}

// around is the box of some hundreds of metres about the site, whose height is
// wanted wherever flights come down.
func around(site geo.Point) geo.Box {
	const half = 0.005 // degrees
	return geo.Box{
		South: max(site.Lat-half, -90), North: min(site.Lat+half, 90),
		West: geo.WrapLon(site.Lon - half), East: geo.WrapLon(site.Lon + half),
	}
}

// raster reads what a box needs of a file, and of a file too fine for that less
// and less, around the middle of the box.
func (r *reader) raster(field, name string, box geo.Box, use func(file io.ReaderAt, size int64, box geo.Box) error) {
	const smaller, tries = 0.7, 8
	path, err := r.find(name)
	if err != nil {
		r.faults = append(r.faults, plan.Fault{Field: field, Value: fmt.Sprintf("%q", name), Want: err.Error()})
		return
	}
	err = archive.Look(path, maxRaster, func(file io.ReaderAt, size int64) error {
		var err error
		for range tries {
			if err = r.ctx.Err(); err != nil {
				return err
			}
			if err = use(file, size, box); !errors.Is(err, ground.ErrTooFine) {
				return err
			}
			box = shrunk(box, smaller)
		}
		return err
	})
	if err != nil {
		r.faults = append(r.faults, plan.Fault{Field: field, Value: fmt.Sprintf("%q: %v", name, err)})
	}
}

// shrunk is a box by a factor smaller around its middle.
func shrunk(b geo.Box, factor float64) geo.Box {
	lat, lon := (b.North-b.South)*(1-factor)/2, (b.East-b.West)*(1-factor)/2
	return geo.Box{South: b.South + lat, North: b.North - lat, West: b.West + lon, East: b.East - lon}
}

// LandingBox is a box around most landings: of some flights flown over nothing all
// but the outermost hundredth on each side, and a tenth more. Where none lands it
// is what is around the site.
func LandingBox(ctx context.Context, p plan.Plan, winds []*wind.Field) (geo.Box, error) {
	const around = 0.5 // degrees
	site := p.Site.At
	box := geo.Box{South: max(site.Lat-around, -90), North: min(site.Lat+around, 90), West: site.Lon - around, East: site.Lon + around}
	p.Scrambles, p.PerScramble = 4, 128
	r, err := ready(World{Winds: winds, Ground: &Ground{}}, p)
	var elsewhere *NotCovered
	if errors.As(err, &elsewhere) {
		return box, nil // which is told when it is flown
	}
	if err != nil {
		return geo.Box{}, err
	}
	outcomes, err := ensemble.Run(ctx, r.scenes, &ground.Map{}, r.spec, nil)
	if err != nil {
		return geo.Box{}, err
	}
	var lats, lons []float64 // longitudes east of the site
	for _, o := range outcomes {
		if o.End == flight.Landed {
			lats, lons = append(lats, o.At.Lat), append(lons, geo.WrapLon(o.At.Lon-site.Lon))
		}
	}
	if len(lats) == 0 {
		return box, nil
	}
	slices.Sort(lats)
	slices.Sort(lons)
	cut := len(lats) / 100
	low, high := func(v []float64) float64 { return v[cut] }, func(v []float64) float64 { return v[len(v)-1-cut] }
	lat, lon := max(0.05, (high(lats)-low(lats))/10), max(0.1, (high(lons)-low(lons))/10)
	return geo.Box{
		South: max(low(lats)-lat, -90), North: min(high(lats)+lat, 90),
		West: site.Lon + low(lons) - lon, East: site.Lon + high(lons) + lon,
	}, nil
}

// read hands a file's content to use, and keeps what is wrong with it.
func (r *reader) read(field, file string, use func(content []byte) error) {
	if r.ctx.Err() != nil {
		return
	}
	path, err := r.find(file)
	if err != nil {
		r.faults = append(r.faults, plan.Fault{Field: field, Value: fmt.Sprintf("%q", file), Want: err.Error()})
		return
	}
	content, err := archive.ReadFile(path, r.left)
	if err == nil {
		r.left -= int64(len(content))
		err = use(content)
	}
	if err == nil {
		return
	}
	faults := []error{err}
	if many, ok := err.(interface{ Unwrap() []error }); ok { // one for each line of the file
		faults = many.Unwrap()
	}
	for _, err := range faults {
		r.faults = append(r.faults, plan.Fault{Field: field, Value: fmt.Sprintf("%q: %v", file, err)})
	}
}
