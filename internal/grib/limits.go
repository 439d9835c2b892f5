package grib

import "time"

// Limits on what outside input may make this package do. Each is far above what
// weather centres write.
const (
	// maxPoints is the most points that Values unpacks: 64 MiB of float32. The
	// global 0.1° grid has 6.5 million.
	maxPoints = 16 << 20

	// maxFields is the most fields of one message. NCEP packs u and v together,
	// JMA all levels of a forecast step: some hundreds.
	maxFields = 4096

	// maxHeader is how many octets of a section's beginning are looked at; the
	// templates read here take 72 at most, what follows them is passed over.
	maxHeader = 128

	// maxPayload is the longest section 6 or 7 that Values reads, in octets:
	// maxPoints values of 32 bits take a quarter of it.
	maxPayload = 256 << 20

	// maxGauss is the most rows of a Gaussian grid between a pole and the equator;
	// the finest forecasts have some 1,280. The time to find one latitude grows
	// with it.
	maxGauss = 2048

	// maxPlane bounds a side of a Lambert grid, m: some turns round the Earth.
	maxPlane = 1e8

	// maxBits is the widest packed integer.
	maxBits = 32

	// maxMagnitude bounds packed integers after spatial differencing: float64
	// holds each up to it exactly. It is looked at every chunk integers, between
	// which sums cannot overflow.
	maxMagnitude = 1 << 52

	// maxHeading is how many octets of text may stand between two messages: the
	// end of one bulletin and the heading of the next.
	maxHeading = 256

	// maxQuoted is how many octets of a file an error quotes.
	maxQuoted = 40

	// maxStep bounds the distance of forecast times from the reference time;
	// time.Duration ends at 292 years.
	maxStep = 250 * 365 * 24 * time.Hour
)
