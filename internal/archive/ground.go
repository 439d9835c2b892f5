package archive

import (
	"fmt"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
)

// maxLayerFile bounds a GeoJSON file, octets.
const maxLayerFile = 64 << 20

// LayerFile is a file of one class of ground.
type LayerFile struct {
	Name   string
	Class  ground.Class
	File   string
	Covers []geo.Box // where its maker looked
}

// AirspaceFile is a file of closed volumes of air.
type AirspaceFile struct{ Name, File string }

// Ground reads layers and airspace and puts them behind the given layers, as
// which a caller passes those that are built in.
func Ground(builtIn []*ground.Layer, layers []LayerFile, airspace []AirspaceFile) (*ground.Map, error) {
	m := &ground.Map{Layers: append([]*ground.Layer(nil), builtIn...)}
	for _, l := range layers {
		content, err := ReadFile(l.File, maxLayerFile)
		if err != nil {
			return nil, err
		}
		layer, err := ground.ReadLayer(ground.LayerSource{Name: l.Name, Class: l.Class, Covers: l.Covers}, content)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", l.File, err)
		}
		m.Layers = append(m.Layers, layer)
	}
	for _, a := range airspace {
		content, err := ReadFile(a.File, maxLayerFile)
		if err != nil {
			return nil, err
		}
		volumes, err := ground.ReadVolumes(a.Name, content)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", a.File, err)
		}
		m.Volumes = append(m.Volumes, volumes...)
		if len(m.Volumes) > ground.MaxVolumes {
			return nil, fmt.Errorf("%s: %d closed volumes together with the files before it: want at most %d", a.File, len(m.Volumes), ground.MaxVolumes)
		}
	}
	return m, nil
}
