package store

import (
	"context"
	"crypto/rand"
	"database/sql"
	"encoding/binary"
	"fmt"

	"modernc.org/sqlite"

	"wane/study"
)

// unclosed is added to the user_version of a study while it is open for writing: commits
// may then stand in its write-ahead log only. There is a log as long as it is there: a file
// that says so and has no log beside it has lost it. Above it stands the number of the
// opening, drawn at random, which each commit writes: it says to which file a log belongs.
const (
	unclosed   = 1 << 16
	numberBits = 14 // so that the whole stays positive
)

// userVersion is the user_version of a study.
type userVersion int

func (v userVersion) marked() bool { return v&unclosed != 0 }

// version is that of the tables. A file that is closed says nothing else.
func (v userVersion) version() int {
	if v.marked() {
		return int(v & (unclosed - 1))
	}
	return int(v)
}

// number is that of the opening; 0 if the study is closed, or was opened by a program that
// drew none.
func (v userVersion) number() int {
	if v.marked() {
		return int(v/unclosed/2) & (1<<numberBits - 1)
	}
	return 0
}

func (v userVersion) closed() userVersion { return userVersion(v.version()) }

// openedBy is what it is while the study is open. A number that is there stays.
func (v userVersion) openedBy(number int) userVersion {
	if v.number() == 0 {
		return v.closed() + unclosed + userVersion(number)*unclosed*2
	}
	return v
}

// newNumber draws the number of an opening.
func newNumber() int {
	var b [4]byte
	rand.Read(b[:]) // does not fail
	return 1 + int(binary.BigEndian.Uint32(b[:])%(1<<numberBits-1))
}

func userVersionOf(ctx context.Context, q querier) (userVersion, error) {
	n, err := pragma(ctx, q, "user_version")
	if err == nil && n < 0 {
		err = wrongVersion(n)
	}
	return userVersion(n), err
}

// wrongVersion is the fault of a file that says a version that it cannot have.
func wrongVersion(version int) error {
	return &damage{table: "", row: 0, fault: fmt.Sprintf("it says that it is of version %d, which it is not", version)}
}

func setUserVersion(ctx context.Context, db interface {
	ExecContext(context.Context, string, ...any) (sql.Result, error)
}, to userVersion) error {
	_, err := db.ExecContext(ctx, fmt.Sprintf("PRAGMA user_version = %d", to))
	return err
}

// mark sees to it that the main file says that the study is not closed.
func (s *Store) mark(ctx context.Context) error {
	s.marked.Store(true)
	if err := s.setMark(ctx, true); err != nil {
		return err
	}
	return s.checkpointMark(ctx)
}

// setMark says in a transaction of its own whether the study is closed.
func (s *Store) setMark(ctx context.Context, to bool) error {
	tx, err := s.writer.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after Commit: nothing
	now, err := userVersionOf(ctx, tx)
	next := now.closed()
	if to {
		next = now.openedBy(s.number)
	}
	if err != nil || next == now {
		return err
	}
	if err := setUserVersion(ctx, tx, next); err != nil {
		return err
	}
	return tx.Commit()
}

// markIn is mark within a transaction, in which the mark is written again, so that the log
// says to which file it belongs. Another process that closed the study may have said
// meanwhile that it is closed.
func (s *Store) markIn(ctx context.Context, tx *sql.Tx) error {
	now, err := userVersionOf(ctx, tx)
	if err != nil {
		return err
	}
	if now.number() == 0 {
		s.marked.Store(true)
		s.markInMainFile.Store(false)
	}
	return setUserVersion(ctx, tx, now.openedBy(s.number))
}

// checkpointMark brings the mark from the log into the main file, unless that was done. Where
// somebody who reads an older moment keeps it from there, the next commit tries again.
func (s *Store) checkpointMark(ctx context.Context) error {
	if s.markInMainFile.Load() {
		return nil
	}
	whole, err := s.checkpoint(ctx)
	s.markInMainFile.Store(whole && err == nil)
	if isFull(err) {
		return fullAtTheEnd(s.path)
	}
	return err
}

// checkpointRows is after how many rows that were added the log is moved into the main file.
const checkpointRows = 1000

// checkpointInBackground moves what the write-ahead log holds into the main file while the next
// transaction is made. A failure stays to itself, as it does where SQLite moves the log by
// itself: the log is whole, and is moved again, at the latest at the end.
func (s *Store) checkpointInBackground() {
	if !s.checkpointing.TryLock() {
		return
	}
	go func() {
		defer s.checkpointing.Unlock()
		var err error // the next checkpoint meets it again, and the one at the end reports it
		defer study.Catch("", &err)
		_, err = s.db.Exec("PRAGMA wal_checkpoint(PASSIVE)")
	}()
}

// checkpoint moves what the write-ahead log holds into the main file as far as nobody reads an
// older moment, and reports whether that was all.
func (s *Store) checkpoint(ctx context.Context) (whole bool, err error) {
	var busy, frames, moved int
	err = s.writer.QueryRowContext(ctx, "PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &frames, &moved)
	if isBusy(err) {
		return false, nil // another process is doing it
	}
	return busy == 0 && frames == moved, err
}

// unmark moves what the log holds into the main file and then says there that the study
// is closed: SQLite itself keeps a failure at closing to itself. Others may have it open:
// those that write say otherwise with their next commit.
func (s *Store) unmark(ctx context.Context) error {
	if _, err := s.checkpoint(ctx); err != nil {
		return err
	}
	err := s.setMark(ctx, false)
	if err == nil {
		_, err = s.checkpoint(ctx)
	}
	return err
}

// keepWAL lets the write-ahead log stay if this is the last to close the study.
func (s *Store) keepWAL(ctx context.Context) error {
	conn, err := s.writer.Conn(ctx)
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
