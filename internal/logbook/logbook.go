// Package logbook keeps what was said before: of every site and cycle of the forecast
// each launch time with its verdict, score and landing.
//
// It hides SQLite, its file and the versions of its tables. A book is one file, which
// several programs may have open at once; what is written is there whole or not at all.
// Times are UTC to the second.
package logbook

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"example.org/thistledown/internal/geo"
)

// patience is how long a book that another program writes is waited for.
const patience = 5 * time.Second

// mark is the application's number in a book's header, by which it is told from other
// databases: "this" in ASCII.
const mark = 0x74686973

// maxRuns bounds how many runs are read at once.
const maxRuns = 1000

// Book is a history. It may be used by several goroutines.
type Book struct{ db *sql.DB }

// Run is what one site's week came to on one cycle.
type Run struct {
	Site    string
	Cycle   time.Time
	Plan    string // digest of the plan
	Version string // of the program
	Seed    uint64
	Page    string // where its pages are, from the folder of all; "": nowhere
	Windows []Window
}

// Window is what was said of one launch time.
type Window struct {
	From       string // name of the place, which a site may have several of
	Launch     time.Time
	NotCovered string // why nothing was said; then the rest is empty
	Rank       int    // place in the ranking, from 1
	Verdict    string
	// Score is the hazard score with its 95 % interval, 0 to 100; NaN where nothing
	// landed within the forecast, as are the rest then.
	Score, Low, High float64
	MostLikely       geo.Point
	Area80           float64 // m², of the region of 80 %
}

// migrations are the steps from each version of the tables to the next.
var migrations = []string{
	`CREATE TABLE run (
		site TEXT NOT NULL, cycle INTEGER NOT NULL, plan TEXT NOT NULL, version TEXT NOT NULL,
		seed TEXT NOT NULL, page TEXT NOT NULL, PRIMARY KEY (site, cycle)
	) STRICT;
	CREATE TABLE moment (
		site TEXT NOT NULL, cycle INTEGER NOT NULL, place TEXT NOT NULL, launch INTEGER NOT NULL,
		not_covered TEXT NOT NULL, rank INTEGER NOT NULL, verdict TEXT NOT NULL, score REAL, low REAL, high REAL,
		latitude REAL, longitude REAL, area80 REAL,
		PRIMARY KEY (site, cycle, place, launch),
		FOREIGN KEY (site, cycle) REFERENCES run (site, cycle) ON DELETE CASCADE
	) STRICT`,
	`CREATE TABLE told (site TEXT NOT NULL, cycle INTEGER NOT NULL, PRIMARY KEY (site, cycle)) STRICT`,
}

// Open opens the book in a file, which it makes where there is none, and brings its
// tables to what this program writes. A book of a later program is refused.
func Open(ctx context.Context, file string) (*Book, error) {
	b, err := open(ctx, file)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, plain(err))
	}
	return b, nil
}

// plain says in words what SQLite has a number for.
func plain(err error) error {
	var fault *sqlite.Error
	if !errors.As(err, &fault) {
		return err
	}
	switch fault.Code() & 0xff {
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fmt.Errorf("another program has been writing it for %v: want it to end first (%w)", patience, err)
	case sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("not a history: want a file that nightly has written (%w)", err)
	case sqlite3.SQLITE_CORRUPT:
		return fmt.Errorf("damaged: want a copy that thistledown log backup has made in its place (%w)", err)
	}
	return err
}

func open(ctx context.Context, file string) (*Book, error) {
	if info, err := os.Stat(filepath.Dir(file)); err != nil || !info.IsDir() {
		return nil, errors.New("no such folder: want the history's file in one that is there")
	}
	if info, err := os.Stat(file); err == nil && !info.Mode().IsRegular() {
		return nil, errors.New("no file: want one that nightly has written, or none yet")
	}
	query := url.Values{"_pragma": {
		fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds()), "journal_mode(WAL)", "foreign_keys(1)", "synchronous(FULL)",
	}, "_txlock": {"immediate"}}
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: file}).EscapedPath()+"?"+query.Encode())
	if err != nil {
		return nil, err
	}
	b := &Book{db}
	if err := b.migrate(ctx); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return b, nil
}

// migrate takes the steps that are missing, each with its number, at once.
func (b *Book) migrate(ctx context.Context) error {
	// A book that needs no change can be opened while somebody writes it.
	if version, err := versionOf(ctx, b.db); err != nil || version == len(migrations) {
		return err
	}
	return b.change(ctx, func(tx *sql.Tx) error {
		version, err := versionOf(ctx, tx)
		if err != nil {
			return err
		}
		for ; version < len(migrations); version++ {
			if _, err := tx.ExecContext(ctx, migrations[version]); err != nil {
				return err
			}
			if _, err := tx.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d; PRAGMA application_id = %d", version+1, mark)); err != nil {
				return err
			}
		}
		return nil
	})
}

// versionOf is the version of a book's tables, 0 where there are none. The error says
// that it is a later program's, or no book.
func versionOf(ctx context.Context, from interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
},
) (int, error) {
	var version, id, tables int
	if err := from.QueryRowContext(ctx, "SELECT user_version, application_id, (SELECT count(*) FROM sqlite_schema) FROM pragma_user_version, pragma_application_id").
		Scan(&version, &id, &tables); err != nil {
		return 0, err
	}
	switch {
	case id != mark && (id != 0 || version != 0 || tables > 0):
		return 0, errors.New("a database of another program: want a history that nightly has written")
	case version > len(migrations):
		return 0, fmt.Errorf("tables of version %d, of a later program: want at most %d", version, len(migrations))
	}
	return version, nil
}

// change does something whole or not at all.
func (b *Book) change(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := b.db.BeginTx(ctx, nil)
	if err != nil {
		return plain(err)
	}
	if err := do(tx); err != nil {
		return errors.Join(plain(err), ignoreDone(tx.Rollback()))
	}
	return plain(tx.Commit())
}

func ignoreDone(err error) error {
	if errors.Is(err, sql.ErrTxDone) {
		return nil
	}
	return err
}

// Close closes it.
func (b *Book) Close() error { return b.db.Close() }

// Keep writes a run down, in place of what the same site and cycle had.
func (b *Book) Keep(ctx context.Context, r Run) error {
	return b.change(ctx, func(tx *sql.Tx) error {
		cycle := r.Cycle.Unix()
		if _, err := tx.ExecContext(ctx, "DELETE FROM run WHERE site = ? AND cycle = ?", r.Site, cycle); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "INSERT INTO run VALUES (?, ?, ?, ?, ?, ?)",
			r.Site, cycle, r.Plan, r.Version, strconv.FormatUint(r.Seed, 10), r.Page); err != nil {
			return err
		}
		for _, w := range r.Windows {
			if _, err := tx.ExecContext(ctx, "INSERT INTO moment VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
				r.Site, cycle, w.From, w.Launch.Unix(), w.NotCovered, w.Rank, w.Verdict, known(w.Score), known(w.Low), known(w.High),
				known(w.MostLikely.Lat), known(w.MostLikely.Lon), known(w.Area80)); err != nil {
				return fmt.Errorf("launch time %s from %s: %w", w.Launch.UTC().Format(time.RFC3339), w.From, err)
			}
		}
		return nil
	})
}

// known is a number, or nothing where it is none.
func known(v float64) any {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return v
}

// number is NaN where there is nothing.
func number(v sql.NullFloat64) float64 {
	if !v.Valid {
		return math.NaN()
	}
	return v.Float64
}

// Last are a site's newest runs, the newest first, n of them at most.
func (b *Book) Last(ctx context.Context, site string, n int) ([]Run, error) {
	all, err := b.last(ctx, site, n)
	return all, plain(err)
}

func (b *Book) last(ctx context.Context, site string, n int) ([]Run, error) {
	rows, err := b.db.QueryContext(ctx, "SELECT cycle, plan, version, seed, page FROM run WHERE site = ? ORDER BY cycle DESC LIMIT ?", site, min(max(n, 0), maxRuns))
	if err != nil {
		return nil, err
	}
	var all []Run
	for rows.Next() {
		r := Run{Site: site}
		var cycle int64
		var seed string
		if err := rows.Scan(&cycle, &r.Plan, &r.Version, &seed, &r.Page); err != nil {
			return nil, errors.Join(err, rows.Close())
		}
		r.Cycle = time.Unix(cycle, 0).UTC()
		if r.Seed, err = strconv.ParseUint(seed, 10, 64); err != nil {
			return nil, errors.Join(fmt.Errorf("site %s, cycle %s: seed %q: want a whole number", site, r.Cycle.Format(time.RFC3339), seed), rows.Close())
		}
		all = append(all, r)
	}
	if err := errors.Join(rows.Err(), rows.Close()); err != nil {
		return nil, err
	}
	for i := range all {
		if all[i].Windows, err = b.windows(ctx, site, all[i].Cycle); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// windows are those of a run, in order of time and place.
func (b *Book) windows(ctx context.Context, site string, cycle time.Time) ([]Window, error) {
	rows, err := b.db.QueryContext(ctx, `SELECT place, launch, not_covered, rank, verdict, score, low, high, latitude, longitude, area80
		FROM moment WHERE site = ? AND cycle = ? ORDER BY launch, place`, site, cycle.Unix())
	if err != nil {
		return nil, err
	}
	var all []Window
	for rows.Next() {
		var w Window
		var launch int64
		var v [6]sql.NullFloat64
		if err := rows.Scan(&w.From, &launch, &w.NotCovered, &w.Rank, &w.Verdict, &v[0], &v[1], &v[2], &v[3], &v[4], &v[5]); err != nil {
			return nil, errors.Join(err, rows.Close())
		}
		w.Launch = time.Unix(launch, 0).UTC()
		w.Score, w.Low, w.High, w.Area80 = number(v[0]), number(v[1]), number(v[2]), number(v[5])
		w.MostLikely = geo.Point{Lat: number(v[3]), Lon: number(v[4])}
		all = append(all, w)
	}
	return all, errors.Join(rows.Err(), rows.Close())
}

// Told reports whether a site's good launch time on a cycle was told.
func (b *Book) Told(ctx context.Context, site string, cycle time.Time) (bool, error) {
	var n int
	err := b.db.QueryRowContext(ctx, "SELECT count(*) FROM told WHERE site = ? AND cycle = ?", site, cycle.Unix()).Scan(&n)
	return n > 0, err
}

// Tell writes down that it was.
func (b *Book) Tell(ctx context.Context, site string, cycle time.Time) error {
	_, err := b.db.ExecContext(ctx, "INSERT OR IGNORE INTO told VALUES (?, ?)", site, cycle.Unix())
	return err
}

// Check looks the whole file over.
func (b *Book) Check(ctx context.Context) error {
	for _, look := range []struct{ pragma, fault string }{
		{"SELECT integrity_check FROM pragma_integrity_check WHERE integrity_check <> 'ok' LIMIT 1", "damaged: want a copy that thistledown log backup has made in its place"},
		{"SELECT rowid FROM pragma_foreign_key_check LIMIT 1", "damaged: a launch time without its run"},
	} {
		var said string
		switch err := b.db.QueryRowContext(ctx, look.pragma).Scan(&said); {
		case err == nil:
			return fmt.Errorf("%s (%s)", look.fault, strings.Join(strings.Split(said, "\n"), "; "))
		case !errors.Is(err, sql.ErrNoRows):
			return plain(err)
		}
	}
	return nil
}

// Holds is how much a book holds.
type Holds struct {
	Runs, Windows, Sites int
	First, Last          time.Time // cycles; zero where there is no run
}

// Holds counts it.
func (b *Book) Holds(ctx context.Context) (Holds, error) {
	var h Holds
	var first, last sql.NullInt64
	err := b.db.QueryRowContext(ctx, "SELECT count(*), count(DISTINCT site), min(cycle), max(cycle), (SELECT count(*) FROM moment) FROM run").
		Scan(&h.Runs, &h.Sites, &first, &last, &h.Windows)
	if first.Valid {
		h.First, h.Last = time.Unix(first.Int64, 0).UTC(), time.Unix(last.Int64, 0).UTC()
	}
	return h, plain(err)
}

// Backup copies the book to a file, whole, while others may write it. What was there
// is replaced once the copy is whole; a file that somebody has open as a history, this
// book's own among them, is refused.
func (b *Book) Backup(ctx context.Context, file string) error {
	if err := b.backup(ctx, file); err != nil {
		return fmt.Errorf("%s: %w", file, plain(err))
	}
	return nil
}

func (b *Book) backup(ctx context.Context, file string) error {
	if info, err := os.Stat(file); err == nil && !info.Mode().IsRegular() {
		return errors.New("no file: want one, or none yet")
	}
	// A log that lies beside it would be read into the copy, and damage it.
	if _, err := os.Lstat(file + "-wal"); err == nil {
		return fmt.Errorf("a history in use, with %s beside it: want another file for the copy", filepath.Base(file)+"-wal")
	}
	beside, err := os.MkdirTemp(filepath.Dir(file), "."+filepath.Base(file)+".*")
	if err != nil {
		return err
	}
	copied := filepath.Join(beside, "copy")
	if _, err = b.db.ExecContext(ctx, "VACUUM INTO ?", copied); err == nil {
		err = settle(copied)
	}
	if err == nil {
		err = os.Rename(copied, file)
	}
	return errors.Join(err, os.RemoveAll(beside))
}

// settle brings what was written of a file to the disk.
func settle(name string) error {
	file, err := os.Open(name) //nolint:gosec // the caller's own
	if err != nil {
		return err
	}
	return errors.Join(file.Sync(), file.Close())
}
