package ground

import (
	"fmt"
	"time"
)

// maxHours bounds LayerSource.Active.
const maxHours = 64

// day is the length of a day on a clock, also on the two days of a year that
// are an hour shorter or longer.
const day = 24 * time.Hour

// Hours is when something is active: every day, or on some days of the week,
// from a time of day to another one, as the clock shows it in a zone.
type Hours struct {
	// Days are the days on which it begins, by time.Weekday; none: every day.
	Days [7]bool
	// From and To are times of day since midnight, 0 to 24 h, not the same: From
	// belongs to it and To does not. Where To is before From it ends on the next
	// day.
	From, To time.Duration
	// Zone is where the clock is; nil is UTC.
	Zone *time.Location
}

// check reports the first fault of h.
func (h Hours) check() error {
	for _, d := range [...]time.Duration{h.From, h.To} {
		if d < 0 || d > day {
			return fmt.Errorf("hours from %v to %v: want times of day, 0 to 24 h", h.From, h.To)
		}
	}
	if h.From == h.To || h.From == day && h.To == 0 {
		return fmt.Errorf("hours from %v to %v: want two different times (0 to 24 h for the whole day)", h.From, h.To)
	}
	return nil
}

// Contains reports whether it is active at a time. In the hour that a clock
// shows twice it is, or is not, both times.
func (h Hours) Contains(when time.Time) bool {
	zone := h.Zone
	if zone == nil {
		zone = time.UTC
	}
	when = when.In(zone)
	clock := time.Duration(when.Hour())*time.Hour + time.Duration(when.Minute())*time.Minute +
		time.Duration(when.Second())*time.Second + time.Duration(when.Nanosecond())
	today := int(when.Weekday())
	if h.From < h.To {
		return h.on(today) && h.From <= clock && clock < h.To
	}
	return h.on(today) && h.From <= clock || h.on((today+6)%7) && clock < h.To
}

// on reports whether it begins on a day of the week.
func (h Hours) on(weekday int) bool { return h.Days == [7]bool{} || h.Days[weekday] }
