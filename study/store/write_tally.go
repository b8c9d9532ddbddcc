package store

import (
	"crypto/sha256"
	"fmt"
)

// tally counts and digests what a transaction adds. Copied, it is a point to
// return to.
type tally struct {
	rows   int64
	number totals                         // of the last row of each table, which is how many it has
	seen   [len(tables)]bool              // that this is so was looked up
	chain  [len(tables)][sha256.Size]byte // of the rows added to each table
}

// add counts a row of t in its canonical encoding, in pieces: the chain of the table
// becomes the SHA-256 of itself and of the row.
func (c *tally) add(t *table, encoded [][]byte) {
	c.rows++
	c.chain[t.index] = chained(c.chain[t.index], encoded)
}

// chained returns the SHA-256 of a chain and of a row in its canonical encoding, in pieces.
func chained(chain [sha256.Size]byte, encoded [][]byte) [sha256.Size]byte {
	h := sha256.New()
	h.Write(chain[:])
	for _, piece := range encoded {
		h.Write(piece)
	}
	return [sha256.Size]byte(h.Sum(chain[:0]))
}

// content returns the digest for the log: the SHA-256 of the names and chains of
// those tables that got rows.
func (c *tally) content() []byte {
	h := sha256.New()
	for _, t := range tables {
		if c.chain[t.index] != [sha256.Size]byte{} {
			h.Write(t.prefix)
			h.Write(c.chain[t.index][:])
		}
	}
	return h.Sum(nil)
}

// insert adds a row to t, whose first two values, number and line of the log, it
// fills in. The number stays in r. A text that hides something is refused. After an error
// nothing was added or counted.
func (tx *Tx) insert(t *table, r row) error { return tx.insertAll(t, []row{r}) }

// insertAll is insert for several rows: all of them are added, or none.
func (tx *Tx) insertAll(t *table, rows []row) error {
	for _, r := range rows {
		if err := checkTexts(t, r); err != nil {
			return err
		}
	}
	next, err := tx.next(t)
	if err != nil {
		return err
	}
	args := make([]any, 0, len(rows)*(len(t.columns)+1))
	counted, line := tx.tally, any(tx.log)
	for _, r := range rows {
		r[0], r[1] = next, line
		var pieces [][]byte
		pieces, tx.room = encode(tx.room, t, r)
		counted.add(t, pieces)
		args = append(append(args, r...), int64(checksum(pieces...)))
		next++
	}
	if err := tx.exec(t.insertOf(len(rows)), args...); err != nil {
		return fmt.Errorf("could not add to table %s: %w", t.name, err)
	}
	counted.number[t.index] = next - 1
	tx.tally = counted
	return nil
}

// next returns the number that the next row of t gets.
func (tx *Tx) next(t *table) (int64, error) {
	last := tx.tally.number[t.index]
	if !tx.tally.seen[t.index] {
		there, err := lastNumber(tx.ctx, prepared{tx}, t)
		if err != nil {
			return 0, err
		}
		if there != last {
			return 0, &damage{table: t.name, row: 0,
				fault: fmt.Sprintf("the log counts %d rows, the last one is row %d", last, there)}
		}
		tx.tally.seen[t.index] = true
	}
	return last + 1, nil
}
