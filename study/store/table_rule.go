package store

import (
	"crypto/sha256"
	"fmt"

	"wane/study"
)

var ruleTable = newTable(38, "rule", fields[study.KeptRule]{
	textField("rule", func(r *study.KeptRule) *string { return &r.Rule }),
	textField("text", func(r *study.KeptRule) *string { return &r.Text }).asGiven(),
})

var verdictTable = newTable(39, "verdict", fields[verdictRow]{
	wholeField("rule", func(v *verdictRow) *int64 { return &v.rule }),
	textField("of_group", func(v *verdictRow) *string { return &v.Group }).asGiven(),
	wholeField("line", func(v *verdictRow) *int64 { return &v.Line }),
	sumField("digest", func(v *verdictRow) *[sha256.Size]byte { return &v.Digest }),
	textField("verdict", func(v *verdictRow) *string { return &v.Verdict }),
	textField("looked", func(v *verdictRow) *string { return &v.Looked }).asGiven(),
	textField("row", func(v *verdictRow) *string { return &v.Row }).asGiven(),
})

// verdictRow is a verdict with the number of its rule.
type verdictRow struct {
	study.IssuedVerdict
	rule int64
}

// AddRule adds a rule of acceptance. The same text under a name adds nothing; another text under a name that is used is
// refused.
func (tx *Tx) AddRule(r study.KeptRule) (added bool, err error) {
	err = tx.atomically(func() error {
		there, err := ruleTable.one(tx.ctx, prepared{tx}, "FROM rule WHERE rule = ?", r.Rule)
		switch {
		case err != nil:
			return err
		case there != nil && there.Row.Text == r.Text:
			return nil
		case there != nil:
			return &study.Refusal{Fault: fmt.Sprintf("the study has a rule %s already, of line %d of the history, and it says "+
				"something else", r.Rule, there.Line),
				Try: "give this one a name of its own: a rule is fixed when it is added"}
		}
		added = true
		_, err = ruleTable.add(tx, &r)
		return err
	})
	return added, err
}

// Rules returns the rules in the order in which they were added.
func (v *View) Rules() (all []Kept[study.KeptRule], err error) {
	err = ruleTable.each(v.ctx, v.q, "", nil, func(k *Kept[study.KeptRule]) error {
		all = append(all, *k)
		return nil
	})
	return all, v.refuse(err)
}

// AddVerdict adds a verdict by the rule of that number.
func (tx *Tx) AddVerdict(rule int64, v study.IssuedVerdict) error {
	return tx.atomically(func() error {
		_, err := verdictTable.add(tx, &verdictRow{v, rule})
		return err
	})
}

// Verdicts hands the verdicts, as they were issued, to yield, with the number of their rule.
func (v *View) Verdicts(yield func(rule int64, k Kept[study.IssuedVerdict]) error) error {
	return v.refuse(verdictTable.each(v.ctx, v.q, "", nil, func(k *Kept[verdictRow]) error {
		return yield(k.Row.rule, Kept[study.IssuedVerdict]{Number: k.Number, Line: k.Line, Row: k.Row.IssuedVerdict})
	}))
}

// Came is a row by which something came into the study.
type Came struct {
	Table  string
	Number int64
	Line   int64 // of the log
	Coupon string
	Pull   int
}

// FirstExposed returns the row by which the first reading or measurement of a coupon that is exposed in an exposure
// came into the study, after its baseline; nil if there is none. A reading came with its export, and one that was
// moved, with the export too. Checksums are not looked at.
func (v *View) FirstExposed(exposure string) (first *Came, err error) {
	err = ask(v.ctx, v.q, firstExposed, []any{exposure}, func(r row) error {
		first = &Came{Table: r.text(0), Number: r.whole(1), Line: r.whole(2), Coupon: r.text(3), Pull: int(r.whole(4))}
		return nil
	})
	return first, v.refuse(err)
}

// LastRead returns the line of the log under which the last reading of a coupon at a pull that is current came into the
// study, with its export; 0 if there is none. Checksums are not looked at.
func (v *View) LastRead(coupon string, pull int) (line int64, err error) {
	err = ask(v.ctx, v.q, `SELECT ifnull(max(x.log), 0) FROM reading r JOIN export x ON x.id = r.export
		WHERE r.coupon = ? AND r.pull = ? AND r.superseded_by IS NULL`, []any{coupon, int64(pull)}, func(r row) error {
		line = r.whole(0)
		return nil
	})
	return line, v.refuse(err)
}

// firstExposed goes through the exports in the order in which they came, and ends at the first that has such a reading.
const firstExposed = `WITH c AS MATERIALIZED (SELECT coupon, ifnull(baseline_pull, 0) AS baseline FROM v_coupons
		WHERE exposure = ?1 AND role = 'exposed')
	SELECT * FROM (
		SELECT * FROM (SELECT 'reading' AS of, r.id AS id, x.log AS log, r.coupon AS coupon, r.pull AS pull FROM export x
			CROSS JOIN reading r ON r.export = x.id AND r.superseded_by IS NULL
			CROSS JOIN c ON c.coupon = r.coupon AND r.pull > c.baseline ORDER BY x.id LIMIT 1)
		UNION ALL
		SELECT * FROM (SELECT 'reading', r.id, x.log, r.coupon, r.pull FROM export x
			CROSS JOIN reading r ON r.export = x.id AND r.superseded_by IS NOT NULL
			CROSS JOIN c ON c.coupon = r.coupon AND r.pull > c.baseline ORDER BY x.id LIMIT 1)
		UNION ALL
		SELECT * FROM (SELECT 'measurement', m.id, m.log, m.coupon, m.pull FROM measurement m
			CROSS JOIN c ON c.coupon = m.coupon AND m.pull > c.baseline ORDER BY m.id LIMIT 1))
	ORDER BY log, id LIMIT 1`
