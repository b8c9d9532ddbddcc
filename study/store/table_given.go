package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"io"

	"github.com/klauspost/compress/zstd"

	"wane/study"
)

var givenTable = newTable(33, "given", fields[givenRow]{
	wholeField("export", func(g *givenRow) *int64 { return &g.export }),
	textField("kind", func(g *givenRow) *string { return &g.kind }),
	textField("name", func(g *givenRow) *string { return &g.name }).asGiven(),
})

// givenRow is one use of a file that a person gave to a verb.
type givenRow struct {
	export     int64 // the number of its bytes
	kind, name string
}

// Given is one use of a file that a person gave to a verb, beside exports: a map, a roster, a table.
type Given struct {
	Kind string // map, roster, table (which a roster names) or measurements
	KeptFile
}

// Give keeps a file byte for byte, unless its bytes are there, and notes that this line of the log used it as that kind.
func (tx *Tx) Give(kind string, e study.Export) error {
	return tx.atomically(func() error {
		old, err := exportTable.one(tx.ctx, prepared{tx}, "FROM export WHERE sha256 = ?", e.SHA256[:])
		if err != nil {
			return err
		}
		use := givenRow{kind: kind, name: e.Name}
		if old != nil {
			use.export = old.Number
		} else if use.export, err = tx.keep(e); err != nil {
			return err
		}
		there, err := givenTable.one(tx.ctx, prepared{tx}, "FROM given WHERE (log, export, kind, name) = (?, ?, ?, ?)",
			tx.log, use.export, kind, e.Name)
		if err != nil || there != nil {
			return err
		}
		_, err = givenTable.add(tx, &use)
		return err
	})
}

// Adds reports whether the transaction has added anything until now.
func (tx *Tx) Adds() bool { return tx.tally.rows > 0 }

// PackFrom makes an export of what write writes, packed as [Store.Pack] does, without holding its bytes.
func (s *Store) PackFrom(name string, write func(io.Writer) error) (study.Export, error) {
	packed, sum, size := &bytes.Buffer{}, sha256.New(), new(byteCount)
	z, err := zstd.NewWriter(packed, zstd.WithEncoderConcurrency(1), zstd.WithWindowSize(1<<20))
	if err != nil {
		return study.Export{}, err
	}
	err = write(io.MultiWriter(z, sum, size))
	if err = errors.Join(err, z.Close()); err != nil {
		return study.Export{}, err
	}
	return study.Export{Name: name, Size: int64(*size), Packed: packed.Bytes(),
		SHA256: [sha256.Size]byte(sum.Sum(nil))}, nil
}

// byteCount counts the bytes that are written to it.
type byteCount int64

func (n *byteCount) Write(p []byte) (int, error) {
	*n += byteCount(len(p))
	return len(p), nil
}

// givenUnder selects what was given to the verb of a line of the log.
const givenUnder = "FROM given WHERE log = ? ORDER BY id"

// GivenUnder returns what was given to the verb of a line of the log, in the order of its rows.
func (v *View) GivenUnder(line int64) ([]Kept[Given], error) {
	all, err := givenWhere(v.ctx, v.q, givenUnder, line)
	return all, v.refuse(err)
}

// UsesOf returns the uses of the file with this SHA-256, the first one first.
func (v *View) UsesOf(sum [sha256.Size]byte) ([]Kept[Given], error) {
	all, err := givenWhere(v.ctx, v.q, "FROM given WHERE export = (SELECT id FROM export WHERE sha256 = ?) ORDER BY id", sum[:])
	return all, v.refuse(err)
}

func givenWhere(ctx context.Context, q querier, tail string, args ...any) (all []Kept[Given], err error) {
	err = givenTable.each(ctx, q, tail, args, func(k *Kept[givenRow]) error {
		e, err := exportTable.one(ctx, q, "FROM export WHERE id = ?", k.Row.export)
		if err == nil && e == nil {
			err = &damage{table: "given", row: k.Number, fault: "its bytes are missing"}
		}
		if err != nil {
			return err
		}
		file := KeptFile{Name: k.Row.name, SHA256: e.Row.SHA256, Size: e.Row.Size}
		all = append(all, Kept[Given]{Given{k.Row.kind, file}, k.Number, k.Line})
		return nil
	})
	return all, err
}
