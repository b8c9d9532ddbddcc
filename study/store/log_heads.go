package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"

	"wane/study"
)

// Heads returns the lines of the log as they stand, in the order of their numbers, whether
// or not the chain holds, which [Store.Verify] reports.
func (s *Store) Heads(ctx context.Context) (heads []study.Entry, err error) {
	err = s.snapshot(ctx, func(q *sql.Tx) error {
		return logTable.allRows(ctx, q, "", nil, func(r row, _ bool) error {
			heads = append(heads, entryOf(r))
			return nil
		})
	})
	return heads, err
}

// HeadsOf is [Store.Heads] of a backup, which may be of an older version and may not be
// writable: it stays as it is. Its chain is checked.
func (s *Store) HeadsOf(ctx context.Context, backup string) (heads []study.Entry, err error) {
	if err := s.isOther(backup); err != nil {
		return nil, err
	}
	whole, err := located(backup)
	if err != nil {
		return nil, err
	}
	if err := lostWAL(ctx, whole); err != nil {
		return nil, withPath(err, whole, backup)
	}
	db, err := sql.Open("sqlite", dataSource(whole, modeFrozen, longestWait))
	if err != nil {
		return nil, err
	}
	defer db.Close()
	heads, err = readHeads(ctx, db)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return heads, refuse(backup, err)
}

// isOther refuses a backup that cannot be read as one.
func (s *Store) isOther(backup string) error {
	no := func(fault, try string, cause error) error {
		return &study.Refusal{File: backup, Fault: fault, Try: try, Cause: cause}
	}
	const another = "name a backup of the study"
	info, err := os.Stat(backup)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return no("there is no such file", another, nil)
	case err != nil:
		return no("this file cannot be looked at", "check the name and the rights of its folder", err)
	case !info.Mode().IsRegular():
		return no("this is not a file", another, nil)
	}
	if own, err := os.Stat(s.path); err == nil && os.SameFile(own, info) {
		return no("this is the study itself", another, nil)
	}
	if left, err := os.Stat(backup + "-wal"); err == nil && left.Size() > 0 {
		return no("this study was not closed: a part of it is in "+backup+"-wal",
			"open it once, as with `wane verify --study "+backup+"`, and compare then", nil)
	}
	return nil
}

// readHeads reads the log of a database of any version up to this one.
func readHeads(ctx context.Context, db *sql.DB) (heads []study.Entry, err error) {
	id, err := pragma(ctx, db, "application_id")
	if err != nil {
		return nil, err
	}
	now, err := userVersionOf(ctx, db)
	if err != nil {
		return nil, err
	}
	version := now.version()
	if id != applicationID || version < 1 || version > len(migrations) {
		return nil, &damage{table: "", row: 0, fault: fmt.Sprintf("this is no study of a version up to %d", len(migrations))}
	}
	there := map[string]bool{}
	err = ask(ctx, db, "SELECT name FROM pragma_table_info('log')", nil, func(r row) error {
		there[r.text(0)] = true
		return nil
	})
	if err != nil {
		return nil, err
	}
	columns := slices.Clone(logTable.columns)
	for i, c := range columns {
		if !there[c] {
			columns[i] = "NULL" // which a later version brought
		}
	}
	var last line
	err = ask(ctx, db, "SELECT "+strings.Join(columns, ", ")+" FROM log ORDER BY number", nil, func(r row) error {
		own := slices.Clone(r)
		if fault := last.follow(own); fault != "" {
			return &damage{table: "log", row: own.whole(0), fault: fault}
		}
		heads = append(heads, entryOf(own))
		return nil
	})
	return heads, err
}
