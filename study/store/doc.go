// Package store keeps a study in one file: an SQLite database that any SQLite
// client can read. It is the only package that speaks SQL; it knows nothing of
// fitting or of what exports contain.
//
// Start with [Create] or [Open]. Everything is added in [Store.Write], one
// transaction with one line of the log. The read functions each see one moment
// of the study; [Store.View] is one moment for several reads. A Store may be used
// by several goroutines, and several processes may use one file. While a study is
// open, no other code of the process may open and close its file: POSIX would then
// drop the locks that SQLite holds on it.
//
// # What is promised
//
// Nothing is changed or deleted: the one exception is superseded_by of a fit,
// which is set once, when a newer fit of the same unit is put. Triggers hold
// other programs to the same rule, and [Store.Verify] notices when one is gone.
//
// Rows that people write (rosters, register, measurements) are corrected: an amendment gives one cell
// another value, a withdrawal takes a row out. The row as it was enrolled stays, and so does each amendment;
// what is read is the row as it is now (row_current.go), or, by [Store.ViewAsOf], as it was after a line of the log.
// [View.Corrections] lists them all. Queries in SQL that look at what can be amended use the views v_coupons,
// v_pulls and so on.
//
// Each row carries a CRC-32C of its content, checked whenever the row is read
// (except by a few functions, which say so). Each line of the log carries a digest of
// the rows that were added under it and a hash of itself and of the line before, so
// that Verify notices rows and lines that were altered, added or removed by other
// means.
//
// A commit is on the disk before Write returns (write-ahead log, full
// synchronisation). A process that is killed leaves the study as it was after the
// last commit; the next one to open it recovers that and says so.
//
// The write-ahead log is a part of the study while that is open, and after a kill. It is
// read before SQLite opens it: a log that is damaged before its end is refused and kept. A
// study that is open for writing says so in its main file, so that one without its log is
// refused, and by which opening, which each commit writes into the log, so that a log beside
// another file is refused. There is one gap: as long as another process reads an older moment,
// SQLite cannot bring that mark from the log into the main file, and a copy of the main file
// alone then looks closed and lacks what was committed. A study that is moved or replaced while
// it is open takes no more commits, and neither does one whose log is cut off in its place. There is a
// gap here too: a log that is cut off while a large transaction is being made is longer again at
// its end.
//
// The log is moved into the main file while other transactions are made, and once more when the
// study is closed. If that fails, the log keeps everything, and closing says so.
//
// [OpenToRead] opens also what cannot be written, and leaves nothing beside it.
//
// # What Verify shows, and what it cannot
//
// Verify finds rows and lines of the log that were altered, added or removed. It cannot show that
// somebody made all checksums and hashes anew, or cut off the last lines of the log with their rows:
// for that the end of the log ([Store.Verify] returns its hash) must be noted elsewhere, as a witness
// does at each commit, or compared with a backup. A kill at any moment is tested; a loss of power is
// not, and is as safe as the disk keeps its word on synchronisation.
//
// # Files of this package
//
// The names of files begin with what they are about: file_ what the file system does (whole files,
// locks, rights), open_ opening, closing and the mark of a study that is open, wal_ the write-ahead
// log of SQLite, log_ the history with its counts and its witness, row_ how a row is written and
// encoded, table_ the tables, write_ transactions, query_ what is read across tables. schema*.sql
// make the file and bring it from version to version.
//
// Each table has one list of its columns (fields), in the file of its table. From it follow the
// statements, what is written, what is read and the encoding that checksums are made of. A column
// that a later version brings is one line at the end of the list.
//
// # Failures
//
// What is not taken, and a file that is no study of ours, is a [*study.Refusal] that says
// why and what to do. What befalls a study that is open is a [*study.Failure]: another
// process holds it for longer than five seconds, the disk is full or fails, too many files
// are open, its folder cannot be written, a row is damaged or missing.
package store
