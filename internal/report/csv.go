package report

import (
	"encoding/csv"
	"io"
	"strconv"

	"example.org/thistledown/internal/flight"
)

// columns head the table of landings; units stand in the names.
var columns = []string{
	"flight", "member", "course", "end", "latitude_deg", "longitude_deg", "height_m",
	"time_utc", "aloft_s", "burst_m", "speed_m_s",
}

// WriteCSV writes a line for each flight, in the order in which they were drawn, as
// RFC 4180 has it: a header, commas, lines that end in CR LF. Flights and members are
// numbered from 1. What is said of a flight that did not land is said of its last
// point inside the forecast; its height and speed are then empty. The burst is that of
// the flight as drawn, or where it hung. It holds no name that anybody chose.
func WriteCSV(w io.Writer, l Launch) error {
	table := csv.NewWriter(w)
	table.UseCRLF = true
	if err := table.Write(columns); err != nil {
		return err
	}
	for i, f := range l.Flown {
		height, speed := "", ""
		if f.End == flight.Landed {
			height, speed = decimal(f.Height, 1), decimal(f.Speed, 2)
		}
		err := table.Write([]string{
			strconv.Itoa(i + 1), strconv.Itoa(f.Member + 1), f.Course.String(), f.End.String(),
			decimal(f.At.Lat, 6), decimal(f.At.Lon, 6), height,
			fine(f.Time), decimal(f.Aloft, 1), decimal(f.Burst, 1), speed,
		})
		if err != nil {
			return err
		}
	}
	table.Flush()
	return table.Error()
}

// decimal is v with so many places behind the point and no exponent.
func decimal(v float64, places int) string { return strconv.FormatFloat(v, 'f', places, 64) }
