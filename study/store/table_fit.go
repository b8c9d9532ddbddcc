package store

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"strings"

	"wane/study"
)

var fitTable = newTable(9, "fit",
	fields[study.Fit]{
		textField("coupon", func(f *study.Fit) *string { return &f.Coupon }).asGiven(),
		wholeField("pull", func(f *study.Fit) *int { return &f.Pull }),
		textField("spot", func(f *study.Fit) *string { return &f.Spot }).asGiven(),
		textField("condition", func(f *study.Fit) *string { return &f.Condition }).asGiven(),
		textOrNull("session", func(f *study.Fit) *string { return &f.Session }).asGiven(),
		sumField("digest", func(f *study.Fit) *[sha256.Size]byte { return &f.Digest }),
		textOrNull("state", func(f *study.Fit) *study.State { return &f.Result.State }).asGiven(),
	},
	measureFields("solar_T", func(r *study.Result) *study.Measure { return &r.SolarT }),
	measureFields("cell_T", func(r *study.Result) *study.Measure { return &r.CellT }),
	measureFields("gain_pp", func(r *study.Result) *study.Measure { return &r.Gain }),
	measureFields("thickness_nm", func(r *study.Result) *study.Measure { return &r.Thickness }),
	measureFields("porosity", func(r *study.Result) *study.Measure { return &r.Porosity }),
	measureFields("bare_fraction", func(r *study.Result) *study.Measure { return &r.BareFraction }),
	measureFields("solid_nm", func(r *study.Result) *study.Measure { return &r.Solid }),
	measureFields("optical_thickness_nm", func(r *study.Result) *study.Measure { return &r.OpticalThickness }),
	measureFields("film_index_550nm", func(r *study.Result) *study.Measure { return &r.FilmIndex }),
	measureFields("scale", func(r *study.Result) *study.Measure { return &r.Scale }),
	fields[study.Fit]{
		realOrNull("solar_T_data", func(f *study.Fit) *study.Num { return &f.Result.SolarTData }),
		realOrNull("solar_share_covered", func(f *study.Fit) *study.Num { return &f.Result.SolarShareCovered }),
		realOrNull("noise", func(f *study.Fit) *study.Num { return &f.Result.Noise }),
		realOrNull("rms_residual", func(f *study.Fit) *study.Num { return &f.Result.RMSResidual }),
		realOrNull("reduced_chi2", func(f *study.Fit) *study.Num { return &f.Result.ReducedChi2 }),
		realOrNull("points", func(f *study.Fit) *study.Num { return &f.Result.Points }),
		formerNumber("solar_T_shared"),
		realOrNull("seen_T", func(f *study.Fit) *study.Num { return &f.SeenT }),
		realOrNull("seen_lo_nm", func(f *study.Fit) *study.Num { return &f.SeenLoNM }),
		realOrNull("seen_hi_nm", func(f *study.Fit) *study.Num { return &f.SeenHiNM }),
		textOrNull("model", func(f *study.Fit) *string { return &f.Result.Model }).asGiven(),
		wordsOrNull("flags", func(f *study.Fit) *[]string { return &f.Result.Flags }).asGiven(),
		derived("superseded_by", func(*study.Fit) any { return nil }), // set by supersede

		// Version 2.
		formerNumber("solar_T_shared_glass"),
		formerNumber("solar_T_shared_session"),

		// Version 6.
		formerNumber("gain_shared_pp"),
		formerNumber("gain_shared_glass_pp"),
		formerNumber("gain_shared_session_pp"),
		formerNumber("gain_with_solar_T_pp"),
		formerNumber("thickness_shared_nm"),
		formerNumber("thickness_shared_glass_nm"),
		formerNumber("solid_shared_nm"),
		formerNumber("solid_shared_glass_nm"),
		numbersOrNull("angles_deg", func(f *study.Fit) *[]float64 { return &f.AnglesDeg }),
	},
	errorsFields, // version 7

	// Version 8.
	measureFields("film_k", func(r *study.Result) *study.Measure { return &r.FilmK }),
	measureFields("absorbed_pp", func(r *study.Result) *study.Measure { return &r.Absorbed }),
)

// formerNumber is a column of numbers that only fits of earlier versions of the file have.
func formerNumber(name string) field[study.Fit] {
	return derived(name, func(*study.Fit) any { return nil })
}

// measureFields are the columns of a value, named as in results, and of its uncertainty.
func measureFields(name string, of func(*study.Result) *study.Measure) fields[study.Fit] {
	return fields[study.Fit]{
		realOrNull(name, func(f *study.Fit) *study.Num { return &of(&f.Result).Value }),
		realOrNull("u_"+name, func(f *study.Fit) *study.Num { return &of(&f.Result).U }),
	}
}

// fitSuperseded is a position in the rows of fits.
var fitSuperseded = fitTable.column("superseded_by")

// ErrNoReadings is the cause of the refusal of a fit whose unit has no readings.
var ErrNoReadings = errors.New("the unit has no readings")

// PutFit adds a fit, which becomes the current one of its unit; the one before is
// kept and marked as superseded. If that one has the same Digest, nothing is added:
// it was made of the same; but one without a model, which says that the readings could not
// be evaluated, gives way to one that has a model. A unit without readings is refused.
// Numbers that are not finite are stored as null.
func (tx *Tx) PutFit(f *study.Fit) error {
	return tx.atomically(func() error {
		old, err := currentFit(tx.ctx, prepared{tx}, f.Unit)
		if err != nil {
			return err
		}
		if old != nil {
			was, err := fitOfRow(old)
			if err != nil || was.Digest == f.Digest && (was.Result.Model != "" || f.Result.Model == "") {
				return err
			}
		}
		number, err := fitTable.add(tx, f)
		if isConstraint(err) {
			return &study.Refusal{
				Fault: fmt.Sprintf("there are no readings of coupon %s, pull %d, spot %s, condition %q to fit", f.Coupon, f.Pull,
					f.Spot, f.Condition),
				Try:   "take the exports in first",
				Cause: fmt.Errorf("%w: %w", ErrNoReadings, err),
			}
		}
		if err == nil && old != nil {
			err = tx.supersede(old, number)
		}
		if err == nil {
			tx.fits++
		}
		return err
	})
}

// Fits returns how many fits were added.
func (tx *Tx) Fits() int { return tx.fits }

// currentFit returns the row of the current fit of a unit, nil if it has none.
func currentFit(ctx context.Context, q querier, u study.Unit) (row, error) {
	number := int64(0) // first, since most units have none, and the rows are wide
	err := ask(ctx, q, "SELECT id FROM "+currentFits+" WHERE (coupon, pull, spot, condition) = (?, ?, ?, ?)",
		[]any{u.Coupon, u.Pull, u.Spot, u.Condition}, func(r row) error { number = r.whole(0); return nil })
	if err != nil || number == 0 {
		return nil, err
	}
	return fitTable.oneRow(ctx, q, "FROM fit WHERE id = ?", number)
}

// Fit returns the current fit of a unit, nil if it has none.
func (v *View) Fit(u study.Unit) (*study.Fit, error) {
	r, err := currentFit(v.ctx, v.q, u)
	if r == nil || err != nil {
		return nil, v.refuse(err)
	}
	f, err := fitOfRow(r)
	return f, v.refuse(err)
}

// supersede marks the fit old as superseded by the one with the given number.
func (tx *Tx) supersede(old row, by int64) error {
	old[fitSuperseded] = by
	pieces, _ := encode(nil, fitTable.table, old)
	return tx.exec("UPDATE fit SET superseded_by = ?, crc = ? WHERE id = ?", by, int64(checksum(pieces...)), old[0])
}

func fitOfRow(r row) (*study.Fit, error) {
	f := study.NewFit(study.Unit{})
	return f, fitTable.read(r, f)
}

// Fits is [View.Fits] of a moment of its own.
func (s *Store) Fits(ctx context.Context, yield func(*study.Fit) error, roles ...study.Role) error {
	return s.View(ctx, func(v *View) error { return v.Fits(yield, roles...) })
}

// Fits hands the current fits to yield in the order of coupon, pull, spot and
// condition (texts by their bytes), and stops at the first error. With roles,
// only those of coupons with one of them.
func (v *View) Fits(yield func(*study.Fit) error, roles ...study.Role) error {
	if len(roles) == 0 {
		return v.eachFit(v.q, "FROM fit WHERE superseded_by IS NULL ORDER BY coupon, pull, spot, condition", nil, yield)
	}
	args := make([]any, len(roles))
	for i, r := range roles {
		args[i] = string(r)
	}
	var coupons []string // first: the roster as it is now costs too much to be looked up for each fit
	err := ask(v.ctx, v.q, fmt.Sprintf("SELECT coupon FROM v_coupons WHERE role IN (?%s) ORDER BY coupon",
		strings.Repeat(", ?", len(roles)-1)), args, func(r row) error {
		coupons = append(coupons, r.text(0))
		return nil
	})
	if err != nil {
		return v.refuse(err)
	}
	return v.FitsOf(coupons, yield)
}

// FitsOf hands the current fits of coupons to yield, in the order of the coupons as they are given, pull,
// spot and condition. yield must not call it.
func (v *View) FitsOf(coupons []string, yield func(*study.Fit) error) error {
	for _, coupon := range coupons {
		if err := v.eachFit(v.ready, currentFitsOfCoupon, []any{coupon}, yield); err != nil {
			return err
		}
	}
	return nil
}

const currentFitsOfCoupon = "FROM fit WHERE superseded_by IS NULL AND coupon = ? ORDER BY pull, spot, condition"

// eachFit hands those of fits that no other superseded to yield that are current: see query_current.go.
func (v *View) eachFit(q querier, tail string, args []any, yield func(*study.Fit) error) error {
	check, err := v.enrolled(fitTable.table)
	if err == nil {
		err = v.findDeserted()
	}
	if err != nil {
		return v.refuse(err)
	}
	return v.refuse(fitTable.eachRow(v.ctx, q, tail, args, func(r row) error {
		f, err := fitOfRow(r)
		if err != nil {
			return err
		}
		if there, err := check(r.whole(0), f.Coupon); !there || err != nil || v.deserted[f.Unit] {
			return err
		}
		return yield(f)
	}))
}
