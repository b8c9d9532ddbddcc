package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/cause"
	"wane/study/desk"
)

const trendFilmLong = `
--film [COUPON...] says what happened to the film of each spot since its baseline: the change of
solar_T divided among bare glass, thickness, porosity (by the index) and structure, which add to
it exactly, and whether material was lost, densified or filled, with what looks alike. Where the
readings do not determine both films, nothing is divided, and the flags say why. Readings at one
pull in several conditions divide the change into what rinsing and cleaning bring back and what
stays. Nothing is stored: wane help film-history.
`

// trendFilmOptions are the flags of what happened to films.
type trendFilmOptions struct{ asked bool }

func (o *trendFilmOptions) bind(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&o.asked, "film", false,
		"say what happened to the film of each spot; arguments are the coupons, none: all that are exposed")
}

// check refuses arguments without --film, and flags that are not for it.
func (o *trendFilmOptions) check(cmd *cobra.Command, args []string) error {
	if !o.asked {
		if len(args) > 0 {
			return usagef("add --film, or choose coupons with --coupon", "coupons as arguments are for --film")
		}
		return nil
	}
	for _, name := range []string{"by", "coupon", "quantity", "shape", "in", "threshold", "extrapolate", "as-found",
		"figure"} {
		if cmd.Flags().Changed(name) {
			return usagef("leave one of them out", "--%s and --film do not go together", name)
		}
	}
	return nil
}

// filmPart are the columns of a part of the change.
func filmPart(p cause.Part, rank int) listing[*desk.FilmChange] {
	return filmMeasure(p.String()+"_pp", rank, p.String()+" / pp",
		func(c *desk.FilmChange) study.Measure { return c.Explained.Parts[p] })
}

// filmMeasure are the columns of a quantity and its standard uncertainty.
func filmMeasure(name string, rank int, head string,
	of func(*desk.FilmChange) study.Measure) listing[*desk.FilmChange] {
	value := valueColumn(name, func(c *desk.FilmChange) any { return orNil(of(c).Value) })
	if rank > 0 {
		value = value.Ranked(rank, head, func(c *desk.FilmChange) string { return plusMinus(of(c), 1, "") })
	}
	return listing[*desk.FilmChange]{value, valueColumn("u_"+name, func(c *desk.FilmChange) any { return orNil(of(c).U) })}
}

// recoveredMeasure are the columns of what readings in several conditions say.
func recoveredMeasure(name string, of func(*cause.Recovered) study.Measure) listing[*desk.FilmChange] {
	return filmMeasure(name, 0, "", func(c *desk.FilmChange) study.Measure {
		if c.Recovered == nil {
			return study.NoMeasure()
		}
		return of(c.Recovered)
	})
}

// filmColumns are the columns of what happened to films.
func filmColumns() listing[*desk.FilmChange] {
	value := valueColumn[*desk.FilmChange]
	x := func(c *desk.FilmChange) *cause.Explanation { return c.Explained }
	l := listing[*desk.FilmChange]{
		value("coupon", func(c *desk.FilmChange) any { return c.Row.Coupon }).Ranked(1, "", nil),
		value("role", func(c *desk.FilmChange) any { return c.Row.Role }),
		value("coating", func(c *desk.FilmChange) any { return orEmpty(c.Row.Coating) }).Ranked(5, "", nil),
		value("exposure", func(c *desk.FilmChange) any { return orEmpty(c.Row.Exposure) }),
		value("pull", func(c *desk.FilmChange) any { return orNil(c.Row.Pull) }).Ranked(1, "", nil),
		value("spot", func(c *desk.FilmChange) any { return c.Row.Spot }).Ranked(1, "", nil),
		value("condition", func(c *desk.FilmChange) any { return orEmpty(c.Row.Condition) }).Ranked(4, "", nil),
		value("dose", func(c *desk.FilmChange) any { return orNil(c.Row.Dose) }),
		value("dose_unit", func(c *desk.FilmChange) any { return orEmpty(c.Row.DoseUnit) }),
	}
	l = slices.Concat(l, filmMeasure("change_pp", 1, "change / pp",
		func(c *desk.FilmChange) study.Measure { return x(c).Change }),
		filmPart(cause.Bare, 1), filmPart(cause.Thickness, 1), filmPart(cause.Porosity, 1), filmPart(cause.Structure, 3),
		filmPart(cause.Absorbed, 0))
	l = append(l, value("correction_pp", func(c *desk.FilmChange) any { return orNil(c.Correction) }))
	return slices.Concat(l,
		filmMeasure("solid_change_nm", 2, "material / nm", func(c *desk.FilmChange) study.Measure { return x(c).Solid }),
		filmMeasure("thickness_change_nm", 0, "", func(c *desk.FilmChange) study.Measure { return x(c).Thickness }),
		filmMeasure("index_change", 0, "", func(c *desk.FilmChange) study.Measure { return x(c).Index }),
		filmMeasure("bare_change", 0, "", func(c *desk.FilmChange) study.Measure { return x(c).Bare }),
		listing[*desk.FilmChange]{
			value("found", func(c *desk.FilmChange) any { return append([]string{}, x(c).Findings...) }).Ranked(1, "",
				nil).Folded(20),
			value("looks_alike", func(c *desk.FilmChange) any { return append([]string{}, x(c).LookAlikes...) }).
				Ranked(3, "looks alike", nil).Folded(20),
			value("undetermined", func(c *desk.FilmChange) any { return whyWords(x(c).Why) }).Ranked(2, "why not", nil).Folded(30),
		},
		recoveredMeasure("by_rinsing_pp", func(r *cause.Recovered) study.Measure { return r.ByRinsing }),
		recoveredMeasure("by_cleaning_pp", func(r *cause.Recovered) study.Measure { return r.ByCleaning }),
		recoveredMeasure("permanent_pp", func(r *cause.Recovered) study.Measure { return r.Permanent }),
		recoveredMeasure("total_pp", func(r *cause.Recovered) study.Measure { return r.Total }))
}

// whyWords are the reasons why a change is not divided, each with its pull.
func whyWords(why []cause.Why) []string {
	words := make([]string, len(why))
	for i, w := range why {
		words[i] = fmt.Sprintf("pull-%d:%s", w.Pull, w.Flag)
	}
	return words
}

func runTrendFilm(cmd *cobra.Command, o *trendOptions, coupons []string) error {
	list, filter := &o.list, &o.filter
	if err := list.check(cmd); err != nil {
		return err
	}
	if err := filter.check(cmd); err != nil {
		return err
	}
	columns, err := filmColumns().Choose(list.format, list.named)
	if err != nil {
		return err
	}
	sieve := study.NewSieve(filter.of)
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		moment, err := o.asOf.moment(cmd.Context(), d)
		if err != nil {
			return err
		}
		if err := d.CheckCodes(cmd.Context(), filter.of, moment); err != nil {
			return err
		}
		p, said := pageOf(cmd), &filmRemarks{}
		out := openRows(columns, p, list.format)
		err = d.FilmChanges(cmd.Context(), coupons, moment.Line, func(c *desk.FilmChange) error {
			if !filter.of.IsZero() && !sieve.Keep(study.RowOf(c.Row)) {
				return nil
			}
			said.add(c)
			return out.write(c)
		})
		if err != nil {
			return err
		}
		if err := out.end(); err != nil {
			return err
		}
		if list.format == "table" {
			if err := said.print(p); err != nil {
				return err
			}
		}
		if err := sayMissed(cmd.ErrOrStderr(), sieve); err != nil {
			return err
		}
		due, err := d.FitsDue(cmd.Context(), moment.Line)
		if err != nil {
			return err
		}
		return noteFitsDue(cmd.ErrOrStderr(), due)
	})
}

// filmRemarks are what stands below the table.
type filmRemarks struct {
	rows, notTold, lossless int
	words                   []string
	recovered               []*desk.FilmChange
}

func (r *filmRemarks) add(c *desk.FilmChange) {
	r.rows++
	if len(c.Explained.Why) > 0 {
		r.notTold++
	}
	if c.Row.IsLossless() {
		r.lossless++
	}
	r.words = addOnce(r.words, slices.Concat(c.Explained.Findings, c.Explained.LookAlikes)...)
	if c.Recovered != nil {
		r.recovered = append(r.recovered, c)
	}
}

func (r *filmRemarks) print(p page) error {
	if r.rows == 0 {
		return writeLine(p, "no film has a reading after its baseline: take one in and run wane fit")
	}
	lines := []string{"values ± U (k=2); change as measured: the parts add to it. U of a part is an upper limit"}
	if r.notTold > 0 {
		lines = append(lines, fmt.Sprintf("what happened cannot be told of %s, because a film is not determined by its "+
			"readings there (not "+
			"told); measure at more angles, and see wane help reading-results for the flags", count(r.notTold, "row")))
	}
	if r.lossless > 0 {
		lines = append(lines, losslessWords)
	}
	for _, term := range append(cause.Findings(), cause.LookAlikes()...) {
		if slices.Contains(r.words, term.Word) {
			lines = append(lines, fmt.Sprintf("%s: %s (%s)", term.Word, term.Meaning, term.Limit))
		}
	}
	if err := writeLines(p, lines...); err != nil {
		return err
	}
	return r.printRecovered(p)
}

// printRecovered lists what readings in several conditions say.
func (r *filmRemarks) printRecovered(p page) error {
	if len(r.recovered) == 0 {
		return nil
	}
	if err := writeLine(p, "\nwhat comes back and what stays, of spots that were read in several conditions at one "+
		"pull, in pp:"); err != nil {
		return err
	}
	t := foldedTable(p, "  ", "coupon", "pull", "spot", "first", "by rinsing", "by cleaning", "permanent")
	soilLossless := false
	for _, c := range r.recovered {
		v := c.Recovered
		soilLossless = soilLossless || v.Lossless
		if err := t.row(c.Row.Coupon, fmt.Sprint(int(c.Row.Pull)), c.Row.Spot, plusMinus(v.Total, 1, ""),
			plusMinus(v.ByRinsing, 1, ""),
			plusMinus(v.ByCleaning, 1, ""), plusMinus(v.Permanent, 1, "")); err != nil {
			return err
		}
	}
	if err := t.end(); err != nil {
		return err
	}
	lines := []string{"  first: change of the first reading; rinsing and cleaning add to it, and permanent is what " +
		"is left"}
	if soilLossless {
		lines = append(lines, "  a soil that absorbs reads as a gain by reflectance alone: read transmittance too")
	}
	return writeLine(p, strings.Join(lines, "\n"))
}
