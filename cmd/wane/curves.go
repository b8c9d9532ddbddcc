package main

import (
	"bytes"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/study"
	"wane/study/desk"
)

// curveRows prints fitted curves as CSV, one row for each point.
type curveRows struct{ out *records }

// newCurveRows returns the rows with columns of their own before those of the points.
func newCurveRows(w io.Writer, own ...string) curveRows {
	return curveRows{newRecords(w, "csv", append(own, "wavelength_nm", "angle_deg", "polarisation", "quantity", "measured",
		"fitted", "lower", "upper", "residual"))}
}

// write prints curves behind what is in the own columns.
func (r curveRows) write(curves []film.FittedCurve, polarisation []string, own ...any) error {
	for i := range curves {
		c := &curves[i]
		quantity := study.Reflectance
		if c.Through {
			quantity = study.Transmittance
		}
		for k, nm := range c.NM {
			cells := append(own[:len(own):len(own)], nm, c.AngleDeg, polarisation[i], string(quantity), c.Measured[k], c.Fitted[k],
				c.Fitted[k]-c.Band[k], c.Fitted[k]+c.Band[k], c.Measured[k]-c.Fitted[k])
			if err := r.out.Write(cells...); err != nil {
				return err
			}
		}
	}
	return nil
}

// addCurves adds the curves of a spot to the rows, and draws them where that is wanted.
func (o *quickOptions) addCurves(cmd *cobra.Command, p page, rows curveRows, s *desk.QuickSpot, f *desk.QuickFit) error {
	draw := o.format == "table" && !o.of.Each && (o.plot || p.terminal && !cmd.Flags().Changed("plot"))
	if o.curves == "" && !draw {
		return nil
	}
	curves, err := f.Verdict.Curves()
	if err != nil {
		return err
	}
	var polarisation []string
	for i := range s.Spectra {
		polarisation = append(polarisation, s.Spectra[i].Polarisation)
	}
	if draw {
		if err := drawCurves(p, curves, polarisation, speaksUnicode()); err != nil {
			return err
		}
	}
	return rows.write(curves, polarisation, strings.Join(s.Files, " "))
}

// writeCurves writes the rows into the file that --curves names.
func (o *quickOptions) writeCurves(cmd *cobra.Command, rows curveRows, written *bytes.Buffer) error {
	if err := rows.out.Close(); err != nil || o.curves == "" {
		return err
	}
	if err := desk.WriteFile(o.curves, 0, written.Bytes()); err != nil {
		return err
	}
	return noteWritten(cmd, o.curves)
}

// exportCurves prints the curves of the spots of a study, each when it is fitted.
func exportCurves(cmd *cobra.Command, o *exportOptions, names []string) error {
	if len(names) > 0 {
		return usagef("choose spots: --coupon A01 --pull 1 --spot 1", "--curves takes no names of files")
	}
	if err := o.filter.check(cmd); err != nil {
		return err
	}
	sieve := study.NewSieve(o.filter.of)
	opt := desk.ResultsOptions{Keep: func(r *study.Result) bool { return sieve.Keep(study.RowOf(r)) }}
	if of := o.filter.of.Coupons; len(of) == 1 {
		opt.Coupon = of[0]
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		if err := d.CheckCodes(cmd.Context(), o.filter.of, desk.Moment{}); err != nil {
			return err
		}
		total := 0
		if err := d.Results(cmd.Context(), opt, func(*study.Result) error { total++; return nil }); err != nil {
			return err
		}
		bar, done, without := newProgress(cmd, "spots fitted"), 0, 0
		rows := newCurveRows(cmd.OutOrStdout(), "coupon", "pull", "spot", "condition")
		err := d.Seen(cmd.Context(), opt, func(s *desk.SeenSpot) error {
			done++
			bar.to(done, total)
			if s.Why != nil {
				without++
				return nil
			}
			return rows.write(s.Curves, s.Polarisation, s.Row.Coupon, float64(s.Row.Pull), s.Row.Spot, s.Row.Condition)
		})
		bar.end()
		if err != nil {
			return err
		}
		if err := rows.out.Close(); err != nil {
			return err
		}
		if without > 0 {
			err := printLine(cmd.ErrOrStderr(), "note %s without curves: what was read is held, set aside or cannot be fitted",
				count(without, "result"))
			if err != nil {
				return err
			}
		}
		return sayMissed(cmd.ErrOrStderr(), sieve)
	})
}
