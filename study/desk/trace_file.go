package desk

import (
	"cmp"
	"context"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/ageing"
	"wane/study/store"
)

// Origin is all that came from one file: an export, a table of measurements or a
// picture.
type Origin struct {
	File         TracedFile
	Line         study.Entry
	Uses         []TracedUse // as a map, a roster or another table; the first one first
	Readings     []TracedReading
	Measurements []TracedMeasurement
	Coupons      []TracedCoupon
	Fits         []TracedFit // made with the readings, the newest of a unit first

	// Results are the rows of results that would be different or missing without the current ones of
	// Fits: those of their own units, of pulls compared with them, and of coupons that they correct.
	Results []*study.Result
}

// TracedCoupon is a coupon and its enrolment.
type TracedCoupon struct {
	study.Coupon
	Line   study.Entry
	Roster TracedFile // in which it stood; none: the study did not keep it then
	Row    int        // the line of the roster, from 1
	Origin *store.Origin
}

// TraceFile returns what came from the files of this name, or of a SHA-256 that begins so (eight digits
// or more).
func (d *Desk) TraceFile(ctx context.Context, name string) (all []Origin, err error) {
	err = d.store.View(ctx, func(v *store.View) error {
		files, err := v.Files()
		if err != nil {
			return err
		}
		named := store.Named(files, name)
		if len(named) == 0 {
			return noSuchFile(name)
		}
		t, err := d.newTracer(v)
		if err != nil {
			return err
		}
		if t.bridges, err = d.bridgesOf(ctx, v, t.workspace.roster, study.FollowedSolarT()); err != nil {
			return err
		}
		for _, f := range named {
			o, err := t.originOf(f)
			if err != nil {
				return err
			}
			all = append(all, *o)
		}
		return nil
	})
	return all, err
}

func noSuchFile(name string) error {
	return &study.Refusal{
		Fault: fmt.Sprintf("no export, table or picture called %q is in the study, and none with such a SHA-256", name),
		Try:   "give the name as it was taken in, without a folder, or eight digits or more of its SHA-256",
	}
}

// originOf collects what came from one file.
func (t *tracer) originOf(f store.Kept[store.KeptFile]) (*Origin, error) {
	o := &Origin{File: t.file(hex.EncodeToString(f.Row.SHA256[:]))}
	var err error
	if o.Line, err = t.line(f.Line); err != nil {
		return nil, err
	}
	since := map[study.Unit]int64{} // the line under which the first of its readings came
	err = t.view.AllReadingsFrom(f.Row.SHA256, func(k store.KeptReading) error {
		r, err := t.reading(k)
		o.Readings = append(o.Readings, r)
		if u := unitOf(&k.Row.Place); r.Standing == study.Counted && r.After == nil && (since[u] == 0 || k.Line < since[u]) {
			since[u] = k.Line
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	err = t.view.MeasurementsFrom(f.Row.SHA256, func(k store.Kept[study.Measurement]) error {
		m, err := t.measurement(k)
		o.Measurements = append(o.Measurements, m)
		return err
	})
	if err != nil {
		return nil, err
	}
	if o.Uses, err = t.usesOf(f.Row.SHA256); err != nil {
		return nil, err
	}
	if err := t.addCoupons(o); err != nil {
		return nil, err
	}
	t.addSessionUnits(since)
	if err := t.addFitsSince(o, since); err != nil {
		return nil, err
	}
	return o, t.addResults(o)
}

// addCoupons adds the coupons that were read, and those that a roster enrolled.
func (t *tracer) addCoupons(o *Origin) error {
	var codes []string
	for i := range o.Readings {
		codes = append(codes, o.Readings[i].Coupon)
	}
	for i := range o.Measurements {
		codes = append(codes, o.Measurements[i].Coupon)
	}
	enrolled, err := t.enrolledFrom(o)
	if err != nil {
		return err
	}
	codes = append(codes, enrolled...)
	slices.Sort(codes)
	for _, code := range slices.Compact(codes) {
		c, err := t.enrolment(code)
		if err != nil {
			return err
		}
		o.Coupons = append(o.Coupons, c)
	}
	return nil
}

// addSessionUnits adds the units whose fits depend on those of since: all units of their sessions in a
// study that corrects by sessions, and those that are evaluated over a blank among them.
func (t *tracer) addSessionUnits(since map[study.Unit]int64) {
	if !sharesSessions(t.workspace.settings) {
		return
	}
	together := t.workspace.settings.Correction == study.RouteSession
	first := map[string]int64{}
	for u, line := range since {
		if !together && t.workspace.coupons[u.Coupon].Role != study.Blank {
			continue
		}
		if s := t.units[u].session; s != "" && (first[s] == 0 || line < first[s]) {
			first[s] = line
		}
	}
	for u, of := range t.units {
		if line := first[of.session]; line != 0 && since[u] == 0 && (together || of.overBlank) {
			since[u] = line
		}
	}
}

// addFitsSince adds the fits of units that were made after their line.
func (t *tracer) addFitsSince(o *Origin, since map[study.Unit]int64) error {
	var codes []string
	for u := range since {
		codes = append(codes, u.Coupon)
	}
	slices.Sort(codes)
	for _, code := range slices.Compact(codes) {
		err := t.view.AllFitsOf(code, func(k store.KeptFit) error {
			if line := since[k.Row.Unit]; line == 0 || k.Line < line {
				return nil
			}
			f, err := t.fit(k)
			o.Fits = append(o.Fits, f)
			return err
		})
		if err != nil {
			return err
		}
	}
	current := map[study.Unit]*TracedFit{}
	for i := range o.Fits {
		if f := &o.Fits[i]; f.SupersededBy == 0 {
			current[f.Unit] = f
		}
	}
	for i := range o.Readings {
		r := &o.Readings[i]
		f := current[unitOf(&r.Place)]
		r.InFit = f != nil && r.isInFit(f)
	}
	return nil
}

// addResults adds the rows of results that depend on the fits: it makes all rows twice, with the fits and
// without.
func (t *tracer) addResults(o *Origin) error {
	gone := map[study.Unit]bool{}
	for _, f := range o.Fits {
		gone[f.Unit] = true
	}
	if len(gone) == 0 {
		return nil
	}
	rest := func(fits []*study.Fit) []*study.Fit {
		return slices.DeleteFunc(slices.Clone(fits), func(f *study.Fit) bool { return gone[f.Unit] })
	}
	route := t.workspace.settings.Correction
	whole, without := ageing.NewChanges(t.workspace.roster, route), ageing.NewChanges(t.workspace.roster, route)
	whole.SetBridges(t.bridges)
	without.SetBridges(t.bridges)
	err := byCoupon(t.view, t.workspace.roster, fitsOfRoles(t.view, study.Control), func(fits []*study.Fit) error {
		whole.AddControl(fits)
		without.AddControl(rest(fits))
		return nil
	})
	if err != nil {
		return err
	}
	return byCoupon(t.view, t.workspace.roster, fitsOfRoles(t.view), func(fits []*study.Fit) error {
		others := without.Rows(rest(fits))
		for i, r := range whole.Rows(fits) {
			if gone[fits[i].Unit] {
				o.Results = append(o.Results, r)
				continue
			}
			if firstDifference(&study.Fit{Result: *r}, &study.Fit{Result: *others[0]}) != "" {
				o.Results = append(o.Results, r)
			}
			others = others[1:]
		}
		return nil
	})
}

// sortUnits sorts the units of one coupon by pull, spot and condition.
func sortUnits(units []TracedUnit) {
	slices.SortStableFunc(units, func(a, b TracedUnit) int { return compareUnits(a.Unit, b.Unit) })
}

// compareUnits orders units as the study does.
func compareUnits(a, b study.Unit) int {
	return cmp.Or(strings.Compare(a.Coupon, b.Coupon), cmp.Compare(a.Pull, b.Pull), strings.Compare(a.Spot, b.Spot),
		strings.Compare(a.Condition, b.Condition))
}
