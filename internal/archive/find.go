package archive

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// maxFiles bounds the files of one forecast: a member of an ensemble has two
// for each of a hundred steps.
const maxFiles = 20000

// found is a file that may hold fields.
type found struct {
	name  string
	named bool // by the user himself, and not found in a folder
}

// find lists the files that names stand for: a file itself, or the files in
// and below a folder, in order of their names. What begins with a dot is passed
// over, in folders. No file is listed twice.
func find(names []string) ([]found, error) {
	var all []found
	seen := map[string]bool{}
	for _, name := range names {
		info, err := os.Stat(name)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, errors.Unwrap(err))
		}
		if !info.IsDir() {
			if clean := filepath.Clean(name); !seen[clean] {
				seen[clean] = true
				all = append(all, found{name, true})
			}
			continue
		}
		root, err := filepath.EvalSymlinks(name)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, errors.Unwrap(err))
		}
		err = filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return fmt.Errorf("%s: %w", path, errors.Unwrap(err))
			case path != root && strings.HasPrefix(d.Name(), "."):
				if d.IsDir() {
					return fs.SkipDir
				}
				return nil
			case !isFile(path, d) || seen[path]:
				return nil
			case len(all) == maxFiles:
				return fmt.Errorf("%s: more than %d files: want fewer at once", name, maxFiles)
			}
			seen[path] = true
			all = append(all, found{path, false})
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	if len(all) == 0 && len(names) > 0 {
		return nil, fmt.Errorf("%s: no file in it: want GRIB2 files or a cube", strings.Join(names[:min(len(names), 3)], ", "))
	}
	return all, nil
}

// isFile reports whether an entry of a folder is a file, or a link to one. Links
// to folders are not followed.
func isFile(path string, d fs.DirEntry) bool {
	if d.Type()&fs.ModeSymlink == 0 {
		return d.Type().IsRegular()
	}
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular()
}
