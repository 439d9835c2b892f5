package wind_test

import (
	"encoding/csv"
	"io"
	"math"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// The whole field against an independent one: ecCodes for the octets and numpy
// for the interpolation, by scripts/flight/reference.py, on the same files. The
// bounds are what float32 storage of heights (0.002 m at 40 km), winds and
// temperatures leaves, through the steepest gradients there are.
func TestSamplesAgainstAnIndependentField(t *testing.T) {
	f := realwind.Field(t)
	rows := readNumbers(t, "testdata/samples.csv")
	require.GreaterOrEqual(t, len(rows), 2000)
	for _, r := range rows {
		p, z, at := geo.Point{Lat: r[0], Lon: r[1]}, atmos.Geometric(r[2]), r[3]
		got, out := f.At(p, z, at)
		require.Equal(t, wind.Inside, out, "At(%v, %g, %g)", p, z, at)
		assert.InDelta(t, r[4], got.East, 2e-4, "At(%v, %g, %g) east", p, z, at)
		assert.InDelta(t, r[5], got.North, 2e-4, "At(%v, %g, %g) north", p, z, at)
		assert.InDelta(t, r[6], got.Temperature, 2e-4, "At(%v, %g, %g) temperature", p, z, at)
		assert.InEpsilon(t, r[7], got.Pressure, 3e-6, "At(%v, %g, %g) pressure", p, z, at)
	}
}

// readNumbers reads a CSV file with comment lines and a header, its first
// column skipped where it holds names.
func readNumbers(t *testing.T, name string) [][]float64 {
	t.Helper()
	file, err := os.Open(name)
	require.NoError(t, err)
	defer func() { require.NoError(t, file.Close()) }()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	_, err = reader.Read()
	require.NoError(t, err)
	var rows [][]float64
	for {
		record, err := reader.Read()
		if err == io.EOF {
			return rows
		}
		require.NoError(t, err)
		row := make([]float64, len(record))
		for i, text := range record {
			row[i], err = strconv.ParseFloat(text, 64)
			require.NoError(t, err)
			require.False(t, math.IsNaN(row[i]))
		}
		rows = append(rows, row)
	}
}
