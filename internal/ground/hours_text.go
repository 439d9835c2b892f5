package ground

import (
	"fmt"
	"strings"
	"time"
)

// ParseHours reads hours as "Mon-Fri 07:00-16:00": a day of the week, a range of
// them or none for every day, then from and to, 00:00 to 24:00. Days have three
// letters in English. The clock is UTC; set Zone for another.
func ParseHours(s string) (Hours, error) {
	bad := func() (Hours, error) {
		return Hours{}, fmt.Errorf("hours %.40q: want such as \"Mon-Fri 07:00-16:00\", \"Sat 22:00-02:00\" or \"00:00-24:00\"", s)
	}
	fields := strings.Fields(s)
	var h Hours
	switch len(fields) {
	case 1:
	case 2:
		first, last, isRange := strings.Cut(fields[0], "-")
		if !isRange {
			last = first
		}
		from, to := weekday(first), weekday(last)
		if from < 0 || to < 0 {
			return bad()
		}
		for d := from; ; d = (d + 1) % 7 {
			h.Days[d] = true
			if d == to {
				break
			}
		}
	default:
		return bad()
	}
	from, to, ok := strings.Cut(fields[len(fields)-1], "-")
	if !ok {
		return bad()
	}
	var okFrom, okTo bool
	h.From, okFrom = clock(from)
	h.To, okTo = clock(to)
	if !okFrom || !okTo {
		return bad()
	}
	return h, h.check()
}

// weekday is a day of the week by its first three letters, -1 if it is none.
func weekday(s string) int {
	for d := time.Sunday; d <= time.Saturday; d++ {
		if strings.EqualFold(s, d.String()[:3]) {
			return int(d)
		}
	}
	return -1
}

// clock is a time of day, 00:00 to 24:00, since midnight.
func clock(s string) (time.Duration, bool) {
	if s == "24:00" {
		return day, true
	}
	t, err := time.Parse("15:04", s)
	if err != nil || len(s) != len("15:04") {
		return 0, false
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, true
}
