package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"wane/study"
)

// checkWAL refuses a write-ahead log that does not belong to the main file at path, which is
// located, and a main file of which more is missing than the log holds. SQLite would write
// any log into any file. Nothing is altered.
func checkWAL(ctx context.Context, path string) error {
	const tries = 4 // what another process is just writing may not fit together for a moment
	for range tries {
		found, err := inspectWAL(path)
		if err != nil || len(found.pages) == 0 {
			return err
		}
		if err := checkMissing(path, found); err != nil {
			return err
		}
		tied, err := found.tiedTo(ctx, path)
		if err != nil || tied {
			return err
		}
		pause()
	}
	return checkHistory(ctx, path)
}

// checkMissing refuses a main file that lacks a page, or a part of one, that is not in the log.
func checkMissing(path string, found walFound) error {
	info, err := os.Stat(path)
	if err != nil {
		return err
	}
	for page := info.Size()/pageSize + 1; page <= int64(found.last); page++ {
		if _, held := found.pages[uint32(page)]; !held {
			return &study.Failure{
				File: path,
				Fault: fmt.Sprintf("the study file ends at byte %d, and the write-ahead log %s beside it does not contain all that "+
					"is "+
					"missing after that: the file is cut off, or the log belongs to another file; nothing was changed",
					info.Size(), walName(filepath.Base(path))),
				Try: tryOwn(path),
			}
		}
	}
	return nil
}

// tiedTo reports whether the main file at path shows by itself that the log is its own: it
// has the number of an opening that wrote into the log, or all that is in the log already.
func (w walFound) tiedTo(ctx context.Context, path string) (bool, error) {
	now, ours, err := userVersionOfMainFile(ctx, path)
	switch {
	case err != nil:
		return false, err
	case !ours:
		if len(w.versions) > 0 {
			return false, foreignWAL(path, nil)
		}
		return true, nil // another program's, which whoever opens it refuses
	case w.writtenBy(now.number()):
		return true, nil
	}
	return w.isIn(ctx, path)
}

// writtenBy reports whether the opening of this number wrote into the log.
func (w walFound) writtenBy(number int) bool {
	return number > 0 && slices.ContainsFunc(w.versions, func(v userVersion) bool { return v.number() == number })
}

// isIn reports whether the main file holds all that the log does.
func (w walFound) isIn(ctx context.Context, path string) (bool, error) {
	info, err := os.Stat(path)
	if err != nil || info.Size() != int64(w.last)*pageSize {
		return false, err
	}
	log, err := os.Open(walName(path))
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil // another process has just closed the study
	}
	if err != nil {
		return false, err
	}
	defer log.Close() // it was only read
	db, err := sql.Open("sqlite", dataSource(path, modeFrozen, longestWait))
	if err != nil {
		return false, err
	}
	defer db.Close() // nothing was written
	for page, at := range w.pages {
		var is []byte
		if err := db.QueryRowContext(ctx, "SELECT data FROM sqlite_dbpage WHERE pgno = ?", page).Scan(&is); err != nil {
			return false, ctx.Err()
		}
		logged := make([]byte, len(is))
		if _, err := log.ReadAt(logged, at+walFrame); err != nil {
			return false, nil // it was just begun again
		}
		if !bytes.Equal(is, logged) {
			return false, nil
		}
	}
	return true, nil
}

// checkHistory refuses the log unless the study that it makes of the main file is whole, with
// the history of the main file at the beginning of its own. A temporary copy shows it.
func checkHistory(ctx context.Context, path string) error {
	found, err := inspectWAL(path)
	if err != nil {
		return err
	}
	now, _, err := userVersionOfMainFile(ctx, path)
	if err != nil {
		return err
	}
	if found.writtenBy(now.number()) {
		return nil // now
	}
	if len(found.versions) > 0 && now.number() > 0 && found.versions[0].number() > 0 {
		return foreignWAL(path, nil) // of another opening
	}
	number, hash, err := lastLineOfMainFile(ctx, path)
	if err != nil {
		return firstError(ctx.Err(), foreignWAL(path, err))
	}
	room, err := newScratch()
	if err != nil {
		return noCopy(err)
	}
	copied := filepath.Join(room.folder, filepath.Base(path))
	if err = copyStudy(path, copied); err == nil {
		if fault := followsFrom(ctx, copied, number, hash); fault != nil {
			err = firstError(ctx.Err(), foreignWAL(path, withPath(fault, copied, "both together")))
			if isFull(fault) {
				err = noCopy(fault)
			}
		}
	}
	return errors.Join(err, room.remove())
}

// lastLineOfMainFile returns number and hash of the last line of the log of the main file by itself.
func lastLineOfMainFile(ctx context.Context, path string) (number int64, hash [sha256.Size]byte, err error) {
	db, err := sql.Open("sqlite", dataSource(path, modeFrozen, longestWait))
	if err != nil {
		return 0, hash, err
	}
	defer db.Close() // nothing was written
	var is []byte
	err = db.QueryRowContext(ctx, "SELECT number, hash FROM log ORDER BY number DESC LIMIT 1").Scan(&number, &is)
	copy(hash[:], is)
	return number, hash, err
}

// followsFrom brings the log of the copy at path into it, and says what is wrong with the study
// that comes of it, or if its history has not this line.
func followsFrom(ctx context.Context, path string, number int64, hash [sha256.Size]byte) error {
	if _, _, err := recoverExclusively(ctx, path); err != nil {
		return err
	}
	s, err := connect(path, modeWrite)
	if err != nil {
		return err
	}
	s.reading = true
	if err = s.load(ctx); err == nil {
		err = s.hasLine(ctx, number, hash)
	}
	if err == nil {
		err = s.checkRows(ctx)
	}
	return firstError(err, s.Close())
}

// checkRows says what is wrong with pages and rows, as it is where those of two files are mixed.
func (s *Store) checkRows(ctx context.Context) error {
	report := &Report{}
	err := s.snapshot(ctx, func(q *sql.Tx) error {
		v := &verifier{ctx: ctx, store: s, q: q, report: report, tallies: map[int64]*tally{}}
		for _, step := range []func() error{v.structure, v.tables, v.log, v.successors} {
			if err := v.note("", step()); err != nil {
				return err
			}
		}
		_, err := checkTotals(ctx, q)
		return err
	})
	if err == nil && len(report.Findings) > 0 {
		err = errors.New(report.Findings[0].String())
	}
	return err
}

func (s *Store) hasLine(ctx context.Context, number int64, hash [sha256.Size]byte) error {
	there := false
	err := s.Log(ctx, func(e study.Entry) error {
		there = there || e.Number == number && e.Hash == hash
		return nil
	})
	if err == nil && !there {
		err = fmt.Errorf("line %d of the history of this file is not in that of the log", number)
	}
	return err
}

// foreignWAL refuses a log that belongs to another file.
func foreignWAL(path string, cause error) error {
	return &study.Failure{
		File: path,
		Fault: fmt.Sprintf("the write-ahead log %s beside this file belongs to another file, or one of the two was altered; "+
			"nothing was changed", walName(filepath.Base(path))),
		Try:   tryOwn(path),
		Cause: cause,
	}
}

func tryOwn(path string) string {
	name := walName(filepath.Base(path))
	return fmt.Sprintf("put the study back that %s was left beside; if this file is a backup, or the study that you "+
		"want, "+
		"move %s to another folder and keep it", name, name)
}
