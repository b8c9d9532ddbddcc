package store

import (
	"slices"

	"wane/study"
)

// CouponReads is what was read of a coupon.
type CouponReads struct {
	Coupon string
	Pulls  []PullReads // in their order
}

// PullReads is what was read of a coupon at a pull.
type PullReads struct {
	Pull        int
	Spots       []SpotReads // in the order of their names, without readings that were set aside
	SetAside    []SpotReads // these
	Held, Aside int         // readings
}

// SpotReads are the curves of a spot at a pull, whatever their conditions.
type SpotReads struct {
	Spot   string
	Curves []CurveKind // each once, in the order in which they came
}

// CurveKind is what distinguishes the curves of a spot that a plan asks for.
type CurveKind struct {
	AngleDeg float64
	Quantity study.Quantity
}

// Reads hands what was read of each coupon to yield, in the order of their codes. What it hands
// over may be kept. Like [View.Units] it does not check rows.
func (v *View) Reads(yield func(CouponReads) error) error {
	return v.readsWhere("WHERE superseded_by IS NULL", nil, yield)
}

// ReadsOf is Reads of one coupon.
func (v *View) ReadsOf(coupon string, yield func(CouponReads) error) error {
	return v.readsWhere("WHERE superseded_by IS NULL AND coupon = ?", []any{coupon}, yield)
}

func (v *View) readsWhere(where string, args []any, yield func(CouponReads) error) error {
	now, err := v.standings()
	if err != nil {
		return v.refuse(err)
	}
	rows, err := v.q.QueryContext(v.ctx, "SELECT id, coupon, pull, spot, angle_deg, quantity FROM reading "+where+
		" ORDER BY "+placeColumns, args...)
	if err != nil {
		return v.refuse(err)
	}
	defer rows.Close()
	var g readsOf
	for rows.Next() {
		var id int64
		var coupon, spot string
		var pull int
		var kind CurveKind
		if err := rows.Scan(&id, &coupon, &pull, &spot, &kind.AngleDeg, &kind.Quantity); err != nil {
			return v.refuse(err)
		}
		if coupon != g.Coupon && g.Coupon != "" {
			if err := yield(g.CouponReads); err != nil {
				return v.refuse(err)
			}
			g = readsOf{}
		}
		g.Coupon = coupon
		g.add(pull, spot, kind, now[id])
	}
	if err := rows.Err(); err != nil || g.Coupon == "" {
		return v.refuse(err)
	}
	return v.refuse(yield(g.CouponReads))
}

// readsOf gathers the readings of a coupon, which come in the order of pull and spot.
type readsOf struct{ CouponReads }

func (g *readsOf) add(pull int, spot string, kind CurveKind, standing study.Standing) {
	if n := len(g.Pulls); n == 0 || g.Pulls[n-1].Pull != pull {
		g.Pulls = append(g.Pulls, PullReads{Pull: pull})
	}
	p := &g.Pulls[len(g.Pulls)-1]
	spots := &p.Spots
	switch standing {
	case study.Aside:
		p.Aside++
		spots = &p.SetAside
	case study.Held:
		p.Held++
	}
	if n := len(*spots); n == 0 || (*spots)[n-1].Spot != spot {
		*spots = append(*spots, SpotReads{Spot: spot})
	}
	s := &(*spots)[len(*spots)-1]
	if !slices.Contains(s.Curves, kind) {
		s.Curves = append(s.Curves, kind)
	}
}
