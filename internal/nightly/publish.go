package nightly

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"golang.org/x/sys/unix"

	"example.org/thistledown/internal/logbook"
)

// there reports whether a folder of a cycle is; as they take their place whole, it is
// whole.
func there(folder string) bool {
	info, err := os.Stat(folder)
	return err == nil && info.IsDir()
}

// publish puts a folder with some files in its place, all at once, also where one of
// the same plan, cycle and program is there.
func publish(folder string, files []File) (err error) {
	parent, name := filepath.Split(folder)
	if err := os.MkdirAll(parent, 0o755); err != nil { //nolint:gosec // pages are for everybody to read
		return err
	}
	if err := sweep(parent); err != nil {
		return err
	}
	beside, err := os.MkdirTemp(parent, ".new-"+name+"-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(beside))
		}
	}()
	if err := os.Chmod(beside, 0o755); err != nil { //nolint:gosec // as above
		return err
	}
	for _, f := range files {
		if err := write(filepath.Join(beside, f.Name), f.Write); err != nil {
			return fmt.Errorf("%s: %w", f.Name, err)
		}
	}
	if !there(folder) {
		return os.Rename(beside, folder)
	}
	if err := unix.Renameat2(unix.AT_FDCWD, beside, unix.AT_FDCWD, folder, unix.RENAME_EXCHANGE); err != nil {
		return err
	}
	return os.RemoveAll(beside) // which is the old one now
}

// sweep removes what a night that was stopped has left half done.
func sweep(folder string) error {
	entries, err := os.ReadDir(folder)
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), ".new-") {
			err = errors.Join(err, os.RemoveAll(filepath.Join(folder, e.Name())))
		}
	}
	return err
}

// write writes a file down to the disk.
func write(name string, content func(io.Writer) error) error {
	file, err := os.OpenFile(name, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644) //nolint:gosec // as above
	if err != nil {
		return err
	}
	return errors.Join(content(file), file.Sync(), file.Close())
}

// replace puts one file in its place, whole.
func replace(name string, content func(io.Writer) error) error {
	beside := filepath.Join(filepath.Dir(name), ".new-"+filepath.Base(name))
	if err := os.Remove(beside); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	err := write(beside, content)
	if err == nil {
		err = os.Rename(beside, name)
	}
	if err != nil {
		return errors.Join(err, ignoreGone(os.Remove(beside)))
	}
	return nil
}

func ignoreGone(err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	return err
}

// cycleFolder is how folders of cycles are named.
var cycleFolder = regexp.MustCompile(`^([0-9]{8}T[0-9]{4}Z)-[0-9a-f]{8}$`)

// stays are a site's runs whose pages stay: those of its newest cycles that are there.
func (n *night) stays(all []logbook.Run) []logbook.Run {
	var kept []logbook.Run
	for _, r := range all {
		young := len(kept) == 0 || kept[0].Cycle.Sub(r.Cycle) <= n.sites.Keep.Age
		if young && len(kept) < n.sites.Keep.Cycles && r.Page != "" && there(filepath.Join(n.sites.Folder, r.Page)) {
			kept = append(kept, r)
		}
	}
	return kept
}

// history writes a site's page of what each cycle said, and then removes the pages of
// cycles that it links to no more. Without a logbook it knows of the newest alone, and
// removes nothing.
func (n *night) history(p *piece, all []logbook.Run) error {
	kept := n.stays(all)
	folder := filepath.Join(n.sites.Folder, p.site.Name)
	err := replace(filepath.Join(folder, "index.html"), func(w io.Writer) error { return n.writeHistory(w, p, kept) })
	if err != nil || n.book == nil || n.outcome.History != nil {
		return err
	}
	entries, err := os.ReadDir(folder)
	for _, e := range entries {
		linked := slices.ContainsFunc(kept, func(r logbook.Run) bool { return filepath.Base(r.Page) == e.Name() })
		if e.IsDir() && cycleFolder.MatchString(e.Name()) && !linked && !newer(e.Name(), kept) {
			err = errors.Join(err, os.RemoveAll(filepath.Join(folder, e.Name())))
		}
	}
	return err
}

// newer reports whether a folder is of a cycle after all that are kept: a clock or a
// history that was put back is no reason to remove it.
func newer(name string, kept []logbook.Run) bool {
	cycle, err := time.Parse("20060102T1504Z", cycleFolder.FindStringSubmatch(name)[1])
	return err != nil || len(kept) == 0 || cycle.After(kept[0].Cycle)
}
