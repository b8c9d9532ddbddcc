package store

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"syscall"

	sqlite3 "modernc.org/sqlite/lib"

	"wane/study"
)

// Create makes a study at path, with entry as the first line of its log, and
// opens it. A path that exists is refused. The study appears at path when it is
// whole; after an error nothing is left behind.
func Create(ctx context.Context, path string, settings study.Settings, entry *study.Entry) (*Store, error) {
	err := appear(path, func(temporary string) error {
		s, err := connect(temporary, "rwc")
		if err != nil {
			return err
		}
		err = s.begin(ctx, settings, entry)
		if closed := s.Close(); err == nil {
			err = closed
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return Open(ctx, path)
}

// begin fills an empty file.
func (s *Store) begin(ctx context.Context, settings study.Settings, entry *study.Entry) error {
	setup := fmt.Sprintf("PRAGMA page_size = %d; PRAGMA application_id = %d", pageSize, applicationID)
	if _, err := s.db.ExecContext(ctx, setup); err != nil {
		return err
	}
	if err := migrate(ctx, s.db, migrations); err != nil {
		return err
	}
	err := s.Write(ctx, entry, func(tx *Tx) error {
		var overBlank any
		if settings.OverBlank {
			overBlank = int64(1)
		}
		return tx.insert(studyTable, row{nil, nil, string(settings.Correction), settings.Mixing, settings.Created, overBlank})
	})
	if err != nil {
		return err
	}
	_, err = s.db.ExecContext(ctx, "PRAGMA journal_mode = wal")
	return err
}

// appear lets write make a file under a temporary name in the folder of path and
// then gives it its name, so that path is there whole or not at all. A path that
// exists is refused.
func appear(path string, write func(temporary string) error) error {
	folder, name := filepath.Split(path)
	if info, err := os.Stat(filepath.Clean(folder)); err != nil || !info.IsDir() {
		return &study.Refusal{File: path, Fault: "there is no such folder", Try: "make the folder first, or choose another"}
	}
	if _, err := os.Lstat(path); err == nil {
		return exists(path)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return refuse(path, err)
	}
	temporary := filepath.Join(folder, "."+name+"."+rand.Text()+".partial")
	defer func() {
		for _, tail := range []string{"", "-journal", "-wal", "-shm"} {
			os.Remove(temporary + tail) // most are not there
		}
	}()
	err := write(temporary)
	if err == nil {
		err = publish(temporary, path)
	}
	if errors.Is(err, syscall.EROFS) || errors.Is(err, fs.ErrPermission) || resultCode(err)&0xff == sqlite3.SQLITE_CANTOPEN {
		return &study.Refusal{File: path, Fault: "no file can be made in this folder", Try: "choose a folder where you may write"}
	}
	return elsewhere(refuse(temporary, err), temporary, path)
}

// elsewhere puts path in the place of temporary in a refusal.
func elsewhere(err error, temporary, path string) error {
	var r *study.Refusal
	if errors.As(err, &r) && r.File == temporary {
		return r.At(path, r.Line)
	}
	var f *study.Failure
	if errors.As(err, &f) && f.File == temporary {
		return (*study.Failure)((*study.Refusal)(f).At(path, f.Line))
	}
	return err
}

func exists(path string) error {
	return &study.Refusal{File: path, Fault: "this file exists", Try: "choose another name"}
}

// publish gives the file temporary the name path and sees that this is on the
// disk.
func publish(temporary, path string) error {
	if err := flush(temporary, os.O_RDWR); err != nil {
		return err
	}
	// Unlike a rename, a link does not replace a file that came meanwhile.
	err := os.Link(temporary, path)
	if errors.Is(err, fs.ErrExist) {
		return exists(path)
	}
	if err != nil { // a file system without links
		err = os.Rename(temporary, path)
	}
	if err != nil || runtime.GOOS == "windows" { // which flushes no folders
		return err
	}
	return flush(filepath.Dir(path), os.O_RDONLY)
}

// flush brings a file or folder, opened with flag, to the disk. SQLite must not
// have the file open in this process.
func flush(path string, flag int) error {
	f, err := os.OpenFile(path, flag, 0)
	if err != nil {
		return err
	}
	err = f.Sync()
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}
