package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"maps"

	"wane/study"
)

// View is the study as it is at one moment. It is valid within the function handed
// to [Store.View], in the goroutine of that function.
type View struct {
	ctx   context.Context
	store *Store
	q     querier
	ready querier                  // for the queries that are kept ready
	now   map[int64]study.Standing // of the readings that were ever judged; nil: not asked yet
	asIf  bool                     // now is not what the file says

	unfinished bool // it shows a transaction that goes on, of which no line of the log is written yet

	codes map[string]bool // of the coupons, false: withdrawn; nil: not asked yet

	deserted map[study.Unit]bool // the units whose readings were all moved; nil: not asked yet
}

// enrolled returns whether the coupon that a row of t names is enrolled, so that who looks it up finds it: not one that
// was withdrawn. References hold that it ever was, but not against other programs.
func (v *View) enrolled(t *table) (func(row int64, coupon string) (bool, error), error) {
	if v.codes == nil {
		codes, err := v.readCodes()
		if err != nil {
			return nil, err
		}
		v.codes = codes
	}
	return func(row int64, coupon string) (bool, error) {
		there, ever := v.codes[coupon]
		if !ever {
			return false, &damage{table: t.name, row: row, fault: fmt.Sprintf("its coupon %q is not enrolled", coupon)}
		}
		return there, nil
	}, nil
}

// readCodes reads the codes once for each line of the log, as [View.Roster] does: nobody may change them.
func (v *View) readCodes() (map[string]bool, error) {
	var last line
	_, past := v.q.(asOf)
	if past = past || v.unfinished; !past {
		var err error
		if last, err = lastLine(v.ctx, v.q); err != nil {
			return nil, err
		}
		if kept := v.store.codes.Load(); kept != nil && kept.hash == last.hash {
			return kept.codes, nil
		}
	}
	now, err := correctionsOf(v.ctx, v.q, couponTable.table)
	if err != nil {
		return nil, err
	}
	codes := map[string]bool{}
	err = ask(v.ctx, v.q, "SELECT id, log, coupon FROM coupon", nil, func(r row) error {
		codes[r.text(2)] = now.there(r)
		return nil
	})
	if err == nil && !past {
		v.store.codes.Store(&keptCodes{last.hash, codes})
	}
	return codes, err
}

// keptCodes are the codes of coupons after the line of the log with this hash.
type keptCodes struct {
	hash  [sha256.Size]byte
	codes map[string]bool
}

// everEnrolled is enrolled that lets coupons pass that were withdrawn, for readings that are asked for by their number or
// their export.
func (v *View) everEnrolled(t *table) (func(row int64, coupon string) (bool, error), error) {
	check, err := v.enrolled(t)
	return func(row int64, coupon string) (bool, error) {
		_, err := check(row, coupon)
		return err == nil, err
	}, err
}

// View runs do, in which several reads see the study as it is at the first of them,
// whatever is added meanwhile. A study of which rows are missing, by the numbers of rows
// that its log counts, is a [*study.Failure]. It returns the error of do. The write-ahead log
// grows while a view is open and others write.
func (s *Store) View(ctx context.Context, do func(*View) error) error {
	return s.snapshot(ctx, func(tx *sql.Tx) error {
		if err := s.count(ctx, tx); err != nil {
			return err
		}
		kept := keptCorrections{}
		return do(&View{ctx: ctx, store: s, q: moment{tx, kept}, ready: moment{ready{s, tx}, kept}})
	})
}

// view returns what read finds in a view of its own.
func view[T any](ctx context.Context, s *Store, read func(*View) (T, error)) (found T, err error) {
	err = s.View(ctx, func(v *View) error {
		found, err = read(v)
		return err
	})
	return found, err
}

// Without returns the study as it would be if a guard held nothing: what only that one
// holds is counted there, in [View.Units], [View.Readings] and what is marked. differs reports
// whether that makes a difference.
func (v *View) Without(guard string) (as *View, differs bool, err error) {
	now, err := v.standings()
	if err != nil {
		return nil, false, v.refuse(err)
	}
	as = &View{}
	*as = *v
	as.now, as.asIf = maps.Clone(now), true
	const query = `SELECT reading FROM hold JOIN reading ON reading.id = hold.reading AND reading.superseded_by IS NULL
		WHERE guard = ?1 AND ` + standingHolds + `
		AND reading NOT IN (SELECT reading FROM review)
		AND reading NOT IN (SELECT reading FROM hold WHERE guard <> ?1 AND ` + standingHolds + `)`
	err = ask(v.ctx, v.q, query, []any{guard}, func(r row) error {
		as.now[r.whole(0)], differs = study.Counted, true
		return nil
	})
	return as, differs, v.refuse(err)
}

func (v *View) refuse(err error) error { return v.store.refuse(v.ctx, err) }

// snapshot runs do on one moment of the study.
func (s *Store) snapshot(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err == nil {
		defer tx.Rollback() // nothing to keep
		err = do(tx)
	}
	if err == nil && s.frozen {
		err = s.about(s.asItWas())
	}
	return s.refuse(ctx, err)
}

// refuse makes err fit for a person. After ctx is done it is the reason of that,
// which SQLite does not say.
func (s *Store) refuse(ctx context.Context, err error) error {
	if err != nil && ctx.Err() != nil {
		return ctx.Err()
	}
	return s.noteDamage(err)
}

// noteDamage is refuse, and remembers that the study was found damaged.
func (s *Store) noteDamage(err error) error {
	var broken *damage
	err = s.causeIfMoved(err)
	found := refuse(s.path, err)
	var failure *study.Failure
	if (errors.As(err, &broken) || isCorrupt(err)) && errors.As(found, &failure) {
		s.damaged.CompareAndSwap(nil, failure)
	}
	return found
}

// Damaged returns the failure of a study in which what a table holds cannot be right, as
// one finds who compares its rows. Nothing more is written then.
func (s *Store) Damaged(table, fault string) error {
	return s.noteDamage(&damage{table: table, fault: fault})
}

// refuseDamaged returns what was found damaged, nil if nothing was.
func (s *Store) refuseDamaged() error {
	if found := s.damaged.Load(); found != nil {
		return found
	}
	return nil
}
