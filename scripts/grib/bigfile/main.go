// Bigfile makes a load-test file, as large as a forecast step of the 0.25°
// global forecast:
//
//	bigfile OUT SOURCE
//
// SOURCE is a 1° GFS file of the module github.com/nilsmagnus/grib. Its fields
// without missing values are taken to 0.25° by bilinear interpolation, given
// noise of one unit of their packing, without which the differences would be too
// smooth to take the room of a real message, and packed in template 5.3 with
// groups as short as the real ones. A level that SOURCE lacks is a copy of the
// nearest one under another number. The file is invented: it has the size and
// the make-up of a real one and is no forecast.
//
// The same SOURCE gives the same octets.
package main

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"sync"

	"example.org/thistledown/internal/grib"
)

const messages = 743 // of a 0.25° file of the forecast

// levels are its isobaric surfaces, Pa.
var levels = []int{
	1, 2, 4, 7, 10, 20, 40, 70, 100, 200, 300, 500, 700, 1000, 1500, 2000, 3000, 4000, 5000, 7000,
	10000, 15000, 20000, 25000, 30000, 35000, 40000, 45000, 50000, 55000, 60000, 65000, 70000,
	75000, 80000, 85000, 90000, 92500, 95000, 97500, 100000,
}

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "usage: bigfile OUT SOURCE")
		os.Exit(2)
	}
	if err := run(os.Args[1], os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, "bigfile:", err)
		os.Exit(1)
	}
}

func run(out, source string) error {
	data, err := os.ReadFile(source)
	if err != nil {
		return err
	}
	jobs, err := choose(data)
	if err != nil {
		return err
	}
	file, err := os.Create(out)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(file, 1<<20)
	err = write(w, jobs)
	if err == nil {
		err = w.Flush()
	}
	if failed := file.Close(); err == nil {
		err = failed
	}
	return err
}

// job is one message to be made.
type job struct {
	head     []byte // sections 0 to 5 of the real message
	values   []float32
	grid     grib.Grid
	pressure int // Pa, 0 to leave the level alone
	seed     uint64
}

// choose lists the messages: every parameter that the source has on isobaric
// levels on all of ours, then its other fields, over and over.
func choose(data []byte) ([]job, error) {
	type at struct {
		job
		level int
	}
	isobaric := map[grib.Parameter][]at{}
	var parameters []grib.Parameter
	var others []job
	for f, err := range grib.Scan(bytes.NewReader(data), int64(len(data))) {
		if err != nil {
			return nil, err
		}
		values, err := f.Values(nil)
		if err != nil {
			return nil, err
		}
		if slices.ContainsFunc(values, func(v float32) bool { return v != v }) || f.Packing != 3 || slices.Min(values) == slices.Max(values) {
			continue
		}
		j := job{head: heads(data[f.Offset:]), values: values, grid: f.Grid}
		if p := f.Parameter(); f.Level.Surface == grib.Isobaric {
			if isobaric[p] == nil {
				parameters = append(parameters, p)
			}
			isobaric[p] = append(isobaric[p], at{j, int(f.Level.Value)})
			continue
		}
		others = append(others, j)
	}
	var jobs []job
	for _, p := range parameters {
		if len(isobaric[p]) < 2 {
			continue
		}
		for _, pressure := range levels {
			nearest := slices.MinFunc(isobaric[p], func(a, b at) int { return cmp.Compare(distance(a.level, pressure), distance(b.level, pressure)) })
			nearest.pressure = pressure
			jobs = append(jobs, nearest.job)
		}
	}
	if len(jobs) > messages || len(others) == 0 {
		return nil, fmt.Errorf("%d isobaric fields and %d others: want at most %d and at least one", len(jobs), len(others), messages)
	}
	for k := 0; len(jobs) < messages; k++ {
		jobs = append(jobs, others[k%len(others)])
	}
	for k := range jobs {
		jobs[k].seed = uint64(k) + 1
	}
	return jobs, nil
}

// distance of two pressures, as their ratio.
func distance(a, b int) float64 {
	return float64(max(a, b)) / float64(min(a, b))
}

// heads returns sections 0 to 5 of a message.
func heads(message []byte) []byte {
	end := 16
	for message[end+4] != 6 {
		end += int(binary.BigEndian.Uint32(message[end:]))
	}
	return message[:end]
}

// write makes the messages, as many at a time as there are processors.
func write(w io.Writer, jobs []job) error {
	for part := range slices.Chunk(jobs, runtime.NumCPU()) {
		done := make([][]byte, len(part))
		var wait sync.WaitGroup
		for k, j := range part {
			wait.Go(func() { done[k] = j.message() })
		}
		wait.Wait()
		for _, m := range done {
			if _, err := w.Write(m); err != nil {
				return err
			}
		}
	}
	return nil
}
