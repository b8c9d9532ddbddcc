package store

import "fmt"

// Unplanned returns the numbers of the current readings of a coupon, and those of its measurements, of which nobody plans
// the pull.
func (tx *Tx) Unplanned(coupon string) (readings, measurements []int64, err error) {
	const of = `SELECT r.id FROM %s r JOIN v_coupons c ON c.coupon = r.coupon WHERE r.coupon = ? AND %s
		AND NOT EXISTS (SELECT 1 FROM v_pulls p WHERE p.pull = r.pull AND %s) ORDER BY r.id`
	readings, err = tx.numbers(fmt.Sprintf(of, "reading", "r.superseded_by IS NULL", plans("p")), coupon)
	if err == nil {
		measurements, err = tx.numbers(fmt.Sprintf(of, "measurement",
			"NOT EXISTS (SELECT 1 FROM withdrawal w WHERE (w.of, w.row) = ('measurement', r.id))", plans("p")), coupon)
	}
	return readings, measurements, tx.fail(err)
}

// ReadAgainst returns the numbers of the current readings that a certificate made absolute.
func (tx *Tx) ReadAgainst(reference, issued string) ([]int64, error) {
	numbers, err := tx.numbers("SELECT id FROM reading WHERE superseded_by IS NULL AND (reference, reference_issued) = (?, ?) "+
		"ORDER BY id", reference, issued)
	return numbers, tx.fail(err)
}
