package store

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"wane/study"
)

// Backup writes a copy of the study, as it is at one moment, to path, verifies
// the copy and returns the report on it. Others may read and write meanwhile. A
// path that exists is refused, and a copy in which something is wrong is not
// kept; after an error nothing is left behind. The copy gets the permissions of the study.
func (s *Store) Backup(ctx context.Context, path string) (report *Report, err error) {
	mode, err := s.Mode()
	if err != nil {
		return nil, err
	}
	err = createWhole(path, mode, func(temporary string) error {
		whole, err := filepath.Abs(temporary)
		if err != nil {
			return err
		}
		_, err = s.db.ExecContext(ctx, "VACUUM INTO ?", whole)
		if isCorrupt(err) {
			return refuse(s.path, err)
		}
		if err != nil {
			return err // of the copy
		}
		if err := markClosed(ctx, whole); err != nil {
			return err
		}
		report, err = verifyCopy(ctx, temporary)
		return err
	})
	switch {
	case err == nil:
		return report, nil
	case ctx.Err() != nil:
		return nil, ctx.Err()
	}
	return nil, err
}

// markClosed marks the copy at path as closed, which the study itself is not while
// it is open for writing.
func markClosed(ctx context.Context, path string) error {
	db, err := sql.Open("sqlite", dataSource(path, modeWrite, longestWait))
	if err != nil {
		return err
	}
	now, err := userVersionOf(ctx, db)
	if err == nil && now.marked() {
		err = setUserVersion(ctx, db, now.closed())
	}
	return firstError(err, db.Close())
}

// verifyCopy verifies the copy at path and refuses one in which something is wrong.
func verifyCopy(ctx context.Context, path string) (*Report, error) {
	c, err := OpenToRead(ctx, path)
	if err != nil {
		return nil, err
	}
	report, err := c.Verify(ctx)
	if closed := c.Close(); err == nil {
		err = closed
	}
	if err == nil && len(report.Findings) > 0 {
		err = &study.Refusal{
			File:  path,
			Fault: fmt.Sprintf("the copy is not kept, since the study is damaged: %v", report.Findings[0]),
			Try:   "run `wane verify` to see everything that is wrong, and keep the last backup",
		}
	}
	return report, err
}

// Mode returns the permissions of the file of the study.
func (s *Store) Mode() (fs.FileMode, error) {
	info, err := os.Stat(s.path)
	if err != nil {
		return 0, refuse(s.path, err)
	}
	return info.Mode().Perm(), nil
}
