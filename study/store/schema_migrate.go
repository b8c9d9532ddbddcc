package store

import (
	"context"
	"database/sql"
	_ "embed" // for the schema
	"fmt"
	"strings"

	sqlite3 "modernc.org/sqlite/lib"
)

// applicationID marks an SQLite file as a study: "wane" in ASCII.
const applicationID = 0x77616e65

//go:embed schema.sql
var schema string

//go:embed schema2.sql
var schema2 string

//go:embed schema3.sql
var schema3 string

//go:embed schema4.sql
var schema4 string

//go:embed schema5.sql
var schema5 string

//go:embed schema6.sql
var schema6 string

//go:embed schema7.sql
var schema7 string

//go:embed schema8.sql
var schema8 string

//go:embed schema9.sql
var schema9 string

//go:embed schema10.sql
var schema10 string

// migrations holds the SQL that takes a file from version i to version i+1.
// Version 0 is an empty file. A line "-- then" ends a batch: what was read in a batch
// cannot be dropped in it. What is here has made files: it never changes,
// more is added at the end.
var migrations = []string{schema, schema2, schema3, schema4, schema5, schema6, schema7, schema8, schema9, schema10}

// migrate brings a database to the version that steps lead to, in one
// transaction. One that has got there meanwhile is left alone.
func migrate(ctx context.Context, db *sql.DB, steps []string) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after Commit: nothing
	now, err := userVersionOf(ctx, tx)
	if err != nil {
		return err
	}
	version := now.version()
	for ; version < len(steps); version++ {
		for _, batch := range strings.Split(steps[version], "\n-- then\n") {
			_, err := tx.ExecContext(ctx, batch)
			if resultCode(err) == sqlite3.SQLITE_ERROR { // its tables are of another version
				err = wrongVersion(now.version())
			}
			if err != nil {
				return fmt.Errorf("could not bring the study to version %d: %w", version+1, err)
			}
		}
	}
	if err := setUserVersion(ctx, tx, now+userVersion(version-now.version())); err != nil {
		return err
	}
	return tx.Commit()
}

// pragma returns the number that SQLite answers to a pragma.
func pragma(ctx context.Context, q querier, name string) (n int, err error) {
	rows, err := q.QueryContext(ctx, "PRAGMA "+name)
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	if !rows.Next() {
		return 0, firstError(rows.Err(), sql.ErrNoRows)
	}
	return n, rows.Scan(&n)
}

func firstError(err, otherwise error) error {
	if err != nil {
		return err
	}
	return otherwise
}
