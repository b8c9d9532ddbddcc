package store

import (
	"context"
	"database/sql"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
)

// object is what a schema consists of.
type object struct{ kind, name string } // kind: table, index, trigger or view

func (o object) String() string { return o.kind + " " + o.name }

func (o object) compare(p object) int { return strings.Compare(o.String(), p.String()) }

// schemaOf returns the SQL of each object of a database, normalised. Left out are
// indexes that the SQL of their table calls for, and what ANALYZE leaves behind,
// which does not bear on what a query returns.
func schemaOf(ctx context.Context, q querier) (map[object]string, error) {
	rows, err := q.QueryContext(ctx, `SELECT type, name, sql FROM sqlite_schema
		WHERE sql IS NOT NULL AND name NOT GLOB 'sqlite_stat[0-9]'`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	found := map[object]string{}
	for rows.Next() {
		var o object
		var text string
		if err := rows.Scan(&o.kind, &o.name, &text); err != nil {
			return nil, err
		}
		found[o] = normalise(text)
	}
	return found, rows.Err()
}

// blank is a study of this version without a row.
type blank struct {
	file   []byte // of its database
	schema map[object]string
}

// newBlank lets the migrations make a study of an empty database. They take a tenth of a second, and always make
// the same: a program that creates or verifies many studies runs them once. Nobody writes into what it returns.
var newBlank = sync.OnceValues(func() (b blank, err error) {
	ctx := context.Background()
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return b, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1) // each connection has a memory of its own
	if _, err := db.ExecContext(ctx, fmt.Sprintf("PRAGMA page_size = %d; PRAGMA application_id = %d", pageSize,
		applicationID)); err != nil {
		return b, err
	}
	if err := migrate(ctx, db, migrations); err != nil {
		return b, err
	}
	if b.schema, err = schemaOf(ctx, db); err != nil {
		return b, err
	}
	conn, err := db.Conn(ctx)
	if err != nil {
		return b, err
	}
	defer conn.Close()
	err = conn.Raw(func(driver any) error {
		b.file, err = driver.(interface{ Serialize() ([]byte, error) }).Serialize()
		return err
	})
	return b, err
})

// gaps finds what is quoted, which counts, and comments and white space, which do
// not. Source: sqlite.org/lang_comment.html, sqlite.org/lang_keywords.html.
var gaps = regexp.MustCompile(`'[^']*'|"[^"]*"|` + "`[^`]*`" + `|\[[^\]]*\]|(?:--[^\n]*|/\*(?s:.*?)\*/|[ \t\n\f\r])+`)

// normalise puts one space for each run of comments and white space in text.
func normalise(text string) string {
	return strings.TrimSpace(gaps.ReplaceAllStringFunc(text, func(s string) string {
		if strings.Contains("'\"`[", s[:1]) {
			return s
		}
		return " "
	}))
}

// schema compares what the file consists of with what the migrations make.
func (v *verifier) schema() error {
	made, err := newBlank()
	if err != nil {
		return err
	}
	want := made.schema
	got, err := schemaOf(v.ctx, v.q)
	if err != nil {
		return err
	}
	all := maps.Clone(want)
	maps.Copy(all, got)
	for _, o := range slices.SortedFunc(maps.Keys(all), object.compare) {
		ours, known := want[o]
		theirs, there := got[o]
		switch {
		case !there:
			v.differs(o, "is missing")
		case !known:
			v.differs(o, "is not ours")
		case ours != theirs:
			v.differs(o, "was altered")
		}
	}
	return nil
}

func (v *verifier) differs(o object, how string) {
	v.foreign = true
	v.report.add("", 0, o.String()+" "+how)
}
