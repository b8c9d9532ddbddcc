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

// Open opens the study at path. A file that is not there, not a study, damaged,
// made by a newer version of the program or not to be written is refused; one of
// an older version is brought up to date.
func Open(ctx context.Context, path string) (*Store, error) {
	if err := lookAt(path); err != nil {
		return nil, err
	}
	s, err := connect(path, "rw")
	if err != nil {
		return nil, refuse(path, err)
	}
	if err := s.enter(ctx); err != nil {
		return nil, errOr(refuse(path, err), s.disconnect())
	}
	return s, nil
}

// lookAt refuses what can be seen not to be a study without opening it.
func lookAt(path string) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return &study.Refusal{File: path, Fault: "there is no such file", Try: "check the name, or start a study with `wane new`"}
	case err != nil:
		return &study.Refusal{File: path, Fault: "this file cannot be looked at", Try: "check the name and the rights of its folder", Cause: err}
	case info.IsDir():
		return &study.Refusal{File: path, Fault: "this is a folder, not a study", Try: "name the file of the study, which ends in .wane"}
	case !info.Mode().IsRegular():
		return &study.Refusal{File: path, Fault: "this is not a file", Try: "name the file of the study, which ends in .wane"}
	case info.Size() == 0:
		return &study.Refusal{File: path, Fault: "this file is empty", Try: tryBackup}
	}
	return writable(path)
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

// enter makes sure that the file is a whole study of a version known here.
func (s *Store) enter(ctx context.Context) error {
	version, err := s.recognise(ctx)
	if err != nil {
		return err
	}
	if version < len(migrations) {
		if err := migrate(ctx, s.db, migrations); err != nil {
			return err
		}
	}
	// Kept in the file from the start; another program may have altered it.
	if _, err := s.db.ExecContext(ctx, "PRAGMA journal_mode = wal"); err != nil {
		return err
	}
	r, err := studyTable.one(ctx, s.db, "FROM study WHERE id = 1")
	if err == nil && r == nil {
		err = &damage{"study", 1, "it is missing"}
	}
	if err != nil {
		return err
	}
	f := r.fields()
	s.settings = study.Settings{Correction: study.Route(f.text()), Mixing: f.text(), Created: f.text(), OverBlank: f.whole() == 1}
	return s.makeReady(ctx)
}

// recognise returns the version of the study. It refuses a file that is not a
// study, newer than this program, or cut off.
func (s *Store) recognise(ctx context.Context) (version int, err error) {
	id, err := pragma(ctx, s.db, "application_id")
	if err != nil {
		return 0, err
	}
	if id != applicationID {
		return 0, &study.Refusal{File: s.path, Fault: "this is an SQLite database, but not a study", Try: "name a file that wane made"}
	}
	if version, err = versionOf(ctx, s.db); err != nil {
		return 0, err
	}
	if version > len(migrations) {
		return 0, &study.Refusal{
			File:  s.path,
			Fault: fmt.Sprintf("this study is of version %d, made by a newer wane; this one knows versions up to %d", version, len(migrations)),
			Try:   "use the newer wane",
		}
	}
	return version, s.checkLength(ctx)
}

// checkLength refuses a file that ends within a page. SQLite itself notices if
// whole pages are missing.
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
		return &study.Refusal{File: s.path, Fault: fmt.Sprintf("the study file is cut off: %d bytes are no whole pages of %d", info.Size(), page), Try: tryBackup}
	}
	return nil
}
