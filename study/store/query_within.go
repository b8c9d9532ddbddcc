package store

import "fmt"

// Unplanned returns the numbers of the readings of a coupon that count or are held, and those of its measurements, of
// which nobody plans the pull.
func (tx *Tx) Unplanned(coupon string) (readings, measurements []int64, err error) {
	const of = `SELECT r.id FROM %s r JOIN v_coupons c ON c.coupon = r.coupon WHERE r.coupon = ? AND %s
		AND NOT EXISTS (SELECT 1 FROM v_pulls p WHERE p.pull = r.pull AND %s) ORDER BY r.id`
	readings, err = tx.numbers(fmt.Sprintf(of, "reading",
		"EXISTS (SELECT 1 FROM v_standings s WHERE s.reading = r.id AND s.standing <> 'aside')", plans("p")), coupon)
	if err == nil {
		measurements, err = tx.numbers(fmt.Sprintf(of, "measurement",
			"NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('measurement', r.id))", plans("p")), coupon)
	}
	return readings, measurements, tx.fail(err)
}

// GoneWith returns how many readings that were set aside, and how many fits, are of a row of a coupon or a pull that is
// withdrawn; none of a row of another table.
func (tx *Tx) GoneWith(c Correction) (readings, fits int, err error) {
	from := ""
	switch c.Of {
	case couponTable.name:
		from = "%s r JOIN coupon c ON c.coupon = r.coupon WHERE c.id = ?1"
	case pullTable.name:
		from = "%s r JOIN pull p ON p.id = ?1 JOIN v_coupons c ON c.coupon = r.coupon WHERE " + onlyPlannedBy("r")
	default:
		return 0, 0, nil
	}
	query := fmt.Sprintf("SELECT (SELECT count(*) FROM "+from+" AND r.superseded_by IS NULL), (SELECT count(*) FROM "+from+")",
		"reading", "v_fits")
	err = ask(tx.ctx, prepared{tx}, query, []any{c.Row}, func(r row) error {
		readings, fits = int(r.whole(0)), int(r.whole(1))
		return nil
	})
	return readings, fits, tx.fail(err)
}

// ReadAgainst returns the numbers of the current readings that a certificate made absolute.
func (tx *Tx) ReadAgainst(reference, issued string) ([]int64, error) {
	numbers, err := tx.numbers("SELECT id FROM reading WHERE superseded_by IS NULL AND (reference, reference_issued) = (?, ?) "+
		"ORDER BY id", reference, issued)
	return numbers, tx.fail(err)
}
