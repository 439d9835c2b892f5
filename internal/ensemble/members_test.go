package ensemble

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/flight"
	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/ground"
	"example.org/thistledown/internal/hazard"
)

// cloud is n points of a Gaussian cloud, its standard deviations along and across
// a direction, some of them shifted along it.
func cloud(random *rand.Rand, n, shifted int, along, across, by float64) [][2]float64 {
	sin, cos := math.Sincos(1.1)
	points := make([][2]float64, n)
	for i := range points {
		x, y := along*random.NormFloat64(), across*random.NormFloat64()
		if i < shifted {
			x += by
		}
		points[i] = [2]float64{1e4 + x*cos - y*sin, x*sin + y*cos}
	}
	return points
}

// One Gaussian cloud, round or drawn out, is called two groups in about one case
// of 20 or less: 5 % and 3.3 standard errors of 600 cases.
func TestOneCloudIsOneGroup(t *testing.T) {
	const cases = 600
	random := rand.New(rand.NewPCG(4, 1))
	for _, n := range []int{8, 15, 31} {
		for _, across := range []float64{1, 0.3} {
			found := 0
			for range cases {
				if _, ok := twoGroups(cloud(random, n, 0, 1, across, 0)); ok {
					found++
				}
			}
			t.Logf("%d members, across %g: %.1f %%", n, across, 100*float64(found)/cases)
			assert.Less(t, float64(found), 0.05*cases+3.3*math.Sqrt(0.05*0.95*cases), "%d members, across %g", n, across)
		}
	}
}

// Two clouds four standard deviations apart are found in nine of ten cases (less
// 3.3 standard errors of 500: 0.85), five apart and more all but always, and then the members of each are right but
// for those between.
func TestTwoCloudsAreTwoGroups(t *testing.T) {
	const cases = 500
	random := rand.New(rand.NewPCG(4, 2))
	for _, c := range []struct {
		apart float64
		least float64
	}{{4, 0.85}, {5, 0.97}, {6, 0.99}} {
		found, right := 0, 0.0
		for range cases {
			second, ok := twoGroups(cloud(random, 31, 15, 1, 1, c.apart))
			if !ok {
				continue
			}
			found++
			same := 0.0
			for i, s := range second {
				if s == (i < 15) {
					same++
				}
			}
			right += max(same, 31-same) / 31
		}
		t.Logf("%g apart: %.1f %% found, %.1f %% of members right", c.apart, 100*float64(found)/cases, 100*right/float64(found))
		assert.Greater(t, float64(found)/cases, c.least, "%g apart", c.apart)
		assert.Greater(t, right/float64(found), 0.95, "%g apart: members in their own group", c.apart)
	}
	_, ok := twoGroups(cloud(random, 7, 3, 1, 1, 100))
	assert.False(t, ok, "too few to tell")
	_, ok = twoGroups(make([][2]float64, 20))
	assert.False(t, ok, "all at one place")
}

// Twelve members of four flights: their own shares are by hand; the standard
// error of the mean of six zeros and six ones is √(12·0.25/11/12) = 0.150756.
func TestByMember(t *testing.T) {
	var outcomes []Outcome
	for i := range 48 {
		m := i % 12
		o := Outcome{Scene: m, End: flight.Landed, At: geo.Point{Lat: 50, Lon: 10 + 0.001*float64(m)}, Met: hazard.Met{Landed: true}}
		if m >= 7 {
			o.At.Lon++
		}
		if m%2 == 1 {
			o.Met.Under = ground.Set(0).With(ground.Water)
		}
		if m == 0 && i >= 24 {
			o.End = flight.OffGrid
		}
		outcomes = append(outcomes, o)
	}
	got := ByMember(outcomes, 13)
	require.Len(t, got.All, 13)
	assert.Equal(t, 4, got.All[0].Flights)
	assert.Equal(t, 2, got.All[0].Landed)
	assert.Zero(t, got.All[12].Flights, "a member without flights")
	for m, member := range got.All[:12] {
		assert.Equal(t, float64(m%2), member.On[0], "member %d: share in water", m)
		lon := 10 + 0.001*float64(m)
		if m >= 7 {
			lon++
		}
		assert.InDelta(t, 50, member.Mean.Lat, 1e-6)
		assert.InDelta(t, lon, member.Mean.Lon, 1e-6, "member %d", m)
	}
	assert.InDelta(t, 0.150756, got.Error[0], 1e-6)
	assert.Zero(t, got.Error[1])
	// Seven members at 10° E and five a degree on, √(35)/12 of a degree about
	// their mean; a degree of longitude at 50° N is 71,698 m (WGS 84, closed form).
	assert.InEpsilon(t, math.Sqrt(35)/12*71698, got.Spread, 0.01)
	assert.Equal(t, [][]int{{0, 1, 2, 3, 4, 5, 6}, {7, 8, 9, 10, 11}}, got.Groups)
	assert.Equal(t, 1, got.All[8].Group)
	assert.True(t, math.IsNaN(ByMember(outcomes[:1], 3).Error[0]), "one member has no scatter")
}

// Dressing draws 20 members in one place together by a, a² = (1 + 1/20 −
// 20^(−1/3))·20/19: the error of a share is that much larger than their scatter
// says, √(10·10/20/19/20) of ten zeros and ten ones. Four members are not
// drawn together, nor are two groups (TestByMember).
func TestMembersDrawnTogether(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 9))
	outcomes := func(members int) (out []Outcome) {
		for m := range members {
			o := Outcome{End: flight.Landed, Scene: m, At: geo.Point{Lat: 50 + 0.1*r.NormFloat64(), Lon: 10 + 0.1*r.NormFloat64()}}
			if m%2 == 1 {
				o.Met.Under = o.Met.Under.With(ground.Water)
			}
			out = append(out, o)
		}
		return out
	}
	got := ByMember(outcomes(20), 20)
	require.Nil(t, got.Groups)
	assert.InDelta(t, math.Sqrt(5.0/19/20)/0.8470362, got.Error[0], 1e-6)
	got = ByMember(outcomes(4), 4)
	assert.InDelta(t, math.Sqrt(1.0/3/4), got.Error[0], 1e-6)
}
