package cube

import "fmt"

// place is where a block lies and what it is of.
type place struct {
	member, step int   // numbers in the axes
	row, column  int   // of the tile's south-west node
	terrain      bool  // then there is no member and no step
	planes       int   // in the block
	offset       int64 // octets before the block
}

// place finds block n, those of the terrain counted after the others.
func (a Axes) place(n int64) place {
	tiles, before := int64(a.tilesX()*a.tilesY()), a.blocks()
	at := place{planes: a.Planes()}
	at.offset = int64(a.headerSize()) + min(n, before)*int64(blockSize(at.planes))
	if n < before {
		at.step = int(n / tiles % int64(len(a.Steps)))
		at.member = int(n / tiles / int64(len(a.Steps)))
	} else {
		at.terrain, at.planes = true, 1
		at.offset += (n - before) * int64(blockSize(1))
	}
	tile := int(n % tiles) // the terrain's begin with a whole number of steps
	at.row, at.column = tile/a.tilesX()*Tile, tile%a.tilesX()*Tile
	return at
}

// quantity is what plane p of the block holds.
func (at place) quantity(p, levels int) Quantity {
	if at.terrain {
		return Height
	}
	return min(Quantity(p/levels), Surface)
}

// name says what block n is of and where it lies, for errors.
func (a Axes) name(n int64) string {
	at := a.place(n)
	what := "terrain"
	if !at.terrain {
		m := a.Members[at.member]
		what = fmt.Sprintf("member %v %d, step %v", m.Kind, m.Number, a.Steps[at.step])
	}
	return fmt.Sprintf("%s, rows %d to %d, columns %d to %d, octets %d to %d", what,
		at.row, min(at.row+Tile, a.Grid.NY)-1, at.column, min(at.column+Tile, a.Grid.NX)-1,
		at.offset+1, at.offset+int64(blockSize(at.planes)))
}
