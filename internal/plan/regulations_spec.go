package plan

import (
	"example.org/thistledown/internal/balloon"
	"example.org/thistledown/internal/quantity"
	"example.org/thistledown/internal/rules"
)

// What rules ask about.
var (
	plainMass  = dimension{"a mass", "kg", exactly(quantity.Mass)}
	plainArea  = dimension{"an area", "cm2", exactly(quantity.Area)}
	plainForce = dimension{"a force", "N", exactly(quantity.Force)}
)

// mostFace is the greatest face of a package, m².
const mostFace = 10.0

// What rules ask about, and its ranges.
var (
	restSpec        = spec{field: "thistledown.v1.Rules.rest", kind: plainMass, example: "120 g", high: balloon.MaxLoad}
	separatesAtSpec = spec{field: "thistledown.v1.Rules.separates_at", kind: plainForce, example: "180 N", high: rules.MaxForce}
	packageMassSpec = spec{field: "thistledown.v1.Package.mass", kind: plainMass, example: "840 g", low: 1e-3, high: balloon.MaxLoad}
	faceSpec        = spec{field: "thistledown.v1.Package.smallest_face", kind: plainArea, example: "240 cm2", low: rules.MinFace, high: mostFace}
	suspensionSpec  = spec{field: "thistledown.v1.Equipment.suspension", kind: plainLength, example: "12 m", high: rules.MaxLength}
	trailingSpec    = spec{field: "thistledown.v1.Equipment.antenna", kind: plainLength, example: "0 m", high: rules.MaxLength}
	breaksAtSpec    = spec{field: "thistledown.v1.Equipment.antenna_breaks_at", kind: plainForce, example: "20 N", high: rules.MaxForce}
)

// ruleSpecs is all of them.
var ruleSpecs = [...]spec{restSpec, separatesAtSpec, packageMassSpec, faceSpec, suspensionSpec, trailingSpec, breaksAtSpec}
