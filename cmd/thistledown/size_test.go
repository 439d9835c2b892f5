package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
	"google.golang.org/protobuf/encoding/protojson"
)

// The site's height comes from the plan's heights where it gives none, without
// any forecast; and where nothing says it, that is said.
func TestSizeTakesTheSiteFromHeights(t *testing.T) {
	tile := filepath.Join(t.TempDir(), "N58E012.hgt")
	require.NoError(t, os.WriteFile(tile, bytes.Repeat([]byte{1200 >> 8, 1200 & 0xff}, 1201*1201), 0o600))
	_, out, _ := thistledown("size", demoPlan, "--set", "site.elevation=")
	assert.Contains(t, strings.Join(strings.Fields(out), " "), "it is taken to be at sea level")
	code, out, errs := thistledown("size", demoPlan, "--set", "site.elevation=", "--set", "ground.heights=[{file: "+tile+"}]")
	require.Equal(t, done, code, errs)
	assert.NotContains(t, out, "sea")
	assert.Contains(t, out, "measured at 7 °C", "15 °C less 6.5 K for each of 1.2 km, the standard atmosphere")
}

// An envelope that is looked for is told of in words and in the message.
func TestSizeFindsAnEnvelope(t *testing.T) {
	sets := []string{"--set", "train.envelope=", "--set", "train.find_envelope={bursts_near: 27 km}", "--set", "train.gas={helium: 99 %, ascent_rate: 5 m/s}"}
	code, out, errs := thistledown(append([]string{"size", demoPlan}, sets...)...)
	require.Equal(t, done, code, errs)
	assert.Regexp(t, `Envelope of \d+ g is the smallest of all from 100 g to 3000 g that carries 1760 g to 27 000 m at 5\.0 m/s, and needs \d`, strings.Join(strings.Fields(out), " "))
	assert.Contains(t, out, "Bursts      at 27 000 m")
	code, out, errs = thistledown(append([]string{"size", demoPlan, "--json"}, sets...)...)
	require.Equal(t, done, code, errs)
	var answer thistledownv1.SizeTrainResponse
	require.NoError(t, protojson.Unmarshal([]byte(out), &answer))
	assert.True(t, answer.GetTrain().GetEnvelopeFound())
	assert.Greater(t, answer.GetTrain().GetEnvelopeMassKg(), 0.6, "the demo plan's bursts lower")
	assert.Positive(t, answer.GetTrain().GetEnvelopeBurstsAtM())

	code, out, errs = thistledown(append(append([]string{"size", demoPlan, "--units", "us"}, sets...), "--set", "train.find_envelope.bursts_near=40 km")...)
	assert.Equal(t, badInput, code)
	assert.Empty(t, out)
	assert.Regexp(t, `no envelope from 3.5 oz to 6.61 lb carries 3.88 lb to 131 200 ft at 980 ft/min: the nearest is one of \d`, errs)
}
