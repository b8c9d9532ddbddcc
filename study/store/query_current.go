package store

import "wane/study"

// Two kinds of rows have successors. A reading is current until another of the same column of the same export
// stands instead of it: see [Tx.Replace]. A fit is current until a newer one of its unit is put, and as long as the
// unit has a current reading. What is current is said here, and in the views v_standings and v_fits.

// currentFits are the current fits, as what a query calls fit.
const currentFits = "v_fits fit"

// ever selects the current readings and those before them by a condition, which each index holds apart.
func ever(condition string) string {
	return "WHERE id IN (SELECT id FROM reading WHERE superseded_by IS NULL AND " + condition +
		" UNION ALL SELECT id FROM reading WHERE superseded_by IS NOT NULL AND " + condition + ")"
}

// findDeserted finds the units that had readings and have none now. Who reads many fits looks them up here: they are few,
// and to ask for the readings of each fit takes longer than to read the fit.
func (v *View) findDeserted() error {
	if v.deserted != nil {
		return nil
	}
	deserted := map[study.Unit]bool{}
	err := ask(v.ctx, v.q, `SELECT DISTINCT coupon, pull, spot, condition FROM reading r WHERE superseded_by IS NOT NULL AND NOT EXISTS (
		SELECT 1 FROM reading c WHERE c.superseded_by IS NULL
		AND (c.coupon, c.pull, c.spot, c.condition) = (r.coupon, r.pull, r.spot, r.condition))`, nil, func(r row) error {
		deserted[study.Unit{Coupon: r.text(0), Pull: int(r.whole(1)), Spot: r.text(2), Condition: r.text(3)}] = true
		return nil
	})
	if err == nil {
		v.deserted = deserted
	}
	return err
}
