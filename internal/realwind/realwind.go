// Package realwind gives tests real winds to work on: the forecast of the US
// National Centers for Environmental Prediction (GFS) of 22 March 2017, 00 UTC,
// 2.5° grid, for 00, 06 and 12 UTC, public domain, which lies inside the module
// github.com/nilsmagnus/grib that the project builds with anyway.
//
// Only tests import it.
package realwind

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/wind"
)

// Folder is where the module keeps its GRIB2 files. It asks the go command,
// which takes a while: once for each test is enough.
func Folder(t testing.TB) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/nilsmagnus/grib").CombinedOutput()
	if err != nil {
		t.Fatalf("go list -m github.com/nilsmagnus/grib: %v: %s", err, out)
	}
	return filepath.Join(strings.TrimSpace(string(out)), "griblib", "integrationtestdata")
}

// Files are the forecast's three files.
func Files(t testing.TB) []string {
	t.Helper()
	folder := Folder(t)
	var files []string
	for _, step := range []int{0, 6, 12} {
		files = append(files, filepath.Join(folder, fmt.Sprintf("gfs.t00z.pgrb2.2p50.f%03d", step)))
	}
	return files
}

// Globe is the whole Earth.
func Globe() geo.Box { return geo.Box{South: -90, North: 90, West: -180, East: 180} }

// Field is the forecast, over the whole Earth.
func Field(t testing.TB) *wind.Field {
	t.Helper()
	source, err := archive.Open(t.Context(), Files(t), archive.Choice{})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := source.Close(); err != nil {
			t.Fatal(err)
		}
	}()
	fields, warnings, err := source.Fields(t.Context(), wind.Part{Box: Globe()})
	if err != nil {
		t.Fatal(err)
	}
	if len(warnings) > 0 || len(fields) != 1 {
		t.Fatalf("the 2017 files hold %d members and are warned of with %q, want one and nothing to warn of", len(fields), warnings)
	}
	return fields[0]
}
