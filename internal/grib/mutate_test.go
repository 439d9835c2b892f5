package grib_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/thistledown/internal/grib"
)

// realMessages are messages of one packing, each with something of its own: of the
// 2.5° forecast at 6 h as it is or packed anew, and of testdata. The last has three
// fields.
func realMessages(t testing.TB, packing uint16) [][]byte {
	t.Helper()
	const most = 24
	var found [][]byte
	forecast, err := os.ReadFile(filepath.Join(gridModule(t), "gfs.t00z.pgrb2.2p50.f006"))
	require.NoError(t, err)
	for _, data := range append(smallFiles(t), forecast) {
		seen := map[string]bool{}
		for f, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
			require.NoError(t, err)
			message := data[f.Offset:]
			message = message[:binary.BigEndian.Uint64(message[8:])]
			if f.Packing == 3 && packing != 3 {
				message = packAnew(t, f, message, packing)
			}
			kind := kindOf(message)
			if message == nil || f.Packing != packing && f.Packing != 3 || seen[kind] || len(found) == most {
				continue
			}
			seen[kind] = true
			found = append(found, message)
		}
	}
	require.NotEmpty(t, found, "messages in packing 5.%d", packing)
	return append(found, joined(found))
}

// joined is one message of three fields: the first message with the sections 4 to 7
// of the last on its grid behind its own, once more with its bitmap if it has one.
func joined(messages [][]byte) []byte {
	first := sectionsOf(messages[0])
	other := first
	for _, m := range messages {
		if parts := sectionsOf(m); bytes.Equal(parts[len(parts)-6], first[len(first)-6]) {
			other = parts
		}
	}
	tail := other[len(other)-5 : len(other)-1]
	again := slices.Clone(tail)
	if again[2][5] == 0 {
		again[2] = sameBitmap
	}
	return sealed(messages[0][6], slices.Concat(slices.Concat(first[1:len(first)-1]...), slices.Concat(tail...), slices.Concat(again...)))
}

// smallFiles are the GRIB files of testdata.
func smallFiles(t testing.TB) [][]byte {
	t.Helper()
	files := [][]byte{unzipped(t, "repacked.grib2.gz")}
	paths, err := filepath.Glob("testdata/*.grib2")
	require.NoError(t, err)
	for _, path := range paths {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		files = append(files, data)
	}
	return files
}

// kindOf is what makes messages take different ways through the code: the
// sections there are, the product, the packing with its options.
func kindOf(message []byte) string {
	if message == nil {
		return ""
	}
	kind := ""
	parts := sectionsOf(message)
	for _, s := range parts[1 : len(parts)-1] {
		switch kind += string(rune('0' + s[4])); s[4] {
		case 3:
			kind += string(s[min(71, len(s)-1):]) // scanning mode
		case 4:
			kind += string(s[7:9])
		case 5:
			kind += string(s[9:11])
			if len(s) >= 49 {
				kind += string(s[22:23]) + string(s[47:48]) + map[bool]string{true: "constant"}[bytes.Equal(s[31:35], []byte{0, 0, 0, 0})]
			}
		case 6:
			kind += string(s[5:6])
		}
	}
	return kind
}

// sectionsOf takes a good message apart: section 0, the others, and "7777".
func sectionsOf(message []byte) [][]byte {
	all := [][]byte{message[:16]}
	for at := 16; at < len(message)-4; {
		n := int(binary.BigEndian.Uint32(message[at:]))
		all = append(all, message[at:at+n])
		at += n
	}
	return append(all, message[len(message)-4:])
}

// packAnew is a message of one field with its values in packing 5.0 or 5.2, nil for
// another packing and for a message of several fields. Every seventh group of a
// field in 5.2 has missing values.
func packAnew(t testing.TB, f *grib.Field, message []byte, packing uint16) []byte {
	t.Helper()
	parts := sectionsOf(message)
	if len(parts) != 8 || packing != 0 && packing != 2 {
		return nil
	}
	values, err := f.Values(nil)
	require.NoError(t, err)
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if v == v {
			low, high = min(low, float64(v)), max(high, float64(v))
		}
	}
	s := scale{r: float32(low), bits: 12}
	s.e = int(math.Ceil(math.Log2(max(high-low, 1e-30) / 4000)))
	var x []int64
	for j := range f.Grid.NY { // northern row first, as the message has them
		for _, v := range values[(f.Grid.NY-1-j)*f.Grid.NX:][:f.Grid.NX] {
			if v == v {
				x = append(x, max(0, int64(math.Ldexp(float64(v)-low, -s.e))))
			}
		}
	}
	var five67 []byte
	if packing == 0 {
		u := make([]uint64, len(x))
		for i, v := range x {
			u[i] = uint64(v)
		}
		five67 = simple(s, noBitmap, u...)
	} else {
		g := groups{scale: s, plain: true, missing: 1}
		for left := len(x); left > 0; {
			n := min(left, 1+2*(left%12))
			if left%7 == 0 {
				x[len(x)-left] = primary
			}
			g.lengths = append(g.lengths, n)
			left -= n
		}
		five67 = complexly(g, x...)
	}
	return sealed(message[6], parts[1], parts[2], parts[3], withBitmap(five67, parts[5]))
}

// mutate damages a good message as four octets for each of at most sixteen
// changes say: what, where (two octets) and how. It knows where sections, their
// lengths and the descriptors of groups are, which chance alone would rarely hit.
func mutate(message, changes []byte) []byte {
	parts := sectionsOf(slices.Clone(message))
	n := min(len(changes)/4, 16)
	// What changes the size of sections comes first, with lengths put right.
	for k := range n {
		if c := changes[4*k:]; c[0]%16 == 0 {
			s := &parts[1+int(c[1])%(len(parts)-2)]
			if by := int(int8(c[3])); by >= 0 {
				*s = append(slices.Clone(*s), make([]byte, by*int(1+c[2]))...)
			} else {
				*s = (*s)[:max(5, len(*s)+by*int(1+c[2]))]
			}
			binary.BigEndian.PutUint32(*s, uint32(len(*s)))
		}
	}
	out := slices.Concat(parts...)
	binary.BigEndian.PutUint64(out[8:], uint64(len(out)))
	end := len(out)
	for k := range n {
		c := changes[4*k:]
		where := int(binary.BigEndian.Uint16(c[1:]))
		which := 1 + where%(len(parts)-1)
		if which == len(parts)-1 && c[0] >= 32 {
			which = 0 // both ends of the message seldom: little is left without them
		}
		at := 0
		for _, p := range parts[:which] {
			at += len(p)
		}
		s := out[at:][:len(parts[which])]
		inside := where / len(parts)
		switch c[0] % 16 {
		case 1: // an octet of a head
			s[inside%min(len(s), 128)] = c[3]
		case 2: // a small one, as most codes are
			s[inside%min(len(s), 128)] = c[3] % 8
		case 3: // one near what it was
			s[inside%min(len(s), 128)] += c[3]%8 - 3
		case 4, 5, 6: // a bit of a head
			s[inside%min(len(s), 128)] ^= 1 << (c[3] & 7)
		case 7, 8, 9: // a number of four octets: small, and about the limits of its size
			if len(s) >= 9 {
				i := 5 + inside%min(len(s)-8, 60)
				binary.BigEndian.PutUint32(s[i:], uint32(int32(int8(c[3])))^uint32(c[3]&1)<<31)
			}
		case 10, 11, 12: // the first octets of section 7: descriptors, references
			s = out[len(out)-4-len(parts[len(parts)-2]) : len(out)-4]
			s[min(5+inside%len(s), len(s)-1)] ^= c[3]
		case 13: // anything
			out[where*len(out)>>16] ^= c[3]
		case 14: // a length
			binary.BigEndian.PutUint32(s, binary.BigEndian.Uint32(s)+uint32(int8(c[3])))
		case 15: // a cut
			end = where * len(out) >> 16
		}
	}
	return out[:end]
}
