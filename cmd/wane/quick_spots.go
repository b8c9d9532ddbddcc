package main

import (
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"wane/fit/film"
	"wane/study"
	"wane/study/desk"
	"wane/study/report"
)

// quickPrinter prints one spot after the other in the format asked for.
type quickPrinter struct {
	o        *quickOptions
	out      page
	file     string // of the spot that is printed; empty if all files are one
	rows     *rowWriter
	sections *records     // instead of rows: one section for programs
	table    *tableWriter // one row a file, for people

	flags []string        // that the rows of table carry, each once
	clear bool            // some row takes the film as lossless
	after strings.Builder // what is below it
}

// eachColumns are the columns of the table of --each.
var eachColumns = []tableColumn{
	{head: "file", rank: 1, fold: 16}, {head: "state", rank: 1, paint: stateColour}, {head: "solar T / %", rank: 1},
	{head: "gain / pp", rank: 2},
	{head: "material left / nm", rank: 3}, {head: "thickness / nm", rank: 2}, {head: "porosity", rank: 4},
	{head: "bare", rank: 5},
	{head: "flags", rank: 1, fold: 24},
}

func (o *quickOptions) printer(out page) *quickPrinter {
	p := &quickPrinter{o: o, out: out}
	switch sections := o.sections(); {
	case o.format == "table" && o.of.Each:
		p.table = newTable(out, eachColumns...)
	case o.format == "table":
	case len(sections) > 0:
		columns := sections[0].columns
		if o.of.Each {
			columns = append(columns[:len(columns):len(columns)], "file")
		}
		p.sections = newRecords(out, o.format, columns)
	default:
		file := study.Column{Name: "file", Text: func(*study.Result) string { return p.file }}
		p.rows = newRowWriter(out, o.format, append(study.Columns(), file))
	}
	return p
}

// print prints one spot.
func (p *quickPrinter) print(ctx context.Context, s *desk.QuickSpot, f *desk.QuickFit) error {
	if p.o.of.Each {
		p.file = s.Files[0]
	}
	switch {
	case p.rows != nil:
		return p.rows.write(f.Result)
	case p.sections != nil:
		return p.o.sections()[0].rows(ctx, f, func(cells ...any) error {
			if p.o.of.Each {
				cells = append(cells, p.file)
			}
			return p.sections.Write(cells...)
		})
	case p.table != nil:
		return p.tableRow(ctx, s, f)
	}
	if err := p.o.table(p.out, s.Spectra, s.Notes, f.Result); err != nil {
		return err
	}
	for _, section := range p.o.sections() {
		if err := section.table(ctx, p.out, f); err != nil {
			return err
		}
	}
	return nil
}

// tableRow prints the row of one file; what else is asked for of it comes after the table.
func (p *quickPrinter) tableRow(ctx context.Context, s *desk.QuickSpot, f *desk.QuickFit) error {
	r := f.Result
	err := p.table.row(p.file, dash(string(r.State)), plusMinus(r.SolarT, 100, ""), plusMinus(r.Gain, 1, ""),
		plusMinus(r.Solid, 1, ""), plusMinus(r.Thickness, 1, ""), plusMinus(r.Porosity, 1, ""),
		plusMinus(r.BareFraction, 1, ""),
		strings.Join(r.Flags, " "))
	if err != nil {
		return err
	}
	p.flags, p.clear = addOnce(p.flags, r.Flags...), p.clear || r.IsLossless()
	for _, n := range s.Notes {
		fmt.Fprintf(&p.after, "  note %s\n", study.OneLine(n))
	}
	for i, section := range p.o.sections() {
		if i == 0 {
			fmt.Fprintf(&p.after, "\n%s\n", study.Shown(p.file))
		}
		if err := section.table(ctx, page{&p.after, p.out.screen}, f); err != nil {
			return err
		}
	}
	return nil
}

// end completes the output.
func (p *quickPrinter) end() error {
	switch {
	case p.rows != nil:
		return p.rows.end()
	case p.sections != nil:
		return p.sections.Close()
	case p.table == nil:
		return nil
	}
	if err := p.table.end(); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(p.out, "glass %s, far face %s, values ± U (k=2)\n", study.Shown(p.o.pane.glass),
		p.o.pane.farFace()); err != nil {
		return err
	}
	if p.clear {
		if err := writeLine(p.out, losslessWords); err != nil {
			return err
		}
	}
	if err := writeLine(p.out, uniformWords); err != nil {
		return err
	}
	for _, flag := range p.flags {
		if _, err := fmt.Fprintf(p.out, "  flag %s: %s\n", flag, flagMeaning(flag)); err != nil {
			return err
		}
	}
	_, err := io.WriteString(p.out, p.after.String())
	return err
}

// figureFile is the name of the figure of the i-th spot, from 0: with --each they are
// numbered from 1, in the order of the files.
func (o *quickOptions) figureFile(i int) string {
	if !o.of.Each {
		return o.figure
	}
	return numbered(o.figure, i+1)
}

// figureOf makes the figure of a spot.
func figureOf(spectra []study.Spectrum, r *study.Result, v *film.Verdict) (*report.Fit, error) {
	curves, err := v.Curves()
	if err != nil {
		return nil, err
	}
	f := &report.Fit{Title: figureTitle(spectra), Curves: curves, Caption: caption(r),
		Stamp: study.Stamp{Made: time.Now()}}
	for _, s := range spectra {
		f.Polarisation = append(f.Polarisation, s.Polarisation)
	}
	return f, nil
}
