package rpc

import (
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

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

// Health hears of a forecast that grows too old at that moment, not with the next call;
// a newer one put down before then has a span of its own.
func TestAForecastGrowsTooOld(t *testing.T) {
	winds := []*wind.Field{realwind.Field(t)}
	synctest.Test(t, func(t *testing.T) {
		time.Sleep(time.Until(winds[0].Cycle()) + time.Hour) // the bubble's clock begins in the year 2000
		c := NewCatalogue(3*time.Hour, "now")
		var mutex sync.Mutex
		var told []bool
		c.onChange(func() {
			mutex.Lock()
			defer mutex.Unlock()
			told = append(told, c.fit(time.Now()))
		})
		heard := func() []bool {
			synctest.Wait()
			mutex.Lock()
			defer mutex.Unlock()
			return slices.Clone(told)
		}
		c.Put("now", Forecast{Winds: winds})
		time.Sleep(time.Hour)
		c.Put("now", Forecast{Winds: winds})
		assert.Equal(t, []bool{false, true, true}, heard())
		time.Sleep(time.Hour - time.Second)
		assert.Len(t, heard(), 3, "a second before three hours")
		time.Sleep(2 * time.Second)
		assert.Equal(t, []bool{false, true, true, false}, heard())
	})
}
