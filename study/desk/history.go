package desk

import (
	"cmp"
	"context"
	"slices"

	"wane/study"
	"wane/study/store"
)

// History is what a study knows of one coupon.
type History struct {
	Coupon   study.Coupon
	Protocol string              // of its exposure
	Start    string              // of its exposure; ISO 8601, or empty
	Life     []study.CouponEvent // in their order
	Pulls    []CouponPull
	Rows     []*study.Result // as results have them

	Measured []study.Measurement // by other instruments
	Judged   []Judged            // readings that are held or were judged

	Corrected []Corrected // the first one first
}

// History returns what the study knows of a coupon at a moment. One that is not enrolled is refused. What
// is expected of the coupon comes from itself alone, and whether its fits are stale is not said.
func (d *Desk) History(ctx context.Context, coupon string, asOf Moment) (h *History, err error) {
	err = d.view(ctx, asOf.Line, func(v *store.View) error {
		roster, err := v.Roster()
		if err != nil {
			return err
		}
		s := d.newStanding(rosterOf(roster, []string{coupon}), asOf.Day)
		c := s.coupons[coupon]
		if c == nil {
			return notEnrolled(roster, coupon)
		}
		h = &History{Coupon: *c, Life: s.lives.Of(coupon).Events()}
		for _, e := range roster.Exposures {
			if e.Exposure == c.Exposure {
				h.Protocol, h.Start = e.Protocol, e.Start
			}
		}
		if err := v.ReadsOf(coupon, s.addReads); err != nil {
			return err
		}
		s.addAllRows([]study.Coupon{*c})
		h.Pulls = s.rows
		if err := h.load(v, s); err != nil {
			return err
		}
		return d.results(ctx, v, roster, ResultsOptions{Coupon: coupon}, func(r *study.Result) error {
			h.Rows = append(h.Rows, r)
			return nil
		})
	})
	return h, err
}

// load loads what was judged and corrected, and what other instruments measured.
func (h *History) load(v *store.View, s *standing) (err error) {
	standings, err := v.Standings()
	if err != nil {
		return err
	}
	sessions := map[string]bool{}
	err = v.HeadersOf(h.Coupon.Coupon, func(m store.ReadingHeader) error {
		sessions[m.Session] = true
		s := standings[m.Number]
		if len(s.Holds)+len(s.Reviews) == 0 {
			return nil
		}
		j, err := loadJudged(v, m.Number, s)
		h.Judged = append(h.Judged, j)
		return err
	})
	if err != nil {
		return err
	}
	slices.SortFunc(h.Judged, func(a, b Judged) int { return cmp.Compare(a.Number, b.Number) })
	if err := h.corrected(v, newConcern(s.roster, s.lives.Of(h.Coupon.Coupon), sessions)); err != nil {
		return err
	}
	return v.MeasurementsOf(h.Coupon.Coupon, func(m store.Kept[study.Measurement]) error {
		h.Measured = append(h.Measured, m.Row)
		return nil
	})
}
