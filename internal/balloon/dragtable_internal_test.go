package balloon

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A table gives the Reynolds number of the law itself, found by Newton's method, to
// TableError: for the laws that flights take and for drawn ones, scaled or not, from
// below the table's first Reynolds number to above its last.
func TestTabledDrag(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	laws := []Drag{SoundingDrag(), SphereDrag(), ConstantDrag(0.3), ConstantDrag(MinSphereDrag)}
	for _, d := range laws {
		require.NotNil(t, d.Tabled().table, "%+v", d)
	}
	for len(laws) < 100 {
		above := MinSphereDrag + 0.5*r.Float64()
		d := Drag{Below: above * (1 + 3*r.Float64()), Above: above, Critical: MinCritical + 9e5*r.Float64(), Power: 1 + r.IntN(MaxPower)}
		if d.Check() == nil {
			laws = append(laws, d)
		}
	}
	tables := 0
	for _, d := range laws {
		tabled := d.Tabled()
		if tabled.table != nil {
			tables++
		}
		for range 500 {
			factor := 0.3 + 1.4*r.Float64()
			exact, quick := d.Scaled(factor), tabled.Scaled(factor)
			re := math.Pow(10, 2+7*r.Float64())
			k := exact.Cd(re) * re * re
			assert.InEpsilon(t, exact.reynolds(k, 1e5), quick.reynolds(k, 1e5), TableError, "%+v scaled by %g at Re %g", d, factor, re)
		}
	}
	assert.Greater(t, tables, len(laws)/2)
}

// A law whose inverse turns too sharply for a table has none, and is as it was.
func TestTooSteepForATable(t *testing.T) {
	d := Drag{Below: 0.524, Above: 0.2, Critical: 3e5, Power: 8}
	require.NoError(t, d.Check())
	assert.Nil(t, d.Tabled().table)
	k := d.Cd(3e5) * 9e10
	assert.InEpsilon(t, 3e5, d.Tabled().Scaled(1.0).reynolds(k, 1e5), 1e-8)
}

func BenchmarkReynolds(b *testing.B) {
	for name, d := range map[string]Drag{"newton": SoundingDrag(), "table": SoundingDrag().Tabled()} {
		b.Run(name, func(b *testing.B) {
			k, guess := 1e10, 3e5
			for b.Loop() {
				k = k*1.3 - 2e9
				if k < 1e8 || k > 1e12 {
					k = 1e10
				}
				guess = d.reynolds(k, guess)
			}
		})
	}
}
