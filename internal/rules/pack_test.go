package rules_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/rules"
)

// Invented parts of a train.
func parts() []balloon.Part {
	return []balloon.Part{
		{Name: "camera", Mass: 0.8, Count: 1, Place: balloon.AtBottom},
		{Name: "tracker", Mass: 0.3, Count: 2, Place: balloon.AtBottom},
		{Name: "canopy", Mass: 0.25, Count: 1, Place: balloon.OnTrain},
		{Name: "reflector", Mass: 0.1, Count: 1, Place: balloon.OnTrain, Fate: balloon.LeavesAtBurst},
		{Name: "ring", Mass: 0.05, Count: 1, Place: balloon.AtNeck},
	}
}

func TestPack(t *testing.T) {
	const close = 1e-12
	packages, rest, err := rules.Pack(parts(), nil)
	require.NoError(t, err)
	require.Len(t, packages, 1)
	assert.Equal(t, rules.Unboxed, packages[0].Name)
	assert.InDelta(t, 1.4, packages[0].Mass, close, "camera and both trackers")
	assert.InDelta(t, 0.8, packages[0].Least, close, "the camera alone is one thing")
	assert.InDelta(t, 0.4, rest, close, "canopy, reflector, ring: of the launch, whatever leaves later")

	packages, rest, err = rules.Pack(parts(), []rules.Container{
		{Name: "box", Parts: []string{"camera", "reflector"}, Faces: rules.Box(0.1, 0.2, 0.3)},
	})
	require.NoError(t, err)
	require.Len(t, packages, 2)
	assert.Equal(t, "box", packages[0].Name)
	assert.InDelta(t, 0.9, packages[0].Mass, close)
	assert.Equal(t, packages[0].Mass, packages[0].Least, "what is in a container is in one package")
	assert.InDeltaSlice(t, []float64{0.02, 0.06, 0.03}, packages[0].Faces, close)
	assert.InDelta(t, 0.6, packages[1].Mass, close)
	assert.InDelta(t, 0.3, packages[1].Least, close, "one tracker")
	assert.InDelta(t, 0.3, rest, close)

	packages, _, err = rules.Pack(parts(), []rules.Container{{Name: "box", Parts: []string{"camera", "tracker"}}})
	require.NoError(t, err)
	require.Len(t, packages, 1)
	assert.InDelta(t, 1.4, packages[0].Mass, close)
	assert.Equal(t, packages[0].Mass, packages[0].Least)

	packages, rest, err = rules.Pack(nil, nil)
	require.NoError(t, err)
	assert.Empty(t, packages)
	assert.Zero(t, rest)
}

// Whatever the containers, the payload is all that was weighed.
func TestPackKeepsTheMass(t *testing.T) {
	for _, containers := range [][]rules.Container{
		nil,
		{{Name: "a", Parts: []string{"camera"}}},
		{{Name: "a", Parts: []string{"ring", "canopy"}}, {Name: "b", Parts: []string{"tracker"}}},
	} {
		packages, rest, err := rules.Pack(parts(), containers)
		require.NoError(t, err)
		f := rules.Unstated()
		f.Packages, f.Rest = packages, rest
		assert.InDelta(t, balloon.Budget{Parts: parts()}.Load().Mass, f.Payload(), 1e-12)
		require.NoError(t, f.Check())
	}
}

func TestPackRefuses(t *testing.T) {
	tests := []struct {
		containers []rules.Container
		want       string
	}{
		{[]rules.Container{{Name: "a", Parts: []string{"sonde"}}}, `package 1 "a": part "sonde": want the name of a part of the train`},
		{
			[]rules.Container{{Name: "a", Parts: []string{"camera"}}, {Name: "b", Parts: []string{"camera"}}},
			`package 2 "b": part "camera": want a part that is not in package "a" already`,
		},
		{[]rules.Container{{Name: "a"}}, `package 1 "a": mass 0 kg: want above 0`},
		{[]rules.Container{{Name: "a", Parts: []string{"camera"}, Faces: []float64{-1}}}, `package 1 "a": face 1 of -1 m²`},
		{make([]rules.Container, 201), "parts 5, containers 201: want at most 200 and 200"},
	}
	for _, test := range tests {
		_, _, err := rules.Pack(parts(), test.containers)
		require.ErrorContains(t, err, test.want)
	}
	_, _, err := rules.Pack(make([]balloon.Part, 201), nil)
	require.ErrorContains(t, err, "parts 201")
}
