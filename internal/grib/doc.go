// Package grib reads forecast fields from GRIB edition 2, the WMO format of
// gridded weather data (WMO-No. 306, Manual on Codes, volume I.2, FM 92).
//
// It hides octets, sections, templates and packings: Scan walks the messages of
// a file and yields a Field for each field, having read nothing but headers; an
// Unpacker unpacks what is wanted, whole or in part. A damaged message is yielded
// as an error and the walk goes on behind it; a field in a grid, product or
// packing that is not supported is listed all the same, and says so by name when
// it is asked for values. A message is taken whole or not at all, and no octet of
// the input makes this package panic or allocate more than the limits of
// limits.go allow. Header.Append writes messages, of the few kinds that the project
// itself makes.
//
// Units are SI, as the code tables have them: pascals for isobaric levels,
// metres for heights. Angles are degrees, times UTC. Values come in rows from
// south to north, each from west to east, whatever order the message has them in;
// on rotated grids and on the plane of a cone that is the grid's own sense. Where
// the points lie, and how wind along the grid turns to east and north, is the
// business of Grid.
//
// What is supported: grids 3.0 (regular latitude and longitude), 3.1 (rotated),
// 3.30 (Lambert conformal) and 3.40 (regular Gaussian) in every scanning mode
// without staggered rows; products 4.0 (an instant), 4.8 (an interval), 4.1 and
// 4.11 (the same of an ensemble member); packings 5.0 (simple), 5.2 (complex),
// 5.3 (complex with spatial differencing), 5.4 (IEEE floating point of 32 or 64
// bits), 5.41 (PNG) and 5.42 (CCSDS 121.0-B), with bitmaps, substitutes for
// missing values and constant fields. Packing 5.40 (JPEG 2000) is not: there is
// no maintained decoder in Go to be had; wgrib2 and ecCodes convert such fields.
//
// The package does not know what a field is for, which fields belong together,
// or where the octets come from.
package grib
