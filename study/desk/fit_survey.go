package desk

import (
	"context"
	"fmt"

	"wane/study/evaluate"
	"wane/study/store"
)

// A survey is what a study had when all that it held was evaluated. Whoever asks what is read, or whether fits are
// stale, then looks only at the coupons of which something came since: with hundreds of thousands of readings, to look
// at all of them takes seconds. A small study has no surveys.

// surveyedReadings is how many readings make a study large enough for surveys. surveyedShare of the readings must have
// come since the last one for another to be worth its bytes.
const (
	surveyedReadings = 30000
	surveyedShare    = 0.01
)

// surveyOf returns the last survey and the coupons of which something came since, sorted. There is none (nil) if the
// study has none, if another version of the model made it, and if what came since can bear on any coupon.
func (d *Desk) surveyOf(v *store.View) (*store.Survey, []string, error) {
	s, err := v.Survey()
	if s == nil || err != nil || s.Model != evaluate.ModelVersion() {
		return nil, nil, err
	}
	since, err := v.ChangesSince(s)
	if err != nil || since.All || sharesSessions(d.Settings()) && len(since.Coupons) > 0 {
		return nil, nil, err
	}
	return s, since.Coupons, nil
}

// survey notes what the study has, if it is large, all of it is evaluated, and enough came since the last survey.
func (d *Desk) survey(ctx context.Context) error { return d.surveyFrom(ctx, surveyedReadings) }

// surveyFrom is survey of a study that is large if it has so many readings.
func (d *Desk) surveyFrom(ctx context.Context, readings int64) error {
	var now *store.Survey
	err := d.store.View(ctx, func(v *store.View) error {
		_, reading, line, err := v.Guarded()
		if err != nil || reading < readings {
			return err
		}
		last, err := v.Survey()
		if err != nil {
			return err
		}
		if last != nil && last.Model == evaluate.ModelVersion() {
			since, err := v.ChangesSince(last)
			if err != nil {
				return err
			}
			enough := float64(reading-last.LastReading) >= surveyedShare*float64(reading)
			if !enough && !since.All && len(since.Coupons) < len(last.Coupons)/100+1 {
				return nil
			}
		}
		now, err = d.surveyNow(v)
		if now != nil {
			now.LastReading, now.LastLine = reading, line
		}
		return err
	})
	if now == nil || err != nil {
		return err
	}
	entry := d.entry("fit", fmt.Sprintf("surveyed what is read of %d coupons: all of it is evaluated", len(now.Coupons)))
	return d.store.Write(ctx, entry, func(tx *store.Tx) error { return tx.PutSurvey(*now) })
}

// surveyNow returns what the study has, without its moment; nil if not all of it is evaluated.
func (d *Desk) surveyNow(v *store.View) (*store.Survey, error) {
	w, err := d.workspaceOf(v, 1)
	if err != nil || w.fitsDue().Spots() > 0 {
		return nil, err
	}
	fits := map[couponPullKey]int{}
	for i := range w.units {
		fits[couponPullKey{w.units[i].Coupon, w.units[i].Pull}]++
	}
	s := &store.Survey{Model: evaluate.ModelVersion()}
	err = v.Reads(func(r store.CouponReads) error {
		c := store.SurveyedCoupon{CouponReads: r}
		for i := range r.Pulls {
			c.Fits = append(c.Fits, fits[couponPullKey{r.Coupon, r.Pulls[i].Pull}])
		}
		s.Coupons = append(s.Coupons, c)
		return nil
	})
	return s, err
}
