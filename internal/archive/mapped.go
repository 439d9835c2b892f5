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
	file  *os.File // kept open for its shared lock, which says that the file is being read
}

// mapFile maps a file for reading, and takes a shared lock on it where the file
// system has such: so whoever makes room sees that it is in use. The file is
// closed with the mapping.
func mapFile(name string, file *os.File, size int64) (*mapped, error) {
	if size > math.MaxInt {
		return nil, fmt.Errorf("%d octets: want at most %d on this machine", size, math.MaxInt)
	}
	pages, err := unix.Mmap(int(file.Fd()), 0, int(size), unix.PROT_READ, unix.MAP_SHARED)
	if err != nil {
		return nil, fmt.Errorf("cannot be mapped: %w", err)
	}
	_ = unix.Flock(int(file.Fd()), unix.LOCK_SH) // without it the file can be read just as well
	return &mapped{name: name, size: size, pages: pages, file: file}, nil
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
	return errors.Join(unix.Munmap(pages), m.file.Close())
}

// openCube maps a file if it begins as a cube does.
func openCube(name string) (m *mapped, ok bool, err error) {
	file, size, err := open(name, maxForecastFile)
	if err != nil {
		return nil, false, err
	}
	if !begins(file, cube.Magic) {
		return nil, false, file.Close()
	}
	if m, err = mapFile(name, file, size); err != nil {
		return nil, false, errors.Join(err, file.Close())
	}
	return m, true, nil
}
