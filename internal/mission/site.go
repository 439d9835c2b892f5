package mission

import (
	"context"
	"math"

	"example.org/thistledown/internal/plan"
)

// Sited is a plan with the height of its site, where it gives none, from the
// heights that it names, as Fly takes it; unchanged where none of them knows it.
// Size needs no more of the ground. The error is plan.Faults, or the context's
// once it is done.
func Sited(ctx context.Context, p plan.Plan, find Finder) (plan.Plan, error) {
	if !math.IsNaN(p.Site.Elevation) || len(p.Heights) == 0 {
		return p, nil
	}
	g, r := &Ground{}, reader{ctx: ctx, find: find}
	r.heights(g, p, around(p.Site.At))
	if err := ctx.Err(); err != nil {
		return plan.Plan{}, err
	}
	if len(r.faults) > 0 {
		return plan.Plan{}, r.faults
	}
	for _, finer := range g.Heights {
		if metres, ok := finer.At(p.Site.At); ok {
			p.Site.Elevation = metres
			break
		}
	}
	return p, nil
}
