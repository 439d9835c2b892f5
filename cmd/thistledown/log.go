package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"example.org/thistledown/internal/logbook"
)

// logs are the commands on the history that nightly keeps.
type logs struct {
	Check  logCheck  `cmd:"" help:"Look a history over: whether it is whole, and what it holds."`
	Backup logBackup `cmd:"" help:"Copy a history while it is in use."`
}

// logCheck is the command of that name.
type logCheck struct {
	File string `arg:"" placeholder:"FILE" help:"The history: the file that nightly's list names."`
}

// logBackup is the command of that name.
type logBackup struct {
	File string `arg:"" placeholder:"FILE" help:"The history: the file that nightly's list names."`
	Copy string `arg:"" placeholder:"COPY" help:"The file to write, which may be an older copy."`
}

// Run does it.
func (l *logCheck) Run(ctx context.Context, s *streams) error {
	return withHistory(ctx, l.File, func(b *logbook.Book) error {
		if err := b.Check(ctx); err != nil {
			return err
		}
		holds, err := b.Holds(ctx)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(s.out, "%s: whole; %s\n", l.File, holdsText(holds))
		return err
	})
}

// Run does it.
func (l *logBackup) Run(ctx context.Context, s *streams) error {
	return withHistory(ctx, l.File, func(b *logbook.Book) error {
		// A damaged history is not copied over a copy that is whole.
		if err := b.Check(ctx); err != nil {
			return err
		}
		if err := b.Backup(ctx, l.Copy); err != nil {
			return err
		}
		holds, err := b.Holds(ctx)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(s.out, "%s: copied to %s; %s\n", l.File, l.Copy, holdsText(holds))
		return err
	})
}

// withHistory does something with a history that is there. Its errors name the file.
func withHistory(ctx context.Context, file string, do func(*logbook.Book) error) error {
	if _, err := os.Stat(file); errors.Is(err, os.ErrNotExist) { // opening would begin a new one
		return fmt.Errorf("%s: no such file: want a history that nightly has written", file)
	}
	book, err := logbook.Open(ctx, file)
	if err != nil {
		return err
	}
	if err := errors.Join(do(book), book.Close()); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	return nil
}

// holdsText is what a history holds in words.
func holdsText(h logbook.Holds) string {
	if h.Runs == 0 {
		return "no runs yet"
	}
	day := func(t time.Time) string { return t.UTC().Format("2006-01-02 15:04") }
	return fmt.Sprintf("runs: %d, launch times: %d, sites: %d, cycles: %s to %s UTC", h.Runs, h.Windows, h.Sites, day(h.First), day(h.Last))
}
