package rpc_test

import (
	"bytes"
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	thistledownv1 "example.org/thistledown/proto/thistledown/v1"
)

// described is the OpenAPI description as JSON schemas, in which an object has no
// other fields than those that it names: a schema lets all others pass, and a field that
// is missing from the description would not be seen.
type described struct {
	paths    map[string]any
	compiler *jsonschema.Compiler
}

// describe reads the description that a gateway serves.
func describe(t *testing.T, url string) described {
	t.Helper()
	answer, text := send(t, http.MethodGet, url+"/v1/openapi.json", "")
	require.Equal(t, http.StatusOK, answer.StatusCode)
	assert.Equal(t, "application/json", answer.Header.Get("Content-Type"))
	assert.Equal(t, thistledownv1.OpenAPI(), string(text))
	document := parsed(t, text)
	close := func(v any) {
		object, ok := v.(map[string]any)
		if _, named := object["properties"]; ok && named && object["additionalProperties"] == nil {
			object["additionalProperties"] = false
		}
	}
	walk(document, close)
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft4) // which OpenAPI 2.0 takes its schemas from
	c.AssertFormat()
	require.NoError(t, c.AddResource("api.json", document))
	paths, _ := document["paths"].(map[string]any)
	return described{paths: paths, compiler: c}
}

func parsed(t *testing.T, text []byte) map[string]any {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err, "%.300s", text)
	object, ok := v.(map[string]any)
	require.True(t, ok)
	return object
}

// walk calls see with every object in a JSON value.
func walk(v any, see func(v any)) {
	see(v)
	switch v := v.(type) {
	case map[string]any:
		for _, one := range v {
			walk(one, see)
		}
	case []any:
		for _, one := range v {
			walk(one, see)
		}
	}
}

// fits reports in what a text is not as the description has a method's answer.
func (d described) fits(t *testing.T, method, path, answer string, text []byte) error {
	t.Helper()
	where := "api.json#/paths/" + strings.ReplaceAll(path, "/", "~1") + "/" + method + "/responses/" + answer + "/schema"
	schema, err := d.compiler.Compile(where)
	require.NoError(t, err)
	return schema.Validate(parsed(t, text))
}

// What is described is what is answered, for every path that there is.
func TestAnswersAreAsDescribed(t *testing.T) {
	url := web(t)
	d := describe(t, url)
	few := weekly()
	fly := request()
	fly.Explain = true
	asked := map[string]string{
		"/v1/fly":       asJSON(t, fly),
		"/v1/size":      asJSON(t, &thistledownv1.SizeTrainRequest{Plan: weighed()}),
		"/v1/week":      asJSON(t, &thistledownv1.RankWindowsRequest{Plan: few}),
		"/v1/notice":    asJSON(t, &thistledownv1.WriteNoticeRequest{Plan: ruled(), Stage: "before"}),
		"/v1/vary":      asJSON(t, &thistledownv1.VaryPlanRequest{Plan: varied()}),
		"/v1/report":    asJSON(t, &thistledownv1.WriteReportRequest{Plan: few, Formats: everyFormat()}),
		"/v1/narrow":    asJSON(t, &thistledownv1.NarrowRequest{Plan: request().GetPlan(), Track: drifting(t, 4)}),
		"/v1/search":    asJSON(t, &thistledownv1.SearchRequest{Plan: request().GetPlan(), Track: drifting(t, 4)}),
		"/v1/forecasts": "",
	}
	assert.ElementsMatch(t, slices.Collect(maps.Keys(d.paths)), slices.Collect(maps.Keys(asked)), "every path is asked")
	for path, body := range asked {
		method := "post"
		if body == "" {
			method = "get"
		}
		answer, text := send(t, strings.ToUpper(method), url+path, body)
		require.Equal(t, http.StatusOK, answer.StatusCode, "%s: %.300s", path, text)
		lines := [][]byte{text}
		if path == "/v1/week" {
			lines = bytes.Split(bytes.TrimSpace(text), []byte("\n"))
			assert.Len(t, lines, 14)
		}
		for _, line := range lines {
			assert.NoError(t, d.fits(t, method, path, "200", line), path)
		}
		if method == "get" {
			continue
		}
		answer, text = post(t, url+path, `{"plan":{}}`)
		require.Equal(t, http.StatusBadRequest, answer.StatusCode, path)
		if path == "/v1/week" { // of a stream an error is a line as well
			assert.NoError(t, d.fits(t, method, path, "200", text), path)
			continue
		}
		assert.NoError(t, d.fits(t, method, path, "default", text), path)
	}
}

// What is not as described is seen.
func TestDescriptionRefuses(t *testing.T) {
	d := describe(t, web(t))
	for _, wrong := range []string{
		`{"landing":{"radius95_m":"12"}}`, `{"landing":{"radius_95_m":12}}`, `{"launch":{"time":"noon"}}`, `{"endings":{}}`, `{"endings":[{"end":"END_OF_ALL"}]}`,
	} {
		assert.Error(t, d.fits(t, "post", "/v1/fly", "200", []byte(wrong)), wrong)
	}
	assert.NoError(t, d.fits(t, "post", "/v1/fly", "200", []byte(`{"landing":{"radius95_m":12}}`)))
}

// Every path and every field of ours says what it is.
func TestEverythingIsDescribed(t *testing.T) {
	document := parsed(t, []byte(thistledownv1.OpenAPI()))
	definitions, _ := document["definitions"].(map[string]any)
	seen := 0
	for name, one := range definitions {
		if !strings.HasPrefix(name, "v1") {
			continue
		}
		definition, _ := one.(map[string]any)
		fields, _ := definition["properties"].(map[string]any)
		for field, what := range fields {
			said, _ := what.(map[string]any)
			assert.True(t, said["description"] != nil || said["title"] != nil, "%s.%s", name, field)
			seen++
		}
	}
	assert.Greater(t, seen, 300)
}
