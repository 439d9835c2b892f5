package rpc

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/plan"
	"example.org/thistledown/internal/realwind"
	"example.org/thistledown/internal/wind"
)

// A call asks for its forecast more than once, and finds the same each time.
func TestACallSeesOneCatalogue(t *testing.T) {
	c := NewCatalogue(0, "now")
	s := &service{planner: Planner{Forecasts: c}}
	winds := []*wind.Field{realwind.Field(t)}
	c.Put("now", Forecast{Winds: winds, Warnings: []string{"old"}})
	call := c.seeing(t.Context())
	for range 2 {
		f, err := s.forecast(call, plan.Plan{})
		require.NoError(t, err)
		assert.Equal(t, []string{"old"}, f.Warnings)
		c.Put("now", Forecast{Winds: winds, Warnings: []string{"new"}})
	}
	f, err := s.forecast(c.seeing(t.Context()), plan.Plan{})
	require.NoError(t, err)
	assert.Equal(t, []string{"new"}, f.Warnings)
}
