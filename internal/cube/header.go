package cube

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"math"
	"time"

	"example.org/thistledown/internal/geo"
)

// Version is the version of the layout that this package writes and reads.
const Version = 1

const (
	// Magic is how every cube begins; the line end shows up a transfer that took
	// the file for text.
	Magic = "tdcube\r\n"

	fixedSize = 80 // octets of the header before its lists
	crcSize   = 4
)

// castagnoli makes the table of CRC-32C; the library keeps it and hands out
// the same each time.
func castagnoli() *crc32.Table { return crc32.MakeTable(crc32.Castagnoli) }

// headerSize is the length of the header with its checksum, octets.
func (a Axes) headerSize() int {
	return fixedSize + 8*len(a.Levels) + 4*len(a.Steps) + 4*len(a.Members) + len(a.Surface) +
		len(a.Source) + len(a.Note) + crcSize
}

// header is a in octets, for axes that pass their Check.
func (a Axes) header() []byte {
	le := binary.LittleEndian
	b := make([]byte, 0, a.headerSize())
	b = append(b, Magic...)
	b = le.AppendUint16(b, Version)
	b = le.AppendUint16(b, a.Centre)
	b = le.AppendUint32(b, uint32(a.headerSize()))
	b = le.AppendUint64(b, uint64(a.Cycle.Unix()))
	b = le.AppendUint32(b, uint32(a.Grid.NX))
	b = le.AppendUint32(b, uint32(a.Grid.NY))
	for _, v := range [...]float64{a.Grid.Lat0, a.Grid.Lon0, a.Grid.DLat, a.Grid.DLon} {
		b = le.AppendUint64(b, math.Float64bits(v))
	}
	b = le.AppendUint16(b, uint16(len(a.Members)))
	b = le.AppendUint16(b, uint16(len(a.Steps)))
	b = le.AppendUint16(b, uint16(len(a.Levels)))
	b = append(b, uint8(len(a.Surface)), 0)
	if a.Terrain {
		b[len(b)-1] = 1
	}
	b = le.AppendUint32(b, uint32(len(a.Source)))
	b = le.AppendUint32(b, uint32(len(a.Note)))
	for _, p := range a.Levels {
		b = le.AppendUint64(b, math.Float64bits(p))
	}
	for _, s := range a.Steps {
		b = le.AppendUint32(b, uint32(s/time.Second))
	}
	for _, m := range a.Members {
		b = append(b, uint8(m.Kind), 0)
		b = le.AppendUint16(b, m.Number)
	}
	b = append(b, a.Surface...)
	b = append(b, a.Source...)
	b = append(b, a.Note...)
	return le.AppendUint32(b, crc32.Checksum(b, castagnoli()))
}

// counts are the lengths of a header's lists.
type counts struct{ members, steps, levels, surface, source, note int }

// headerCounts reads the lengths from the fixed part of a header and how long
// the header is. What it lets through is bounded by the limits of Axes, so
// that it can be allocated.
func headerCounts(b []byte) (counts, int, error) {
	le := binary.LittleEndian
	if got := string(b[:len(Magic)]); got != Magic {
		return counts{}, 0, fmt.Errorf("cube begins with %q: want %q", got, Magic)
	}
	if v := le.Uint16(b[8:]); v != Version {
		return counts{}, 0, fmt.Errorf("cube version %d: this program reads version %d", v, Version)
	}
	size := uint64(fixedSize + crcSize)
	list := func(name string, n uint32, limit, octets int) (int, error) {
		if uint64(n) > uint64(limit) {
			return 0, fmt.Errorf("cube with %d %s: want at most %d", n, name, limit)
		}
		size += uint64(n) * uint64(octets)
		return int(n), nil
	}
	var c counts
	for _, l := range [...]struct {
		to            *int
		name          string
		n             uint32
		limit, octets int
	}{
		{&c.members, "members", uint32(le.Uint16(b[64:])), MaxMembers, 4},
		{&c.steps, "steps", uint32(le.Uint16(b[66:])), MaxSteps, 4},
		{&c.levels, "levels", uint32(le.Uint16(b[68:])), MaxLevels, 8},
		{&c.surface, "surface quantities", uint32(b[70]), MaxSurface, 1},
		{&c.source, "octets of source", le.Uint32(b[72:]), MaxText, 1},
		{&c.note, "octets of note", le.Uint32(b[76:]), MaxText, 1},
	} {
		var err error
		if *l.to, err = list(l.name, l.n, l.limit, l.octets); err != nil {
			return counts{}, 0, err
		}
	}
	if n := le.Uint32(b[12:]); uint64(n) != size {
		return counts{}, 0, fmt.Errorf("cube header of %d octets: want %d by its lists", n, size)
	}
	return c, int(size), nil
}

// parseHeader reads a whole header. b has the length that headerCounts gave.
func parseHeader(b []byte, c counts) (Axes, error) {
	le := binary.LittleEndian
	body := b[:len(b)-crcSize]
	if got, want := crc32.Checksum(body, castagnoli()), le.Uint32(b[len(body):]); got != want {
		return Axes{}, fmt.Errorf("cube header, octets 1 to %d: checksum %08x: want %08x", len(b), got, want)
	}
	real64 := func(b []byte) float64 { return math.Float64frombits(le.Uint64(b)) }
	nx, ny := le.Uint32(b[24:]), le.Uint32(b[28:])
	if nx > MaxColumns || ny > MaxColumns {
		return Axes{}, fmt.Errorf("cube: grid of %d columns and %d rows: want at most %d nodes", nx, ny, MaxColumns)
	}
	a := Axes{
		Centre: le.Uint16(b[10:]),
		Cycle:  time.Unix(int64(le.Uint64(b[16:])), 0).UTC(),
		Grid: geo.Grid{
			NX: int(nx), NY: int(ny),
			Lat0: real64(b[32:]), Lon0: real64(b[40:]), DLat: real64(b[48:]), DLon: real64(b[56:]),
		},
		Levels:  make([]float64, c.levels),
		Steps:   make([]time.Duration, c.steps),
		Members: make([]Member, c.members),
		Terrain: b[71] == 1,
	}
	rest := body[fixedSize:]
	take := func(n int) []byte {
		part := rest[:n]
		rest = rest[n:]
		return part
	}
	for i := range a.Levels {
		a.Levels[i] = real64(take(8))
	}
	for i := range a.Steps {
		a.Steps[i] = time.Duration(le.Uint32(take(4))) * time.Second
	}
	for i := range a.Members {
		m := take(4)
		a.Members[i] = Member{Kind: Kind(m[0]), Number: le.Uint16(m[2:])}
	}
	if c.surface > 0 {
		a.Surface = append(a.Surface, take(c.surface)...)
	}
	a.Source, a.Note = string(take(c.source)), string(take(c.note))
	if err := a.Check(); err != nil {
		return Axes{}, fmt.Errorf("cube: %w", err)
	}
	// Whatever the fields above do not show, such as an octet that must be 0.
	for i, want := range a.header() {
		if b[i] != want {
			return Axes{}, fmt.Errorf("cube header, octet %d: %d: want %d", i+1, b[i], want)
		}
	}
	return a, nil
}
