package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"

	"github.com/klauspost/compress/zstd"
	_ "modernc.org/sqlite" // the driver
	sqlite3 "modernc.org/sqlite/lib"

	"wane/study"
)

// Store is an open study.
type Store struct {
	path         string // as the person gave it
	db           *sql.DB
	pen          *sql.DB // of one connection, which goroutines that write take turns with
	settings     study.Settings
	ready        map[string]*sql.Stmt // by the query
	compressor   *zstd.Encoder
	decompressor *zstd.Decoder

	witness string // the file that heads are appended to; empty: none

	counted atomic.Bool                   // no row is missing
	damaged atomic.Pointer[study.Failure] // what was found damaged: nothing more is written
}

// connect returns a Store for the file at path, of which nothing is known yet.
// mode is rw, or rwc to create it.
func connect(path, mode string) (*Store, error) {
	whole, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	s := &Store{path: path}
	if s.db, err = sql.Open("sqlite", dataSource(whole, mode, "cache_size(-4000)")); err != nil {
		return nil, err
	}
	s.db.SetMaxIdleConns(max(2, runtime.GOMAXPROCS(0))) // to open one takes longer than most reads
	// Who writes comes back to the same pages. And what a refusal may bring back, the few
	// pages that a piece of a transaction alters, stays in memory: SQLite would write it to
	// a file of its own for each piece.
	if s.pen, err = sql.Open("sqlite", dataSource(whole, mode, "cache_size(-8000)", "temp_store(memory)")); err != nil {
		return nil, errOr(err, s.db.Close())
	}
	s.pen.SetMaxOpenConns(1)
	// Numbers written as text repeat near by or not at all: a larger window is only memory.
	s.compressor, err = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(runtime.GOMAXPROCS(0)), zstd.WithWindowSize(1<<20))
	if err == nil {
		s.decompressor, err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(mostBytes), zstd.WithDecodeAllCapLimit(true))
	}
	if err != nil {
		return nil, errOr(err, s.disconnect())
	}
	return s, nil
}

// disconnect closes all connections.
func (s *Store) disconnect() error { return errors.Join(s.pen.Close(), s.db.Close()) }

// dataSource names the file and what holds for each connection: a locked study
// is waited for 5 s, a commit is on the disk when it returns, references are
// held, a transaction that may write takes the write lock at its start, and
// neither quoting slips nor the schema of a stranger do harm; and the further pragmas.
func dataSource(whole, mode string, further ...string) string {
	u := url.URL{Scheme: "file", Path: "/" + strings.TrimPrefix(filepath.ToSlash(whole), "/")} // file:///C:/... on Windows
	u.RawQuery = "mode=" + mode + "&_txlock=immediate&_defensive=1&_dqs=0" +
		"&_pragma=busy_timeout(5000)&_pragma=foreign_keys(1)&_pragma=synchronous(full)" +
		"&_pragma=trusted_schema(0)&_pragma=cell_size_check(1)"
	for _, pragma := range further {
		u.RawQuery += "&_pragma=" + pragma
	}
	return u.String()
}

// Settings returns what was chosen when the study was made.
func (s *Store) Settings() study.Settings { return s.settings }

// Close ends the use of the study. The last one to close it, of all processes,
// leaves one file.
func (s *Store) Close() error {
	err := s.checkpoint()
	err = errOr(err, s.disconnect())
	s.compressor.Close()
	s.decompressor.Close()
	if resultCode(err)&0xff == sqlite3.SQLITE_FULL {
		return &study.Failure{
			File:  s.path,
			Fault: fmt.Sprintf("the disk is full: part of the study stays in %s-wal", s.path),
			Try:   "make room and open the study again; until then keep both files together",
		}
	}
	return refuse(s.path, err)
}

// checkpoint moves what the write-ahead log holds into the file, unless another
// process is just using it: then it is left to that one. SQLite does the same
// when the last connection closes, but keeps a failure to itself.
func (s *Store) checkpoint() error {
	ctx := context.Background()
	conn, err := s.db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "PRAGMA busy_timeout = 0"); err != nil {
		return err
	}
	_, err = conn.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	if resultCode(err)&0xff == sqlite3.SQLITE_BUSY {
		return nil
	}
	return err
}
