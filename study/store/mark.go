package store

import (
	"context"
	"database/sql"
	"fmt"

	"modernc.org/sqlite"
)

// unclosed is added to the user_version of a study while it is open for writing: commits
// may then stand in its write-ahead log only. It is in the main file before the first of
// them is acknowledged, and there is a log as long as it is there: a file that says so
// and has no log beside it has lost it.
const unclosed = 1 << 16

// versionOf returns the version of a study, and whether it says that it is not closed.
func versionOf(ctx context.Context, q querier) (version int, marked bool, err error) {
	n, err := pragma(ctx, q, "user_version")
	if err == nil && n < 0 {
		err = wrongVersion(n)
	}
	return n &^ unclosed, n&unclosed != 0, err
}

// wrongVersion is the fault of a file that says a version that it cannot have.
func wrongVersion(version int) error {
	return &damage{"", 0, fmt.Sprintf("it says that it is of version %d, which it is not", version)}
}

// setVersion writes the version of a study, and whether it is closed.
func setVersion(ctx context.Context, db interface {
	ExecContext(context.Context, string, ...any) (sql.Result, error)
}, version int, marked bool) error {
	if marked {
		version |= unclosed
	}
	_, err := db.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", version))
	return err
}

// mark sees to it that the main file says that the study is not closed.
func (s *Store) mark(ctx context.Context) error {
	s.marked.Store(true)
	if err := s.setMark(ctx, true); err != nil {
		return err
	}
	return s.showMark(ctx)
}

// setMark says in a transaction of its own whether the study is closed.
func (s *Store) setMark(ctx context.Context, to bool) error {
	tx, err := s.pen.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after Commit: nothing
	version, marked, err := versionOf(ctx, tx)
	if err != nil || marked == to {
		return err
	}
	if err := setVersion(ctx, tx, version, to); err != nil {
		return err
	}
	return tx.Commit()
}

// markIn is mark within a transaction: another process that closed the study has said
// that it is closed.
func (s *Store) markIn(ctx context.Context, tx *sql.Tx) error {
	version, marked, err := versionOf(ctx, tx)
	if err != nil || marked {
		return err
	}
	s.marked.Store(true)
	s.shown.Store(false)
	return setVersion(ctx, tx, version, true)
}

// showMark brings the mark from the log into the main file, unless that was done. Where
// somebody who reads an older moment keeps it from there, the next commit tries again.
func (s *Store) showMark(ctx context.Context) error {
	if s.shown.Load() {
		return nil
	}
	whole, err := s.fold(ctx)
	s.shown.Store(whole && err == nil)
	if isFull(err) {
		return fullAtTheEnd(s.path)
	}
	return err
}

// fold moves what the write-ahead log holds into the main file as far as nobody reads an
// older moment, and reports whether that was all.
func (s *Store) fold(ctx context.Context) (whole bool, err error) {
	var busy, frames, moved int
	err = s.pen.QueryRowContext(ctx, "PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &frames, &moved)
	if isBusy(err) {
		return false, nil // another process is doing it
	}
	return busy == 0 && frames == moved, err
}

// unmark moves what the log holds into the main file and then says there that the study
// is closed: SQLite itself keeps a failure at closing to itself. Others may have it open:
// those that write say otherwise with their next commit.
func (s *Store) unmark(ctx context.Context) error {
	if _, err := s.fold(ctx); err != nil {
		return err
	}
	err := s.setMark(ctx, false)
	if err == nil {
		_, err = s.fold(ctx)
	}
	return err
}

// keepWAL lets the write-ahead log stay if this is the last to close the study.
func (s *Store) keepWAL(ctx context.Context) error {
	conn, err := s.pen.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := pragma(ctx, conn, "user_version"); err != nil { // opens the log
		return err
	}
	return conn.Raw(func(c any) error {
		_, err := c.(sqlite.FileControl).FileControlPersistWAL("main", 1)
		return err
	})
}
