package store

import (
	"bufio"
	"context"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"strings"

	"wane/study"
)

// The files of a dump: what it is, the SQL that makes its tables, and the rows of each table.
const (
	dumpFormat = "format.json"
	dumpSchema = "schema.sql"
	dumpEnding = ".jsonl"
)

// dumpHead says what a dump is of.
type dumpHead struct {
	Format  string `json:"format"`
	Version int    `json:"study_version"` // of the study file
	Lines   int64  `json:"log_lines"`
	Head    string `json:"log_hash"` // of the last line, in hexadecimal digits
}

// dumpKind is the format of a dump. Another number at its end is another format.
const dumpKind = "rows of a wane study, 1"

// allTables are the tables in the order of their rows in a dump, the log as the last.
func allTables() []*table { return append(tables[:len(tables):len(tables)], logTable.table) }

// WriteDump writes all rows of all tables, from which [Rebuild] makes an equal study, into files
// that create makes: format.json says of which version of the study file they are, schema.sql is
// the SQL that makes the tables, with what their columns mean, and TABLE.jsonl has one line for
// each row, in the order of their numbers, so that the number of a row is that of its line. A row
// is an object of JSON whose names are those of the columns; what is null is omitted. A number with
// a point or an exponent is a float64 and any other an int64, bytes are {"base64":"..."}, and a text
// that is no UTF-8 is {"text":"..."} with its bytes in base64. The checksum of the row, crc, is the
// last value of the line.
//
// A row with a wrong checksum is a [*study.Failure].
func (v *View) WriteDump(create func(name string) (io.WriteCloser, error)) error {
	head, err := v.dumpHead()
	if err != nil {
		return v.refuse(err)
	}
	text, err := json.MarshalIndent(head, "", " ")
	if err != nil {
		return err
	}
	if err := writeTo(create, dumpFormat, func(w *bufio.Writer) error { return write(w, string(text)+"\n") }); err != nil {
		return err
	}
	err = writeTo(create, dumpSchema, func(w *bufio.Writer) error { return write(w, strings.Join(migrations, "\n")) })
	if err != nil {
		return err
	}
	for _, t := range allTables() {
		err := writeTo(create, t.name+dumpEnding, func(w *bufio.Writer) error { return v.writeLines(w, t) })
		if err != nil {
			return v.refuse(err)
		}
	}
	return nil
}

// writeLines writes the rows of a table.
func (v *View) writeLines(w *bufio.Writer, t *table) error {
	var pieces [][]byte
	var room, line []byte
	return t.allRows(v.ctx, v.q, "", nil, func(r row, sound bool) (err error) {
		if err := v.ctx.Err(); err != nil {
			return err
		}
		if !sound {
			return &damage{table: t.name, row: r.whole(0), fault: "its checksum is wrong"}
		}
		pieces, room = encode(room, t, r)
		if line, err = t.appendLine(line[:0], r, int64(checksum(pieces...))); err != nil {
			return err
		}
		_, err = w.Write(line)
		return err
	})
}

func (v *View) dumpHead() (head dumpHead, err error) {
	last, err := lastLine(v.ctx, v.q)
	if err != nil {
		return head, err
	}
	return dumpHead{dumpKind, len(migrations), last.number, hex.EncodeToString(last.hash[:])}, nil
}

// writeTo lets do write a file.
func writeTo(create func(name string) (io.WriteCloser, error), name string, do func(*bufio.Writer) error) error {
	f, err := create(name)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<16)
	err = do(w)
	if err == nil {
		err = w.Flush()
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}

func write(w io.Writer, text string) error {
	_, err := io.WriteString(w, text)
	return err
}

// DumpIsOf reports whether a dump, whose format.json is head, is of an earlier moment of the study,
// or of this one: its last line is among the lines of this log.
func (s *Store) DumpIsOf(ctx context.Context, head []byte) (is bool, err error) {
	h, err := parseDumpHead(dumpFormat, head)
	if err != nil {
		return false, nil // no dump of ours
	}
	err = s.View(ctx, func(v *View) error {
		r, err := logTable.oneRow(v.ctx, v.q, "FROM log WHERE number = ?", h.Lines)
		is = r != nil && hex.EncodeToString(r.bytes(logHash)) == h.Head
		return err
	})
	return is, err
}

// parseDumpHead reads format.json, which stands at path.
func parseDumpHead(path string, text []byte) (h dumpHead, err error) {
	if err := json.Unmarshal(text, &h); err != nil || !strings.HasPrefix(h.Format, "rows of a wane study, ") {
		return h, &study.Refusal{File: path, Fault: "this does not say that it belongs to an export of a study",
			Try: tryExportAgain, Cause: err}
	}
	if h.Format != dumpKind || h.Version > len(migrations) {
		return h, &study.Refusal{
			File: path,
			Fault: fmt.Sprintf("this export is of version %d of the study file (%s), made by a newer wane; this one knows "+
				"versions up to %d", h.Version, h.Format, len(migrations)),
			Try: "use the newer wane",
		}
	}
	if h.Version < 1 || h.Lines < 1 {
		return h, &study.Refusal{File: path, Fault: "the version of the study file or the number of lines is none",
			Try: tryExportAgain}
	}
	return h, nil
}

const tryExportAgain = "copy the export again from where it is whole, or make it again with `wane export DIR`"
