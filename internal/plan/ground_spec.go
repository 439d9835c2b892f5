package plan

import "example.org/thistledown/internal/quantity"

// plainDensity is so many people on an area.
var plainDensity = dimension{"a number on an area", "/km2", exactly(quantity.PerArea)}

// limitsOf is where limits stand in the schema.
const limitsOf = "thistledown.v1.Limits."

// Ground, and what is held against it.
var (
	bufferSpec        = spec{field: "thistledown.v1.Layer.buffer", kind: plainLength, example: "50 m", high: 10e3}
	inTheOpenSpec     = spec{field: "thistledown.v1.People.in_the_open", kind: plainDensity, example: "20 /km2", high: 0.1}
	builtUpPeopleSpec = spec{field: "thistledown.v1.People.built_up", kind: plainDensity, example: "20 /km2", high: 0.1}
	payloadWidthSpec  = spec{field: "thistledown.v1.People.payload_width", kind: plainLength, example: "0.5 m", low: 0.01, high: 10}

	waterLimitSpec     = spec{field: limitsOf + "water", kind: plainPercent, example: "2 %", high: 1}
	forestLimitSpec    = spec{field: limitsOf + "forest", kind: plainPercent, example: "2 %", high: 1}
	builtUpLimitSpec   = spec{field: limitsOf + "built_up", kind: plainPercent, example: "2 %", high: 1}
	closedLimitSpec    = spec{field: limitsOf + "closed", kind: plainPercent, example: "2 %", high: 1}
	airfieldLimitSpec  = spec{field: limitsOf + "airfield", kind: plainPercent, example: "2 %", high: 1}
	abroadLimitSpec    = spec{field: limitsOf + "abroad", kind: plainPercent, example: "2 %", high: 1}
	airspaceLimitSpec  = spec{field: limitsOf + "airspace", kind: plainPercent, example: "2 %", high: 1}
	notLandedLimitSpec = spec{field: limitsOf + "not_landed", kind: plainPercent, example: "2 %", high: 1}
	distanceLimitSpec  = spec{field: "thistledown.v1.Limits.distance", kind: plainLength, example: "120 km", high: 2000e3}
)

// Weather and light.
var (
	windLimitSpec       = spec{field: limitsOf + "wind", kind: plainSpeed, example: "6 m/s", high: 50}
	gustLimitSpec       = spec{field: limitsOf + "gust", kind: plainSpeed, example: "10 m/s", high: 80}
	cloudLimitSpec      = spec{field: limitsOf + "cloud", kind: plainPercent, example: "50 %", high: 1}
	visibilityLimitSpec = spec{field: limitsOf + "visibility", kind: plainLength, example: "8 km", high: 100e3}
	rainLimitSpec       = spec{field: limitsOf + "rain_in_an_hour", kind: plainLength, example: "0.1 mm", high: 0.2}
	sunsetLimitSpec     = spec{field: limitsOf + "down_before_sunset", kind: plainDuration, example: "2 h", high: 12 * hour}
	darkLimitSpec       = spec{field: limitsOf + "there_before_dark", kind: plainDuration, example: "30 min", high: 12 * hour}
	drivingSpec         = spec{field: limitsOf + "driving", kind: plainSpeed, example: "60 km/h", low: 10 / 3.6, high: 150 / 3.6}
	stepSpec            = spec{field: "thistledown.v1.Schedule.step", kind: plainDuration, example: "1 h", low: 300, high: 24 * hour}
)

// groundSpecs is all of them.
var groundSpecs = [...]spec{
	bufferSpec, inTheOpenSpec, builtUpPeopleSpec, payloadWidthSpec,
	waterLimitSpec, forestLimitSpec, builtUpLimitSpec, closedLimitSpec, airfieldLimitSpec, abroadLimitSpec,
	airspaceLimitSpec, notLandedLimitSpec, distanceLimitSpec,
	windLimitSpec, gustLimitSpec, cloudLimitSpec, visibilityLimitSpec, rainLimitSpec, sunsetLimitSpec, darkLimitSpec,
	drivingSpec, stepSpec,
}
