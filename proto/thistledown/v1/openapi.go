// Package thistledownv1 is the schema: its messages, its service and its JSON
// interface, made by make generate from the .proto files beside it.
package thistledownv1

import _ "embed" // the description of the JSON interface

//go:embed planner.swagger.json
var openAPI string

// OpenAPI is the description of the JSON interface, made from the schema by make
// generate: JSON, OpenAPI 2.0.
func OpenAPI() string { return openAPI }
