package store

import (
	"bufio"
	"context"
	"database/sql"
	"fmt"
	"io"
)

// Dump writes all rows of all tables as text, in an order that depends on nothing
// else. Two studies with equal dumps hold the same: it is there to compare studies,
// as tests do with one before and after. Whether a checksum is right is written, a
// wrong one is no error.
func (s *Store) Dump(ctx context.Context, w io.Writer) error {
	buffered := bufio.NewWriter(w)
	err := s.snapshot(ctx, func(q *sql.Tx) error {
		for _, t := range append(tables[:], logTable.table) {
			err := t.allRows(ctx, q, "", nil, func(r row, sound bool) error { return dumpRow(buffered, t, r, sound) })
			if err != nil {
				return err
			}
		}
		return nil
	})
	return firstError(err, buffered.Flush())
}

func dumpRow(w io.Writer, t *table, r row, sound bool) error {
	_, err := fmt.Fprintf(w, "%s sound=%v", t.name, sound)
	for i := 0; i < len(r) && err == nil; i++ {
		switch v := r[i].(type) {
		case nil:
		case string:
			_, err = fmt.Fprintf(w, " %s=%q", t.columns[i], v)
		case []byte:
			_, err = fmt.Fprintf(w, " %s=%x", t.columns[i], v)
		default:
			_, err = fmt.Fprintf(w, " %s=%v", t.columns[i], v)
		}
	}
	if err == nil {
		_, err = fmt.Fprintln(w)
	}
	return err
}
