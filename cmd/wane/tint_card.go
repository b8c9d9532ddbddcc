package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"strings"

	"github.com/spf13/cobra"

	"wane/optics/colour"
	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/report/document"
	"wane/study/tint"
)

// tintRow is a film at one angle.
type tintRow struct {
	*desk.TintFilm
	*desk.Tinted
}

// tintColumns are the columns of a card as a table.
func tintColumns() listing[*tintRow] {
	type row = tintRow
	value := valueColumn[*row]
	number := func(name string, rank int, head string, places int, of func(r *row) float64) column[*row] {
		return value(name, func(r *row) any { return orNil(study.Num(of(r))) }).
			Ranked(rank, head, func(r *row) string { return decimal(study.Num(of(r)), places) })
	}
	return listing[*row]{
		value("coating", func(r *row) any { return r.Coating }).Ranked(1, "", nil),
		value("glass", func(r *row) any { return r.Glass }),
		value("exposure", func(r *row) any { return r.Exposure }).Ranked(5, "", nil),
		value("pull", func(r *row) any { return r.Pull }).Ranked(1, "", nil),
		value("coupons", func(r *row) any { return r.Coupons }),
		value("spots", func(r *row) any { return r.Spots }),
		number("gain_kept", 1, "gain kept", 3, func(r *row) float64 { return float64(r.GainKept) }),
		number("thickness_nm", 2, "thickness / nm", 1, func(r *row) float64 { return r.ThicknessNM }),
		number("porosity", 0, "", 3, func(r *row) float64 { return r.Porosity }),
		number("bare_fraction", 0, "", 3, func(r *row) float64 { return r.Bare }),
		number("angle_deg", 1, "angle / °", 0, func(r *row) float64 { return r.AngleDeg }),
		number("luminance_percent", 2, "luminance / %", 2, func(r *row) float64 { return r.Now.Luminance }),
		number("L", 3, "L*", 1, func(r *row) float64 { return r.Now.Lab.L }),
		number("a", 3, "a*", 1, func(r *row) float64 { return r.Now.Lab.A }),
		number("b", 3, "b*", 1, func(r *row) float64 { return r.Now.Lab.B }),
		value("screen", func(r *row) any { return hexOf(r.Now.Screen) }).Ranked(4, "", nil),
		value("screen_shows_it", func(r *row) any { return r.Now.Within }),
	}
}

// hexOf writes a colour of a screen: #7fa3c2.
func hexOf(c colour.RGB) string {
	level := func(v float64) int { return int(255*v + 0.5) }
	return fmt.Sprintf("#%02x%02x%02x", level(c.R), level(c.G), level(c.B))
}

// listTints prints the films of a card as they are now.
func listTints(cmd *cobra.Command, o *tintOptions, columns listing[*tintRow], card *desk.TintCard) error {
	p := pageOf(cmd)
	out := openRows(columns, p, o.list.format)
	for i := range card.Films {
		for k := range card.Films[i].At {
			if err := out.write(&tintRow{&card.Films[i], &card.Films[i].At[k]}); err != nil {
				return err
			}
		}
	}
	if err := out.end(); err != nil || o.list.format != "table" {
		return err
	}
	lines := []string{fmt.Sprintf("light %s, white sheet under it; L*, a*, b* in so much light that bare glass has L* %d; "+
		"luminance is the true one", card.Light, tint.GlassL)}
	if card.More > 0 {
		lines = append(lines, fmt.Sprintf("%s that keep less gain are not shown: name one coating with --coating",
			count(card.More, "film")))
	}
	lines = append(lines, "an eye does not measure: see wane help reading-tints")
	for _, line := range lines {
		if err := writeLine(p, line); err != nil {
			return err
		}
	}
	return nil
}

// draw writes the card into the files that are asked for.
func (o *tintOptions) draw(cmd *cobra.Command, d *desk.Desk, card *desk.TintCard) error {
	if o.figure == "" && o.page == "" {
		return nil
	}
	stamp, err := d.Stamp(cmd.Context(), 0)
	if err != nil {
		return err
	}
	f := drawn.Tints(card)
	f.Stamp = stamp
	if o.figure != "" {
		if err := drawFigure(cmd, d, o.figure, f); err != nil {
			return err
		}
	}
	if o.page == "" {
		return nil
	}
	block, err := drawnBlock("card", f.Title, "Ribbons of tints over the thickness; the table below has their numbers.", f)
	if err != nil {
		return err
	}
	block.True = true
	table := document.Table{Name: "tints", Caption: "The films as they are now"}
	columns := tintColumns().Pick("coating", "pull", "gain_kept", "thickness_nm", "angle_deg", "luminance_percent",
		"L", "a", "b", "screen")
	for i := range columns {
		table.Columns = append(table.Columns, document.Column{Head: columns[i].Name, Number: i > 0 && i < 9})
	}
	for i := range card.Films {
		for k := range card.Films[i].At {
			r := &tintRow{&card.Films[i], &card.Films[i].At[k]}
			table.Rows = append(table.Rows, []string{r.Coating, fmt.Sprint(r.Pull), decimal(r.GainKept, 3),
				decimal(study.Num(r.ThicknessNM), 1), fmt.Sprintf("%g", r.AngleDeg), decimal(study.Num(r.Now.Luminance), 2), decimal(study.Num(r.Now.Lab.L), 1),
				decimal(study.Num(r.Now.Lab.A), 1), decimal(study.Num(r.Now.Lab.B), 1), hexOf(r.Now.Screen)})
		}
	}
	doc := document.Document{Title: f.Title, Foot: stamp.String(), Parts: []document.Part{
		{Name: "card-of-tints", Title: "Card", Blocks: []document.Block{block}},
		{Name: "numbers", Title: "Numbers", Blocks: []document.Block{table}},
		{Name: "cautions", Title: "Before you judge by eye", Blocks: []document.Block{document.List(drawn.TintCautions())}},
	}}
	var page bytes.Buffer
	if err := doc.HTML(&page, ""); err != nil {
		return err
	}
	var mode fs.FileMode
	if mode, err = d.Mode(); err != nil {
		return err
	}
	if err := desk.WriteFile(o.page, mode, page.Bytes()); err != nil {
		return err
	}
	return noteWritten(cmd, o.page)
}

// matchRow is an interval of thicknesses that a tint cannot exclude; without one, the film that comes nearest.
type matchRow struct {
	*desk.TintMatch
	of    tint.Interval
	found bool
}

func matchColumns() listing[*matchRow] {
	type row = matchRow
	value := valueColumn[*row]
	number := func(name, head string, places int, of func(r *row) float64) column[*row] {
		return value(name, func(r *row) any { return of(r) }).
			Ranked(1, head, func(r *row) string { return decimal(study.Num(of(r)), places) })
	}
	end := func(name, head string, of func(r *row) float64) column[*row] {
		return value(name, func(r *row) any {
			if !r.found {
				return nil
			}
			return of(r)
		}).Ranked(1, head, func(r *row) string {
			if !r.found {
				return "-"
			}
			return decimal(study.Num(of(r)), 0)
		})
	}
	return listing[*row]{
		value("coating", func(r *row) any { return r.Coating }).Ranked(1, "", nil),
		value("glass", func(r *row) any { return r.Glass }),
		end("from_nm", "from / nm", func(r *row) float64 { return r.of.LoNM }),
		end("to_nm", "to / nm", func(r *row) float64 { return r.of.HiNM }),
		number("nearest_nm", "nearest / nm", 0, func(r *row) float64 { return r.of.Nearest.ThicknessNM }),
		number("difference", "its difference", 1, func(r *row) float64 { return r.of.Difference }),
		number("nearest_porosity", "", 2, func(r *row) float64 { return r.of.Nearest.Porosity }),
		number("nearest_bare_fraction", "", 2, func(r *row) float64 { return r.of.Nearest.Bare }),
	}
}

// match prints which films a measured tint can come from.
func (o *tintOptions) match(cmd *cobra.Command, measured tint.Measured) error {
	columns, err := matchColumns().Choose(o.list.format, o.list.named)
	if err != nil {
		return err
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		if err := o.checkCoating(cmd, d); err != nil {
			return err
		}
		matches, err := d.TintMatches(cmd.Context(), &o.opt, measured)
		if err != nil {
			return err
		}
		p := pageOf(cmd)
		out := openRows(columns, p, o.list.format)
		var none []string
		for i := range matches {
			m := &matches[i]
			if len(m.Intervals) == 0 {
				none = append(none, m.Coating)
				if err := out.write(&matchRow{m, m.Nearest, false}); err != nil {
					return err
				}
			}
			for _, interval := range m.Intervals {
				if err := out.write(&matchRow{m, interval, true}); err != nil {
					return err
				}
			}
		}
		if err := out.end(); err != nil {
			return err
		}
		if len(none) > 0 {
			if err := printLine(cmd.ErrOrStderr(), "note no film of %s has this tint: dust, water or grease may be on it, the far "+
				"face of the glass may shine through, or light and angle are others; see wane help reading-tints",
				study.Shown(strings.Join(none, ", "))); err != nil {
				return err
			}
		}
		if o.list.format != "table" {
			return nil
		}
		return writeLine(p, fmt.Sprintf("at %g degrees under %s; thicknesses that cannot be excluded: their tint differs by at most "+
			"%.1f (CIEDE2000, twice the spread of %.1f with 1 for the model)", o.opt.Angles[0], o.opt.Light, tint.Allowed(measured.Spread), measured.Spread))
	})
}
