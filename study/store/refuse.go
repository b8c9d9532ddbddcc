package store

import (
	"context"
	"errors"
	"syscall"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"wane/study"
)

// damage is a row that cannot be right; row 0 is the table as a whole.
type damage struct {
	table string
	row   int64
	fault string
	cause error // whose text ends the fault, or nil
}

func (d *damage) Error() string {
	return Finding{d.table, d.row, d.fault}.String()
}

// Unwrap returns the cause.
func (d *damage) Unwrap() error { return d.cause }

// damaged returns the damage of a row that cannot be read for a cause.
func damaged(table string, row int64, cause error) error {
	return &damage{table: table, row: row, fault: cause.Error(), cause: cause}
}

const (
	tryVerify = "run `wane verify` to see everything that is wrong; keep a copy of the file as it is, and go on with " +
		"the last backup"
	tryBackup = "keep a copy of the file as it is, and go on with the last backup"
	trySpace  = "make room on the disk and run it again: what was finished is kept"
	tryFolder = "make a copy with `wane backup` in a folder where you may write, and use that copy"
	tryWait   = "wait until the other command has finished and run it again"
)

// sqliteFaults says what a result code of SQLite means to a person. Source:
// sqlite.org/rescode.html.
var sqliteFaults = map[int]study.Failure{
	sqlite3.SQLITE_BUSY:     {Fault: "the study is in use by another process", Try: tryWait},
	sqlite3.SQLITE_LOCKED:   {Fault: "the study is in use by another process", Try: tryWait},
	sqlite3.SQLITE_FULL:     {Fault: "the disk is full", Try: trySpace},
	sqlite3.SQLITE_READONLY: {Fault: "the study cannot be written", Try: tryFolder},
	sqlite3.SQLITE_PERM:     {Fault: "the study cannot be written", Try: tryFolder},
	sqlite3.SQLITE_CANTOPEN: {Fault: "the study cannot be opened: its folder must be there and allow writing",
		Try: tryFolder},
	sqlite3.SQLITE_CORRUPT: {Fault: "the study file is damaged", Try: tryBackup},
	sqlite3.SQLITE_NOTADB: {Fault: "this is not a study: it is not an SQLite database",
		Try: "name a file that wane made"},
	sqlite3.SQLITE_IOERR: {Fault: "the disk failed to read or write",
		Try: "check the disk, and that no program moves the -wal file away, and run it again: what was finished is kept"},
}

// refuse makes err fit for a person: what the study at path, damage in it or the
// disk below it causes becomes a [*study.Failure]. Other errors stay.
func refuse(path string, err error) error {
	if err == nil || isRefusal(err) || isFailure(err) || errors.Is(err, context.Canceled) ||
		errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	var broken *damage
	if errors.As(err, &broken) {
		try := tryVerify
		if broken.table == "" { // so far that it cannot be opened
			try = tryBackup
		}
		return &study.Failure{File: path, Fault: "the study file is damaged here", Try: try, Cause: err}
	}
	if errors.Is(err, syscall.ENOSPC) {
		return &study.Failure{File: path, Fault: "the disk is full", Try: trySpace}
	}
	if f := refuseAccess(path, err); f != nil {
		return f
	}
	if r, ok := sqliteFaults[resultCode(err)&0xff]; ok {
		r.File = path
		if resultCode(err)&0xff == sqlite3.SQLITE_IOERR {
			r.Cause = err // which of many
		}
		return &r
	}
	return err
}

// resultCode returns the extended result code of SQLite in err, 0 if there is
// none. The low byte is the primary code.
func resultCode(err error) int {
	var e *sqlite.Error
	if errors.As(err, &e) {
		return e.Code()
	}
	return 0
}

// isFull reports whether the disk was full.
func isFull(err error) bool { return resultCode(err)&0xff == sqlite3.SQLITE_FULL }

// isBusy reports whether another connection had locked the study.
func isBusy(err error) bool { return resultCode(err)&0xff == sqlite3.SQLITE_BUSY }

// isConstraint reports whether SQLite refused err because of a constraint or a
// trigger of the schema.
func isConstraint(err error) bool {
	return resultCode(err)&0xff == sqlite3.SQLITE_CONSTRAINT
}

func isRefusal(err error) bool {
	var refusal *study.Refusal
	return errors.As(err, &refusal)
}

func isFailure(err error) bool {
	var failure *study.Failure
	return errors.As(err, &failure)
}

// isCorrupt reports whether SQLite found the file damaged.
func isCorrupt(err error) bool {
	code := resultCode(err) & 0xff
	return code == sqlite3.SQLITE_CORRUPT || code == sqlite3.SQLITE_NOTADB
}
