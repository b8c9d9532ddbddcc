package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/klauspost/compress/zstd"
	_ "modernc.org/sqlite" // the driver

	"wane/study"
)

// Store is an open study.
type Store struct {
	path         string // as the person gave it
	db           *sql.DB
	writer       *sql.DB // of one connection, which goroutines that write take turns with
	settings     study.Settings
	ready        map[string]*sql.Stmt // by the query
	compressor   *zstd.Encoder
	decompressor *zstd.Decoder

	waiting func(what string) // is told what a writer waits for; nil: nobody is
	witness string            // the file that heads are appended to; empty: none

	counted atomic.Bool                   // no row is missing
	damaged atomic.Pointer[study.Failure] // what was found damaged: nothing more is written
	roster  atomic.Pointer[keptRoster]    // the last one that was read
	codes   atomic.Pointer[keptCodes]     // the last ones that were read

	main, log           opened
	logSize             atomic.Int64 // of the -wal file after the last commit, in bytes
	number              int          // of this opening
	reading             bool         // it was opened to read
	frozen              bool         // nothing can be written where it is, and nothing is
	scratch             *scratch     // of the temporary copy that is open, if it is one
	checkpointing       sync.Mutex   // the log is being moved into the main file beside the writer
	rowsSinceCheckpoint int64        // rows that were added since that began, for the goroutine that writes
	marked              atomic.Bool  // this one has said that the study is not closed
	markInMainFile      atomic.Bool  // the main file says so
	notes               []string
}

// Modes of a connection.
const (
	modeWrite  = "rw"
	modeCreate = "rwc"
	modeFrozen = "ro&immutable=1" // no locks, no log, nothing beside the file
)

// Name returns the name of the file, without its folder.
func (s *Store) Name() string { return filepath.Base(s.path) }

// connect returns a Store for the file at path, of which nothing is known yet.
func connect(path, mode string) (*Store, error) {
	whole, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	s := &Store{path: path, number: newNumber(), frozen: mode == modeFrozen}
	if s.db, err = sql.Open("sqlite", dataSource(whole, mode, longestWait, "cache_size(-4000)")); err != nil {
		return nil, err
	}
	s.db.SetMaxIdleConns(max(2, runtime.GOMAXPROCS(0))) // to open one takes longer than most reads
	// Who writes comes back to the same pages. And what a refusal may bring back, the few
	// pages that a piece of a transaction alters, stays in memory: SQLite would write it to
	// a file of its own for each piece.
	if s.writer, err = sql.Open("sqlite",
		dataSource(whole, mode, longestWait, "cache_size(-8000)", "temp_store(memory)", longestLog)); err != nil {
		return nil, firstError(err, s.db.Close())
	}
	s.writer.SetMaxOpenConns(1)
	// Numbers written as text repeat near by or not at all: a larger window is only memory.
	s.compressor, err = zstd.NewWriter(nil, zstd.WithEncoderConcurrency(runtime.GOMAXPROCS(0)), zstd.WithWindowSize(1<<20))
	if err == nil {
		s.decompressor, err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(mostBytes),
			zstd.WithDecodeAllCapLimit(true))
	}
	if err != nil {
		return nil, firstError(err, s.disconnect())
	}
	return s, nil
}

// longestLog bounds the write-ahead log in pages: from there on the commit itself moves it
// into the main file, where [Store.checkpointInBackground] did not keep up.
const longestLog = "wal_autocheckpoint(8000)"

// disconnect closes all connections, that of the writer as the last.
func (s *Store) disconnect() error {
	s.checkpointing.Lock()
	defer s.checkpointing.Unlock()
	return errors.Join(s.db.Close(), s.writer.Close())
}

// longestWait is how long a locked study is waited for.
const longestWait = 5 * time.Second

// dataSource names the file and what holds for each connection: a locked study
// is waited for as long as wait says, a commit is on the disk when it returns, references are
// held, a transaction that may write takes the write lock at its start, and
// neither quoting slips nor the schema of a stranger do harm; and the further pragmas.
func dataSource(whole, mode string, wait time.Duration, further ...string) string {
	u := url.URL{Scheme: "file", Path: "/" + strings.TrimPrefix(filepath.ToSlash(whole), "/")} // file:///C:/... on Windows
	u.RawQuery = "mode=" + mode + "&_txlock=immediate&_defensive=1&_dqs=0" +
		fmt.Sprintf("&_pragma=busy_timeout(%d)", wait.Milliseconds()) + "&_pragma=foreign_keys(1)&_pragma=synchronous(full)" +
		"&_pragma=trusted_schema(0)&_pragma=cell_size_check(1)"
	for _, pragma := range further {
		u.RawQuery += "&_pragma=" + pragma
	}
	return u.String()
}

// Settings returns what was chosen when the study was made.
func (s *Store) Settings() study.Settings { return s.settings }

// Notes says what a person should know of how the study was opened, a line each: commits
// that were recovered, a transaction that was cut off, a copy that is read.
func (s *Store) Notes() []string { return s.notes }

// Close ends the use of the study. The last one to close it, of all processes,
// leaves one file. A study that is not any more where it was opened is refused.
func (s *Store) Close() error {
	ctx := context.Background()
	err := s.causeIfMoved(s.prepareClose(ctx))
	err = firstError(err, s.disconnect())
	s.compressor.Close()
	s.decompressor.Close()
	if s.scratch != nil {
		err = firstError(err, s.scratch.remove())
	} else if err == nil {
		err = s.checkAfterClose(ctx)
	}
	if isFull(err) {
		return fullAtTheEnd(s.path)
	}
	return refuse(s.path, err)
}

// awaitReaders waits until no connection reads any more: database/sql ends a transaction whose
// context is done in a goroutine of its own, and what is still read keeps the log.
func (s *Store) awaitReaders() {
	for begun := time.Now(); s.db.Stats().InUse > 0 && time.Since(begun) < longestWait; {
		time.Sleep(time.Millisecond)
	}
}

// prepareClose marks the study as closed while it is still open, or keeps its log.
func (s *Store) prepareClose(ctx context.Context) error {
	if s.frozen {
		return nil
	}
	s.awaitReaders()
	if err := s.logNotCut(); err != nil {
		return err // and the study does not say that it is closed
	}
	var err error
	if s.marked.Load() {
		err = s.unmark(ctx)
	}
	// Whoever closes last takes the log away, which belongs to a study that is not closed.
	if now, e := userVersionOf(ctx, s.db); e != nil || now.marked() {
		err = firstError(err, s.keepWAL(ctx))
	}
	if isBusy(err) {
		return nil // another process is writing, and goes on from here
	}
	return err
}

// checkAfterClose checks the file when no connection is left.
func (s *Store) checkAfterClose(ctx context.Context) error {
	if s.main.info == nil {
		return nil
	}
	if s.frozen {
		return s.about(s.asItWas())
	}
	if err := s.about(s.main.inPlace()); err != nil {
		return err
	}
	// One that was killed while this one had the study open has left its log.
	file, err := located(s.main.path)
	if err != nil {
		return err
	}
	if info, err := os.Stat(walName(file)); err == nil && info.Size() > 0 {
		if _, exclusive, err := recoverExclusively(ctx, file); err != nil || !exclusive {
			return err
		}
		return removeSideFiles(ctx, file)
	}
	return nil
}

func fullAtTheEnd(path string) error {
	return &study.Failure{
		File:  path,
		Fault: fmt.Sprintf("the disk is full: part of the study stays in %s", walName(path)),
		Try:   "make room and open the study again; until then keep both files together",
	}
}
