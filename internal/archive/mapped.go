package archive

import (
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"runtime/debug"

	"golang.org/x/sys/unix"

	"example.org/thistledown/internal/cube"
)

// mapped is a file as pages of memory: opening it reads nothing, and processes
// that read the same file share its pages.
type mapped struct {
	name  string
	size  int64
	pages []byte
}

// mapFile maps a file for reading.
func mapFile(name string, file *os.File, size int64) (*mapped, error) {
	if size > math.MaxInt {
		return nil, fmt.Errorf("%d octets: want at most %d on this machine", size, math.MaxInt)
	}
	pages, err := unix.Mmap(int(file.Fd()), 0, int(size), unix.PROT_READ, unix.MAP_SHARED)
	if err != nil {
		return nil, fmt.Errorf("cannot be mapped: %w", err)
	}
	return &mapped{name: name, size: size, pages: pages}, nil
}

// ReadAt copies octets out of the pages. A page that the file no longer has,
// since it was cut short or its disk failed, is an error: the processor's fault
// is caught here, where nothing but a copy is under way.
func (m *mapped) ReadAt(p []byte, offset int64) (n int, err error) {
	if m.pages == nil {
		return 0, os.ErrClosed
	}
	if offset < 0 || offset >= m.size {
		return 0, io.EOF
	}
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer func() {
		if r := recover(); r != nil {
			if _, fault := r.(interface{ Addr() uintptr }); !fault {
				panic(r)
			}
			n, err = 0, fmt.Errorf("octet %d can no longer be read: the file was cut short while in use, or its disk failed", offset)
		}
	}()
	n = copy(p, m.pages[offset:])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

// close gives the pages back.
func (m *mapped) close() error {
	if m.pages == nil {
		return nil
	}
	pages := m.pages
	m.pages = nil
	return unix.Munmap(pages)
}

// openCube maps a file if it begins as a cube does.
func openCube(name string) (m *mapped, ok bool, err error) {
	file, size, err := open(name, maxForecastFile)
	if err != nil {
		return nil, false, err
	}
	defer func() {
		if cerr := file.Close(); cerr != nil {
			err = errors.Join(err, cerr)
		}
	}()
	if !begins(file, cube.Magic) {
		return nil, false, nil
	}
	m, err = mapFile(name, file, size)
	return m, err == nil, err
}
