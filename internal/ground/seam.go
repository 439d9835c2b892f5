package ground

// The Earth is cut into sectors of half a degree of longitude to find the widest
// gap between polygons.
const (
	sectorShift = 20 // 2^20 steps
	sectors     = turn >> sectorShift
)

// sector is the sector in which a longitude is, counted from -180 degrees.
func sector(x int32) int {
	return int(((int64(x)+3*halfTurn)%turn + turn) % turn >> sectorShift)
}

// seam is where the widest gap between extents ends, widths being told to two
// sectors: from there they lie within an arc that is at most so much wider than the
// smallest. It is -180 degrees if there is no gap.
func seam(extents []box) int32 {
	n := 0                  // how many extents there are in a sector, at first in the last one
	var change [sectors]int // how many more than in the one before it
	for _, e := range extents {
		if int64(e.east)-int64(e.west) >= turn-1<<sectorShift {
			return -halfTurn
		}
		from, past := sector(e.west), (sector(e.east)+1)%sectors
		change[from]++
		change[past]--
		if past <= from {
			n++
		}
	}
	widest, gap, end := 0, 0, 0
	for k := range 2 * sectors { // twice round, for the gap over where the count begins
		if n += change[k%sectors]; n == 0 {
			gap++
			continue
		}
		if gap > widest {
			widest, end = gap, k%sectors
		}
		gap = 0
	}
	return -halfTurn + int32(end)<<sectorShift
}
