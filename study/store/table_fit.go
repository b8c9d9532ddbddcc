package store

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
)

// Positions in the rows of fits.
var (
	fitDigest     = fitTable.column("digest")
	fitSuperseded = fitTable.column("superseded_by")
	fitModel      = fitTable.column("model")
)

// fitNumber is a column of numbers of a fit.
type fitNumber struct {
	name string
	of   func(*study.Fit) *study.Num
}

// fitNumbers are named as in results, where they are among them.
func fitNumbers() []fitNumber {
	var columns []fitNumber
	measure := func(name string, of func(*study.Result) *study.Measure) {
		columns = append(columns,
			fitNumber{name, func(f *study.Fit) *study.Num { return &of(&f.Result).Value }},
			fitNumber{"u_" + name, func(f *study.Fit) *study.Num { return &of(&f.Result).U }})
	}
	measure("solar_T", func(r *study.Result) *study.Measure { return &r.SolarT })
	measure("cell_T", func(r *study.Result) *study.Measure { return &r.CellT })
	measure("gain_pp", func(r *study.Result) *study.Measure { return &r.Gain })
	measure("thickness_nm", func(r *study.Result) *study.Measure { return &r.Thickness })
	measure("porosity", func(r *study.Result) *study.Measure { return &r.Porosity })
	measure("bare_fraction", func(r *study.Result) *study.Measure { return &r.BareFraction })
	measure("solid_nm", func(r *study.Result) *study.Measure { return &r.Solid })
	measure("optical_thickness_nm", func(r *study.Result) *study.Measure { return &r.OpticalThickness })
	measure("film_index_550nm", func(r *study.Result) *study.Measure { return &r.FilmIndex })
	measure("scale", func(r *study.Result) *study.Measure { return &r.Scale })
	return append(columns,
		fitNumber{"solar_T_data", func(f *study.Fit) *study.Num { return &f.Result.SolarTData }},
		fitNumber{"solar_share_covered", func(f *study.Fit) *study.Num { return &f.Result.SolarShareCovered }},
		fitNumber{"noise", func(f *study.Fit) *study.Num { return &f.Result.Noise }},
		fitNumber{"rms_residual", func(f *study.Fit) *study.Num { return &f.Result.RMSResidual }},
		fitNumber{"reduced_chi2", func(f *study.Fit) *study.Num { return &f.Result.ReducedChi2 }},
		fitNumber{"points", func(f *study.Fit) *study.Num { return &f.Result.Points }},
		fitNumber{"solar_T_shared", func(f *study.Fit) *study.Num { return &f.SolarTShared }},
		fitNumber{"seen_T", func(f *study.Fit) *study.Num { return &f.SeenT }},
		fitNumber{"seen_lo_nm", func(f *study.Fit) *study.Num { return &f.SeenLoNM }},
		fitNumber{"seen_hi_nm", func(f *study.Fit) *study.Num { return &f.SeenHiNM }},
	)
}

var fitColumns = fitNumbers()

// fitSharedColumns came with version 2.
var fitSharedColumns = []fitNumber{
	{"solar_T_shared_glass", func(f *study.Fit) *study.Num { return &f.SolarTSharedGlass }},
	{"solar_T_shared_session", func(f *study.Fit) *study.Num { return &f.SolarTSharedSession }},
}

// fitGainColumns came with version 6.
var fitGainColumns = []fitNumber{
	{"gain_shared_pp", func(f *study.Fit) *study.Num { return &f.GainShared }},
	{"gain_shared_glass_pp", func(f *study.Fit) *study.Num { return &f.GainSharedGlass }},
	{"gain_shared_session_pp", func(f *study.Fit) *study.Num { return &f.GainSharedSession }},
	{"gain_with_solar_T_pp", func(f *study.Fit) *study.Num { return &f.GainWithSolarT }},
}

// fitFilmColumns came with version 6.
var fitFilmColumns = []fitNumber{
	{"thickness_shared_nm", func(f *study.Fit) *study.Num { return &f.ThicknessShared }},
	{"thickness_shared_glass_nm", func(f *study.Fit) *study.Num { return &f.ThicknessSharedGlass }},
	{"solid_shared_nm", func(f *study.Fit) *study.Num { return &f.SolidShared }},
	{"solid_shared_glass_nm", func(f *study.Fit) *study.Num { return &f.SolidSharedGlass }},
}

// fitLaterColumns are those that later versions brought, in their order.
var fitLaterColumns = slices.Concat(fitSharedColumns, fitGainColumns, fitFilmColumns)

func names(columns []fitNumber) []string {
	list := make([]string, len(columns))
	for i, c := range columns {
		list[i] = c.name
	}
	return list
}

// PutFit adds a fit, which becomes the current one of its unit; the one before is
// kept and marked as superseded. If that one has the same Digest, nothing is added:
// it was made of the same; but one without a model, which says that the readings could not
// be evaluated, gives way to one that has a model. A unit without readings is refused. Numbers that are not
// finite are stored as null.
func (tx *Tx) PutFit(f *study.Fit) error {
	return tx.atomically(func() error {
		old, err := currentFit(tx.ctx, prepared{tx}, f.Unit)
		if err != nil || old != nil && old.sum(fitDigest) == f.Digest && (old[fitModel] != nil || f.Result.Model == "") {
			return err
		}
		r := rowOfFit(f)
		err = tx.insert(fitTable, r)
		if isConstraint(err) {
			return &study.Refusal{
				Fault: fmt.Sprintf("there are no readings of coupon %s, pull %d, spot %s, condition %q to fit", f.Coupon, f.Pull,
					f.Spot, f.Condition),
				Try:   "take the exports in first",
				Cause: err,
			}
		}
		if err == nil && old != nil {
			err = tx.supersede(old, r.whole(0))
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
	err := ask(ctx, q, "SELECT id FROM fit WHERE superseded_by IS NULL AND (coupon, pull, spot, condition) = (?, ?, ?, ?)",
		[]any{u.Coupon, u.Pull, u.Spot, u.Condition}, func(r row) error { number = r.whole(0); return nil })
	if err != nil || number == 0 {
		return nil, err
	}
	return fitTable.one(ctx, q, "FROM fit WHERE id = ?", number)
}

// Fit returns the current fit of a unit, nil if it has none.
func (v *View) Fit(u study.Unit) (*study.Fit, error) {
	r, err := currentFit(v.ctx, v.q, u)
	if r == nil || err != nil {
		return nil, v.refuse(err)
	}
	return fitOfRow(r), nil
}

// supersede marks the fit old as superseded by the one with the given number.
func (tx *Tx) supersede(old row, by int64) error {
	old[fitSuperseded] = by
	pieces, _ := encode(nil, fitTable, old)
	return tx.exec("UPDATE fit SET superseded_by = ?, crc = ? WHERE id = ?", by, int64(checksum(pieces...)), old[0])
}

func rowOfFit(f *study.Fit) row {
	r := make(row, 0, len(fitTable.columns))
	r = append(r, nil, nil, f.Coupon, int64(f.Pull), f.Spot, f.Condition, nullText(f.Session), f.Digest[:],
		nullText(string(f.Result.State)))
	for _, c := range fitColumns {
		r = append(r, nullReal(float64(*c.of(f))))
	}
	r = append(r, nullText(f.Result.Model), nullText(strings.Join(f.Result.Flags, " ")), nil)
	for _, c := range fitLaterColumns {
		r = append(r, nullReal(float64(*c.of(f))))
	}
	return append(r, nullText(joinNumbers(f.AnglesDeg)))
}

// joinNumbers writes numbers with all their digits, separated by spaces.
func joinNumbers(numbers []float64) string {
	var b []byte
	for i, n := range numbers {
		if i > 0 {
			b = append(b, ' ')
		}
		b = strconv.AppendFloat(b, n, 'g', -1, 64)
	}
	return string(b)
}

// splitNumbers reads what joinNumbers wrote. Like all that is read of a row, what a damaged
// file may hold there instead is none.
func splitNumbers(text string) (numbers []float64) {
	for _, word := range strings.Fields(text) {
		n, err := strconv.ParseFloat(word, 64)
		if err != nil {
			return nil
		}
		numbers = append(numbers, n)
	}
	return numbers
}

func fitOfRow(r row) *study.Fit {
	c := r.fields()
	f := study.NewFit(study.Unit{Coupon: c.text(), Pull: c.whole(), Spot: c.text(), Condition: c.text()})
	f.Session, f.Digest = c.text(), c.sum()
	f.Result.State = study.State(c.text())
	for _, n := range fitColumns {
		*n.of(f) = c.num()
	}
	f.Result.Model, f.Result.Flags = c.text(), strings.Fields(c.text())
	c.step() // superseded_by
	for _, n := range fitLaterColumns {
		*n.of(f) = c.num()
	}
	f.AnglesDeg = splitNumbers(c.text())
	return f
}

// Fits is [View.Fits] of a moment of its own.
func (s *Store) Fits(ctx context.Context, yield func(*study.Fit) error, roles ...study.Role) error {
	return s.View(ctx, func(v *View) error { return v.Fits(yield, roles...) })
}

// Fits hands the current fits to yield in the order of coupon, pull, spot and
// condition (texts by their bytes), and stops at the first error. With roles,
// only those of coupons with one of them.
func (v *View) Fits(yield func(*study.Fit) error, roles ...study.Role) error {
	tail := "FROM fit WHERE superseded_by IS NULL ORDER BY coupon, pull, spot, condition"
	var args []any
	if len(roles) > 0 {
		// CROSS JOIN keeps the order of the loops, and with it that of the rows.
		tail = fmt.Sprintf(`FROM coupon CROSS JOIN fit ON fit.coupon = coupon.coupon AND fit.superseded_by IS NULL
			WHERE coupon.role IN (?%s) ORDER BY coupon.coupon, fit.pull, fit.spot, fit.condition`, strings.Repeat(", ?", len(roles)-1))
		for _, r := range roles {
			args = append(args, string(r))
		}
	}
	check, err := v.enrolled(fitTable)
	if err != nil {
		return v.refuse(err)
	}
	return v.refuse(fitTable.each(v.ctx, v.q, tail, args, func(r row) error {
		f := fitOfRow(r)
		if err := check(r.whole(0), f.Coupon); err != nil {
			return err
		}
		return yield(f)
	}))
}
