package mission

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"example.org/thistledown/internal/archive"
	"example.org/thistledown/internal/wind"
)

// Finder turns the name of a file in a plan into a path. Its error says what
// was wanted instead.
type Finder func(file string) (string, error)

// Beside finds files as a plan on disk means them: a relative name starts at
// the plan's folder.
func Beside(folder string) Finder {
	return func(file string) (string, error) {
		if filepath.IsAbs(file) {
			return file, nil
		}
		return filepath.Join(folder, file), nil
	}
}

// Within finds files for plans that come from elsewhere: plain names in one
// folder, and nothing outside it. An empty folder holds no files.
func Within(folder string) Finder {
	return func(file string) (string, error) {
		if folder == "" {
			return "", errors.New("none: this service was started without layers")
		}
		if !filepath.IsLocal(file) || file != filepath.Base(file) || file[0] == '.' {
			return "", errors.New("the name of one of this service's files, without a folder")
		}
		path := filepath.Join(folder, file)
		if info, err := os.Lstat(path); err != nil || !info.Mode().IsRegular() {
			return "", errors.New("the name of one of this service's files: it has none of this name")
		}
		return path, nil
	}
}

// Forecast opens the files of a forecast, and those of another to be flown on
// above its highest level if there are any, and unpacks the part of them that
// a box and a span of time need: a field for each member. It also says in whole
// sentences what they lack.
func Forecast(ctx context.Context, files, above []string, part wind.Part) ([]*wind.Field, []string, error) {
	fields, warnings, err := unpack(ctx, files, part)
	if err != nil || len(above) == 0 {
		return fields, warnings, err
	}
	// The upper one must cover all columns and steps that the lower one keeps.
	part.Box = fields[0].Grid().Box()
	part.From, part.To = fields[0].Start(), fields[0].End()
	upper, more, err := unpack(ctx, above, part)
	if err != nil {
		return nil, nil, err
	}
	for _, sentence := range more {
		if sentence != wind.NoTerrain { // which is the lower one's matter
			warnings = append(warnings, "Above: "+sentence)
		}
	}
	unlike := 0
	for i, lower := range fields {
		over, same := match(upper, lower)
		if !same {
			unlike++
		}
		joined, sentence, err := lower.Above(over)
		if err != nil {
			return nil, nil, fmt.Errorf("%s above %s: %w", above[0], files[0], err)
		}
		fields[i] = joined
		if !slices.Contains(warnings, sentence) {
			warnings = append(warnings, sentence)
		}
	}
	if len(fields)+len(upper) > 2 && unlike > 0 {
		warnings = append(warnings, fmt.Sprintf(
			"Above the seam %d of %d members have no member of their own and are flown on the %v: their spread is too small there.",
			unlike, len(fields), upper[0].Member()))
	}
	return fields, warnings, nil
}

// unpack opens the files of one forecast and unpacks a part of it.
func unpack(ctx context.Context, files []string, part wind.Part) (fields []*wind.Field, warnings []string, err error) {
	source, err := archive.Open(ctx, files, archive.Choice{})
	if err != nil {
		return nil, nil, err
	}
	defer func() { err = errors.Join(err, source.Close()) }()
	return source.Fields(ctx, part)
}

// match is the member that is the same as another forecast's, else the first.
func match(of []*wind.Field, other *wind.Field) (f *wind.Field, same bool) {
	for _, f := range of {
		if f.Member() == other.Member() {
			return f, true
		}
	}
	return of[0], false
}
