package ground

import (
	"errors"
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// slack is how much half a turn and a whole turn of longitude may be off it,
// degrees, far less than a step: 180 comes as 180.00000000000014 in some files.
const slack = 1e-9

// checkPolygon refuses what RFC 7946 does not allow in a polygon, and moves each
// hole by whole turns of longitude to where its outline is. It also tells the
// ring and the place in it, from 0, to which a fault belongs.
func checkPolygon(p orb.Polygon) (ring, position int, err error) {
	if len(p) == 0 {
		return 0, 0, errors.New("no rings: want at least the outline")
	}
	outline := p[0].Bound()
	for k, ring := range p {
		if err := checkRing(ring); err != nil {
			return k, 0, fmt.Errorf("ring %d: %w", k+1, err)
		}
		if k > 0 && !moveInto(ring, outline) {
			b := ring.Bound()
			return k, 0, fmt.Errorf("ring %d (a hole) from %g to %g east, %g to %g north: want it within the outline, %g to %g east, %g to %g north",
				k+1, b.Left(), b.Right(), b.Bottom(), b.Top(), outline.Left(), outline.Right(), outline.Bottom(), outline.Top())
		}
	}
	c, found, err := findCrossing(p)
	switch {
	case err != nil:
		return 0, 0, err
	case found && c.ring[0] == c.ring[1]:
		err = fmt.Errorf("ring %d crosses itself at longitude %.6f, latitude %.6f, between positions %d and %d and positions %d and %d: want a ring that does not",
			c.ring[0]+1, c.at.Lon(), c.at.Lat(), c.edge[0]+1, c.edge[0]+2, c.edge[1]+1, c.edge[1]+2)
	case found:
		err = fmt.Errorf("ring %d crosses ring %d at longitude %.6f, latitude %.6f, between positions %d and %d and positions %d and %d: want rings that do not",
			c.ring[0]+1, c.ring[1]+1, c.at.Lon(), c.at.Lat(), c.edge[0]+1, c.edge[0]+2, c.edge[1]+1, c.edge[1]+2)
	}
	return c.ring[0], c.edge[0], err
}

// moveInto moves a ring by whole turns of longitude into an extent; false if it
// does not fit there.
func moveInto(ring orb.Ring, outline orb.Bound) bool {
	b := ring.Bound()
	for _, east := range [...]float64{0, 360, -360, 720, -720} {
		if b.Left()+east < outline.Left() || b.Right()+east > outline.Right() {
			continue
		}
		for i := range ring {
			ring[i][0] += east
		}
		return b.Bottom() >= outline.Bottom() && b.Top() <= outline.Top()
	}
	return false
}

// checkRing refuses a ring that is open, too short, too wide, or that may be
// meant either way round the Earth.
func checkRing(ring orb.Ring) error {
	if len(ring) < 4 {
		return fmt.Errorf("%d positions: want at least 4, the last one the first again", len(ring))
	}
	if first, last := ring[0], ring[len(ring)-1]; first != last {
		return fmt.Errorf("ends at longitude %g, latitude %g: want the first position again, %g, %g",
			last.Lon(), last.Lat(), first.Lon(), first.Lat())
	}
	if err := checkEdges("ring", ring); err != nil {
		return err
	}
	different, second := 1, ring[0]
	for _, b := range ring {
		if different < 3 && b != ring[0] && b != second {
			different, second = different+1, b
		}
	}
	if different < 3 {
		return fmt.Errorf("%d different positions: want at least 3", different)
	}
	if b := ring.Bound(); b.Right()-b.Left() > 360+slack {
		return fmt.Errorf("from longitude %g to %g: want at most 360 degrees", b.Left(), b.Right())
	}
	return nil
}

// checkLine refuses a line that is too short, too wide, or that may be meant
// either way round the Earth.
func checkLine(line orb.LineString) error {
	if len(line) < 2 {
		return fmt.Errorf("%d positions: want at least 2", len(line))
	}
	if b := line.Bound(); b.Right()-b.Left() > 360+slack {
		return fmt.Errorf("from longitude %g to %g: want at most 360 degrees", b.Left(), b.Right())
	}
	return checkEdges("line", line)
}

// checkEdges refuses edges that may be meant either way round the Earth.
func checkEdges(what string, positions []orb.Point) error {
	for i := 1; i < len(positions); i++ {
		a, b := positions[i-1], positions[i]
		if wide := math.Abs(b.Lon() - a.Lon()); wide > 180+slack && math.Abs(wide-360) > slack {
			return fmt.Errorf("positions %d and %d: from longitude %g to %g: want at most 180 degrees (cut the %s at the date line, or let longitudes run on beyond 180)",
				i, i+1, a.Lon(), b.Lon(), what)
		}
	}
	return nil
}
