// Package cube is how a regional box of a forecast is kept in octets: wind,
// height and temperature on isobaric levels, values at the ground and the
// terrain, for every forecast step and every member, packed into 16 bits a
// value and laid out so that the columns around one place are found without
// reading the rest.
//
// It hides the layout, the packing and the checksums. A Writer writes a cube
// from front to back and keeps no more than one band of it in memory. Open
// reads the header alone; Read and Terrain unpack what of a window is wanted,
// from a file, a mapping or memory, and check each block that they touch.
//
// # Layout
//
// Octets are counted from 1, numbers are little-endian, integers without a
// sign unless it is said, reals IEEE 754. A cube is a header, then blocks of
// one size for the upper air and the ground, then, if the cube has terrain,
// smaller blocks for it. The header says where each block lies and what the
// size of the whole is.
//
//	octets   header
//	1–8      "tdcube", carriage return, line feed
//	9–10     version, 1
//	11–12    issuing centre, WMO common code table C-11
//	13–16    length of the header in octets, its checksum included
//	17–24    cycle: seconds since 1970-01-01 00:00 UTC, with sign
//	25–28    columns of the grid, NX
//	29–32    rows of the grid, NY
//	33–40    latitude of the south-west node, degrees, real
//	41–48    longitude of the south-west node, degrees, real
//	49–56    spacing in latitude, degrees, real
//	57–64    spacing in longitude, degrees, real
//	65–66    members, M
//	67–68    steps, S
//	69–70    levels, L
//	71       surface quantities, Q
//	72       1 if the cube has terrain, else 0
//	73–76    length of the source in octets, A
//	77–80    length of the note in octets, B
//	then     8 octets for each level: pressure in Pa, real, decreasing
//	then     4 octets for each step: seconds after the cycle, increasing
//	then     4 octets for each member: kind (0 single, 1 control, 2 perturbed,
//	         3 negative), 0, number (2 octets)
//	then     1 octet for each surface quantity: its code, increasing
//	then     the source, A octets of UTF-8, no control characters but line feeds
//	then     the note, B octets of the same
//	last 4   CRC-32C of all octets of the header before
//
// The grid is cut into tiles of 8 rows and 8 columns; those at its north and
// east edges may be ragged. There is a block for each member, step and tile:
// all steps of the first member come before the second member, all tiles of a
// step before the next step, and tiles go in rows from the south-west, each
// from west to east. A block is made of 4·L + Q planes: the wind toward east of
// each level, the wind toward north of each level, the geopotential height of
// each level, the temperature of each level, and the surface quantities. With
// P planes and p counted from 0:
//
//	octets           block
//	136·p + 1–4      offset of plane p, real
//	136·p + 5–8      scale of plane p, real; not a number: all of it is missing
//	136·p + 9–136    64 codes of 2 octets, in rows from the south-west
//	136·P + 1–4      CRC-32C
//
// A value is offset + scale·code. Code 65535 stands for a missing value, and
// fills the places of a ragged tile that are not of the grid. The terrain
// follows as a block of one plane for each tile, in the same order.
//
// CRC-32C is that of RFC 3720, section 12.1 (the Castagnoli polynomial). That
// of a block goes over the octets of the header before its checksum, then over
// the number of the block in 8 octets, counted from 0 through all of the cube,
// then over the planes: so a block that lies in another's place, or comes from
// another cube, is found out. To have it, one goes on from the checksum of the
// header.
//
// # Error
//
// The scale of a plane is the range of its values over 65534, so that packing
// moves a value by no more than half of that (and single precision by another
// 1/256 of the scale and 2⁻²⁴ of the value). For a range of 20 m/s within a
// tile this is 0.00016 m/s. A Writer refuses a plane, and a reader a block, for
// which it comes to more than 0.05 m/s, 1 m of height or 0.05 K. Surface
// quantities, whose ranges differ, have no such bound: theirs is the half of
// 1/65534 of the range within the tile.
//
// # Units
//
// Wind in m/s toward east and toward north, height in geopotential metres above
// mean sea level (the terrain too), temperature in K, pressure in Pa, angles in
// degrees, times UTC. Missing values are NaN.
//
// The package does not know GRIB, nor what the codes of surface quantities
// mean, nor how to interpolate, nor whether heights increase or winds are
// likely; and it opens no files.
package cube
