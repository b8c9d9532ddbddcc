package desk

import (
	"context"
	"fmt"
	"slices"

	"wane/study"
	"wane/study/ageing"
	"wane/study/cause"
	"wane/study/evaluate"
	"wane/study/store"
)

// FilmChange is what happened to the film of a spot since its baseline.
type FilmChange struct {
	Row       *study.Result // of the pull, with its changes
	Explained *cause.Explanation
	// Correction is what the correction by the route of the study, and a bridge between instruments, add to the change:
	// the parts and it are the corrected change; null where there is none.
	Correction study.Num
	Recovered  *cause.Recovered // at its last condition, of a pull that was read in several; else nil
}

// FilmChanges hands what happened to the film of each spot of the exposed and control coupons after their baseline to
// yield, sorted by coupon, pull and spot, all of one moment: as of a line of the log, 0: of now. coupons are those wanted;
// none: all that are exposed.
func (d *Desk) FilmChanges(ctx context.Context, coupons []string, asOf int64, yield func(*FilmChange) error) error {
	return d.view(ctx, asOf, func(v *store.View) error {
		w, err := d.workspaceOf(v, 1)
		if err != nil {
			return err
		}
		for _, c := range coupons {
			if w.coupons[c] == nil {
				return notEnrolled(w.roster, c)
			}
		}
		changes := ageing.NewChanges(w.roster, d.Settings().Correction)
		untrusted, err := distrusted(v, w.roster)
		if err != nil {
			return err
		}
		changes.DistrustSessions(untrusted)
		if err := byCoupon(v, w.roster, fitsOfRoles(v, study.Control), func(fits []*study.Fit) error {
			changes.AddControl(fits)
			return nil
		}); err != nil {
			return err
		}
		films := &filmChanges{workspace: w, changes: changes, surfaces: map[string]*cause.Surface{}}
		each := fitsOfRoles(v, study.Exposed)
		if len(coupons) > 0 {
			each = fitsOfCoupons(v, coupons)
		}
		return byCoupon(v, w.roster, each, func(fits []*study.Fit) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return films.coupon(fits, yield)
		})
	})
}

// filmChanges explains coupon after coupon.
type filmChanges struct {
	workspace *fitWorkspace
	changes   *ageing.Changes
	surfaces  map[string]*cause.Surface // by what makes them differ
}

// coupon explains the fits of one coupon.
func (c *filmChanges) coupon(fits []*study.Fit, yield func(*FilmChange) error) error {
	if !c.workspace.coupons[fits[0].Coupon].Role.Coated() {
		return nil
	}
	rows := c.changes.Rows(fits)
	for i, f := range fits {
		base := c.changes.Baseline(f, fits)
		if base == nil || base.Pull == f.Pull {
			continue
		}
		surface, err := c.surface(f.Unit)
		if err != nil {
			return err
		}
		out := &FilmChange{Row: rows[i], Explained: surface.Explain(base, f), Correction: study.Null()}
		if x := out.Explained; slices.Contains(rows[i].Flags, study.FlagHumid) && !slices.Contains(x.LookAlikes,
			cause.PoreWater) {
			x.LookAlikes = append(x.LookAlikes, cause.PoreWater)
		}
		total := rows[i].CorrectedChange.Value
		if !total.Valid() {
			total = rows[i].Change.Value
		}
		if total.Valid() && out.Explained.Change.Value.Valid() {
			out.Correction = total - out.Explained.Change.Value
		}
		out.Recovered = recovered(f, base, fits[i:], fits[:i+1])
		if err := yield(out); err != nil {
			return err
		}
	}
	return nil
}

// recovered divides the readings of the spot of f at its pull, where f is the last of them; after and before are the
// fits from f on and up to it.
func recovered(f, base *study.Fit, after, before []*study.Fit) *cause.Recovered {
	same := func(g *study.Fit) bool { return g.Pull == f.Pull && g.Spot == f.Spot }
	if slices.ContainsFunc(after[1:], same) {
		return nil
	}
	var at []*study.Fit
	for _, g := range before {
		if same(g) {
			at = append(at, g)
		}
	}
	r, ok := cause.Recover(base, at)
	if !ok {
		return nil
	}
	return &r
}

// surface returns the surface of a unit's coupon as its fits took it.
func (c *filmChanges) surface(u study.Unit) (*cause.Surface, error) {
	coupon := c.workspace.coupons[u.Coupon]
	setup, err := c.workspace.setup(coupon, c.workspace.conditionsOf(u, ""))
	if err != nil {
		return nil, err
	}
	skeleton, _ := setup.Coating.SkeletonIndex()
	key := fmt.Sprint(coupon.Glass, " ", evaluate.KeyOfCoupon(coupon, c.workspace.roster))
	if s := c.surfaces[key]; s != nil {
		return s, nil
	}
	s, err := cause.NewSurface(setup.Glass.Index, setup.Coating.Mixing, skeleton)
	if err != nil {
		return nil, err
	}
	c.surfaces[key] = s
	return s, nil
}
