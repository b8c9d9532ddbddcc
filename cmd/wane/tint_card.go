package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/report/document"
	"wane/study/shown"
	"wane/study/tint"
)

// listTints prints the films of a card as they are now.
func listTints(cmd *cobra.Command, o *tintOptions, columns listing[*shown.TintRow], card *desk.TintCard) error {
	p := pageOf(cmd)
	out := openRows(columns, p, o.list.format)
	for _, r := range shown.TintRows(card) {
		if err := out.write(r); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil || o.list.format != "table" {
		return err
	}
	lines := []string{shown.TintHead(card)}
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
	columns := shown.Tints().Pick("coating", "pull", "gain_kept", "thickness_nm", "angle_deg", "luminance_percent",
		"L", "a", "b", "screen")
	for i := range columns {
		table.Columns = append(table.Columns, document.Column{Head: columns[i].Name, Number: i > 0 && i < 9})
	}
	for _, r := range shown.TintRows(card) {
		var cells []string
		for i := range columns {
			cells = append(cells, columns[i].Words(r))
		}
		table.Rows = append(table.Rows, cells)
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

// match prints which films a measured tint can come from.
func (o *tintOptions) match(cmd *cobra.Command, measured tint.Measured) error {
	columns, err := shown.TintMatches().Choose(o.list.format, o.list.named)
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
		rows, none := shown.TintMatchRows(matches)
		for _, r := range rows {
			if err := out.write(r); err != nil {
				return err
			}
		}
		if err := out.end(); err != nil {
			return err
		}
		if len(none) > 0 {
			words := shown.NoTintWords(study.Shown(strings.Join(none, ", ")))
			if err := printLine(cmd.ErrOrStderr(), "note %s", words); err != nil {
				return err
			}
		}
		if o.list.format != "table" {
			return nil
		}
		return writeLine(p, shown.TintMatchHead(&o.opt, &measured))
	})
}
