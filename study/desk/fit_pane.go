package desk

import (
	"context"
	"crypto/sha256"
	"fmt"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// blankOfPane returns the dark blank by which the absorption of the pane of a unit is known: one of the same glass,
// batch and thickness with a bare far face, whose transmittance was read in the same session, or else at the last
// pull up to that of the unit. It is nil if the unit has no reading of transmittance, or no such blank was read; a
// blank is none of its own.
func (w *fitWorkspace) blankOfPane(of study.Unit, session string) (best *store.Unit, sameSession bool) {
	if w.throughs[of] == 0 || w.coupons[of.Coupon].Role == study.Blank {
		return nil, false
	}
	c := w.coupons[of.Coupon]
	for i := range w.units {
		u := &w.units[i]
		b := w.coupons[u.Coupon]
		if u.Through == 0 || b.Role != study.Blank || b.Back != bareBack || b.Glass != c.Glass || b.Batch != c.Batch ||
			b.GlassMM != c.GlassMM {
			continue
		}
		same := session != "" && u.Session == session
		switch {
		case sameSession && !same, !same && u.Pull > of.Pull:
		case best == nil, same && !sameSession, !same && u.Pull > best.Pull:
			best, sameSession = u, same
		}
	}
	return best, sameSession
}

// bareBack is the far face of a blank by which a pane is known.
const bareBack = "bare"

// paneDigest returns the digest of a unit together with that of the blank by which its pane is known.
func (w *fitWorkspace) paneDigest(u *jobUnit) [32]byte {
	blank, same := w.blankOfPane(u.Unit, u.session)
	if blank == nil {
		return u.digest
	}
	own := evaluate.Digest(w.coupons[blank.Coupon], w.settings.Mixing, blank.Readings, w.roster)
	return sha256.Sum256(fmt.Appendf(nil, "pane\x00%x\x00%x\x00%v", u.digest, own, same))
}

// paneEvaluator returns an evaluator of a unit whose pane is known by a blank, made for its readings; nil if there is
// none, or it does not cover them.
func (w *fitWorkspace) paneEvaluator(ctx context.Context, of study.Unit, session string, readings []study.Reading) (
	*evaluate.Evaluator, error,
) {
	unit, same := w.blankOfPane(of, session)
	if unit == nil {
		return nil, nil
	}
	setup, err := evaluate.CouponSetup(w.coupons[unit.Coupon], w.settings.Mixing, w.roster)
	if err != nil {
		return nil, err
	}
	load := func(of study.Unit) ([]study.Reading, error) { return w.loadReadings(ctx, of) }
	ofBlank, err := w.checkedReadings(unit.Unit, load)
	if err != nil {
		return nil, err
	}
	var blank *film.Blank
	if blank, err = evaluate.PaneBlank(setup, ofBlank); blank == nil || err != nil || !evaluate.CoversThrough(blank, readings) {
		return nil, err
	}
	if setup, err = evaluate.CouponSetup(w.coupons[of.Coupon], w.settings.Mixing, w.roster); err != nil {
		return nil, err
	}
	return evaluate.NewEvaluatorIn(evaluate.WithBlank(w.conditionsOf(of, session).Under(setup), blank, same), w.light)
}
