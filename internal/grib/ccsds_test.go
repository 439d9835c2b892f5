package grib_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// row is a message whose integers lie in one row, from west to east.
func row(n int, five67 []byte) []byte {
	grid := lattice{ni: uint32(n), nj: 1, la1: 50e6, la2: 50e6, lo2: min(n-1, 1) * 18e6}
	return sealed(0, section1(referenceTime), grid.section3(), wind500.section4(), five67)
}

// scaled is the values of integers, regulation 92.9.4.
func scaled(s scale, x []uint64) []float32 {
	var out []float32
	for _, v := range x {
		out = append(out, float32((float64(s.r)+math.Ldexp(float64(v), s.e))*math.Pow10(-s.d)))
	}
	return out
}

// walk is n samples of the given bits: rests, small steps, jumps, and stays at
// either end of the range.
func walk(r *rand.Rand, n int, bits byte) []uint64 {
	most := int64(1)<<bits - 1
	x, v := make([]uint64, 0, n), r.Int64N(most+1)
	for len(x) < n {
		length, kind, spread := 1+r.IntN(100), r.IntN(5), int64(1)<<r.IntN(int(bits)+1)
		if r.IntN(8) == 0 {
			length *= 20 // longer than a segment
		}
		switch r.IntN(6) {
		case 0:
			v = 0
		case 1:
			v = most
		}
		for range min(length, n-len(x)) {
			switch kind {
			case 0, 1: // rest
			case 2:
				v = r.Int64N(most + 1)
			default:
				v = max(0, min(v+r.Int64N(2*spread+1)-spread, most))
			}
			x = append(x, uint64(v))
		}
	}
	return x
}

// TestCCSDSRoundTrip codes samples in random options: what is decoded is what was
// coded.
func TestCCSDSRoundTrip(t *testing.T) {
	used := map[option]int{}
	for seed := range uint64(1500) {
		r := rand.New(rand.NewPCG(seed, 42))
		c := coding{
			scale:    scale{r: float32(r.IntN(100)), e: r.IntN(5) - 2, d: r.IntN(5) - 2, bits: byte(1 + r.IntN(32))},
			flags:    byte(r.IntN(2))*preprocess | byte(r.IntN(2))*padInterval | byte(r.IntN(8)&6),
			block:    8 << r.IntN(4),
			interval: []int{1, 2, 3, 40, 63, 64, 65, 128, 200, 4096}[r.IntN(10)],
		}
		if c.scale.bits <= 4 || c.scale.bits > 8 {
			c.flags |= byte(r.IntN(2)) * restricted
		}
		x := walk(r, 1+r.IntN(1<<(3+r.IntN(11))), c.scale.bits)
		if r.IntN(3) == 0 { // zeros for those that are not predicted
			for i := range x[:r.IntN(len(x))] {
				x[i] = 0
			}
		}
		pick := anyOption(r)
		if r.IntN(3) == 0 {
			pick = mostly(option(r.IntN(6) - 3))
		}
		counted := func(options []option) option {
			o := pick(options)
			if options[0] == asIs {
				used[o]++
			}
			return o
		}
		got, err := only(t, row(len(x), c.sections(counted, x...))).Values(nil)
		require.NoError(t, err, "seed %d: %+v", seed, c)
		for i, v := range scaled(c.scale, x) {
			require.Equal(t, v, got[i], "seed %d: %+v: sample %d of %d", seed, c, i, len(x))
		}
	}
	for o := zeroRun; o <= 29; o++ {
		assert.Greater(t, used[o], 10, "blocks in option %d", o)
	}
}

// TestCCSDSByHand decodes streams written down from the tables of the standard,
// 4 bits a sample in blocks of 8.
func TestCCSDSByHand(t *testing.T) {
	for _, c := range []struct {
		name   string
		flags  byte
		stream string
		want   []float32
	}{
		{"as they are", 0, "111 0000 0001 0010 0011 1111 0101 0110 0111", []float32{0, 1, 2, 3, 15, 5, 6, 7}},
		{"fundamental sequence", 0, "001 1 01 001 0001 1 00001 1 1", []float32{0, 1, 2, 3, 0, 4, 0, 0}},
		{"split of 2", 0, "011 1 01 001 0001 1 1 1 1  00 01 10 11 00 01 10 11", []float32{0, 5, 10, 15, 0, 1, 2, 3}},
		// Pairs (0,0) 0, (1,0) 1, (0,1) 2, (1,1) 4.
		{"second extension", 0, "0001 1 01 001 00001", []float32{0, 0, 1, 0, 0, 1, 1, 1}},
		{"one zero block", 0, "0000 1", make([]float32, 8)},
		{"four zero blocks", 0, "0000 0001", make([]float32, 32)},
		{"remainder of the interval", 0, "0000 00001", make([]float32, 48)},
		{"five zero blocks, then one", 0, "0000 000001 111 1111 1111 1111 1111 1111 1111 1111 1111", append(make([]float32, 40), 15, 15, 15, 15, 15, 15, 15, 15)},
		{"restricted, as they are", restricted, "11 0000 0001 0010 0011 1111 0101 0110 0111", []float32{0, 1, 2, 3, 15, 5, 6, 7}},
		{"restricted, split of 1", restricted, "10 1 01 001 0001 1 1 1 1 0 1 0 1 0 1 0 1", []float32{0, 3, 4, 7, 0, 1, 0, 1}},
		// Reference 2: +0 0, +1 2, -1 1, then from 2: θ = 2, +2 4, from 4: -4 7,
		// from 0: θ = 0, +15 15, from 15: -15 15.
		{"predicted", preprocess, "110 0010 1 1 1 1 1 1 1 00000 00010 00001 00100 00111 01111 01111", []float32{2, 2, 3, 2, 4, 0, 15, 0}},
		{"predicted zeros", preprocess, "0000 1001 00001", slices.Repeat([]float32{9}, 48)},
		{"predicted, second extension", preprocess, "0001 0111 001 1 01 1", []float32{7, 8 - 2, 6, 6, 5, 5, 5, 5}},
		{"predicted, as they are", preprocess, "111 0010 0000 0010 0001 0100 0111 1111 1111", []float32{2, 2, 3, 2, 4, 0, 15, 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var s bitString
			for _, bit := range c.stream {
				if bit != ' ' {
					s.put(uint64(bit-'0'), 1)
				}
			}
			five := section(5, uint32(len(c.want)), uint16(42), scale{bits: 4}.octets(), c.flags, byte(8), uint16(6))
			requireValues(t, only(t, row(len(c.want), slices.Concat(five, noBitmap, section(7, s.octets)))), c.want...)
		})
	}
}

// TestCCSDSConstant: no bits, no octets, the reference value for all.
func TestCCSDSConstant(t *testing.T) {
	five := section(5, uint32(6), uint16(42), scale{r: 25, d: 1}.octets(), byte(14), byte(32), uint16(128))
	requireValues(t, only(t, whole(slices.Concat(five, noBitmap, section(7)))), 2.5, 2.5, 2.5, 2.5, 2.5, 2.5)
}

// TestCCSDSCut: a stream cut at any octet is an error, and so is one that goes on.
func TestCCSDSCut(t *testing.T) {
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 43))
		c := coding{scale: scale{bits: byte(1 + r.IntN(32))}, flags: preprocess, block: 8 << r.IntN(4), interval: 1 + r.IntN(100)}
		x := walk(r, 1+r.IntN(300), c.scale.bits)
		stream := c.encode(anyOption(r), x)
		values := func(stream []byte) error {
			five := section(5, uint32(len(x)), uint16(42), c.scale.octets(), c.flags, byte(c.block), uint16(c.interval))
			_, err := only(t, row(len(x), slices.Concat(five, noBitmap, section(7, stream)))).Values(nil)
			return err
		}
		require.NoError(t, values(stream))
		for n := range stream {
			require.Error(t, values(stream[:n]), "seed %d: %+v: %d octets of %d", seed, c, n, len(stream))
		}
		require.NoError(t, values(append(slices.Clone(stream), 0, 0, 0)), "padding")
		require.Error(t, values(append(slices.Clone(stream), 0, 0, 1)), "padding that is none")
		require.ErrorContains(t, values(append(slices.Clone(stream), make([]byte, 9)...)), "9 octets behind the last CCSDS block")
	}
}

// TestCCSDSDamaged: what a stream or its template cannot be is an error.
func TestCCSDSDamaged(t *testing.T) {
	for want, c := range map[string]struct {
		bits, flags byte
		stream      string
	}{
		"a run of 7 zero blocks: want at most the 6 left":  {4, 0, "0000 00000001"},
		"a run of 6 zero blocks: want at most the 5 left":  {4, 0, "111 00000000000000000000000000000000 0000 0000001"},
		"a sample is wider than 4 bits":                    {4, 0, "001 1 1 1 1 1 1 1 00000000000000001 001 1 1 1 1 1 1 1 1 0000 00001"},
		"CCSDS block at sample 8 of 48: a sample is wider": {3, preprocess, "0000 001 1 011 001 1 1 1 1 1 1 1 00 01 00 00 00 00 00 00 0000 00001"},
		"2 in the place of the reference sample: want 0":   {4, preprocess, "0001 0111 0001 1 01 1 0000 00001"},
		"the octets end within it":                         {4, 0, "0000 1 0000 000"},
		"the last 9 bits behind the last CCSDS block":      {4, 0, "0000 000001 0000 1 000001"},
	} {
		var s bitString
		for _, bit := range c.stream {
			if bit != ' ' {
				s.put(uint64(bit-'0'), 1)
			}
		}
		five := section(5, uint32(48), uint16(42), scale{bits: c.bits}.octets(), c.flags, byte(8), uint16(128))
		_, err := only(t, row(48, slices.Concat(five, noBitmap, section(7, s.octets)))).Values(nil)
		assert.ErrorContains(t, err, want)
	}
	for want, tail := range map[string][]any{
		"CCSDS flags 0x0f not supported":                                    {scale{bits: 8}.octets(), byte(15), byte(32), uint16(128)},
		"CCSDS flags 0x8e not supported":                                    {scale{bits: 8}.octets(), byte(0x8e), byte(32), uint16(128)},
		"CCSDS block size 24 not supported: want 8, 16, 32 or 64":           {scale{bits: 8}.octets(), byte(14), byte(24), uint16(128)},
		"CCSDS reference sample interval 0 not supported: want 1 to 4096":   {scale{bits: 8}.octets(), byte(14), byte(32), uint16(0)},
		"CCSDS reference sample interval 4097 not supported":                {scale{bits: 8}.octets(), byte(14), byte(32), uint16(4097)},
		"CCSDS restricted options for 5 bits not supported: want at most 4": {scale{bits: 5}.octets(), byte(30), byte(32), uint16(128)},
		"33 bits per value: want at most 32":                                {scale{bits: 33}.octets(), byte(14), byte(32), uint16(128)},
	} {
		five := section(5, append([]any{uint32(6), uint16(42)}, tail...)...)
		assert.ErrorContains(t, only(t, whole(slices.Concat(five, noBitmap, section(7)))).Supported(), want)
	}
	_, faults := scanAll(whole(slices.Concat(section(5, uint32(6), uint16(42), scale{bits: 8}.octets(), byte(14)), noBitmap, section(7))))
	require.Len(t, faults, 1)
	assert.ErrorContains(t, faults[0], "length 22 octets: want at least 25")
}

// FuzzCCSDS holds any stream against what the decoder promises: as many values as
// there are points, within the range of the integers, or an error; and what is
// coded anew decodes to the same.
func FuzzCCSDS(f *testing.F) {
	for seed := range uint64(12) {
		r := rand.New(rand.NewPCG(seed, 44))
		c := coding{scale: scale{bits: byte(1 + r.IntN(20))}, flags: byte(seed%2) * preprocess, block: 8 << (seed % 4), interval: 1 + r.IntN(100)}
		x := walk(r, 100, c.scale.bits)
		f.Add(c.encode(anyOption(r), x), c.scale.bits, c.flags, byte(c.block), uint16(c.interval), uint16(len(x)))
	}
	f.Fuzz(func(t *testing.T, stream []byte, bits, flags, block byte, interval, n uint16) {
		five := section(5, uint32(n), uint16(42), scale{bits: bits}.octets(), flags, block, interval)
		fields, _ := scanAll(row(int(n), slices.Concat(five, noBitmap, section(7, stream))))
		if len(fields) == 0 {
			return // no points
		}
		values, err := fields[0].Values(nil)
		if err != nil {
			require.Nil(t, values)
			return
		}
		require.Len(t, values, int(n))
		if bits == 0 {
			return
		}
		x := make([]uint64, n)
		for i, v := range values {
			require.True(t, v >= 0 && v <= float32(uint64(1)<<bits-1), "value %d = %g of %d bits", i, v, bits)
			x[i] = min(uint64(v), 1<<bits-1) // float32 may round up to 2^bits
		}
		c := coding{scale: scale{bits: bits}, flags: flags, block: int(block), interval: int(interval)}
		again, err := only(t, row(int(n), c.sections(mostly(zeroRun), x...))).Values(nil)
		require.NoError(t, err)
		if bits <= 24 { // which float32 has room for
			requireSame(t, values, again)
		}
	})
}
