package main

import (
	"database/sql"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
	_ "modernc.org/sqlite"
)

// alterBySQL is the command sql FILE STATEMENT: it alters a study that is closed, without its
// triggers, as another program can.
func alterBySQL(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: sql FILE STATEMENT")
	}
	db, err := sql.Open("sqlite", "file:"+ts.MkAbs(args[0])+"?mode=rw")
	ts.Check(err)
	defer func() { ts.Check(db.Close()) }()
	db.SetMaxOpenConns(1)
	var drop string
	ts.Check(db.QueryRow("SELECT group_concat('DROP TRIGGER ' || name, ';') FROM sqlite_schema WHERE type = " +
		"'trigger'").Scan(&drop))
	_, err = db.Exec(strings.Join([]string{drop, args[1]}, ";"))
	ts.Check(err)
}
