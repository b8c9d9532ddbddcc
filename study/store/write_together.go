package store

import (
	"crypto/sha256"
	"errors"
	"strconv"
	"strings"
	"sync"

	"wane/study"
)

// PendingExport is an export with its readings on the way into the study, and how it is taken in.
type PendingExport struct {
	*Packed
	How study.Taking
}

// Outcome is what became of a [PendingExport]: how many of its readings are new, or the
// [*study.Refusal] that kept the export out.
type Outcome struct {
	Added   int
	Refused error
}

// AddAll does what [Tx.AddExport] does for each of several packed exports, in their order. The
// outcomes are in the order of the exports. An error is none of a single export's.
//
// As long as all exports are new and none is refused, which is the rule, one statement adds
// many rows, and the rows are encoded, checked and hashed in goroutines beside the statements.
// Otherwise the transaction is undone, [Store.Write] runs its function again, and AddAll then
// adds the exports one by one.
func (tx *Tx) AddAll(pending []PendingExport) ([]Outcome, error) {
	outcomes := make([]Outcome, len(pending))
	if areTogether(pending) && !tx.single {
		if err := tx.addTogether(pending); err != nil {
			return nil, tx.fail(err)
		}
		for i := range pending {
			outcomes[i].Added = len(pending[i].readings)
		}
		return outcomes, nil
	}
	for i, a := range pending {
		added, err := tx.addPacked(a.Packed, a.How)
		if err != nil && !isRefusal(err) {
			return nil, err
		}
		outcomes[i] = Outcome{Added: added, Refused: err}
	}
	return outcomes, nil
}

// errNotTogether undoes a transaction in which exports were to be added together that the
// study does not take all.
var errNotTogether = errors.New("store: the exports cannot be added together")

// mostTogether is how many bytes an export may have, compressed, to be added with others in
// one statement, which holds copies of all of them.
const mostTogether = 1 << 16

// areTogether reports whether the exports can be added together, as far as they show by
// themselves.
func areTogether(pending []PendingExport) bool {
	if len(pending) < 2 {
		return false
	}
	for _, a := range pending {
		if len(a.readings) == 0 || a.Bytes() > mostTogether || !differentColumns(a.readings) {
			return false
		}
	}
	return true
}

// addTogether adds exports of which none is there. Its error is errNotTogether if the study
// does not take all of them.
func (tx *Tx) addTogether(pending []PendingExport) error {
	if tx.broken != nil {
		return tx.broken
	}
	err := tx.addBlocks(pending)
	for i := range pending {
		for k := range pending[i].readings {
			if err == nil {
				err = tx.holdForConcerns(&pending[i].readings[k])
			}
		}
	}
	if isRefusal(err) || isConstraint(err) {
		return errNotTogether
	}
	return err
}

func (tx *Tx) addBlocks(pending []PendingExport) error {
	blocks, err := tx.blocks(pending)
	if err != nil {
		return err
	}
	var busy sync.WaitGroup
	defer busy.Wait() // the rows are in the hands of the goroutines
	for _, b := range blocks {
		busy.Go(b.encode)
	}
	for _, b := range blocks {
		if err := tx.insertBlock(b); err != nil {
			return err
		}
	}
	return nil
}

// blocks makes the rows of exports, with the numbers that they get.
func (tx *Tx) blocks(pending []PendingExport) ([]*block, error) {
	var exports, originals, intakes, readings []row
	export, err := tx.next(exportTable.table)
	if err != nil {
		return nil, err
	}
	intake, err := tx.next(intakeTable.table)
	if err != nil {
		return nil, err
	}
	for i := range pending {
		e, how := &pending[i].export, pending[i].How
		profile, err := tx.profile(e.Name, how)
		if err != nil {
			return nil, err
		}
		exports = append(exports, exportTable.row(e))
		originals = append(originals, originalTable.row(e))
		intakes = append(intakes, intakeTable.row(&intakeRow{how, export, profile}))
		a := &exportAddition{number: export, intake: intake}
		for k := range pending[i].readings {
			r := &pending[i].readings[k]
			if err := tx.fillNumbers(a, r); err != nil {
				return nil, err
			}
			readings = append(readings, r.row)
		}
		export, intake = export+1, intake+1
	}
	var all []*block
	line := any(tx.log)
	for _, b := range []block{{table: exportTable.table, rows: exports}, {table: originalTable.table, rows: originals},
		{table: intakeTable.table, rows: intakes}, {table: readingTable.table, rows: readings}} {
		next, err := tx.next(b.table)
		if err != nil {
			return nil, err
		}
		for i, r := range b.rows {
			r[0], r[1] = next+int64(i), line
		}
		b.chain = tx.tally.chain[b.table.index]
		b.parts = make(chan part, len(b.rows)/rowsTogether+rowsTogether)
		all = append(all, &b)
	}
	return all, nil
}

// rowsTogether is how many rows of a block one statement adds. With more rows a statement
// gains no more than it costs to prepare.
const rowsTogether = 32

// block is rows of one table that are added one after the other. They have their numbers.
type block struct {
	table *table
	rows  []row
	chain [sha256.Size]byte // of the table: before the rows, and after encode with them
	parts chan part         // has room for all of them
	err   error             // why encode ended, once parts is closed
}

// part is what one statement adds.
type part struct {
	shape
	args []any
}

// shape is what distinguishes statements of a table that add rows.
type shape struct {
	table  *table
	rows   int
	shared uint64 // bit i: column i has the same value in all rows, and is once in the arguments
}

// encode checks the texts of the rows, and makes checksums, the chain and the arguments of
// the statements.
func (b *block) encode() {
	defer close(b.parts)
	defer study.Catch("", &b.err)
	var room []byte
	for rows := b.rows; len(rows) > 0; {
		n := 1
		if len(rows) >= rowsTogether {
			n = rowsTogether
		}
		sums := make([]int64, n)
		for i, r := range rows[:n] {
			if b.err = checkTexts(b.table, r); b.err != nil {
				return
			}
			var pieces [][]byte
			pieces, room = encode(room, b.table, r)
			b.chain = chained(b.chain, pieces)
			sums[i] = int64(checksum(pieces...))
		}
		b.parts <- partOf(b.table, rows[:n], sums)
		rows = rows[n:]
	}
}

// partOf returns the statement that adds rows with their checksums.
func partOf(t *table, rows []row, sums []int64) part {
	p := part{shape: shape{table: t, rows: len(rows)}, args: make([]any, 0, len(rows)*(len(t.columns)+1))}
	if len(rows) > 1 {
		p.shared = sharedColumns(rows)
	}
	for i := range t.columns {
		if p.shared&(1<<i) != 0 {
			p.args = append(p.args, rows[0][i])
		}
	}
	for k, r := range rows {
		for i, v := range r {
			if p.shared&(1<<i) == 0 {
				p.args = append(p.args, v)
			}
		}
		p.args = append(p.args, sums[k])
	}
	return p
}

// sharedColumns returns the columns that have the same value in all rows.
func sharedColumns(rows []row) (shared uint64) {
	for i, v := range rows[0] {
		if _, isBlob := v.([]byte); isBlob {
			continue
		}
		same := true
		for _, r := range rows[1:] {
			if _, isBlob := r[i].([]byte); isBlob || r[i] != v {
				same = false
				break
			}
		}
		if same {
			shared |= 1 << i
		}
	}
	return shared
}

// statement returns the SQL that adds rows of the shape. The shared values are the first
// parameters; the others have no numbers, which the driver would look up one by one.
func (s shape) statement() string {
	var first, then, values []string
	for i, c := range s.table.columns {
		if s.shared&(1<<i) != 0 {
			first = append(first, c)
			values = append(values, "?"+strconv.Itoa(len(first)))
		} else {
			then = append(then, c)
		}
	}
	columns := append(append(first, then...), "crc")
	place := "(" + strings.Join(values, ", ") + strings.Repeat(", ?", len(then)+1) + ")"
	place = strings.Replace(place, "(, ", "(", 1)
	return "INSERT INTO " + s.table.name + " (" + strings.Join(columns, ", ") + ") VALUES " + place +
		strings.Repeat(", "+place, s.rows-1)
}

// insertBlock adds the rows of a block as they come from encode.
func (tx *Tx) insertBlock(b *block) error {
	for p := range b.parts {
		query, known := tx.shapes[p.shape]
		if !known {
			query = p.statement()
			tx.shapes[p.shape] = query
		}
		if err := tx.exec(query, p.args...); err != nil {
			return err
		}
	}
	if b.err != nil {
		return b.err
	}
	tx.tally.rows += int64(len(b.rows))
	tx.tally.number[b.table.index] += int64(len(b.rows))
	tx.tally.chain[b.table.index] = b.chain
	return nil
}
