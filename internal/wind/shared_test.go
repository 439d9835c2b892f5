package wind_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/atmos"
	"example.org/thistledown/internal/grib"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// seen is a sample and what came of it.
type seen struct {
	wind.Sample
	wind.Outcome
}

// air is a field at its nodes and steps, at some heights.
func air(f *wind.Field) []seen {
	var all []seen
	g := f.Grid()
	for k := range g.NX * g.NY {
		for _, at := range f.Times() {
			for z := atmos.Geometric(0); z < 32e3; z += 5e3 {
				s, out := f.At(g.Node(k), z, at)
				all = append(all, seen{s, out})
			}
		}
	}
	return all
}

// However the steps of the members are shared out, and in which order they are done,
// the fields are the same to the last bit.
func TestCubeSharedOut(t *testing.T) {
	b := &fields{box: realwind.Globe()}
	for step := range 3 {
		as(t, b, step, grib.Member{Kind: grib.ControlLow}, nil)
		as(t, b, step, member(7), nil)
	}
	c, _ := packed(t, b, realwind.Globe())
	part := wind.Part{Box: europe()}
	want, lacks, err := wind.FromCube(c, part, always)
	require.NoError(t, err)
	require.Len(t, want, 2)
	for _, length := range []int{1, 2, 4} {
		got, warnings, err := wind.FromCubeShared(c, part, always, func(n int, do func(from, to int) error) error {
			require.Equal(t, 6, n)
			var errs []error
			for from := (n - 1) / length * length; from >= 0; from -= length { // the last run first
				errs = append(errs, do(from, min(from+length, n)))
			}
			return errors.Join(errs...)
		})
		require.NoError(t, err)
		assert.Equal(t, lacks, warnings)
		require.Len(t, got, 2)
		for m, f := range got {
			assert.Equal(t, want[m].Member(), f.Member())
			assert.Equal(t, air(want[m]), air(f), "%v, runs of %d", f.Member(), length)
		}
	}
	broken := errors.New("broken")
	_, _, err = wind.FromCubeShared(c, part, always, func(int, func(int, int) error) error { return broken })
	require.ErrorIs(t, err, broken)
}
