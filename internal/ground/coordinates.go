package ground

import (
	"fmt"
	"strconv"

	"github.com/paulmach/orb"
)

// coordinates reads the coordinates of a geometry. Its text is JSON without
// faults, since it was cut out of a text that was read as such; what remains to
// be told is whether the lists and numbers are nested as they should be.
type coordinates struct {
	text []byte
	at   int
	left *int // how many positions may still come
}

// skip passes white space and returns the next octet, 0 at the end.
func (c *coordinates) skip() byte {
	for ; c.at < len(c.text); c.at++ {
		switch b := c.text[c.at]; b {
		case ' ', '\t', '\r', '\n':
		default:
			return b
		}
	}
	return 0
}

// list reads a list, calling item for each element with its number from 1.
func (c *coordinates) list(what string, item func(n int) error) error {
	if c.skip() != '[' {
		return fmt.Errorf("%s: want a list of each %s's coordinates", c.token(), what)
	}
	c.at++
	if c.skip() == ']' {
		c.at++
		return nil
	}
	for n := 1; ; n++ {
		if err := item(n); err != nil {
			return fmt.Errorf("%s %d: %w", what, n, err)
		}
		b := c.skip()
		c.at++
		if b != ',' {
			return nil
		}
	}
}

// polygon reads and checks the rings of one polygon.
func (c *coordinates) polygon() (orb.Polygon, error) {
	var p orb.Polygon
	from := c.at
	err := c.list("ring", func(int) error {
		ring, err := c.positions()
		p = append(p, ring)
		return err
	})
	if err != nil {
		return p, err
	}
	if k, i, err := checkPolygon(p); err != nil {
		return p, &located{c.find(from, k, i), err}
	}
	return p, nil
}

// find is where position i of ring k begins, both from 0, of the rings whose
// list begins at from and was read without a fault.
func (c *coordinates) find(from, k, i int) int {
	at, left := from, maxPositions
	again := coordinates{text: c.text, at: from, left: &left}
	ring := 0
	// The list is known to be sound: there is no fault to tell.
	_ = again.list("ring", func(n int) error {
		ring = n - 1
		if ring == k {
			at = again.at
		}
		return again.list("position", func(n int) error {
			again.skip()
			if ring == k && n-1 == i {
				at = again.at
			}
			_, err := again.position()
			return err
		})
	})
	return at
}

// line reads and checks one line.
func (c *coordinates) line() (orb.LineString, error) {
	from := c.at
	line, err := c.positions()
	if err != nil {
		return nil, err
	}
	if err := checkLine(line); err != nil {
		return nil, &located{from, err}
	}
	return line, nil
}

// positions reads a list of positions.
func (c *coordinates) positions() ([]orb.Point, error) {
	var all []orb.Point
	err := c.list("position", func(int) error {
		at, err := c.position()
		all = append(all, at)
		return err
	})
	return all, err
}

// position reads [longitude, latitude] and passes over what may follow in it.
func (c *coordinates) position() (orb.Point, error) {
	c.skip()
	from := c.at
	p, err := c.read()
	if err != nil {
		err = &located{from, err}
	}
	return p, err
}

func (c *coordinates) read() (orb.Point, error) {
	*c.left--
	if *c.left < 0 {
		return orb.Point{}, fmt.Errorf("too many positions: want at most %d in all", maxPositions)
	}
	var p orb.Point
	count := 0
	if c.skip() != '[' {
		return p, fmt.Errorf("%s: want [longitude, latitude]", c.token())
	}
	err := c.list("number", func(n int) error {
		text := c.token()
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return fmt.Errorf("%s: want a number of degrees", text)
		}
		if n <= len(p) {
			p[n-1] = v
		}
		count = n
		return nil
	})
	switch {
	case err != nil:
		return p, err
	case count < len(p):
		return p, fmt.Errorf("%d numbers: want longitude and latitude", count)
	case !(p.Lat() >= -90 && p.Lat() <= 90):
		return p, fmt.Errorf("latitude %g: want -90 to 90 (longitude comes first, both in degrees: are they swapped?)", p.Lat())
	case !(p.Lon() >= -360 && p.Lon() <= 360):
		return p, fmt.Errorf("longitude %g: want -360 to 360, in degrees", p.Lon())
	}
	return p, nil
}

// token reads on to the next mark of a list and returns what stood before it,
// cut to a length that fits in a line.
func (c *coordinates) token() string {
	const most = 40
	c.skip()
	from := c.at
	for c.at < len(c.text) {
		switch c.text[c.at] {
		case ',', ']', ' ', '\t', '\r', '\n':
			return string(c.text[from:min(c.at, from+most)])
		}
		c.at++
	}
	if from == len(c.text) {
		return "nothing"
	}
	return string(c.text[from:min(c.at, from+most)])
}
