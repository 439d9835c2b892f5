package plan_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/plan"
	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// varyQuantities are those of what could be otherwise.
var varyQuantities = [...]bounded{
	{
		"thistledown.v1.FillRange.from", "vary.fill.from",
		[]string{"1 L to 20,000 m³"},
		[]string{"1 L", "2.99 m3", "90 ft3"},
		[]string{"0.999 L", "20000.1 m3", "0 m3"},
		nil, nil,
		nil, // the highest that could be told is never less than the other end
	},
	{
		"thistledown.v1.FillRange.to", "vary.fill.to",
		[]string{"1 L to 20,000 m³", "more than the least"},
		[]string{"20000 m3", "2.21 m3"},
		[]string{"0.999 L", "20000.1 m3"},
		nil, nil,
		nil,
	},
	{
		"thistledown.v1.BurstRange.from", "vary.bursts_near.from",
		[]string{"1 km to 45 km"},
		[]string{"1 km", "89000 ft"},
		[]string{"999 m", "45.001 km"},
		nil, nil,
		nil,
	},
	{
		"thistledown.v1.BurstRange.to", "vary.bursts_near.to",
		[]string{"1 km to 45 km", "higher than the lowest"},
		[]string{"24.001 km", "45 km"},
		[]string{"999 m", "45.001 km"},
		nil, nil,
		nil,
	},
	{
		"thistledown.v1.OtherCanopy.mass", "vary.canopies[0].mass",
		[]string{"0.1 g to 50 kg", "Default spread 1 %"},
		[]string{"0.1 g", "50 kg", "1 lb 7 oz"},
		[]string{"0.0999 g", "50.001 kg", "0 g"},
		[]string{"640 g ± 50 %"},
		[]string{"640 g ± 50.1 %"},
		[]string{"g", "kg", "lb", "oz"},
	},
}

func TestReadVary(t *testing.T) {
	v := read(t, weighed).Vary
	assert.InDeltaSlice(t, []float64{2.2, 2.4, 2.6, 2.8, 3}, v.Volumes, 1e-12)
	assert.InDeltaSlice(t, []float64{24000, 25716, 27432}, v.Bursts, 1e-9) // 90,000 × 0.3048 m is 27,432 m
	require.Len(t, v.Envelopes, 1)
	e := v.Envelopes[0]
	assert.InDelta(t, 0.024, e.MassSpread, 1e-12) // 3 % of 800 g
	assert.InDelta(t, 0.35, e.BurstSpread, 1e-12)
	e.MassSpread, e.BurstSpread = 0, 0
	assert.Equal(t, balloon.Envelope{Mass: 0.8, Burst: 7, Fullest: 4, Remains: 0.3, RemainsSpread: 0.2}, e)
	require.Len(t, v.Canopies, 1)
	c := v.Canopies[0]
	assert.Equal(t, "cross", c.Shape.Name)
	assert.InDelta(t, 4*0.3048, c.Size, 1e-12)
	assert.InDelta(t, 0.7, c.Cd, 0)
	assert.Equal(t, "neck plug", c.InsteadOf)
	assert.InDelta(t, 0.2, c.Mass.Centre, 1e-12)
	assert.InDelta(t, 0.002, c.Mass.Spread, 1e-12)
	assert.Equal(t, []time.Duration{-time.Hour, 150 * time.Minute}, v.Delays)
	assert.Equal(t, []string{"egg in a cup"}, v.LeaveBehind)
	assert.True(t, v.Sites)

	assert.Equal(t, plan.Vary{}, read(t, bare).Vary)
	assert.Len(t, read(t, weighed, "vary.fill.steps=").Vary.Volumes, plan.DefaultRange)
	assert.Len(t, read(t, weighed, "vary.bursts_near.steps=").Vary.Bursts, plan.DefaultRange)
	alike := read(t, weighed, "vary.canopies=[{canopy: {shape: cross, size: 1 m}}]").Vary.Canopies[0]
	assert.Empty(t, alike.InsteadOf)
	assert.Zero(t, alike.Mass)
	assert.InDelta(t, plan.DefaultPartSpread*0.3, read(t, weighed, "vary.canopies[0].mass=300 g").Vary.Canopies[0].Mass.Spread, 1e-12)
}

// What hangs together in it, each in one fault.
func TestVaryFaults(t *testing.T) {
	for set, want := range map[string]plan.Fault{
		"vary.fill.to=2.2 m3":                  {Field: "vary.fill.to", Value: `"2.2 m3"`, Want: `more than from, "2.2 m3"`},
		"vary.fill.to=1 m3":                    {Field: "vary.fill.to", Value: `"1 m3"`, Want: `more than from, "2.2 m3"`},
		"vary.bursts_near.from=30 km":          {Field: "vary.bursts_near.to", Value: `"90000 ft"`, Want: `more than from, "30 km"`},
		"vary.canopies[0].mass=":               {Field: "vary.canopies[0].mass", Value: "missing", Want: "what it weighs, as instead_of says what stays at home"},
		"vary.canopies[0].instead_of=":         {Field: "vary.canopies[0].instead_of", Value: "missing", Want: "the part of the train that stays at home, as mass says what comes along"},
		"vary.leave_behind=[tracker, tracker]": {Field: "vary.leave_behind[1]", Value: `"tracker"`, Want: "another part than those before"},
		"vary.delays=[1 h, 60 min]":            {Field: "vary.delays[1]", Value: `"60 min"`, Want: "another delay than the plan's own, 0 min, and than those before"},
		"vary.delays=[0 h]":                    {Field: "vary.delays[0]", Value: `"0 h"`, Want: "another delay than the plan's own, 0 min, and than those before"},
		"vary.delays=[14.01 d]":                {Field: "vary.delays[0]", Value: `"14.01 d"`, Want: "-14 d to 14 d"},
		"vary.delays=[5]":                      {Field: "vary.delays[0]", Value: `"5"`, Want: `a duration with its unit, such as "+1 h"`},
		"vary.envelopes[0]={mass: 20 kg}": {
			Field: "vary.envelopes[0].bursts_at", Value: "missing",
			Want: "the burst diameter of the envelope's papers: none is remembered outside 100 g to 3 kg",
		},
	} {
		t.Run(set, func(t *testing.T) {
			found := faults(t, weighed, set)
			require.Len(t, found, 1)
			assert.Equal(t, want.Field, found[0].Field)
			assert.Equal(t, want.Value, found[0].Value)
			assert.Equal(t, want.Want, found[0].Want)
		})
	}
}

// inventedVary makes a valid list of what could be otherwise.
func inventedVary(c chooser, parts []*thistledownv1.Part) *thistledownv1.Vary {
	v := &thistledownv1.Vary{Sites: c.half()}
	if c.half() {
		v.Fill = &thistledownv1.FillRange{From: c.of("1 L", "2 m3"), To: c.of("2.01 m3", "90 ft3", "20000 m3"), Steps: c.count(63)}
		if v.Fill.Steps != nil {
			*v.Fill.Steps++
		}
	}
	if c.half() {
		v.BurstsNear = &thistledownv1.BurstRange{From: c.of("1 km", "80000 ft"), To: c.of("45 km", "30 km")}
	}
	for range c.IntN(3) {
		v.Envelopes = append(v.Envelopes, &thistledownv1.Envelope{Mass: c.of("600 g", "3 kg ± 1 %"), BurstsAt: c.or("6 m", "20 ft ± 1 ft")})
	}
	if len(parts) > 0 && c.half() {
		v.Canopies = []*thistledownv1.OtherCanopy{{
			Canopy: &thistledownv1.Canopy{Shape: "cross", Size: c.of("10 cm", "60 m")}, Mass: c.of("1 oz", "1 kg ± 50 %"), InsteadOf: parts[0].GetName(),
		}}
		v.LeaveBehind = []string{parts[c.IntN(len(parts))].GetName()}
	}
	if c.half() {
		v.Delays = []string{c.of("-14 d", "1 s"), "14 d"}
	}
	return v
}
