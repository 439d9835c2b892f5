package mission

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/plan"
)

// Finder turns the name of a file in a plan into a path. Its error says what
// was wanted instead.
type Finder func(file string) (string, error)

// Beside finds files as a plan on disk means them: a relative name starts at
// the plan's folder.
func Beside(folder string) Finder {
	return func(file string) (string, error) {
		if filepath.IsAbs(file) {
			return file, nil
		}
		return filepath.Join(folder, file), nil
	}
}

// Within finds files for plans that come from elsewhere: plain names in one
// folder, and nothing outside it. An empty folder holds no files.
func Within(folder string) Finder {
	return func(file string) (string, error) {
		if folder == "" {
			return "", errors.New("none: this service was started without layers")
		}
		if !filepath.IsLocal(file) || file != filepath.Base(file) || file[0] == '.' {
			return "", errors.New("the name of one of this service's files, without a folder")
		}
		path := filepath.Join(folder, file)
		if info, err := os.Stat(path); err != nil || !info.Mode().IsRegular() {
			return "", errors.New("the name of one of this service's files: it has none of this name")
		}
		return path, nil
	}
}

// Ground reads the layers and airspace that a plan names and puts them behind
// the built-in water. The error is plan.Faults where a name is not one that
// may be read.
func Ground(p plan.Plan, water *ground.Layer, find Finder) (*ground.Map, error) {
	var faults plan.Faults
	path := func(field, file string) string {
		found, err := find(file)
		if err != nil {
			faults = append(faults, plan.Fault{Field: field, Value: fmt.Sprintf("%q", file), Want: err.Error()})
		}
		return found
	}
	var layers []archive.LayerFile
	for i, l := range p.Layers {
		file := path(fmt.Sprintf("ground.layers[%d].file", i), l.File)
		layers = append(layers, archive.LayerFile{Name: l.Name, Class: l.Class, File: file, Covers: l.Covers})
	}
	var airspace []archive.AirspaceFile
	for i, a := range p.Airspace {
		file := path(fmt.Sprintf("ground.airspace[%d].file", i), a.File)
		airspace = append(airspace, archive.AirspaceFile{Name: a.Name, File: file})
	}
	if len(faults) > 0 {
		return nil, faults
	}
	return archive.Ground([]*ground.Layer{water}, layers, airspace)
}
