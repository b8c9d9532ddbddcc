package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"wane/study"
)

// recoverUnclosed brings in what the last command left, before the study at path is opened: SQLite
// would take what is before a damaged place for the whole and remove the rest. A
// log that is damaged before its end, or missing, is refused; what a command that was
// cut off left is recovered. It returns what to report. path is located.
func recoverUnclosed(ctx context.Context, path string) (notes []string, err error) {
	var found walFound
	err = whileChanging(ctx, path, func() (err error) {
		switch found, err = inspectWAL(path); {
		case err != nil || found.damaged:
			return err
		case !found.started:
			return lostWAL(ctx, path)
		}
		return checkWAL(ctx, path)
	})
	if err == nil && found.damaged {
		err = damagedWAL(path, found)
	}
	if err != nil || !found.started {
		return nil, err
	}
	was, exclusive, err := recoverExclusively(ctx, path)
	if isFull(err) {
		return nil, fullAtTheEnd(path)
	}
	if err != nil || !exclusive || !was.marked() && slices.ContainsFunc(found.versions, userVersion.marked) {
		return nil, err // closed meanwhile by those who had it open, or they have it open still
	}
	return recovered(found), nil
}

func recovered(found walFound) (notes []string) {
	if found.commits > 0 {
		commits := "1 commit"
		if found.commits > 1 {
			commits = fmt.Sprintf("%d commits", found.commits)
		}
		notes = append(notes, "recovered "+commits+" of a command that was cut off")
	}
	if found.torn {
		notes = append(notes, "the last transaction was incomplete and is not in the study: "+
			"run the command that was cut off again")
	}
	return notes
}

// whileChanging repeats a check that fails as long as other processes write the study at path, or its log, during it,
// but not for more than longestWait: what they are just writing does not fit together.
func whileChanging(ctx context.Context, path string, check func() error) error {
	for begun := time.Now(); ; pause() {
		before := stampsOf(path)
		err := check()
		if err == nil || ctx.Err() != nil || stampsOf(path) == before || time.Since(begun) > longestWait {
			return err
		}
	}
}

// stampsOf is another one when the study at path or its log was written. What is not there has none.
func stampsOf(path string) (stamps [2][2]int64) {
	for i, name := range []string{path, walName(path)} {
		if is, err := openedAs(name); err == nil {
			stamps[i] = is.stamp()
		}
	}
	return stamps
}

// pause is how long to wait for what may be different then.
func pause() { time.Sleep(20 * time.Millisecond) }

// recoverExclusively moves what the write-ahead log holds into the main file, which may be cut
// off in the middle of that, and says there that the study is closed. If anybody else has
// the study open, it does nothing and reports false. It returns what the study said before that. path is absolute.
func recoverExclusively(ctx context.Context, path string) (was userVersion, exclusive bool, err error) {
	db, err := sql.Open("sqlite", dataSource(path, modeWrite, 0, "locking_mode(exclusive)"))
	if err != nil {
		return 0, false, err
	}
	db.SetMaxOpenConns(1)
	was, exclusive, err = recoverBy(ctx, db)
	return was, exclusive, firstError(err, db.Close())
}

func recoverBy(ctx context.Context, db *sql.DB) (was userVersion, exclusive bool, err error) {
	id, err := pragma(ctx, db, "application_id")
	if isBusy(err) {
		return 0, false, nil
	}
	if err != nil || id != applicationID {
		return 0, false, err
	}
	if _, err := db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		return 0, false, err
	}
	was, err = userVersionOf(ctx, db)
	if err == nil && was.marked() {
		err = setUserVersion(ctx, db, was.closed())
	}
	if err == nil {
		_, err = db.ExecContext(ctx, "PRAGMA wal_checkpoint(TRUNCATE)")
	}
	return was, err == nil, err
}

// removeSideFiles lets SQLite remove what it keeps beside a study that nobody has open.
func removeSideFiles(ctx context.Context, path string) error {
	db, err := sql.Open("sqlite", dataSource(path, modeWrite, longestWait))
	if err != nil {
		return err
	}
	_, err = pragma(ctx, db, "user_version")
	return firstError(err, db.Close())
}

// lostWAL refuses a study, at a located path, that was not closed and has no
// write-ahead log, or one that cannot be read from its beginning. One that is just
// being opened or closed may look so for a moment.
func lostWAL(ctx context.Context, path string) error {
	const tries = 4
	version, found := 0, walFound{}
	for range tries {
		now, _, err := userVersionOfMainFile(ctx, path)
		if err != nil || !now.marked() {
			return err
		}
		version = now.version()
		found, err = inspectWAL(path)
		if err != nil || found.started {
			return err
		}
		pause()
	}
	name := walName(filepath.Base(path))
	gone, back := "is missing", "put that file beside the study"
	if found.size > 0 {
		gone, back = "does not begin as such a file does", "put a whole copy of that file beside the study"
	}
	if others := ownerless(path); len(others) > 0 {
		back = fmt.Sprintf("if the study was renamed, rename its -wal file too, to %s (here is %s, without a study)",
			name, strings.Join(others, ", "))
	}
	return &study.Failure{
		File: path,
		Fault: fmt.Sprintf("this study was not closed, and the file %s %s: "+
			"the newest entries may be in that file only", name, gone),
		Try: fmt.Sprintf("%s; if another SQLite program has opened the study since, which moves that file into it, "+
			"say so with `sqlite3 %s 'PRAGMA user_version = %d'`; if that file is lost, go on with the last backup",
			back, path, version),
	}
}

// openMainFile opens the main file without its log to read what its first page says, also if it
// is shorter than that says: SQLite allows it where the schema may be written.
func openMainFile(path string) (*sql.DB, error) {
	source := dataSource(path, modeFrozen, longestWait)
	return sql.Open("sqlite", source[:strings.LastIndex(source, "&_txlock")]+"&_pragma=writable_schema(1)")
}

// userVersionOfMainFile returns what the main file by itself says. What is no study, or too damaged to
// say, is not ours.
func userVersionOfMainFile(ctx context.Context, path string) (now userVersion, ours bool, err error) {
	db, err := openMainFile(path)
	if err != nil {
		return 0, false, err
	}
	defer db.Close() // nothing was written
	id, err := pragma(ctx, db, "application_id")
	if err != nil || id != applicationID {
		return 0, false, ctx.Err()
	}
	now, err = userVersionOf(ctx, db)
	return now, true, err
}

// ownerless returns the write-ahead logs beside path that stand beside no file.
func ownerless(path string) (names []string) {
	logs, err := filepath.Glob(quotedGlob(filepath.Dir(path)) + "/*-wal")
	if err != nil {
		return nil // only a hint
	}
	for _, log := range logs {
		if _, err := os.Stat(strings.TrimSuffix(log, "-wal")); errors.Is(err, fs.ErrNotExist) {
			names = append(names, filepath.Base(log))
		}
	}
	return names
}

// quotedGlob quotes what has a meaning in a pattern of file names.
func quotedGlob(name string) string {
	return strings.NewReplacer(`\`, `\\`, "*", `\*`, "?", `\?`, "[", `\[`).Replace(name)
}

// damagedWAL refuses a study whose write-ahead log is damaged before its end, and keeps a
// copy of the log.
func damagedWAL(path string, found walFound) error {
	log := walName(path)
	r := &study.Failure{
		File: path,
		Fault: fmt.Sprintf("the file %s, a part of the study, is damaged at byte %d: %d commits before this place are "+
			"whole, "+
			"%d commits from there on would be lost", log, found.at, found.commits, found.lost),
	}
	kept, err := keepCopy(log)
	if err != nil {
		r.Fault += fmt.Sprintf("; no copy could be made beside it (%v)", err)
		r.Try = "copy the study and its -wal file to a safe place; then put a whole copy of the -wal file back, " +
			"or go on with the last backup"
		return r
	}
	r.Try = fmt.Sprintf("put a whole copy of the -wal file back, or go on with the last backup; "+
		"the damaged one is kept as %s", kept)
	return r
}

// keepCopy copies the file beside itself and returns the name of the copy. An older copy
// stays; one with the same content is not made again.
func keepCopy(path string) (kept string, err error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return "", err
	}
	info, err := os.Stat(path)
	if err != nil {
		return "", err
	}
	for n := 1; ; n++ {
		kept = fmt.Sprintf("%s.damaged-%d", path, n)
		f, err := os.OpenFile(kept, os.O_WRONLY|os.O_CREATE|os.O_EXCL, info.Mode().Perm())
		if errors.Is(err, fs.ErrExist) {
			if old, err := os.ReadFile(kept); err == nil && bytes.Equal(old, data) {
				return kept, nil
			}
			continue
		}
		if err != nil {
			return "", err
		}
		_, err = io.Copy(f, bytes.NewReader(data))
		err = errors.Join(err, f.Sync(), f.Close())
		if err != nil {
			os.Remove(kept) // it is not whole
		}
		return kept, err
	}
}
