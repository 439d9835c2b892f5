package fetch

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// headOctets is how much of the beginning of a file is fetched at once: the
// directories of a cloud-optimised GeoTIFF, with the places of its tiles.
const headOctets = 1 << 16

// maxSquares bounds the files that one pull looks for.
const maxSquares = 400

// groundSource is ground data in squares, as sources.yaml explains it.
type groundSource struct {
	Name    string   `yaml:"name"`
	Title   string   `yaml:"title"`
	Terms   string   `yaml:"terms"`
	Legend  string   `yaml:"legend"` // of package ground; "": heights
	Roots   []string `yaml:"roots"`
	Path    string   `yaml:"path"`
	Degrees int      `yaml:"degrees"` // side of a square
}

var groundHole = regexp.MustCompile(`^\{(NS|LAT2|EW|LON3)\}$`)

// check reports everything that is wrong with a source.
func (g groundSource) check() error {
	errs := []error{checkRoots(g.Name, g.Roots)}
	fault := func(format string, args ...any) {
		errs = append(errs, fmt.Errorf("source %q: "+format, append([]any{g.Name}, args...)...))
	}
	if !fitName.MatchString(g.Name) {
		fault("name: want small letters, digits and hyphens")
	}
	for _, h := range hole.FindAllString(g.Path, -1) {
		if !groundHole.MatchString(h) {
			fault("path %q: %s: want {NS}, {LAT2}, {EW} or {LON3}", g.Path, h)
		}
	}
	if !strings.Contains(g.Path, "{LAT2}") || !strings.Contains(g.Path, "{LON3}") {
		fault("path %q: want {NS}{LAT2} and {EW}{LON3} in it", g.Path)
	}
	if g.Degrees < 1 || g.Degrees > 30 {
		fault("degrees %d: want 1 to 30", g.Degrees)
	}
	if g.Legend != "" {
		if _, err := ground.NamedLegend(g.Legend); err != nil {
			fault("%v", err)
		}
	}
	return errors.Join(errs...)
}

// Ground are the names of the ground data that can be pulled.
func (s Sources) Ground() []string {
	var names []string
	for _, g := range s.ground {
		names = append(names, g.Name)
	}
	return names
}

func (s Sources) groundOf(name string) (groundSource, error) {
	for _, g := range s.ground {
		if g.Name == name {
			return g, nil
		}
	}
	return groundSource{}, fmt.Errorf("source %q: want one of %s", name, strings.Join(s.Ground(), ", "))
}

// GroundOrder is the part of ground data that is wanted.
type GroundOrder struct {
	Source string // name in the sources
	Root   string // address in place of the source's; "": those
	Folder string // where crops are kept; it is made
	Box    geo.Box
	Pixel  float64 // m: the coarsest pixels, in latitude, that will do
}

// Square is a crop that is there now.
type Square struct {
	File    string
	Octets  int64   // of the file
	Fetched int64   // octets that were fetched for it
	Already bool    // it was there, of the same version, and only the source's header was fetched
	Pixel   float64 // m, in latitude
}

// GroundProgress says how far a pull of ground data is.
type GroundProgress struct {
	Square, Of  int   // which square, from 1, of how many
	Done, Total int64 // octets of it; Total 0 before its header is read
}

// PulledGround is what came of a pull of ground data.
type PulledGround struct {
	Squares []Square
	Absent  int    // squares of which there is no file, as at sea
	Legend  string // of land cover, for the plan; "": heights
	Title   string
	Terms   string
}

// Ground brings the parts of ground data in and around a box into the folder,
// with one file for each square: the tiles that the box touches, of the coarsest
// overview that will do, unchanged. Each file says where its octets are from and
// when they were fetched, and is unpacked before it takes its place: what was
// there before stays until then, and for good on an error. What is there of the
// same version of the source, as its server tells it, is not fetched again. tell, if not nil, is
// told of progress.
func (c Client) Ground(ctx context.Context, s Sources, o GroundOrder, tell func(GroundProgress)) (PulledGround, error) {
	src, err := s.groundOf(o.Source)
	if err != nil {
		return PulledGround{}, err
	}
	if !(o.Pixel > 0 && o.Pixel < 1e5) {
		return PulledGround{}, fmt.Errorf("pixels of %g m: want more than 0, to 100,000", o.Pixel)
	}
	root := src.Roots[0]
	if o.Root != "" {
		root = o.Root
	}
	if err := errors.Join(o.Box.Check(), checkRoot(root), os.MkdirAll(o.Folder, 0o755)); err != nil { //nolint:gosec // for everybody to read
		return PulledGround{}, err
	}
	out := PulledGround{Legend: src.Legend, Title: src.Title, Terms: src.Terms}
	w := &web{c: c, pace: func(string) int { return 600 }}
	squares, err := src.squares(o.Box)
	if err != nil {
		return out, err
	}
	for i, q := range squares {
		came := func(done, total int64) {
			if tell != nil {
				tell(GroundProgress{i + 1, len(squares), done, total})
			}
		}
		q.address = strings.TrimRight(root, "/") + "/" + src.path(q.lat, q.lon)
		q.file = filepath.Join(o.Folder, src.Name+"-"+corner(q.lat, q.lon)+".tif")
		got, err := c.square(ctx, w, src, q, o.Pixel, came)
		switch {
		case errors.Is(err, errAbsent):
			out.Absent++
		case err != nil:
			return out, err
		case got.File != "":
			out.Squares = append(out.Squares, got)
		}
	}
	if len(out.Squares) == 0 {
		return out, fmt.Errorf("source %q: no file at %s for any of %d squares: want a box on land, or another address", src.Name, root, len(squares))
	}
	return out, nil
}

// squareOf is a square and the part of the box in it.
type squareOf struct {
	lat, lon      int // south-west corner, degrees
	box           geo.Box
	address, file string
}

// squares are those that a box touches.
func (g groundSource) squares(box geo.Box) ([]squareOf, error) {
	side, east := float64(g.Degrees), east(box)
	var all []squareOf
	for lat := math.Floor(box.South/side) * side; lat < box.North; lat += side {
		for lon := math.Floor(box.West/side) * side; lon < east; lon += side {
			turn := 0.0
			for lon+turn >= 180 {
				turn -= 360
			}
			for lon+turn < -180 {
				turn += 360
			}
			all = append(all, squareOf{lat: int(lat), lon: int(lon + turn), box: geo.Box{
				South: max(box.South, lat), North: min(box.North, lat+side),
				West: max(box.West, lon) + turn, East: min(east, lon+side) + turn,
			}})
			if len(all) > maxSquares {
				return nil, fmt.Errorf("a box over more than %d squares: want a smaller one", maxSquares)
			}
		}
	}
	return all, nil
}

// corner is such as N57E012.
func corner(lat, lon int) string {
	ns, ew := "N", "E"
	if lat < 0 {
		ns, lat = "S", -lat
	}
	if lon < 0 {
		ew, lon = "W", -lon
	}
	return fmt.Sprintf("%s%02d%s%03d", ns, lat, ew, lon)
}

func (g groundSource) path(lat, lon int) string {
	c := corner(lat, lon)
	return strings.NewReplacer("{NS}", c[:1], "{LAT2}", c[1:3], "{EW}", c[3:4], "{LON3}", c[4:]).Replace(g.Path)
}

// square brings one square. One that changes while it is fetched is begun anew,
// once.
func (c Client) square(ctx context.Context, w *web, src groundSource, q squareOf, pixel float64, came func(done, total int64)) (Square, error) {
	got, err := c.trySquare(ctx, w, src, q, pixel, came)
	if errors.Is(err, errChanged) {
		got, err = c.trySquare(ctx, w, src, q, pixel, came)
	}
	if err != nil && !strings.Contains(err.Error(), q.address) {
		err = fmt.Errorf("%s: %w", q.address, err)
	}
	return got, err
}

func (c Client) trySquare(ctx context.Context, w *web, src groundSource, q squareOf, pixel float64, came func(done, total int64)) (Square, error) {
	r := &remote{address: q.address}
	fetched, total := int64(0), int64(0)
	count := func(n int64) {
		fetched += n
		came(fetched, total)
	}
	t := &tiff{read: w.header(ctx, r, count)}
	all, err := t.directories()
	if err != nil {
		return Square{}, err
	}
	levels, err := t.levels(all)
	if err != nil {
		return Square{}, err
	}
	l := choose(levels, pixel)
	k, ok, err := newCut(t, all[0], l, q.box)
	if err != nil || !ok {
		return Square{}, err
	}
	what := fmt.Sprintf("%s: %s, pixels of %.0f m, %s", src.Title, q.address, l.dLat*metresPerDegree, src.Terms)
	got := Square{File: q.file, Pixel: l.dLat * metresPerDegree}
	about := map[uint16]string{tagDescription: what, tagSoftware: "thistledown: tiles of the source, unchanged; version " + r.tag}
	if r.tag != "" && there(q, about, l) {
		info, err := os.Stat(q.file)
		if err != nil {
			return Square{}, err
		}
		got.Octets, got.Fetched, got.Already = info.Size(), fetched, true
		return got, nil
	}
	total = fetched + k.octets()
	tiles, err := k.fetch(ctx, w, r, count)
	if err != nil {
		return Square{}, err
	}
	about[tagDateTime] = c.Now().UTC().Format("2006:01:02 15:04:05")
	got.Fetched = fetched
	got.Octets, err = c.place(src, q, func(to io.Writer) error { return k.write(to, tiles, about) })
	return got, err
}

// there reports whether a square's file is one that a pull has cut of the same version
// of the source, at pixels of a level's size, and reaches over the box.
func there(q squareOf, about map[uint16]string, l level) bool {
	file, err := os.Open(q.file)
	if err != nil {
		return false
	}
	defer func() { _ = file.Close() }() // nothing was written to it
	t := &tiff{read: func(at int64, n int) ([]byte, error) {
		b := make([]byte, n)
		_, err := file.ReadAt(b, at)
		return b, err
	}}
	all, err := t.directories()
	if err != nil {
		return false
	}
	levels, err := t.levels(all)
	if err != nil {
		return false
	}
	for tag, text := range about {
		if strings.TrimRight(string(all[0][tag].b), "\x00") != text {
			return false
		}
	}
	k := levels[0]
	off := 1e-6 * k.dLat // of a pixel, for rounding
	// What the source itself has not beyond its edge the crop need not have either.
	within := func(low, high, from, to, first, last float64) bool {
		return low <= max(from, first)+off && high >= min(to, last)-off
	}
	return math.Abs(k.dLat-l.dLat) < off && math.Abs(k.dLon-l.dLon) < off &&
		within(k.west, k.west+float64(k.width)*k.dLon, q.box.West, q.box.East, l.west, l.west+float64(l.width)*l.dLon) &&
		within(k.north-float64(k.height)*k.dLat, k.north, q.box.South, q.box.North, l.north-float64(l.height)*l.dLat, l.north)
}

// header reads octets of a file by way of its first headOctets.
func (w *web) header(ctx context.Context, r *remote, count func(int64)) func(at int64, n int) ([]byte, error) {
	var head []byte
	return func(at int64, n int) ([]byte, error) {
		if at < 0 || n < 0 {
			return nil, fmt.Errorf("%d octets at octet %d: want them in the file", n, at)
		}
		if head == nil {
			first, err := w.slice(ctx, r, 0, 16) // which also tells how long the file is
			if err != nil {
				return nil, err
			}
			rest, err := w.slice(ctx, r, 16, int(min(r.size, headOctets))-16)
			if err != nil {
				return nil, err
			}
			head = slices.Concat(first, rest)
			count(int64(len(head)))
		}
		if at+int64(n) <= int64(len(head)) {
			return head[at : at+int64(n)], nil
		}
		if at+int64(n) > r.size {
			return nil, fmt.Errorf("%d octets at octet %d: beyond the file's end, octet %d", n, at, r.size)
		}
		count(int64(n))
		return w.slice(ctx, r, at, n)
	}
}

// place writes a crop beside its place, unpacks it to see that it can be, and
// puts it there.
func (c Client) place(src groundSource, q squareOf, write func(io.Writer) error) (size int64, err error) {
	file, err := os.CreateTemp(filepath.Dir(q.file), "."+filepath.Base(q.file)+".*")
	if err != nil {
		return 0, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(file.Name()))
		}
	}()
	out := bufio.NewWriterSize(putter{c, file}, 1<<20)
	err = errors.Join(write(out), out.Flush(), file.Chmod(0o644), file.Sync(), file.Close())
	if err != nil {
		return 0, err
	}
	err = archive.Look(file.Name(), 2*maxCut, func(r io.ReaderAt, n int64) error {
		size = n
		if src.Legend == "" {
			_, err := ground.ReadTerrain(filepath.Base(q.file), r, n, q.box)
			return err
		}
		legend, err := ground.NamedLegend(src.Legend)
		if err != nil {
			return err
		}
		_, err = ground.ReadCover(ground.CoverSource{Name: src.Name, Legend: legend}, r, n, q.box)
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("the crop cannot be used: %w", err)
	}
	return size, os.Rename(file.Name(), q.file)
}

// putter writes by way of a client.
type putter struct {
	c  Client
	to *os.File
}

func (p putter) Write(b []byte) (int, error) {
	if err := p.c.put(p.to, b); err != nil {
		return 0, err
	}
	return len(b), nil
}
