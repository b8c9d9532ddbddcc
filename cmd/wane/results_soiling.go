package main

import (
	"slices"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
)

// soilingColumns are the columns of results --soiling.
func soilingColumns() listing[*ageing.Soiling] {
	type row = ageing.Soiling
	value := valueColumn[*row]
	of := func(name string, rank int, head string, factor float64, m func(r *row) study.Measure) listing[*row] {
		return listing[*row]{
			value(name, func(r *row) any { return orNil(m(r).Value) }).
				Ranked(rank, head, func(r *row) string { return plusMinus(m(r), factor, "") }),
			value("u_"+name, func(r *row) any { return orNil(m(r).U) })}
	}
	l := listing[*row]{
		value("coupon", func(r *row) any { return r.AsFound.Coupon }).Ranked(1, "", nil),
		value("role", func(r *row) any { return r.AsFound.Role }),
		value("coating", func(r *row) any { return orEmpty(r.AsFound.Coating) }).Ranked(4, "", nil),
		value("exposure", func(r *row) any { return orEmpty(r.AsFound.Exposure) }),
		value("pull", func(r *row) any { return orNil(r.AsFound.Pull) }).Ranked(1, "", nil),
		value("dose", func(r *row) any { return orNil(r.AsFound.Dose) }),
		value("dose_unit", func(r *row) any { return orEmpty(r.AsFound.DoseUnit) }),
		value("spot", func(r *row) any { return r.AsFound.Spot }).Ranked(1, "", nil),
		value("session_as_found", func(r *row) any { return orEmpty(r.AsFound.Session) }),
		value("session_cleaned", func(r *row) any { return orEmpty(r.Cleaned.Session) }),
	}
	l = slices.Concat(l,
		of("solar_T_as_found", 2, "as found / %", 100, func(r *row) study.Measure { return r.AsFound.SolarT }),
		of("solar_T_cleaned", 2, "cleaned / %", 100, func(r *row) study.Measure { return r.Cleaned.SolarT }),
		of("soiling_pp", 1, "soiling / pp", 1, func(r *row) study.Measure { return r.Soiling }),
		of("absorbed_as_found_pp", 3, "absorbed as found / pp", 1, func(r *row) study.Measure { return r.AsFound.Absorbed }),
		of("absorbed_cleaned_pp", 0, "", 1, func(r *row) study.Measure { return r.Cleaned.Absorbed }))
	return append(l,
		value("lossless", func(r *row) any { return r.Lossless }),
		value("flags", func(r *row) any { return addOnce(append([]string{}, r.AsFound.Flags...), r.Cleaned.Flags...) }).
			Ranked(3, "", nil).Folded(24))
}

// listSoiling prints the soiling of spots that were read as found and cleaned, in any format.
func listSoiling(cmd *cobra.Command, d *desk.Desk, o *resultsOptions, columns listing[*ageing.Soiling]) error {
	p := pageOf(cmd)
	out := openRows(columns, p, o.list.format)
	rows, lossless := 0, 0
	err := d.Soilings(cmd.Context(), o.options().Keep, func(s *ageing.Soiling) error {
		if rows++; s.Lossless {
			lossless++
		}
		return out.write(s)
	})
	if err != nil {
		return err
	}
	if err := out.end(); err != nil || o.list.format != "table" {
		return err
	}
	switch missed, _ := o.sieve.Missed(); {
	case rows == 0 && len(missed) > 0: // which is said on stderr
		return nil
	case rows == 0:
		return writeLine(p, "no spot has readings both as found and cleaned at one pull")
	case lossless > 0:
		if err := writeLine(p, losslessWords+"; a soil that absorbs reads as a gain"); err != nil {
			return err
		}
	}
	return writeLine(p, "values ± U (k=2); soiling: as found less cleaned, negative where it costs light")
}

// checkSoiling refuses flags that do not go with --soiling.
func (o *resultsOptions) checkSoiling(cmd *cobra.Command) error {
	if !o.soiling {
		return nil
	}
	for _, other := range []string{"by", "joint", "independent", "routes", "figure"} {
		if cmd.Flags().Changed(other) {
			return usagef("leave one of them out", "--soiling and --%s cannot be used together: --soiling lists spots that were read "+
				"as found and cleaned", other)
		}
	}
	return nil
}

// soilingLister returns what prints the soiling of spots.
func (o *resultsOptions) soilingLister(cmd *cobra.Command) (func(*desk.Desk) error, error) {
	columns, err := soilingColumns().Choose(o.list.format, o.list.named)
	return func(d *desk.Desk) error { return listSoiling(cmd, d, o, columns) }, err
}
