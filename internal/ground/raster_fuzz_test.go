package ground

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/thistledown/internal/geo"
)

// Whatever the octets, ReadCover and ReadTerrain end with one line of fault, or
// with a cover that has counted each pixel and answers with what its legend has,
// and with a terrain that has a height for each node.
func FuzzReadRaster(f *testing.F) {
	names, err := filepath.Glob(filepath.Join(rasters, "*.tif"))
	if err != nil || len(names) < 30 {
		f.Fatal(names, err)
	}
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		if len(b) < 4000 {
			f.Add(b, 49.9, 8.2)
		}
	}
	f.Add(parabola(5, 1), 49.6, 15.0)
	f.Add([]byte("PK\x03\x04"), 1.0, 2.0)
	l := Legend{}
	for code := range uint16(300) {
		l[code] = []Set{open, wet, trees}[code%3]
	}
	f.Fuzz(func(t *testing.T, b []byte, lat, lon float64) {
		box := geo.Box{South: lat, North: lat + 1, West: lon, East: lon + 1}
		p := geo.Point{Lat: lat + 0.5, Lon: lon + 0.5}
		c, err := ReadCover(CoverSource{Name: "x", Legend: l}, bytes.NewReader(b), int64(len(b)), box)
		if err != nil && (!strings.HasPrefix(err.Error(), `land cover "x": `) || strings.Contains(err.Error(), "\n")) {
			t.Fatalf("ReadCover: fault %q", err)
		}
		if err == nil {
			under, assessed := c.At(p)
			if under&^assessed != 0 || assessed&^(wet|trees) != 0 {
				t.Fatalf("At(%v) = %b, %b", p, under, assessed)
			}
			n := c.Count()
			if sum := n.Assessed + n.NoData + n.Unknown; sum != len(c.is) || sum != c.pane.pixels() {
				t.Fatalf("Count() = %+v, want %d pixels", n, c.pane.pixels())
			}
		}
		h, err := ReadTerrain("N10E010.hgt", bytes.NewReader(b), int64(len(b)), box)
		if err != nil {
			if !strings.HasPrefix(err.Error(), `terrain "N10E010.hgt": `) || strings.Contains(err.Error(), "\n") {
				t.Fatalf("ReadTerrain: fault %q", err)
			}
			return
		}
		if n := len(h.Height); n != h.Grid.NX*h.Grid.NY || n != 0 && h.Grid.Check() != nil {
			t.Fatalf("ReadTerrain: %d heights on %+v", n, h.Grid)
		}
		if z, ok := h.At(p); ok && math.IsNaN(z) {
			t.Fatalf("At(%v) is no number", p)
		}
		if slope, ok := h.Slope(p); ok && !(slope >= 0 && slope <= 90) {
			t.Fatalf("Slope(%v) = %g", p, slope)
		}
	})
}
