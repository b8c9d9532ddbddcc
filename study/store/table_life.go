package store

import (
	"context"
	"fmt"

	"wane/study"
)

var couponEventTable = newTable(29, "coupon_event", fields[study.CouponEvent]{
	textField("coupon", func(e *study.CouponEvent) *string { return &e.Coupon }),
	textField("event", func(e *study.CouponEvent) *study.EventKind { return &e.Event }),
	wholeStatedOrNull("pull", func(e *study.CouponEvent) *study.Stated { return &e.Pull }),
	textOrNull("date", func(e *study.CouponEvent) *string { return &e.Date }),
	textOrNull("exposure", func(e *study.CouponEvent) *string { return &e.Exposure }),
	statedOrNull("dose", func(e *study.CouponEvent) *study.Stated { return &e.Dose }),
	textOrNull("done_by", func(e *study.CouponEvent) *string { return &e.By }),
	textOrNull("note", func(e *study.CouponEvent) *string { return &e.Note }),
	textOrNull("picture", func(e *study.CouponEvent) *string { return &e.Picture }).asGiven(),
}).keyedBy(func(e *study.CouponEvent) string { return e.String() }, "date", "coupon", "event", "pull").
	lasting("coupon", "event").
	afterWithdrawal("write the same time in another way: by its pull and its date, or by one of them alone")

var doseTable = newTable(30, "dose_reading", fields[study.DoseReading]{
	textField("exposure", func(d *study.DoseReading) *string { return &d.Exposure }),
	textField("date", func(d *study.DoseReading) *string { return &d.Date }),
	realField("value", func(d *study.DoseReading) *float64 { return &d.Value }),
	textField("unit", func(d *study.DoseReading) *string { return &d.Unit }),
}).keyedBy(func(d *study.DoseReading) string {
	return fmt.Sprintf("the dose of exposure %q on %s", d.Exposure, d.Date)
}, "date", "exposure").
	lasting("exposure").afterWithdrawal("add the value to that of the row of a day beside it")

// AddCouponEvent adds an event in the life of a coupon that is there. It reports false if the same is there already;
// one of the same coupon, word, pull and date that differs is refused.
func (tx *Tx) AddCouponEvent(e study.CouponEvent) (added bool, err error) {
	return couponEventTable.enrol(tx, &e)
}

// AddDoseReading adds what an exposure that is there received by a day. It reports false if the same is there already;
// one of the same day that differs is refused.
func (tx *Tx) AddDoseReading(d study.DoseReading) (added bool, err error) {
	return doseTable.enrol(tx, &d)
}

// readLives fills in the events of coupons, in the order of coupon and number, and the doses of exposures, in the
// order of exposure and date.
func readLives(ctx context.Context, q querier, roster *study.Roster) error {
	if err := appendRows(ctx, q, couponEventTable, "coupon, id", &roster.Lives); err != nil {
		return err
	}
	return appendRows(ctx, q, doseTable, "exposure, date", &roster.Doses)
}

// Positions returns where spots lie on a coupon, of its units whose readings say so; several are joined by a
// semicolon. Like [View.Units] it does not check rows.
func (v *View) Positions(coupon string) (positions map[study.Unit]string, err error) {
	err = ask(v.ctx, v.ready, positionsOfCoupon, []any{coupon}, func(r row) error {
		if positions == nil {
			positions = map[study.Unit]string{}
		}
		u := study.Unit{Coupon: coupon, Pull: int(r.whole(0)), Spot: r.text(1), Condition: r.text(2)}
		if before := positions[u]; before != "" {
			positions[u] = before + "; " + r.text(3)
		} else {
			positions[u] = r.text(3)
		}
		return nil
	})
	return positions, v.refuse(err)
}

// positionsOfCoupon has a plus before superseded_by, so that the index of stated positions is taken: it is empty in most
// studies, and that of the current readings of the coupon is not.
const positionsOfCoupon = `SELECT DISTINCT pull, spot, condition, position FROM reading
	WHERE position IS NOT NULL AND +superseded_by IS NULL AND coupon = ? ORDER BY position`

// PullsRead returns the pulls of which a coupon has readings that count or are held, in rising order.
func (tx *Tx) PullsRead(coupon string) (pulls []int, err error) {
	const query = "SELECT DISTINCT r.pull FROM reading r JOIN v_standings s ON s.reading = r.id AND s.standing <> 'aside' " +
		"WHERE r.coupon = ? ORDER BY r.pull"
	err = ask(tx.ctx, prepared{tx}, query, []any{coupon}, func(r row) error {
		pulls = append(pulls, int(r.whole(0)))
		return nil
	})
	return pulls, tx.fail(err)
}
