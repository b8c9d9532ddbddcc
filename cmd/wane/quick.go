package main

import (
	"bytes"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"wane/study"
	"wane/study/desk"
	"wane/study/intake/text"
	"wane/study/report"
)

const quickLong = `Read the exports of one spot, fit the film and print the state of the film, its solar
transmittance, thickness, porosity and bare fraction, each with its uncertainty. You
need no study, and nothing is stored. Thickness, porosity, bare fraction and film index
are those of the equivalent uniform film (wane help model).

One file is one spot. With several files, say how they belong together. --one-spot: all
curves are of one spot of one coupon. --each: each file is a spot of its own, and has
one row; the column file names it, and the figures are numbered. If several curves of a
spot have the same angle and polarisation, state --replicates: they are repeated scans,
and their scatter gives the noise.

The angle is read from column headings such as "30 deg", or given with --angle: one
value for all curves, or one for each curve in the order of files and columns. Units are
read from the export or given with --unit and --wavelength-unit. They are never guessed
from the size of the numbers. Curves may be of transmittance, alone or beside reflectance
of the same spot, where headings or --quantity T say so; the pane then needs --back bare
or coated. What film and residue absorb is fitted from it and subtracted; with
reflectance alone the film counts as lossless (wane help transmittance). If an export leaves a question open, it is refused, and
the message names the flag that answers the question. --ask asks you on the terminal.
--explain shows what is found in a file and why it is read so.

On a terminal the measured and fitted curves are drawn in characters below the table; see --plot.
--curves writes them as numbers.
` + exitCodes

const quickExample = `  # four angles in the headings, the far face matched to an absorber
  wane quick testdata/exports/g07-patchy.csv --back matched

  # one curve a file, angles in order; a figure beside the table
  wane quick G07-8.csv G07-60.csv --one-spot --angle 8,60 --back matched --figure G07.svg

  # a coupon a file: one row for each
  wane quick testdata/exports/g07-fresh.csv testdata/exports/g07-patchy.csv --each --back matched --format csv

  # what do the curves show of gradients, skins and uneven thickness, and which films would these curves miss?
  wane quick testdata/exports/g07-patchy.csv --back matched --structures

  # what does the reader see in this file, and why?
  wane quick testdata/exports/g07-patchy.csv --explain

  # the pane's far face is bare: its thickness counts; JSON for a program
  wane quick G07.csv --back bare --glass-mm 3.2 --format json`

type quickOptions struct {
	pane          paneOptions
	angleText     string
	polarisation  string
	stated        text.Stated
	reading       readingOptions
	profile, save string // files of profiles
	pins          []string
	format        string
	figure        string
	curves        string
	plot          bool
	method        methodOptions
	of            desk.QuickOptions
}

func newQuickCommand() *cobra.Command {
	o := &quickOptions{}
	cmd := &cobra.Command{
		Use:     "quick FILE...",
		Short:   "fit the exports of a spot, or of several, without a study",
		Long:    quickLong,
		Example: quickExample,
		RunE:    func(cmd *cobra.Command, args []string) error { return runQuick(cmd, o, args) },
	}
	o.bind(cmd)
	return cmd
}

func (o *quickOptions) bind(cmd *cobra.Command) {
	f := cmd.Flags()
	o.pane.bind(cmd)
	f.StringVar(&o.angleText, "angle", "",
		"angle of incidence in degrees: one for all curves, or one for each, with commas")
	f.StringVar(&o.polarisation, "polarisation", "u",
		"s, p, u (depolarised, or the mean of s and p) or n (native beam); used where a heading does not say it")
	f.BoolVar(&o.of.Texture, "texture", false,
		"rolled (textured) glass: also fit the roughness and a factor for each angle")
	f.StringVar(&o.of.Geometry, "geometry", study.SpecularGeometry,
		"what light the readings contain: specular, total_included (by a sphere) or mixed (see wane help sessions)")
	f.Float64Var(&o.of.HalfAngle, "half-angle-deg", 0,
		"for --geometry mixed: the half-angle in degrees from the mirror direction within which light is collected")
	f.StringArrayVar(&o.pins, "pin", nil,
		"fix a parameter, NAME=VALUE: thickness (nm), porosity, index, bare or scale; repeatable")
	f.Float64Var(&o.of.BaselineNM, "baseline-thickness", 0,
		"thickness in nm before exposure: needed to distinguish thinned from full")
	f.BoolVar(&o.of.OneSpot, "one-spot", false, "all curves of all files are of one spot of one coupon")
	f.BoolVar(&o.of.Each, "each", false, "each file is a spot of its own: one row a file, named by the key file")
	f.BoolVar(&o.of.Replicates, "replicates", false, "curves of a spot at one angle and polarisation are repeated scans")
	o.method.bind(cmd, &o.of)
	o.reading.bind(cmd, &o.stated)
	f.StringVar(&o.profile, "profile", "", "a profile, as a file, that answers open questions about the exports")
	f.StringVar(&o.save, "save-profile", "", "with --ask: write your answers as a profile into this new file")
	bindUncertainty(cmd, &o.of)
	f.StringVar(&o.format, "format", "table", "table, json or csv")
	f.StringVar(&o.figure, "figure", "", "draw the fit into this file, .svg, .png or .pdf")
	f.StringVar(&o.curves, "curves", "",
		"write measured and fitted curves, band and residual as CSV into this file, one row for each point")
	f.BoolVar(&o.plot, "plot", false,
		"draw the curves in characters below the table, as on a terminal; --plot=false draws none")
	completeWords(cmd, map[string][]string{"polarisation": polarisationWords, "format": formats,
		"geometry": study.Geometries()})
}

func runQuick(cmd *cobra.Command, o *quickOptions, files []string) error {
	if err := o.reading.check(cmd, o.stated); err != nil {
		return err
	}
	ask := o.reading.asker(cmd)
	read := &desk.ExportReader{Stated: o.stated, Ask: ask.settle}
	if o.profile != "" {
		var err error
		if read.Profile, err = desk.ReadProfile(o.profile); err != nil {
			return err
		}
	}
	if o.reading.explain {
		return explainExports(cmd.OutOrStdout(), read, files)
	}
	if o.save != "" && !o.reading.ask {
		return usagef("add --ask", "--save-profile keeps answers, but without --ask nothing is asked")
	}
	if err := o.parse(cmd); err != nil {
		return err
	}
	quick, err := desk.NewQuick(files, o.of)
	if err != nil {
		return err
	}
	spots, err := quick.Read(read, ask.angles)
	if err != nil {
		return err
	}
	if o.save != "" {
		if err := read.SaveAnswers(o.save); err != nil {
			return err
		}
	}
	return o.run(cmd, quick, spots)
}

// run fits the spots, and then prints and draws them all: a refusal of any leaves nothing
// on stdout.
func (o *quickOptions) run(cmd *cobra.Command, quick *desk.Quick, spots []*desk.QuickSpot) error {
	var out bytes.Buffer
	var figures []*report.Fit
	printer := o.printer(page{&out, pageOf(cmd).screen})
	var curves bytes.Buffer
	points := newCurveRows(&curves, "file")
	for _, s := range spots {
		fit, err := quick.Fit(cmd.Context(), s)
		if err != nil {
			return err
		}
		if o.figure != "" {
			f, err := figureOf(s.Spectra, fit.Result, fit.Verdict)
			if err != nil {
				return err
			}
			figures = append(figures, f)
		}
		if err := printer.print(cmd.Context(), s, fit); err != nil {
			return err
		}
		if err := o.addCurves(cmd, page{&out, pageOf(cmd).screen}, points, s, fit); err != nil {
			return err
		}
	}
	if err := printer.end(); err != nil {
		return err
	}
	if err := o.writeCurves(cmd, points, &curves); err != nil {
		return err
	}
	for i, f := range figures {
		if err := writeFigure(o.figureFile(i), f, 0); err != nil {
			return err
		}
		if err := noteWritten(cmd, o.figureFile(i)); err != nil {
			return err
		}
	}
	if o.format != "table" {
		for _, s := range spots {
			for _, n := range s.Notes {
				fmt.Fprintln(cmd.ErrOrStderr(), "note "+study.OneLine(n))
			}
		}
	}
	_, err := out.WriteTo(cmd.OutOrStdout())
	return err
}

// explainExports prints what is seen in each file.
func explainExports(out io.Writer, read *desk.ExportReader, files []string) error {
	if len(files) == 0 {
		return usagef("name at least one file", "no export is given")
	}
	for i, name := range files {
		seen, err := read.Explain(name)
		if err != nil {
			return err
		}
		if i > 0 {
			fmt.Fprintln(out)
		}
		fmt.Fprintln(out, study.Shown(name))
		for _, line := range seen {
			if err := printLine(out, "  %s", line); err != nil {
				return err
			}
		}
	}
	return nil
}
