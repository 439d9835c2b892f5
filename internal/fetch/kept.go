package fetch

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"time"

	"golang.org/x/sys/unix"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/cube"
	"example.org/thistledown/internal/geo"
)

// Cube is a forecast that is kept in a folder.
type Cube struct {
	File   string
	Source string // name of where it came from
	Size   int64  // octets
	Newest bool   // the name that stays leads to it
	InUse  bool   // a run is reading it
	Axes   cube.Axes
}

// cubeName is how a pull names cubes: source and cycle.
var cubeName = regexp.MustCompile(`^([a-z0-9-]+)-([0-9]{8}T[0-9]{4}Z)\.cube$`)

// Kept lists the forecasts that pulls have left in a folder, by source, the
// newest cycle first. What is not named as a pull names its cubes, or is none, is
// passed over.
func Kept(folder string) ([]Cube, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", folder, errors.Unwrap(err))
	}
	var all []Cube
	for _, e := range entries {
		m := cubeName.FindStringSubmatch(e.Name())
		if m == nil || !e.Type().IsRegular() {
			continue
		}
		k := Cube{File: filepath.Join(folder, e.Name()), Source: m[1]}
		err := archive.Look(k.File, cube.MaxSize, func(file io.ReaderAt, size int64) error {
			c, err := cube.Open(file, size)
			if err == nil {
				k.Size, k.Axes = size, c.Axes()
			}
			return err
		})
		if err != nil || stamp(k.Axes.Cycle) != m[2] {
			continue
		}
		to, err := os.Readlink(linkOf(folder, k.Source))
		k.Newest = err == nil && to == e.Name()
		k.InUse = inUse(k.File)
		all = append(all, k)
	}
	slices.SortStableFunc(all, func(a, b Cube) int {
		if a.Source != b.Source {
			return int(min(max(slices.Compare([]byte(a.Source), []byte(b.Source)), -1), 1))
		}
		return b.Axes.Cycle.Compare(a.Axes.Cycle)
	})
	return all, nil
}

// covers reports whether a cube holds a box, steps and so many members.
func (k Cube) covers(box geo.Box, steps []int, members int) bool {
	for _, h := range steps {
		if !slices.Contains(k.Axes.Steps, time.Duration(h)*time.Hour) {
			return false
		}
	}
	if len(k.Axes.Members) < members {
		return false
	}
	g := k.Axes.Grid
	slack := g.DLat / 1000
	if box.South < g.Lat0-slack && box.South > -90+g.DLat || box.North > g.Lat0+float64(g.NY-1)*g.DLat+slack && box.North < 90-g.DLat {
		return false
	}
	if g.Wraps() {
		return true
	}
	width := box.East - box.West
	if width < 0 {
		width += 360
	}
	from := box.West - g.Lon0
	for from < -slack {
		from += 360
	}
	for from >= 360-slack {
		from -= 360
	}
	return from+width <= float64(g.NX-1)*g.DLon+slack
}

// Evict removes the oldest cubes of a folder until those that stay take no more
// than the given octets, and returns what it removed. The newest of each source
// stays, and so does what a run is reading: so more may stay than was wanted.
func Evict(folder string, octets int64) ([]string, error) {
	kept, err := Kept(folder)
	if err != nil {
		return nil, err
	}
	total := int64(0)
	for _, k := range kept {
		total += k.Size
	}
	slices.SortStableFunc(kept, func(a, b Cube) int { return a.Axes.Cycle.Compare(b.Axes.Cycle) })
	var gone []string
	for _, k := range kept {
		if total <= octets {
			break
		}
		if k.Newest {
			continue
		}
		ok, err := removeUnused(k.File)
		if err != nil {
			return gone, err
		}
		if ok {
			total -= k.Size
			gone = append(gone, k.File)
		}
	}
	return gone, nil
}

// removeUnused removes a file unless a run is reading it. Runs hold a shared lock
// on what they read.
func removeUnused(name string) (removed bool, err error) {
	file, err := os.Open(name) //nolint:gosec // a name out of the folder's own list
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	if err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		return false, nil //nolint:nilerr // it is in use, or locks are not to be had here
	}
	return true, os.Remove(name)
}

// inUse reports whether a run holds a lock on a file.
func inUse(name string) bool {
	file, err := os.Open(name) //nolint:gosec // a name out of the folder's own list
	if err != nil {
		return false
	}
	defer func() { _ = file.Close() }() // it was only read
	return errors.Is(unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB), unix.EWOULDBLOCK)
}

// lock lets one pull of a source work in a folder at a time. A process that ends
// in whatever way leaves no lock behind.
func lock(folder, source string) (unlock func(), err error) {
	name := filepath.Join(folder, ".pull-"+source+".lock")
	file, err := os.OpenFile(name, os.O_CREATE|os.O_RDWR, 0o600) //nolint:gosec // the user names the folder
	if err != nil {
		return nil, err
	}
	if err := unix.Flock(int(file.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: another pull of %s is under way in this folder", folder, source), file.Close())
	}
	return func() { _ = file.Close() }, nil // nothing was written to it
}
