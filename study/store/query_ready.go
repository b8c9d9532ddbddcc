package store

import (
	"context"
	"database/sql"

	sqlite3 "modernc.org/sqlite/lib"

	"wane/study"
)

const (
	gridNumbered   = "FROM grid WHERE id = ?"
	exportNumbered = "FROM export WHERE id = ?"
)

// readyQueries are asked so often that each connection keeps them prepared. Such a query
// must not be asked again while its rows are being read: it would begin anew.
func readyQueries() []string {
	return []string{
		"SELECT " + readingTable.selected + " " + countedOfUnit,
		"SELECT " + gridTable.selected + " " + gridNumbered,
		"SELECT " + exportTable.selected + " " + exportNumbered,
		"SELECT " + fitTable.selected + " " + currentFitsOfCoupon,
		positionsOfCoupon,
		headersBefore(),
	}
}

func (s *Store) makeReady(ctx context.Context) error {
	s.ready = map[string]*sql.Stmt{}
	for _, query := range readyQueries() {
		st, err := s.db.PrepareContext(ctx, query)
		if resultCode(err) == sqlite3.SQLITE_ERROR { // a view or table that it names is not what it was
			return &study.Refusal{File: s.path, Fault: "the study file is damaged: its tables are not those that wane made",
				Try: tryBackup, Cause: err}
		}
		if err != nil {
			return err
		}
		s.ready[query] = st
	}
	return nil
}

// ready asks in tx, and keeps those of readyQueries prepared.
type ready struct {
	store *Store
	tx    *sql.Tx
}

func (r ready) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	if st := r.store.ready[query]; st != nil {
		return r.tx.StmtContext(ctx, st).QueryContext(ctx, args...)
	}
	return r.tx.QueryContext(ctx, query, args...)
}
