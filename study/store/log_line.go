package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"

	"wane/study"
)

// logTable is apart: its rows are numbered by number, belong to no line and are not among
// those that the log counts.
var logTable = newLogTable(fields[logRow]{
	wholeField("number", func(l *logRow) *int64 { return &l.Number }),
	textField("at", func(l *logRow) *string { return &l.At }),
	textOrNull("who", func(l *logRow) *string { return &l.Who }),
	textField("verb", func(l *logRow) *string { return &l.Verb }),
	textOrNull("why", func(l *logRow) *string { return &l.Why }),
	textOrNull("summary", func(l *logRow) *string { return &l.Summary }),
	wholeField("rows", func(l *logRow) *int64 { return &l.rows }),
	blobField("content", func(l *logRow) *[]byte { return &l.content }),
	sumField("hash", func(l *logRow) *[sha256.Size]byte { return &l.Hash }),
	textOrNull("software", func(l *logRow) *string { return &l.Software }),
	textField("totals", func(l *logRow) *string { return &l.totals }),
})

func newLogTable(columns fields[logRow]) *tableOf[logRow] {
	return &tableOf[logRow]{makeTable(-1, "log", nil, columns), columns}
}

// logRow is a line of the log.
type logRow struct {
	study.Entry
	rows    int64  // that were added under it
	content []byte // the digest of these rows
	totals  string // how many rows each table has after it; null before version 6
}

// Positions in the rows of the log.
var (
	logRows    = logTable.column("rows")
	logContent = logTable.column("content")
	logHash    = logTable.column("hash")
	logTotals  = logTable.column("totals")
)

// line is what the next line of the log needs of the last one.
type line struct {
	number  int64
	hash    [sha256.Size]byte
	at      string
	counted bool // it says how many rows there are
	totals  totals
}

// lineOf returns what the next line needs of r.
func lineOf(r row) (l line, err error) {
	e := entryOf(r)
	l = line{number: e.Number, hash: e.Hash, at: e.At, counted: r[logTotals] != nil}
	if l.counted {
		l.totals, err = totalsOf(l.number, r.text(logTotals))
	}
	return l, err
}

// lastLine returns the last line of the log; of an empty log, line 0 with a hash
// of zeros.
func lastLine(ctx context.Context, q querier) (line, error) {
	r, err := logTable.oneRow(ctx, q, "FROM log ORDER BY number DESC LIMIT 1")
	if err != nil || r == nil {
		return line{}, err
	}
	return lineOf(r)
}

// next returns the hash of the line that follows l: the SHA-256 of the hash of l
// and of the canonical encoding of the line, without its own hash.
func (l line) next(r row) []byte {
	unsigned := append(row(nil), r...)
	unsigned[logHash] = nil
	h := sha256.New()
	h.Write(l.hash[:])
	pieces, _ := encode(nil, logTable.table, unsigned)
	for _, piece := range pieces {
		h.Write(piece)
	}
	return h.Sum(nil)
}

// stamp makes the time of an entry that of the line before if the clock was behind it, and
// notes what the clock said.
func (l line) stamp(entry *study.Entry) {
	if isBefore(entry.At, l.at) {
		entry.Summary = strings.TrimPrefix(entry.Summary+fmt.Sprintf("; the clock was behind: it said %s", entry.At), "; ")
		entry.At = l.at
	}
}

// isBefore reports whether a time lies before another, both as RFC 3339.
func isBefore(at, other string) bool {
	a, err := time.Parse(time.RFC3339, at)
	b, wrong := time.Parse(time.RFC3339, other)
	return err == nil && wrong == nil && a.Before(b)
}

// appendLine appends entry to the log. Words of a person that hide something are refused.
func (tx *Tx) appendLine(last line, entry *study.Entry) error {
	last.stamp(entry)
	entry.Summary = study.OneLine(entry.Summary) // which names files
	for _, text := range []string{entry.Who, entry.Why, entry.Verb, entry.At, entry.Software} {
		if fault, try := study.CheckText(text); fault != "" {
			return &study.Refusal{Fault: "the line of the log: " + fault, Try: try}
		}
	}
	l := logRow{*entry, tx.tally.rows, tx.tally.content(), tx.tally.number.String()}
	l.Number = tx.log
	r := logTable.row(&l)
	r[logHash] = last.next(r)
	entry.Hash = r.sum(logHash)
	pieces, _ := encode(nil, logTable.table, r)
	args := append(append([]any(nil), r...), int64(checksum(pieces...)))
	return tx.exec(logTable.insert, args...)
}

// Log hands the lines of the log to yield, first to last, and stops at the first
// error. A line that is missing or was altered is a [*study.Failure].
func (s *Store) Log(ctx context.Context, yield func(study.Entry) error) error {
	return s.snapshot(ctx, func(q *sql.Tx) error {
		var last line
		return logTable.eachRow(ctx, q, "", nil, func(r row) error {
			if fault := last.follow(r); fault != "" {
				return &damage{table: "log", row: r.whole(0), fault: fault}
			}
			return yield(entryOf(r))
		})
	})
}

func entryOf(r row) study.Entry {
	var l logRow
	_ = logTable.read(r, &l) // none of its columns has an error
	return l.Entry
}

// follow makes r the last line and says what is wrong if it does not follow the
// line before.
func (l *line) follow(r row) (fault string) {
	switch {
	case r.whole(0) != l.number+1:
		fault = "the line before it is missing"
	case !bytes.Equal(l.next(r), r.bytes(logHash)):
		fault = "the chain of hashes is broken: this line, or one before it, was altered"
	}
	now, err := lineOf(r)
	var broken *damage
	if errors.As(err, &broken) && fault == "" {
		fault = broken.fault
	}
	*l = now
	return fault
}
