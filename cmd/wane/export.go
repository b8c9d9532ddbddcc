package main

import (
	"bufio"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strconv"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
)

const exportLong = `Write out what the study contains, in open formats. State one of these:

  --originals DIR  the files that the study keeps (exports, maps, rosters, tables of
                   measurements, pictures), byte for byte under their names, into a new or
                   empty folder.
                   The file SHA256SUMS is written last; sha256sum -c SHA256SUMS checks the
                   files. If the command was killed, run it again: it goes on.
  --spectra        the spectra as CSV, one row for each point
  --measurements   what other instruments measured, as CSV

All spectra are read before the first row is printed, so that a damaged study is refused.
If the study or the disk fails after that, the output ends early, with exit code 1.

NAME is the name of a file as it was taken in, or at least eight digits of its SHA-256. Then
only these files, or what came from them, are written. For the results use wane results
--format csv, for the history wane log, and for a copy of everything wane backup.
` + exitCodes

type exportOptions struct {
	study                 studyOptions
	originals             string
	spectra, measurements bool
}

func newExportCommand() *cobra.Command {
	o := &exportOptions{}
	cmd := &cobra.Command{
		Use: "export [NAME...]", Short: "originals, spectra and measurements out", Long: exportLong,
		Example: "  wane export --originals originals\n  wane export --spectra > points.csv\n" +
			"  wane export --originals one A01-pull1.csv",
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return runExport(cmd, o, args) },
	}
	o.study.bind(cmd)
	f := cmd.Flags()
	f.StringVar(&o.originals, "originals", "", "write the files that the study keeps into this folder")
	f.BoolVar(&o.spectra, "spectra", false, "print the spectra as CSV, one row for each point")
	f.BoolVar(&o.measurements, "measurements", false, "print what other instruments measured as CSV")
	return cmd
}

func runExport(cmd *cobra.Command, o *exportOptions, names []string) error {
	asked := 0
	for _, flag := range []string{"originals", "spectra", "measurements"} {
		if cmd.Flags().Changed(flag) {
			asked++
		}
	}
	if asked != 1 || o.originals == "" && !o.spectra && !o.measurements {
		return usagef("state one: --originals DIR, --spectra or --measurements",
			"wane export needs exactly one of --originals, --spectra and --measurements")
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
		for _, n := range out.Notes {
			if err := printLine(cmd.ErrOrStderr(), "note %s", n); err != nil {
				return err
			}
		}
		return printLine(w, "wrote %s (%d bytes) and SHA256SUMS into %s", count(out.Files, "file"), out.Bytes,
			study.Shown(o.originals))
	})
}

// exportSpectra prints one row for each point, as it is stored. All spectra are read once
// before the first row is printed, which is not kept until the last: the points of a study
// may be twenty times as many bytes as the study.
func exportSpectra(cmd *cobra.Command, d *desk.Desk, w io.Writer, names []string) error {
	buffered := bufio.NewWriterSize(w, 1<<16)
	out := csv.NewWriter(buffered)
	header := []string{"coupon", "pull", "spot", "condition", "angle_deg", "polarisation", "quantity", "replicate",
		"session", "operator", "geometry",
		"orientation_deg", "export", "export_sha256", "column", "wavelength_nm", "value", "standing", "mounting",
		"half_angle_deg"}
	nmAt := slices.Index(header, "wavelength_nm")
	if err := out.Write(header); err != nil {
		return err
	}
	var nm, value []byte
	err := d.Spectra(cmd.Context(), names, func(r *study.Reading, standing study.Standing, from desk.TracedFile) error {
		if err := errors.Join(cmd.Context().Err(), letPass(w)); err != nil {
			return err
		}
		row := []string{textCell(r.Coupon), strconv.Itoa(r.Pull), textCell(r.Spot), r.Condition,
			number(study.Num(r.AngleDeg)), r.Polarisation, string(r.Quantity), strconv.Itoa(r.Replicate),
			textCell(r.Session), textCell(r.Operator), textCell(r.Geometry), number(r.OrientationDeg), textCell(from.Name),
			from.SHA256, strconv.Itoa(r.Column), "", "", standing.Words(),
			strconv.Itoa(max(1, r.Mounting)), stated(r.HalfAngleDeg)}
		for i := range r.NM {
			nm, value = appendNum(nm[:0], study.Num(r.NM[i]), ""), appendNum(value[:0], study.Num(r.Values[i]), "")
			row[nmAt], row[nmAt+1] = string(nm), string(value)
			if err := out.Write(row); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	out.Flush()
	if err := out.Error(); err != nil {
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

// stated writes a number that may be stated, empty where it is not.
func stated(s study.Stated) string {
	if !s.Is {
		return ""
	}
	return number(study.Num(s.Value))
}
