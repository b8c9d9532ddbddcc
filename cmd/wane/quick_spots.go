package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/report"
)

// spotOptions say which curves make one spot.
type spotOptions struct{ oneSpot, each, replicates bool }

func (o *spotOptions) bind(cmd *cobra.Command) {
	f := cmd.Flags()
	f.BoolVar(&o.oneSpot, "one-spot", false, "all curves of all files are of one spot of one coupon")
	f.BoolVar(&o.each, "each", false, "each file is a spot of its own: one row a file, told apart by the key file")
	f.BoolVar(&o.replicates, "replicates", false, "curves of a spot at one angle and polarisation are repeated scans")
}

// check refuses files of which nothing says whether they are one spot.
func (o *spotOptions) check(files []string) error {
	if o.oneSpot && o.each {
		return usagef("choose one of them", "--one-spot makes one row of all files, and --each one row of each")
	}
	if len(files) > 1 && !o.oneSpot && !o.each {
		return usagef("state --one-spot if all curves are of one spot of one coupon, or --each for one row a file",
			"%d files are given, and nothing says whether they are of one spot", len(files))
	}
	return nil
}

// quickSpot is what is fitted together: the curves of all files, or with --each of one.
type quickSpot struct {
	files   []string
	spectra []study.Spectrum
	open    []bool // by spectrum: the file does not say its angle
	curves  []film.Curve
	notes   []string
}

// name is that of the file, where each file is a spot.
func (o *spotOptions) name(s *quickSpot) string {
	if !o.each {
		return ""
	}
	return s.files[0]
}

// readSpots reads the files and gives each curve its angle and polarisation.
func (o *quickOptions) readSpots(read *exportReader, files []string) ([]*quickSpot, error) {
	var spots []*quickSpot
	var all []study.Spectrum
	for _, name := range files {
		spectra, notes, err := read.all([]string{name})
		if err != nil {
			return nil, err
		}
		if len(spots) == 0 || o.spots.each {
			spots = append(spots, &quickSpot{})
		}
		s := spots[len(spots)-1]
		s.files, s.notes = append(s.files, name), append(s.notes, notes...)
		s.spectra, all = append(s.spectra, spectra...), append(all, spectra...)
		for i := range spectra {
			s.open = append(s.open, math.IsNaN(spectra[i].AngleDeg))
		}
	}
	if len(o.angles) == 0 {
		read.ask.angles(all)
	}
	curves, err := o.curves(all)
	if err != nil {
		return nil, err
	}
	for _, s := range spots {
		n := len(s.spectra)
		s.spectra, s.curves, all, curves = all[:n], curves[:n], all[n:], curves[n:]
	}
	return spots, o.spots.checkRepeats(spots)
}

// checkRepeats refuses two curves of one spot at one angle and polarisation that nobody
// called repeated scans, and --replicates where there are none.
func (o *spotOptions) checkRepeats(spots []*quickSpot) error {
	repeated := false
	for _, s := range spots {
		i, k := repeats(s.spectra)
		if k < 0 {
			continue
		}
		repeated = true
		if a, b := &s.spectra[i], &s.spectra[k]; !o.replicates {
			return usagef(s.tryRepeats(i, k),
				"two curves of one spot are at %g degrees, polarisation %s: column %d of %s and column %d of %s",
				a.AngleDeg, a.Polarisation, a.Column, a.File, b.Column, b.File)
		}
	}
	if o.replicates && !repeated {
		return usagef("leave it out, or correct the angles",
			"--replicates is for repeated scans, and no two curves of a spot are at one angle and polarisation")
	}
	return nil
}

// tryRepeats says what can be done about two curves of a spot at one angle and polarisation.
func (s *quickSpot) tryRepeats(i, k int) string {
	a, b := &s.spectra[i], &s.spectra[k]
	if a.File == b.File && a.Column == b.Column {
		return "give the file once"
	}
	try := "state --replicates if they are repeated scans of one spot"
	if a.File == b.File {
		try += "; if they are of different spots, name the columns of one spot with --columns"
	} else {
		try += "; if the files are of different spots, state --each instead of --one-spot"
	}
	if s.open[i] || s.open[k] {
		try += "; if their angles differ, give --angle one for each curve"
	}
	return try
}

// repeats returns the first two spectra at one angle and polarisation; -1 twice if there
// are none.
func repeats(spectra []study.Spectrum) (int, int) {
	type setting struct {
		angleDeg     float64
		polarisation string
	}
	first := map[setting]int{}
	for k := range spectra {
		at := setting{spectra[k].AngleDeg, spectra[k].Polarisation}
		if i, known := first[at]; known {
			return i, k
		}
		first[at] = k
	}
	return -1, -1
}

// quickPrinter prints one spot after the other in the format asked for.
type quickPrinter struct {
	o        *quickOptions
	out      page
	file     string // of the spot that is printed; empty if all files are one
	rows     *rowWriter
	sections *records     // instead of rows: one section for programs
	table    *tableWriter // one row a file, for people

	flags []string        // that the rows of table carry, each once
	after strings.Builder // what stands below it
}

// eachColumns are the columns of the table of --each.
var eachColumns = []tableColumn{
	{head: "file", rank: 1, fold: 16}, {head: "state", rank: 1}, {head: "solar T / %", rank: 1}, {head: "gain / pp", rank: 2},
	{head: "material left / nm", rank: 3}, {head: "thickness / nm", rank: 2}, {head: "porosity", rank: 4}, {head: "bare", rank: 5},
	{head: "flags", rank: 1, fold: 24},
}

func (o *quickOptions) printer(out page) *quickPrinter {
	p := &quickPrinter{o: o, out: out}
	switch sections := o.sections(); {
	case o.format == "table" && o.spots.each:
		p.table = newTable(out, eachColumns...)
	case o.format == "table":
	case len(sections) > 0:
		columns := sections[0].columns
		if o.spots.each {
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
func (p *quickPrinter) print(
	ctx context.Context, e *evaluate.Evaluator, s *quickSpot, r *study.Result, v *film.Verdict,
) error {
	p.file = p.o.spots.name(s)
	switch {
	case p.rows != nil:
		return p.rows.write(r)
	case p.sections != nil:
		return p.o.sections()[0].rows(ctx, e, v, func(cells ...any) error {
			if p.o.spots.each {
				cells = append(cells, p.file)
			}
			return p.sections.write(cells...)
		})
	case p.table != nil:
		return p.tableRow(ctx, e, s, r, v)
	}
	if err := p.o.table(p.out, s.spectra, s.notes, r); err != nil {
		return err
	}
	for _, section := range p.o.sections() {
		if err := section.table(ctx, p.out, e, v); err != nil {
			return err
		}
	}
	return nil
}

// tableRow prints the row of one file; what else is asked for of it comes after the table.
func (p *quickPrinter) tableRow(
	ctx context.Context, e *evaluate.Evaluator, s *quickSpot, r *study.Result, v *film.Verdict,
) error {
	err := p.table.row(p.file, dash(string(r.State)), plusMinus(r.SolarT, 100, ""), plusMinus(r.Gain, 1, ""),
		plusMinus(r.Solid, 1, ""), plusMinus(r.Thickness, 1, ""), plusMinus(r.Porosity, 1, ""), plusMinus(r.BareFraction, 1, ""),
		strings.Join(r.Flags, " "))
	if err != nil {
		return err
	}
	p.flags = addOnce(p.flags, r.Flags...)
	for _, n := range s.notes {
		fmt.Fprintf(&p.after, "  note %s\n", study.OneLine(n))
	}
	for i, section := range p.o.sections() {
		if i == 0 {
			fmt.Fprintf(&p.after, "\n%s\n", study.Shown(p.file))
		}
		if err := section.table(ctx, page{&p.after, p.out.screen}, e, v); err != nil {
			return err
		}
	}
	return nil
}

// addOnce appends the words that are not in list.
func addOnce(list []string, words ...string) []string {
	known := map[string]bool{}
	for _, w := range list {
		known[w] = true
	}
	for _, w := range words {
		if !known[w] {
			known[w] = true
			list = append(list, w)
		}
	}
	return list
}

// end completes the output.
func (p *quickPrinter) end() error {
	switch {
	case p.rows != nil:
		return p.rows.end()
	case p.sections != nil:
		return p.sections.end()
	case p.table == nil:
		return nil
	}
	if err := p.table.end(); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(p.out, "glass %s, far face %s, values ± U (k=2)\n", study.Shown(p.o.glass), p.o.farFace()); err != nil {
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
	if !o.spots.each {
		return o.figure
	}
	ending := filepath.Ext(o.figure)
	return strings.TrimSuffix(o.figure, ending) + "-" + strconv.Itoa(i+1) + ending
}

// figureOf makes the figure of a spot.
func figureOf(spectra []study.Spectrum, r *study.Result, v *film.Verdict) (*report.Fit, error) {
	curves, err := v.Curves()
	if err != nil {
		return nil, err
	}
	f := &report.Fit{Title: figureTitle(spectra), Curves: curves, Caption: caption(r)}
	for _, s := range spectra {
		f.Polarisation = append(f.Polarisation, s.Polarisation)
	}
	return f, nil
}
