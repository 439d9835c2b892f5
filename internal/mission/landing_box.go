package mission

import (
	"context"

	"example.org/thistledown/internal/geo"
	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/wind"
)

// LandingBox is a box around most landings of a plan's flights: what ground data
// are worth having for. Some hundred flights are flown over nothing for it, and it
// has a tenth to spare; where none lands it is half a degree around the site.
func LandingBox(ctx context.Context, p plan.Plan, winds []*wind.Field) (geo.Box, error) {
	return likely(ctx, p, winds)
}
