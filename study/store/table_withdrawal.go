package store

import (
	"fmt"
	"strconv"
	"strings"

	"wane/study"
)

// KeyedRow is a row that people find by a key.
type KeyedRow struct {
	Of     string   // the table
	Number int64    // in it
	Parts  []string // the values of the key in the order of the columns
	Key    string   // the parts with / between them
	What   string   // the row by its key, in words
}

// KeyedTables returns the names of the tables whose rows can be withdrawn.
func KeyedTables() (names []string) {
	for _, t := range keyedTables() {
		if t != referenceCurveTable.table { // they go with their certificate
			names = append(names, t.name)
		}
	}
	return names
}

// KeyedRows returns the rows of a table, as they are now. It is empty if there is no such table.
func (tx *Tx) KeyedRows(of string) (all []KeyedRow, err error) {
	t := tableCalled(of)
	if t == nil {
		return nil, nil
	}
	err = t.eachRow(tx.ctx, prepared{tx}, "", nil, func(r row) error {
		k, err := t.keyedRow(r)
		all = append(all, k)
		return err
	})
	return all, tx.fail(err)
}

// keyedRow returns a row as people find it.
func (t *table) keyedRow(r row) (KeyedRow, error) {
	k := KeyedRow{Of: t.name, Number: r.whole(0), Parts: t.keyParts(r)}
	k.Key = strings.Join(k.Parts, "/")
	what, err := t.keyed.describe(r)
	k.What = what
	return k, err
}

// keyOf returns the key of a row as KeyedRow has it.
func (t *table) keyOf(r row) string { return strings.Join(t.keyParts(r), "/") }

// keyParts returns the values of the key of a row, in the order of the columns.
func (t *table) keyParts(r row) (parts []string) {
	for i := range t.columns {
		if t.keyed.isKey(i) {
			parts = append(parts, cellText(r[i]))
		}
	}
	return parts
}

// Withdraw takes a row out of the study, with what belongs to it alone: the events of a coupon, the pulls and doses of an
// exposure, the events of an instrument, the values of a certificate, the readings of check standards in a session. A
// row that others name is refused, which are said: readings that count or are held, and measurements.
func (tx *Tx) Withdraw(of string, number int64) (made []Correction, err error) {
	err = tx.atomically(func() error {
		made = nil
		t := tableCalled(of)
		if t == nil {
			return &study.Refusal{Fault: fmt.Sprintf("there is no table %q of rows that can be withdrawn", of),
				Try: "name one of " + strings.Join(KeyedTables(), ", ")}
		}
		if now, err := tx.corrections(tx.ctx, t); err != nil || now.withdrawn[number] {
			return err // it went with another
		}
		for _, u := range uses[of] {
			if err := tx.refuseUsed(u, t, number); err != nil {
				return err
			}
		}
		for _, p := range belongings[of] {
			numbers, err := tx.numbers(p.query, number)
			if err != nil {
				return err
			}
			for _, n := range numbers {
				gone, err := tx.takeOut(p.of, n)
				if err != nil {
					return err
				}
				made = append(made, gone)
			}
		}
		gone, err := tx.takeOut(t, number)
		made = append(made, gone)
		return err
	})
	if err != nil {
		return nil, err
	}
	return made, nil
}

// takeOut withdraws one row.
func (tx *Tx) takeOut(t *table, number int64) (made Correction, err error) {
	made = Correction{Of: t.name, Row: number}
	if made.What, err = tx.describe(t, number); err != nil {
		return made, err
	}
	_, err = withdrawalTable.add(tx, &withdrawalRow{t.name, number})
	if known := tx.corrected[t]; known != nil {
		known.withdrawn[number] = true
	}
	return made, err
}

// use is what names a row, so that the row stays.
type use struct {
	by    *table
	query string // returns the numbers of what names row ?1
}

// reads selects readings that count or are held, as r.
const reads = "SELECT r.id FROM reading r JOIN v_standings s ON s.reading = r.id AND s.standing <> 'aside' "

// current selects the rows of a table that are not withdrawn, as t.
func current(of, where string) string {
	return fmt.Sprintf("SELECT t.id FROM %[1]s t WHERE NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = "+
		"('%[1]s', t.id)) AND %[2]s ORDER BY t.id", of, where)
}

// plans selects pulls, as p, of which coupon c goes with the exposure.
func plans(p string) string {
	return "(c.exposure IS NULL OR " + p + ".exposure = c.exposure OR " + p + ".exposure IN " +
		"(SELECT exposure FROM v_coupon_events e WHERE e.coupon = c.coupon AND e.exposure IS NOT NULL))"
}

// onlyPlannedBy selects what was read at pull p of coupon c that no other exposure of the coupon plans.
func onlyPlannedBy(read string) string {
	return read + ".pull = p.pull AND " + plans("p") +
		" AND NOT EXISTS (SELECT 1 FROM v_pulls o WHERE o.pull = p.pull AND o.exposure <> p.exposure AND " + plans("o") + ")"
}

var uses = map[string][]use{
	"coupon": {
		{readingTable.table, reads + "WHERE r.coupon = (SELECT coupon FROM coupon WHERE id = ?1) ORDER BY r.id"},
		{measurementTable.table, current("measurement", "t.coupon = (SELECT coupon FROM coupon WHERE id = ?1)")},
	},
	"exposure": {
		{couponTable.table, `SELECT c.id FROM coupon c JOIN v_coupons n ON n.coupon = c.coupon
			WHERE n.exposure = (SELECT exposure FROM exposure WHERE id = ?1) ORDER BY c.id`},
		{couponEventTable.table, `SELECT t.id FROM coupon_event t JOIN v_coupon_events n
			ON (n.coupon, n.event, ifnull(n.pull, -1), ifnull(n.date, '')) = (t.coupon, t.event, ifnull(t.pull, -1), ifnull(t.date, ''))
			WHERE n.exposure = (SELECT exposure FROM exposure WHERE id = ?1) ORDER BY t.id`},
	},
	"pull": {
		{readingTable.table, reads + "JOIN pull p ON p.id = ?1 JOIN v_coupons c ON c.coupon = r.coupon WHERE " +
			onlyPlannedBy("r") + " ORDER BY r.id"},
		{measurementTable.table, current("measurement", "EXISTS (SELECT 1 FROM v_coupons c JOIN pull p ON p.id = ?1 "+
			"WHERE c.coupon = t.coupon AND "+onlyPlannedBy("t")+")")},
	},
	"instrument": {{sessionTable.table, `SELECT s.id FROM session s JOIN v_sessions n ON n.session = s.session
		WHERE n.instrument = (SELECT instrument FROM instrument WHERE id = ?1) ORDER BY s.id`}},
	"session": {{readingTable.table, reads + "WHERE r.session = (SELECT session FROM session WHERE id = ?1) ORDER BY r.id"}},
	"reference": {
		{readingTable.table, reads + `JOIN reference c ON c.id = ?1 WHERE (r.reference, r.reference_issued) = (c.reference, c.issued)
			ORDER BY r.id`},
		{sessionTable.table, `SELECT s.id FROM reference c JOIN v_sessions n ON n.reference = c.reference
			JOIN session s ON s.session = n.session
			WHERE c.id = ?1 AND (SELECT count(*) FROM v_references o WHERE o.reference = c.reference) = 1 ORDER BY s.id`},
	},
	"standard": {{standardReadingTable.table, current("standard_reading", `EXISTS (SELECT 1 FROM standard c WHERE c.id = ?1
		AND (t.standard, t.angle_deg, t.polarisation) = (c.standard, c.angle_deg, c.polarisation)
		AND (SELECT count(*) FROM v_standards o
			WHERE (o.standard, o.angle_deg, o.polarisation) = (c.standard, c.angle_deg, c.polarisation)) = 1)`)}},
	"glass": {{couponTable.table, `SELECT c.id FROM coupon c JOIN v_coupons n ON n.coupon = c.coupon
		WHERE n.glass = (SELECT glass FROM glass WHERE id = ?1) ORDER BY c.id`}},
	"return_spectrum": {{couponTable.table, `SELECT c.id FROM coupon c JOIN v_coupons n ON n.coupon = c.coupon
		WHERE n.return_spectrum = (SELECT return_spectrum FROM return_spectrum WHERE id = ?1) ORDER BY c.id`}},
}

// belonging is what goes with a row.
type belonging struct {
	of    *table
	query string // returns the numbers of what belongs to row ?1
}

var belongings = map[string][]belonging{
	"exposure": {
		{pullTable.table, current("pull", "t.exposure = (SELECT exposure FROM exposure WHERE id = ?1)")},
		{doseTable.table, current("dose_reading", "t.exposure = (SELECT exposure FROM exposure WHERE id = ?1)")},
	},
	"coupon": {{couponEventTable.table, current("coupon_event", "t.coupon = (SELECT coupon FROM coupon WHERE id = ?1)")}},
	"instrument": {{eventTable.table, current("event",
		"t.instrument = (SELECT instrument FROM instrument WHERE id = ?1)")}},
	"reference": {{referenceCurveTable.table, current("reference_curve",
		"(t.reference, t.issued) = (SELECT reference, issued FROM reference WHERE id = ?1)")}},
	"session": {{standardReadingTable.table, current("standard_reading",
		"t.session = (SELECT session FROM session WHERE id = ?1)")}},
}

// refuseUsed refuses to withdraw a row that something names.
func (tx *Tx) refuseUsed(u use, of *table, number int64) error {
	numbers, err := tx.numbers(u.query, number)
	if err != nil || len(numbers) == 0 {
		return err
	}
	what, err := tx.describe(of, number)
	if err != nil {
		return err
	}
	if u.by == readingTable.table {
		return &study.Refusal{
			Fault: fmt.Sprintf("%s has readings that count or are held: %s", what, spans(numbers)),
			Try: "put them where they belong with `wane move`, or set them aside with `wane review --aside`, then withdraw " +
				"it again",
		}
	}
	var names []string
	for _, n := range numbers[:min(len(numbers), mostNames)] {
		name, err := tx.describe(u.by, n)
		if err != nil {
			return err
		}
		names = append(names, name)
	}
	if more := len(numbers) - len(names); more > 0 {
		names = append(names, fmt.Sprintf("and %d more", more))
	}
	return &study.Refusal{Fault: fmt.Sprintf("%s is named by %s", what, strings.Join(names, "; ")),
		Try: "amend or withdraw what names it first, then withdraw it again"}
}

// mostNames bounds how many rows a refusal names.
const mostNames = 5

// describe returns a row by its key, in words.
func (tx *Tx) describe(t *table, number int64) (string, error) {
	r, err := t.oneRow(tx.ctx, prepared{tx}, "FROM "+t.name+" WHERE id = ?", number)
	if err != nil {
		return "", err
	}
	if r == nil {
		return "", &study.Refusal{Fault: fmt.Sprintf("there is no row %d of table %s", number, t.name),
			Try: "name a row that is enrolled"}
	}
	return t.keyed.describe(r)
}

// numbers returns the numbers that a query returns.
func (tx *Tx) numbers(query string, args ...any) (found []int64, err error) {
	err = ask(tx.ctx, prepared{tx}, query, args, func(r row) error {
		found = append(found, r.whole(0))
		return nil
	})
	return found, err
}

// spans writes numbers that rise, those that follow one another as 17-22.
func spans(numbers []int64) string {
	var words []string
	for i := 0; i < len(numbers); {
		j := i
		for j+1 < len(numbers) && numbers[j+1] == numbers[j]+1 {
			j++
		}
		if j == i {
			words = append(words, strconv.FormatInt(numbers[i], 10))
		} else {
			words = append(words, fmt.Sprintf("%d-%d", numbers[i], numbers[j]))
		}
		i = j + 1
	}
	return strings.Join(words, ", ")
}
