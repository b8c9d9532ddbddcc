package main

import (
	"bufio"
	"encoding/csv"
	"errors"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/table"
)

const exportLong = `Write out what the study contains, in open formats. wane export DIR writes everything
into a new or empty folder:

  README.md        what the columns of all tables mean, with their units
  csv, json,       the tables: results, spectra, roster, register, measurements, log and all
  parquet          others, each in these formats (--formats csv,parquet: only in those named);
                   with --history also rows that others superseded
  originals        the files that the study keeps, byte for byte under their names
  rows             all rows as they are stored: wane new COPY.wane --from DIR makes a study
                   of them that is equal, with its history, times and hashes
  SHA256SUMS       of all these files, as sha256sum writes and checks them

DIR appears when it is whole. A folder that has something in it is refused, but for an export
of this study that was made before and in which nothing was changed, added or renamed since:
that one is replaced. The same study gives the same bytes.

One kind of data alone comes out by one of these:

  --originals DIR  the files that the study keeps (exports, maps, rosters, tables of
                   measurements, pictures), byte for byte under their names, into a new or
                   empty folder.
                   The file SHA256SUMS is written last; sha256sum -c SHA256SUMS checks the
                   files. If the command was killed, run it again: it goes on.
  --workbook FILE  the tables of DIR but the spectra as one workbook (.xlsx), a sheet for
                   each; numbers are rounded to 15 digits, as programs for workbooks do
  --spectra        the spectra as CSV, one row for each point
  --curves         measured and fitted curves with band and residual as CSV, one row for each
                   point; of all spots, or of --coupon, --pull and --spot
  --measurements   what other instruments measured, as CSV

All spectra are read before the first row is printed, so that a damaged study is refused; with
--curves each spot is printed when it is fitted.
If the study or the disk fails after that, the output ends early, with exit code 1.

NAME is the name of a file as it was taken in, or at least eight digits of its SHA-256. Then
only these files, or what came from them, are written. For the results alone use wane results
--format csv, for the history wane log, and for a copy of the study file wane backup.
` + exitCodes

type exportOptions struct {
	study                 studyOptions
	originals, workbook   string
	spectra, measurements bool
	curves                bool
	filter                filterOptions // of curves
	formats               []string
	history               bool
}

func newExportCommand() *cobra.Command {
	o := &exportOptions{}
	cmd := &cobra.Command{
		Use:   "export DIR | --originals DIR | --spectra | --curves | --measurements [NAME...]",
		Short: "everything out, in open formats", Long: exportLong,
		Example: "  wane export everything\n  wane export everything --formats parquet --history\n" +
			"  wane export --originals originals\n  wane export --spectra > points.csv\n" +
			"  wane export --originals one A01-pull1.csv\n  wane export --workbook results.xlsx",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return runExport(cmd, o, args) },
	}
	o.study.bind(cmd)
	f := cmd.Flags()
	f.StringVar(&o.originals, "originals", "", "write the files that the study keeps into this folder")
	f.StringVar(&o.workbook, "workbook", "", "write the tables into this workbook, whose name ends in .xlsx")
	f.BoolVar(&o.spectra, "spectra", false, "print the spectra as CSV, one row for each point")
	f.BoolVar(&o.curves, "curves", false,
		"print measured and fitted curves as CSV, one row for each point; each spot is fitted again, by itself")
	o.filter.bind(cmd, &o.study, "curves", "coupon", "pull", "spot")
	f.BoolVar(&o.measurements, "measurements", false, "print what other instruments measured as CSV")
	f.StringSliceVar(&o.formats, "formats", nil, "of the tables in DIR: "+strings.Join(table.Formats(), ", "))
	f.BoolVar(&o.history, "history", false, "in DIR: superseded rows too")
	completeLists(cmd, "formats", table.Formats)
	return cmd
}

func runExport(cmd *cobra.Command, o *exportOptions, names []string) error {
	asked := 0
	for _, flag := range []string{"originals", "workbook", "spectra", "measurements", "curves"} {
		if cmd.Flags().Changed(flag) {
			asked++
		}
	}
	if !o.curves {
		if err := noFlags(cmd, "curves", "coupon", "pull", "spot"); err != nil {
			return err
		}
	}
	if asked == 0 {
		return exportAll(cmd, o, names)
	}
	if asked != 1 || o.originals == "" && o.workbook == "" && !o.spectra && !o.measurements &&
		!o.curves {
		return usagef("state one: --originals DIR, --workbook FILE.xlsx, --spectra, --curves or --measurements; or write everything: "+
			"wane export DIR", "wane export takes one of --originals, --workbook, --spectra, --curves and --measurements")
	}
	if o.workbook != "" {
		return exportWorkbook(cmd, o, names)
	}
	if o.history || len(o.formats) > 0 {
		return usagef("leave it out, or write everything: wane export DIR",
			"--formats and --history belong to wane export DIR")
	}
	if o.curves {
		return exportCurves(cmd, o, names)
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		w := cmd.OutOrStdout()
		switch {
		case o.spectra:
			return exportSpectra(cmd, d, w, names)
		case o.measurements:
			return exportMeasurements(cmd, d, w, names)
		}
		out, err := d.ExportOriginals(cmd.Context(), o.originals, names)
		if err != nil {
			return err
		}
		if err := printNotes(cmd.ErrOrStderr(), out.Notes); err != nil {
			return err
		}
		return printLine(w, "wrote %s (%d bytes) and SHA256SUMS into %s", count(out.Files, "file"), out.Bytes,
			study.Shown(o.originals))
	})
}

// exportWorkbook writes the tables into a workbook.
func exportWorkbook(cmd *cobra.Command, o *exportOptions, names []string) error {
	switch ending := filepath.Ext(o.workbook); {
	case !strings.EqualFold(ending, ".xlsx"):
		return usagef("name it .xlsx", "--workbook %s: the name of a workbook does not end in %q", o.workbook, ending)
	case len(names) > 0:
		return usagef("leave them out: a workbook has all tables as a whole", "--workbook takes no names of files")
	case len(o.formats) > 0:
		return usagef("leave it out", "--formats is for wane export DIR")
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		out, err := d.ExportWorkbook(cmd.Context(), o.workbook, o.history)
		if err != nil {
			return err
		}
		return printLine(cmd.OutOrStdout(), "wrote %s (%d bytes) into %s", count(out.Tables, "table"), out.Bytes,
			study.Shown(o.workbook))
	})
}

// exportAll writes everything into a folder.
func exportAll(cmd *cobra.Command, o *exportOptions, folders []string) error {
	if len(folders) != 1 || folders[0] == "" {
		return usagef("name one folder: wane export everything", "wane export takes one folder, not %d", len(folders))
	}
	for _, f := range o.formats {
		if err := oneOf("formats", f, table.Formats()); err != nil {
			return err
		}
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		options := desk.ExportOptions{Formats: slices.Compact(slices.Sorted(slices.Values(o.formats))), History: o.history}
		bar := newProgress(cmd, "rows, spectra and originals written")
		options.Progress = bar.to
		out, err := d.Export(cmd.Context(), folders[0], options)
		bar.end()
		if err != nil {
			return err
		}
		if err := printNotes(cmd.ErrOrStderr(), out.Notes); err != nil {
			return err
		}
		return printLine(cmd.OutOrStdout(), "wrote %s in %s (%d bytes) into %s", count(out.Tables, "table"),
			count(out.Files, "file"), out.Bytes, study.Shown(folders[0]))
	})
}

// exportSpectra prints one row for each point, as it is stored. All spectra are read once
// before the first row is printed, which is not kept until the last: the points of a study
// may be twenty times as many bytes as the study.
func exportSpectra(cmd *cobra.Command, d *desk.Desk, w io.Writer, names []string) error {
	buffered := bufio.NewWriterSize(w, 1<<16)
	columns := desk.SpectrumColumns()
	fields := make([]study.Field, len(columns))
	for i := range columns {
		fields[i] = columns[i].Field
	}
	out, cells := table.New(buffered, "csv", fields), make([]any, len(columns))
	err := d.Spectra(cmd.Context(), names, func(s *desk.Spectrum) error {
		if err := errors.Join(cmd.Context().Err(), letPass(w)); err != nil {
			return err
		}
		for i := range columns {
			cells[i] = columns[i].Cell(s)
		}
		return out.Write(cells)
	})
	if err != nil {
		return err
	}
	if err := out.Close(); err != nil {
		return err
	}
	return buffered.Flush()
}

// exportMeasurements prints the measurements in the columns of their tables, with what
// they came from.
func exportMeasurements(cmd *cobra.Command, d *desk.Desk, w io.Writer, names []string) error {
	out := csv.NewWriter(w)
	header := []string{"coupon", "pull", "spot", "condition", "quantity", "value", "u", "unit", "method", "date",
		"replicate", "operator", "note",
		"table", "table_sha256", "line", "picture", "picture_sha256"}
	if err := out.Write(header); err != nil {
		return err
	}
	err := d.Measurements(cmd.Context(), names, func(m *study.Measurement, table, picture desk.TracedFile) error {
		return out.Write([]string{textCell(m.Coupon), strconv.Itoa(m.Pull), textCell(m.Spot), m.Condition, m.Quantity,
			number(m.Value), number(m.U), m.Unit(), textCell(m.Method), m.Date,
			strconv.Itoa(m.Replicate), textCell(m.Operator), textCell(m.Note), textCell(table.Name), table.SHA256,
			strconv.Itoa(m.Line), textCell(picture.Name), picture.SHA256})
	})
	if err != nil {
		return err
	}
	out.Flush()
	return out.Error()
}

// textCell writes a text as a cell of a CSV file.
func textCell(s string) string { return study.SheetText(s) }

// number writes a number so that it reads back as the same, empty if it is null.
func number(n study.Num) string { return string(appendNum(nil, n, "")) }
