package geo

import (
	"embed"
	"encoding/csv"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

//go:embed testdata/*.csv
var fixtures embed.FS

// fixtureLine is a row of testdata/lines.csv.
type fixtureLine struct {
	kind               string
	a, b               Point
	azi1, azi2, metres float64
}

func fixtureLines(t *testing.T) []fixtureLine {
	t.Helper()
	var lines []fixtureLine
	for _, row := range records(t, "testdata/lines.csv") {
		v := floats(t, row[1:])
		require.Len(t, v, 7)
		lines = append(lines, fixtureLine{row[0], Point{v[0], v[1]}, Point{v[2], v[3]}, v[4], v[5], v[6]})
	}
	require.Len(t, lines, 400)
	return lines
}

// fixtureRing is a row of testdata/rings.csv.
type fixtureRing struct {
	planimeter, quadrature float64 // m²
	ring                   []Point
}

func fixtureRings(t *testing.T) []fixtureRing {
	t.Helper()
	var rings []fixtureRing
	for _, row := range records(t, "testdata/rings.csv") {
		v := floats(t, row)
		r := fixtureRing{planimeter: v[0], quadrature: v[1]}
		for i := 2; i+1 < len(v); i += 2 {
			r.ring = append(r.ring, Point{v[i], v[i+1]})
		}
		rings = append(rings, r)
	}
	require.Len(t, rings, 60)
	return rings
}

// records reads a fixture without its heading.
func records(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := fixtures.Open(name)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	require.NoError(t, err)
	return rows[1:]
}

func floats(t *testing.T, fields []string) []float64 {
	t.Helper()
	v := make([]float64, len(fields))
	for i, s := range fields {
		x, err := strconv.ParseFloat(s, 64)
		require.NoError(t, err)
		v[i] = x
	}
	return v
}
