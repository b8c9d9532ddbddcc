package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"wane/study"
)

// Tx adds to the study. It is valid within the function handed to [Store.Write],
// in the goroutine of that function.
//
// Each of its methods that adds does so wholly or not at all. After a
// [*study.Refusal] the transaction may go on: this is how one bad export of a
// batch stays out and the others get in. After any other error, such as a
// [*study.Failure] of the study file itself, nothing of it is kept.
type Tx struct {
	ctx        context.Context
	store      *Store
	tx         *sql.Tx
	statements map[string]*sql.Stmt
	shapes     map[shape]string            // their SQL
	grids      map[[sha256.Size]byte]int64 // numbers of grids by their SHA-256
	log        int64                       // the line of the log that this becomes
	before     totals                      // when the transaction began
	tally      tally
	fits       int   // that were added
	broken     error // why the transaction can only be undone
	single     bool  // exports are not added together
	room       []byte
	corrected  keptCorrections // nil: not asked for since something was amended
}

// Write runs do in a transaction. If do adds something, entry becomes a line of
// the log in the same transaction, and Number of entry is set; do may complete
// the entry, whose summary is often known only afterwards. If do adds nothing, the
// study stays as it was. If do returns an error, the study stays as it was and
// Write returns the error.
//
// A study that was found damaged since it was opened is not written, and nothing is if the
// witness cannot be. If the witness fails after the commit, what was done stays and the error
// says so.
//
// do may be run a second time, in a new transaction: see [Tx.AddAll].
//
// Writers take turns; one in another process is waited for 5 s. What was done is
// on the disk when Write returns nil.
func (s *Store) Write(ctx context.Context, entry *study.Entry, do func(*Tx) error) error {
	err := s.write(ctx, entry, false, do)
	if errors.Is(err, errNotTogether) {
		err = s.write(ctx, entry, true, do)
	}
	return s.refuse(ctx, err)
}

func (s *Store) write(ctx context.Context, entry *study.Entry, single bool, do func(*Tx) error) error {
	if s.reading {
		return errReading
	}
	if err := s.refuseDamaged(); err != nil {
		return err
	}
	said := s.sayIfItWaits()
	inner, err := s.writer.BeginTx(ctx, nil)
	said()
	if err != nil {
		return err
	}
	defer inner.Rollback() // after Commit: nothing
	if err := s.logNotCut(); err != nil {
		return err // before a large transaction fills the gap
	}
	tx := &Tx{ctx: ctx, store: s, tx: inner, statements: map[string]*sql.Stmt{}, shapes: map[shape]string{},
		grids: map[[sha256.Size]byte]int64{}, single: single}
	last, err := lastLine(ctx, inner)
	if err != nil {
		return err
	}
	if err := s.count(ctx, inner); err != nil {
		return err
	}
	tx.log, tx.tally.number = last.number+1, last.totals
	if !last.counted {
		if tx.tally.number, err = checkTotals(ctx, inner); err != nil {
			return err
		}
	}
	tx.before = tx.tally.number
	if err := firstError(do(tx), tx.broken); err != nil {
		return err
	}
	if tx.tally.rows == 0 {
		return nil
	}
	witness, err := s.openWitness()
	if err != nil {
		return err
	}
	if witness != nil {
		defer witness.Close()
	}
	if err := tx.appendLine(last, entry); err != nil {
		return err
	}
	if err := s.refuseDamaged(); err != nil { // found meanwhile by another goroutine
		return err
	}
	s.rowsSinceCheckpoint += tx.tally.rows
	full := s.rowsSinceCheckpoint >= checkpointRows
	if full {
		s.rowsSinceCheckpoint = 0
	}
	if err := s.commit(ctx, inner); err != nil {
		return err
	}
	if full {
		s.checkpointInBackground()
	}
	entry.Number = tx.log
	return s.appendToWitness(witness, entry)
}

// SetWaiting has say told what a writer waits for, when it has waited for a second. say is called in a goroutine of its own.
func (s *Store) SetWaiting(say func(what string)) { s.waiting = say }

// patience is how long a writer waits before it says so.
const patience = time.Second

// sayIfItWaits begins to wait for the turn to write. The function that it returns ends that.
func (s *Store) sayIfItWaits() (ended func()) {
	if s.waiting == nil {
		return func() {}
	}
	t := time.AfterFunc(patience, func() {
		s.waiting(fmt.Sprintf("%s is being written by another process: waiting for that to end, %g s at most", s.path,
			longestWait.Seconds()))
	})
	return func() { t.Stop() }
}

var errReading = errors.New("store: the study was opened to read")

// commit ends tx in a study that is where it was opened, and says in the main file that it
// is not closed. What is not there any more is refused before, and also after, since a
// commit into a file without a name is none.
func (s *Store) commit(ctx context.Context, tx *sql.Tx) error {
	err := s.markIn(ctx, tx)
	if err == nil {
		err = s.inPlace()
	}
	if err == nil {
		err = tx.Commit()
	}
	if err == nil {
		err = s.checkpointMark(ctx)
	}
	if err == nil {
		err = s.inPlace()
	}
	if err == nil {
		err = s.noteLogSize()
	}
	return err
}

// atomically runs do, and undoes what it did if it refuses.
func (tx *Tx) atomically(do func() error) error {
	if tx.broken != nil {
		return tx.broken
	}
	before := tx.tally
	if err := tx.exec("SAVEPOINT piece"); err != nil {
		return tx.fail(err)
	}
	err := do()
	switch {
	case isRefusal(err):
		tx.tally = before
		clear(tx.grids)
		tx.corrected = nil
		tx.fail(tx.exec("ROLLBACK TO piece"))
	case err != nil:
		return tx.fail(err)
	}
	tx.fail(tx.exec("RELEASE piece"))
	return firstError(tx.broken, err)
}

// fail notes err, after which the transaction can only be undone, and returns it.
func (tx *Tx) fail(err error) error {
	err = tx.store.noteDamage(err)
	tx.broken = firstError(tx.broken, err)
	return err
}

func (tx *Tx) exec(query string, args ...any) error {
	st, err := tx.statement(query)
	if err != nil {
		return err
	}
	_, err = st.ExecContext(tx.ctx, args...)
	return err
}

func (tx *Tx) statement(query string) (*sql.Stmt, error) {
	if st, ok := tx.statements[query]; ok {
		return st, nil
	}
	st, err := tx.tx.PrepareContext(tx.ctx, query) // closed with the transaction
	if err != nil {
		return nil, err
	}
	tx.statements[query] = st
	return st, nil
}

// prepared is a Tx as a querier, which prepares each query once.
type prepared struct{ tx *Tx }

func (p prepared) corrections(ctx context.Context, t *table) (*corrections, error) {
	return p.tx.corrections(ctx, t)
}

// corrections returns the corrections of a table, with those of this transaction.
func (tx *Tx) corrections(ctx context.Context, t *table) (*corrections, error) {
	if tx.corrected == nil {
		tx.corrected = keptCorrections{}
	}
	return tx.corrected.get(ctx, prepared{tx}, t)
}

func (p prepared) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	st, err := p.tx.statement(query)
	if err != nil {
		return nil, err
	}
	return st.QueryContext(ctx, args...)
}

// View returns the study as the transaction has made it until now. It is valid until the transaction does more.
func (tx *Tx) View() *View {
	now := moment{tx.tx, keptCorrections{}}
	return &View{ctx: tx.ctx, store: tx.store, q: now, ready: now, unfinished: true}
}
