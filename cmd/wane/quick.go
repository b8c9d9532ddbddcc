package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake"
	"wane/study/intake/source"
	"wane/study/intake/text"
	"wane/study/report"
)

const quickLong = `Read the exports of one spot, fit the film, and print its state, the solar
transmittance, and the film's thickness, porosity and bare fraction, each with
its uncertainty. No study is needed and nothing is stored.

One file is one spot. Of several files say which they are: --one-spot, all curves are
of one spot of one coupon; or --each, every file is a spot of its own, with one row a
file (the key file names it; a figure a file is numbered). Curves of a spot at one
angle and polarisation are repeated scans, if --replicates says so: their scatter is
the noise.

Angles come from column headings such as "30 deg", or from --angle: one value
for all curves, or one for each curve in the order of files and columns. Units
come from the export's own words, or from --unit and --wavelength-unit; they
are never guessed from the size of the numbers. An export that leaves something
open is refused with the flag that settles it; --ask offers the answers on a
terminal, and --explain shows what is seen in a file and why.
` + exitCodes

const quickExample = `  # four angles in the headings, the far face matched to an absorber
  wane quick testdata/exports/g07-patchy.csv --back matched

  # one curve a file, angles in order; a figure beside the table
  wane quick G07-8.csv G07-60.csv --one-spot --angle 8,60 --back matched --figure G07.svg

  # a coupon a file: one row for each
  wane quick testdata/exports/g07-fresh.csv testdata/exports/g07-patchy.csv --each --back matched --format csv

  # is the thickness even within the spot, and which films would these curves miss?
  wane quick testdata/exports/g07-patchy.csv --back matched --ladder

  # what does the reader see in this file, and why?
  wane quick testdata/exports/g07-patchy.csv --explain

  # the pane's far face is bare: its thickness counts; JSON for a program
  wane quick G07.csv --back bare --glass-mm 3.2 --format json`

type quickOptions struct {
	back, glass, mixing, polarisation string
	polarisationStated                bool // by the flag
	angleText                         string
	angles                            []float64 // of angleText
	stated                            text.Stated
	reading                           readingOptions
	profile, save                     string // files of profiles
	glassMM, baselineNM               float64
	texture                           bool
	pins                              []string
	format, figure                    string
	spots                             spotOptions
	method                            methodOptions
	more                              uncertaintyOptions
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
	f.StringVar(&o.back, "back", "", "far face of the glass: matched, blackened, bare or coated (no default)")
	f.StringVar(&o.angleText, "angle", "", "angle of incidence in degrees, one for all curves or one for each")
	f.StringVar(&o.stated.Unit, "unit", "", "unit of the values: fraction or percent")
	f.StringVar(&o.stated.WavelengthUnit, "wavelength-unit", "", "unit of the wavelengths: nm, um or cm-1")
	f.StringVar(&o.stated.Quantity, "quantity", "", "what the values are: R (reflectance)")
	f.StringVar(&o.polarisation, "polarisation", "u", "s, p, u (depolarised, or the mean of s and p) or n (native beam), where headings do not say")
	f.StringVar(&o.glass, "glass", "soda-lime", "soda-lime, low-iron, fused-silica, borosilicate-crown, or a CSV file wavelength_nm,n,k")
	f.Float64Var(&o.glassMM, "glass-mm", 0, "thickness of the glass in mm, needed for --back bare and coated")
	f.StringVar(&o.mixing, "mixing", "bruggeman", "mixing rule: bruggeman, maxwell-garnett, lorentz-lorenz or volume-average")
	f.BoolVar(&o.texture, "texture", false, "rolled (textured) glass: roughness and angle factors are free")
	f.StringArrayVar(&o.pins, "pin", nil, "hold a parameter, NAME=VALUE: thickness (nm), porosity, index, bare or scale; repeatable")
	f.Float64Var(&o.baselineNM, "baseline-thickness", 0, "thickness in nm before exposure, to tell thinned from full")
	o.spots.bind(cmd)
	o.method.bind(cmd)
	o.reading.bind(cmd, &o.stated, "unit", "wavelength-unit", "quantity")
	f.StringVar(&o.profile, "profile", "", "the file of a profile that answers for the exports")
	f.StringVar(&o.save, "save-profile", "", "with --ask: write the answers into this new file, as a profile")
	o.more.bind(cmd)
	f.StringVar(&o.format, "format", "table", "table, json or csv")
	f.StringVar(&o.figure, "figure", "", "also draw the fit into this file, .svg or .png")
	completeWords(cmd, map[string][]string{
		"back": backWords, "unit": {"fraction", "percent"}, "wavelength-unit": {"nm", "um", "cm-1"}, "quantity": {"R"},
		"polarisation": {"s", "p", "u", "n"}, "glass": evaluate.GlassNames(), "mixing": mixingWords, "format": formats,
	})
}

func runQuick(cmd *cobra.Command, o *quickOptions, files []string) error {
	if err := o.reading.check(cmd, o.stated); err != nil {
		return err
	}
	read := exportReader{stated: o.stated, ask: o.reading.asker(cmd)}
	if err := read.open(o.profile); err != nil {
		return err
	}
	if o.reading.explain {
		if len(files) == 0 {
			return usagef("name at least one file", "no export is given")
		}
		return read.explain(cmd.OutOrStdout(), files)
	}
	if o.save != "" && !o.reading.ask {
		return usagef("state --ask too", "--save-profile keeps answers, and nothing is asked without --ask")
	}
	o.polarisationStated = cmd.Flags().Changed("polarisation")
	o.method.uJoinGiven, o.more.levelGiven = cmd.Flags().Changed("u-join"), cmd.Flags().Changed("level")
	job, err := o.job(files)
	if err != nil {
		return err
	}
	spots, err := o.readSpots(&read, files)
	if err != nil {
		return err
	}
	if err := read.save(o.save); err != nil {
		return err
	}
	return o.run(cmd, job, spots)
}

// run fits the spots, and then prints and draws them all: a refusal of any leaves nothing
// on stdout.
func (o *quickOptions) run(cmd *cobra.Command, job *quickJob, spots []*quickSpot) error {
	evaluator, err := evaluate.NewEvaluator(job.setup)
	if err != nil {
		return glassPlace(err, o.glass)
	}
	var out bytes.Buffer
	var figures []*report.Fit
	printer := o.printer(page{&out, pageOf(cmd).screen})
	for _, s := range spots {
		result, verdict, err := evaluator.Spot(cmd.Context(), s.curves, job.pins, job.base)
		if err != nil {
			return spotPlace(err, s.files)
		}
		if o.figure != "" {
			f, err := figureOf(s.spectra, result, verdict)
			if err != nil {
				return err
			}
			figures = append(figures, f)
		}
		if err := printer.print(cmd.Context(), evaluator, s, result, verdict); err != nil {
			return err
		}
	}
	if err := printer.end(); err != nil {
		return err
	}
	for i, f := range figures {
		if err := writeFigure(o.figureFile(i), f, 0); err != nil {
			return err
		}
	}
	if o.format != "table" {
		for _, s := range spots {
			for _, n := range s.notes {
				fmt.Fprintln(cmd.ErrOrStderr(), "note "+study.OneLine(n))
			}
		}
	}
	_, err = out.WriteTo(cmd.OutOrStdout())
	return err
}

// exportReader reads the exports of one spot.
type exportReader struct {
	stated  text.Stated // of all
	profile *intake.Profile
	ask     *asker
	settled text.Stated // what was stated of the last that was read, with the answers given
}

// open reads the profile in a file, if one is named.
func (r *exportReader) open(profile string) error {
	if profile == "" {
		return nil
	}
	data, err := source.ReadFile(profile)
	if err != nil {
		return err
	}
	r.profile, err = intake.ReadProfile(profile, data)
	return err
}

// statedOf returns what is stated of one file.
func (r *exportReader) statedOf(name string) (text.Stated, error) {
	if r.profile == nil {
		return r.stated, nil
	}
	return r.profile.Answer(name, r.stated)
}

// explain prints what is seen in each file.
func (r *exportReader) explain(out io.Writer, files []string) error {
	for i, name := range files {
		seen, err := r.explainOne(name)
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

func (r *exportReader) explainOne(name string) (seen []string, err error) {
	defer study.Catch(name, &err)
	stated, err := r.statedOf(name)
	if err != nil {
		return nil, err
	}
	data, err := source.ReadFile(name)
	if err != nil {
		return nil, err
	}
	return intake.Explain(name, data, stated), nil
}

// save writes what was settled as a profile that answers, into a file that must not be
// there, if one is named.
func (r *exportReader) save(path string) error {
	if path == "" {
		return nil
	}
	name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err == nil {
		_, err = f.WriteString(intake.WithAnswers(name, "", r.settled))
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		return &study.Refusal{File: path, Fault: "could not write the profile", Try: "name a new file in a folder where you may write", Cause: err}
	}
	return nil
}

// all returns the spectra of the files, and what was taken silently but is worth
// telling.
func (r *exportReader) all(files []string) (spectra []study.Spectrum, notes []string, err error) {
	for _, name := range files {
		data, err := source.ReadFile(name)
		if err != nil {
			return nil, nil, err
		}
		if r.settled, err = r.statedOf(name); err != nil {
			return nil, nil, err
		}
		export, err := r.ask.readExport(name, data, &r.settled)
		if err != nil {
			return nil, nil, err
		}
		spectra = append(spectra, export.Spectra...)
		for _, note := range export.Notes {
			notes = append(notes, name+": "+note)
		}
	}
	return spectra, notes, nil
}

// curves gives each spectrum its angle and polarisation.
func (o *quickOptions) curves(spectra []study.Spectrum) ([]film.Curve, error) {
	if n := len(o.angles); n > 1 && n != len(spectra) {
		return nil, usagef("give one angle for all curves, or one for each in the order of files and columns",
			"--angle has %d values, but the files hold %d curves", n, len(spectra))
	}
	curves := make([]film.Curve, len(spectra))
	for i := range spectra {
		s := &spectra[i]
		if s.Quantity != study.Reflectance {
			return nil, &study.Refusal{File: s.File, Fault: fmt.Sprintf("column %d (%s) is transmittance; this needs reflectance", s.Column, s.Heading),
				Try: "give an export of reflectance"}
		}
		if err := o.setAngle(s, i); err != nil {
			return nil, err
		}
		if err := o.setPolarisation(s); err != nil {
			return nil, err
		}
		pol, native, err := evaluate.Beam(s.Polarisation)
		if err != nil {
			return nil, err
		}
		curves[i] = film.Curve{NM: s.NM, R: s.Values, AngleDeg: s.AngleDeg, Pol: pol, Native: native, NoiseSD: o.method.noise}
	}
	return curves, nil
}

// setPolarisation takes the polarisation from the heading, else from the flag.
func (o *quickOptions) setPolarisation(s *study.Spectrum) error {
	switch {
	case s.Polarisation == "", s.Polarisation == "u" && o.polarisation == "n": // a native beam is the more cautious word
		s.Polarisation = o.polarisation
	case o.polarisationStated && s.Polarisation != o.polarisation:
		return &study.Refusal{File: s.File, Fault: fmt.Sprintf("column %d (%q) is stated to be in polarisation %s, but --polarisation says %s", s.Column, s.Heading, s.Polarisation, o.polarisation),
			Try: "leave --polarisation out, or correct it"}
	}
	return nil
}

func (o *quickOptions) setAngle(s *study.Spectrum, i int) error {
	given := math.NaN()
	switch len(o.angles) {
	case 0:
	case 1:
		given = o.angles[0]
	default:
		given = o.angles[i]
	}
	switch {
	case math.IsNaN(s.AngleDeg) && math.IsNaN(given):
		return &study.Refusal{File: s.File, Fault: fmt.Sprintf("the angle of incidence of column %d (%q) is nowhere stated", s.Column, s.Heading),
			Try: "state it, for example --angle 8, or one angle for each curve"}
	case math.IsNaN(given):
	case math.IsNaN(s.AngleDeg):
		s.AngleDeg = given
	case s.AngleDeg != given:
		return &study.Refusal{File: s.File, Fault: fmt.Sprintf("column %d, headed %q, is said to be read at %g degrees, but --angle says %g", s.Column, s.Heading, s.AngleDeg, given),
			Try: "leave --angle out, or correct it; if the header is wrong, state --declared ignore"}
	}
	return nil
}

// spotPlace names the files in a refusal that concerns all curves together.
func spotPlace(err error, files []string) error {
	var r *study.Refusal
	if errors.As(err, &r) && r.File == "" {
		return r.At(strings.Join(files, " "), r.Line)
	}
	return err
}
