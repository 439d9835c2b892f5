package plan

import (
	"google.golang.org/protobuf/reflect/protoreflect"

	"example.org/thistledown/internal/quantity"
)

// plainDensity is so many people on an area.
var plainDensity = dimension{"a number on an area", "/km2", exactly(quantity.PerArea)}

// Ground, and what is held against it.
var (
	bufferSpec        = spec{field: "thistledown.v1.Layer.buffer", kind: plainLength, example: "50 m", high: 10e3}
	inTheOpenSpec     = spec{field: "thistledown.v1.People.in_the_open", kind: plainDensity, example: "20 /km2", high: 0.1}
	builtUpPeopleSpec = spec{field: "thistledown.v1.People.built_up", kind: plainDensity, example: "20 /km2", high: 0.1}
	payloadWidthSpec  = spec{field: "thistledown.v1.People.payload_width", kind: plainLength, example: "0.5 m", low: 0.01, high: 10}

	waterLimitSpec     = shareLimit("water")
	forestLimitSpec    = shareLimit("forest")
	builtUpLimitSpec   = shareLimit("built_up")
	closedLimitSpec    = shareLimit("closed")
	airfieldLimitSpec  = shareLimit("airfield")
	abroadLimitSpec    = shareLimit("abroad")
	airspaceLimitSpec  = shareLimit("airspace")
	notLandedLimitSpec = shareLimit("not_landed")
	distanceLimitSpec  = spec{field: "thistledown.v1.Limits.distance", kind: plainLength, example: "120 km", high: 2000e3}
)

// shareLimit is the spec of a limit of a share.
func shareLimit(name string) spec {
	return spec{field: "thistledown.v1.Limits." + protoreflect.FullName(name), kind: plainPercent, example: "2 %", high: 1}
}

// groundSpecs is all of them.
var groundSpecs = [...]spec{
	bufferSpec, inTheOpenSpec, builtUpPeopleSpec, payloadWidthSpec,
	waterLimitSpec, forestLimitSpec, builtUpLimitSpec, closedLimitSpec, airfieldLimitSpec, abroadLimitSpec,
	airspaceLimitSpec, notLandedLimitSpec, distanceLimitSpec,
}
