package store

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"wane/study"
)

const pageSize = 4096

// Open opens the study at path for reading and writing. A file that is not there, not a
// study, damaged, made by a newer version of the program, not to be written or of more
// than one name is refused; one of an older version is brought up to date. What a command
// that was cut off left in the write-ahead log is recovered.
func Open(ctx context.Context, path string) (*Store, error) {
	if err := checkStudyFile(path); err != nil {
		return nil, err
	}
	if err := writable(path); err != nil {
		return nil, err
	}
	if err := ofOneName(path); err != nil {
		return nil, err
	}
	s, err := open(ctx, path, false)
	return s, refuse(path, err)
}

// errLogGone says that the write-ahead log went away while the study was being opened.
var errLogGone = errors.New("store: the write-ahead log went away")

// open opens a study that can be written, which is done only if it is not for reading. Another process that has the
// study open may close it at the same moment, and take the write-ahead log away: then it is opened anew, with all checks
// of what a log that is missing means.
func open(ctx context.Context, path string, reading bool) (s *Store, err error) {
	const tries = 4
	for range tries {
		if s, err = openOnce(ctx, path, reading); !errors.Is(err, errLogGone) {
			return s, err
		}
		pause()
	}
	return nil, err
}

func openOnce(ctx context.Context, path string, reading bool) (*Store, error) {
	file, err := located(path)
	if err != nil {
		return nil, err
	}
	notes, err := recoverUnclosed(ctx, file)
	if err != nil {
		return nil, withPath(err, file, path)
	}
	s, err := connect(path, modeWrite)
	if err != nil {
		return nil, err
	}
	s.reading, s.notes = reading, notes
	if err := s.load(ctx); err != nil {
		// It may have said already that it is not closed, also if ctx is done.
		return nil, firstError(err, errors.Join(s.prepareClose(context.Background()), s.disconnect()))
	}
	return s, nil
}

// located returns where the file at path is, whatever links lead there: its log is
// beside it.
func located(path string) (string, error) {
	whole, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	return filepath.EvalSymlinks(whole)
}

// checkStudyFile refuses what can be seen not to be a study without opening it.
func checkStudyFile(path string) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &study.Refusal{File: path, Fault: "there is no such file",
			Try: "check the name, or start a study with `wane new`"}
	case err != nil:
		return &study.Refusal{File: path, Fault: "this file cannot be looked at",
			Try: "check the name and the rights of its folder", Cause: err}
	case info.IsDir():
		return &study.Refusal{File: path, Fault: "this is a folder, not a study",
			Try: "name the file of the study, which ends in .wane"}
	case !info.Mode().IsRegular():
		return &study.Refusal{File: path, Fault: "this is not a file", Try: "name the file of the study, which ends in .wane"}
	case info.Size() == 0:
		return &study.Refusal{File: path, Fault: "this file is empty", Try: tryBackup}
	}
	if errors.Is(readable(path), fs.ErrPermission) {
		return unreadable(path)
	}
	return nil
}

// writable refuses a study that cannot be written, or in whose folder nothing can
// be: SQLite would leave files behind that keep others out.
func writable(path string) error {
	if err := mayWrite(path); err != nil {
		return &study.Refusal{File: path, Fault: "this study cannot be written", Try: tryFolder, Cause: err}
	}
	if err := mayWrite(filepath.Dir(path)); err != nil {
		return &study.Refusal{File: path, Fault: "the folder of this study cannot be written", Try: tryFolder, Cause: err}
	}
	return nil
}

// ofOneName refuses a file that has several names (hard links): the write-ahead log stands
// beside one of them, and who uses another name does not see it.
func ofOneName(path string) error {
	n, err := namesOf(path)
	if err != nil || n < 2 {
		return err
	}
	return &study.Refusal{
		File: path,
		Fault: fmt.Sprintf("this file has %d names (hard links), and what is written under one of them "+
			"is not seen under the others until it is closed", n),
		Try: "make a copy with `wane backup` and go on with that, or remove the other names; " +
			"where a file that ends in -wal stands beside one of them, that is the name to keep",
	}
}

// namesOf returns how many names the file at path has. One that a command left behind that
// was cut off while it made the file does not count.
func namesOf(path string) (int, error) {
	info, err := os.Stat(path)
	if err != nil || linksOf(info) < 2 {
		return 1, err
	}
	Sweep(filepath.Dir(path))
	info, err = os.Stat(path)
	if err != nil {
		return 0, err
	}
	return linksOf(info), nil
}

// load makes sure that the file is a whole study of a version known here, and notes
// which file it is.
func (s *Store) load(ctx context.Context) (err error) {
	whole, err := filepath.Abs(s.path)
	if err != nil {
		return err
	}
	if s.main, err = openedAs(whole); err != nil {
		return err
	}
	version, err := s.recognise(ctx)
	if err != nil {
		return err
	}
	if !s.frozen {
		if err := s.prepare(ctx, version); err != nil {
			return err
		}
	}
	if err := s.readSettings(ctx); err != nil {
		return err
	}
	return firstError(s.main.inPlace(), s.makeReady(ctx))
}

// prepare brings the study to the newest version and opens its write-ahead log.
func (s *Store) prepare(ctx context.Context, version int) (err error) {
	if version < len(migrations) {
		if err := migrate(ctx, s.db, migrations); err != nil {
			return err
		}
	}
	// Kept in the file from the start; another program may have altered it.
	if _, err := s.db.ExecContext(ctx, "PRAGMA journal_mode = wal"); err != nil {
		return err
	}
	if s.reading {
		return nil
	}
	if err := s.mark(ctx); err != nil {
		return err
	}
	file, err := located(s.path)
	if err == nil {
		s.log, err = openedAs(walName(file))
	}
	if err == nil {
		err = s.noteLogSize()
	}
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%w: %w", errLogGone, err)
	}
	return err
}

func (s *Store) readSettings(ctx context.Context) error {
	k, err := studyTable.one(ctx, s.db, "FROM study WHERE id = 1")
	if err == nil && k == nil {
		err = &damage{table: "study", row: 1, fault: "it is missing"}
	}
	if err != nil {
		return err
	}
	s.settings = k.Row
	return nil
}

// recognise returns the version of the study. It refuses a file that is not a
// study, newer than this program, or cut off.
func (s *Store) recognise(ctx context.Context) (version int, err error) {
	id, err := pragma(ctx, s.db, "application_id")
	if err != nil {
		return 0, err
	}
	if id != applicationID {
		return 0, &study.Refusal{File: s.path, Fault: "this is an SQLite database, but not a study",
			Try: "name a file that wane made"}
	}
	now, err := userVersionOf(ctx, s.db)
	if err != nil {
		return 0, err
	}
	if version = now.version(); version > len(migrations) {
		return 0, &study.Refusal{
			File: s.path,
			Fault: fmt.Sprintf("this study is of version %d, made by a newer wane; this one knows versions up to %d", version,
				len(migrations)),
			Try: "use the newer wane",
		}
	}
	return version, s.checkLength(ctx)
}

// checkLength refuses a file that ends within a page. SQLite itself notices if
// whole pages are missing. What was cut off while the log was moved into the file has
// been recovered from there before.
func (s *Store) checkLength(ctx context.Context) error {
	page, err := pragma(ctx, s.db, "page_size")
	if err != nil {
		return err
	}
	info, err := os.Stat(s.path)
	if err != nil {
		return err
	}
	if info.Size()%int64(page) != 0 {
		return &study.Refusal{File: s.path, Fault: "the study file is cut off: the end of the file is missing",
			Try: tryBackup}
	}
	return nil
}
