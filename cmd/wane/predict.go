package main

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/optics/colour"
	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
	"wane/study/report"
	"wane/study/shown"
)

const predictLong = `Compute what a film would show, without any reading: its solar transmittance and gain, its
colour, and its spectrum at any angles. State the film, the glass and the instrument as for
wane quick. --spectrum prints the spectrum as CSV, --out writes it into a file, and
--figure draws it.

--from COUPON --pull N starts from the fit of a spot of the study: its film, glass and
instrument, with their uncertainty. Without --angles the curves are those that were read,
as its session reads them. The flags of the film then state single values anew.

--vary thickness=90-140 --step 5 predicts one film for each value; with several --vary,
one for each combination. A step belongs to the --vary in the same place.

solar_T, cell_T and gain are of the front surface, at the angle of the row, and of
unpolarised light. The colour is that of the curve: with what the far face returns, in the
stated polarisation, under --light, seen by the CIE 1931 observer, relative to a perfect
white sheet. Values of a stated film have no uncertainty: they are as right as the model.
--transmittance makes spectrum and figure those of the light that the whole pane lets through,
where its far face is bare or coated. Nothing else changes.
` + exitCodes

const predictExample = `  # a full film near the normal and at 60 degrees
  wane predict --thickness 118 --porosity 0.36 --back matched --angles 8,60

  # its spectrum for a program, and as a figure
  wane predict --thickness 118 --porosity 0.36 --back matched --angles 8 --out film.csv --figure film.svg

  # how do gain and colour change while it becomes thinner?
  wane predict --vary thickness=90-140 --step 5 --porosity 0.36 --back matched --format csv

  # what would coupon A01 show at 75 degrees, and with half of its film gone?
  wane predict --from A01 --pull 2 --spot 1 --angles 75 --bare 0.5`

type predictOptions struct {
	study                 studyOptions
	pane                  paneOptions
	anglesText, rangeText string
	from, spot, condition string
	pull                  int
	light                 string
	absorbing             bool   // what the film of the fit absorbs was measured
	fitOf                 string // what the fit is of, in words; empty: there is none
	vary                  []string
	steps                 []float64
	spectrum              bool
	out, figure, format   string
	of                    desk.PredictOptions
}

func newPredictCommand() *cobra.Command {
	o := &predictOptions{}
	o.of.Film = film.NoSample()
	cmd := &cobra.Command{
		Use: "predict", Short: "solar transmittance, colour and spectrum of films that are stated",
		Long: predictLong, Example: predictExample,
		Args: exactly(0, "use flags: see wane predict --help"),
		RunE: func(cmd *cobra.Command, _ []string) error { return runPredict(cmd, o) },
	}
	o.bind(cmd)
	return cmd
}

// numberFlag is a number that need not be given.
type numberFlag struct{ to *float64 }

func (n numberFlag) String() string {
	if n.to == nil || math.IsNaN(*n.to) {
		return ""
	}
	return strconv.FormatFloat(*n.to, 'g', -1, 64)
}

// Set implements pflag.Value.
func (n numberFlag) Set(text string) error {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return fmt.Errorf("%q is not a number", text)
	}
	*n.to = v
	return nil
}

// Type implements pflag.Value.
func (numberFlag) Type() string { return "float" }

func (o *predictOptions) bind(cmd *cobra.Command) {
	o.study.bind(cmd)
	f, s, v := cmd.Flags(), &o.of.Film, &o.of.View
	f.Var(numberFlag{&s.ThicknessNM}, "thickness", "thickness of the film in nm (no default)")
	f.Var(numberFlag{&s.Porosity}, "porosity", "porosity of the film, 0 to 0.9 (no default)")
	f.Var(numberFlag{&s.Bare}, "bare", "bare fraction, 0 to 1")
	f.Var(numberFlag{&s.Gradient}, "gradient",
		"structure: half the difference of the porosity between the bottom of the film and its top")
	f.Var(numberFlag{&s.SkinNM}, "skin", "structure: thickness in nm of a dense skin on the film")
	f.Var(numberFlag{&s.SpreadNM}, "spread", "structure: standard deviation in nm of the thickness within the spot")
	f.Var(numberFlag{&s.RoughNM}, "roughness", "rolled (textured) glass: rms roughness in nm of its facets, all of which are seen")
	o.pane.bind(cmd)
	f.Float64Var(&o.of.Instrument.ConeDeg, "cone-deg", 0, "half-angle of the cone of the beam, in degrees")
	f.Float64Var(&o.of.Instrument.SlitNM, "slit-nm", 0, "spectral width of the slit at half maximum, in nm")
	f.StringVar(&o.anglesText, "angles", "0", "angles of incidence in degrees, separated by commas")
	f.StringVar(&v.Polarisation, "polarisation", "u", "s, p, u (depolarised, or the mean of s and p) or n (native beam)")
	f.StringVar(&o.rangeText, "range", "380-1100", "range of the wavelengths of the spectrum, in nm")
	f.Float64Var(&v.StepNM, "step-nm", 2, "step of the wavelengths, in nm")
	f.BoolVar(&v.Through, "transmittance", false, "spectrum and figure are of the transmittance of the pane")
	f.StringVar(&o.light, "light", colour.D65.String(),
		"light that the colour is seen under: "+strings.Join(shown.LightWords(), ", "))
	f.StringVar(&o.from, "from", "", "start from the fit of this coupon of the study")
	f.IntVar(&o.pull, "pull", 0, "with --from: at this pull")
	f.StringVar(&o.spot, "spot", "", "with --from: of this spot, where there are several")
	f.StringVar(&o.condition, "condition", "", "with --from: in this condition, where there are several")
	f.StringArrayVar(&o.vary, "vary", nil, "one film for each value, NAME=LO-HI: "+
		strings.Join(desk.VariedNames(), ", ")+"; repeatable")
	f.Float64SliceVar(&o.steps, "step", nil, "the step of --vary; repeatable")
	f.IntVar(&o.of.Workers, "workers", 0, "how many films are predicted at once, 0: one on each core; no digit depends on it")
	f.BoolVar(&o.spectrum, "spectrum", false, "print the spectrum as CSV instead of solar values and colour")
	f.StringVar(&o.out, "out", "", "write the spectrum as CSV into this file")
	f.StringVar(&o.figure, "figure", "", "draw the spectrum into this file, .svg, .png or .pdf")
	f.StringVar(&o.format, "format", "table", "table, json or csv")
	o.study.completeFlag(cmd, "from", func(c *desk.Codes) []string { return c.Coupons })
	completeWords(cmd, map[string][]string{"polarisation": polarisationWords, "format": formats, "light": shown.LightWords(),
		"condition": study.Conditions()})
}

// paneFlags are those that --from has from the study.
var paneFlags = []string{"back", "glass", "glass-mm", "return-spectrum", "mixing", "cone-deg", "slit-nm"}

// parse reads the words and numbers of the flags.
func (o *predictOptions) parse(cmd *cobra.Command) (err error) {
	given := cmd.Flags().Changed
	if err := oneOf("format", o.format, formats); err != nil {
		return err
	}
	if err := oneOf("polarisation", o.of.View.Polarisation, polarisationWords); err != nil {
		return err
	}
	if err := oneOf("light", o.light, shown.LightWords()); err != nil {
		return err
	}
	if o.of.View.Light, err = evaluate.ParseLight(o.light); err != nil {
		return err
	}
	if o.from == "" || given("angles") {
		if o.of.View.AnglesDeg, err = degrees("angles", o.anglesText); err != nil {
			return err
		}
	}
	var ok bool
	if o.of.View.LoNM, o.of.View.HiNM, ok = parseRange(o.rangeText); !ok {
		return usagef("write the shortest and the longest wavelength in nm, for example --range 380-1100",
			"--range: %q is not of the form LO-HI", o.rangeText)
	}
	if err := checkFigure(o.figure); err != nil {
		return err
	}
	if err := o.parseVary(cmd); err != nil {
		return err
	}
	o.of.WithSpectra = o.spectrum || o.out != "" || o.figure != ""
	if o.of.WithSpectra && len(o.vary) > 0 {
		return usagef("leave --vary out, or list the films with --format csv",
			"--spectrum, --out and --figure are of one film, and --vary asks for several")
	}
	if o.of.View.Through && !o.of.WithSpectra {
		return usagef("add --spectrum, --out FILE or --figure FILE", "--transmittance is of the spectrum, and none is asked for")
	}
	if err := o.parseFrom(cmd); err != nil || !o.of.View.Through {
		return err
	}
	return o.checkThrough(cmd)
}

// checkThrough refuses what a transmittance does not go with.
func (o *predictOptions) checkThrough(cmd *cobra.Command) error {
	if cmd.Flags().Changed("roughness") {
		return usagef("leave one of them out", "--transmittance is not known of rough glass: it scatters light past the detector")
	}
	if g := (film.Glass{Back: o.of.Pane.Back}); o.from == "" && !g.LetsThrough() {
		return usagef("state --back bare or --back coated, with --glass-mm",
			"--transmittance is of a whole pane, and a %s far face lets no light out", o.pane.back)
	}
	return nil
}

// parseFrom reads where the film comes from.
func (o *predictOptions) parseFrom(cmd *cobra.Command) (err error) {
	given := cmd.Flags().Changed
	if o.from != "" {
		if !given("pull") {
			return usagef("add the pull: --from "+o.from+" --pull 0", "--from needs --pull")
		}
		if given("roughness") {
			return usagef("leave it out", "--roughness is of a film that is stated: the spots of a study are of smooth glass")
		}
		for _, flag := range paneFlags {
			if given(flag) {
				return usagef("leave it out", "--%s is that of the coupon, which --from names", flag)
			}
		}
		if len(o.of.View.AnglesDeg) == 0 {
			for _, flag := range []string{"polarisation", "range", "step-nm"} {
				if given(flag) {
					return usagef("add --angles, or leave it out",
						"--%s is for --angles: without them the curves are those that were read", flag)
				}
			}
		}
		return nil
	}
	if err := noFlags(cmd, "from", "pull", "spot", "condition", "study"); err != nil {
		return err
	}
	if o.of.Pane, err = o.pane.parse(); err != nil {
		return err
	}
	for _, flag := range []string{"thickness", "porosity"} {
		if o.of.Film.Bare != 1 && !given(flag) && !o.varies(flag) {
			return usagef("describe the film: --thickness 118 --porosity 0.36; or start from a fit: --from A01 --pull 0",
				"--%s is not given; it has no default", flag)
		}
	}
	if err := fraction("porosity", o.of.Film.Porosity); err != nil {
		return err
	}
	return fraction("bare", o.of.Film.Bare)
}

// varies reports whether a parameter is varied.
func (o *predictOptions) varies(name string) bool {
	for _, v := range o.of.Vary {
		if v.Name == name {
			return true
		}
	}
	return false
}

// parseVary reads what runs over a range.
func (o *predictOptions) parseVary(cmd *cobra.Command) error {
	if len(o.steps) != len(o.vary) {
		return usagef("give one --step for each --vary: --vary thickness=90-140 --step 5",
			"there are %d --vary and %d --step", len(o.vary), len(o.steps))
	}
	for i, text := range o.vary {
		name, span, _ := strings.Cut(text, "=")
		if err := oneOf("vary", name, desk.VariedNames()); err != nil {
			return err
		}
		lo, hi, ok := parseRange(span)
		if !ok {
			return usagef("write for example --vary thickness=90-140", "--vary: %q is not of the form NAME=LO-HI", text)
		}
		if cmd.Flags().Changed(name) || o.varies(name) {
			return usagef("state it once", "--vary: %s is stated twice", name)
		}
		o.of.Vary = append(o.of.Vary, desk.Varied{Name: name, Lo: lo, Hi: hi, Step: o.steps[i]})
	}
	return nil
}

func runPredict(cmd *cobra.Command, o *predictOptions) error {
	if err := o.parse(cmd); err != nil {
		return err
	}
	if o.from == "" {
		return o.predict(cmd, nil, nil, study.Stamp{Made: time.Now()})
	}
	return o.study.reading(cmd.Context(), func(d *desk.Desk) error {
		fit, stamp, err := o.fitted(cmd, d)
		if err != nil {
			return err
		}
		return o.predict(cmd, d, fit, stamp)
	})
}

// fitted returns the fit that --from names, and notes what it is of.
func (o *predictOptions) fitted(cmd *cobra.Command, d *desk.Desk) (*evaluate.Fitted, study.Stamp, error) {
	stamp, err := d.Stamp(cmd.Context(), 0)
	if err != nil {
		return nil, stamp, err
	}
	fit, row, err := d.Fitted(cmd.Context(), o.from, o.pull, o.spot, o.condition)
	if err != nil {
		return nil, stamp, err
	}
	o.absorbing = !row.IsLossless()
	o.fitOf = fmt.Sprintf("coupon %s, pull %g, spot %s", row.Coupon, float64(row.Pull), row.Spot)
	return fit, stamp, nil
}

// predict prints and draws; d and fit are nil without a study.
func (o *predictOptions) predict(cmd *cobra.Command, d *desk.Desk, fit *evaluate.Fitted, stamp study.Stamp) error {
	var out bytes.Buffer
	rows := o.newRows(page{&out, pageOf(cmd).screen})
	var spectra []evaluate.Spectrum
	bar := newProgress(cmd, "films predicted")
	total, done := o.of.Count(), 0
	err := desk.Predict(cmd.Context(), &o.of, fit, func(f *evaluate.Forecast, s []evaluate.Spectrum) error {
		spectra = s
		if done++; done%100 == 0 {
			bar.to(done, total)
		}
		return rows.write(f)
	})
	bar.end()
	if err != nil {
		return err
	}
	if err := rows.end(); err != nil {
		return err
	}
	if o.out != "" {
		var csv bytes.Buffer
		if err := o.writeSpectra(&csv, spectra); err != nil {
			return err
		}
		if err := desk.WriteFile(o.out, 0, csv.Bytes()); err != nil {
			return err
		}
		if err := noteWritten(cmd, o.out); err != nil {
			return err
		}
	}
	if o.figure != "" {
		if err := o.draw(cmd, d, spectra, stamp); err != nil {
			return err
		}
	}
	if o.spectrum {
		return o.writeSpectra(cmd.OutOrStdout(), spectra)
	}
	_, err = out.WriteTo(cmd.OutOrStdout())
	return err
}

// writeSpectra prints one row for each point. lower and upper are the ends of the 95 % band, empty where nothing is
// uncertain.
func (o *predictOptions) writeSpectra(w io.Writer, spectra []evaluate.Spectrum) error {
	out := newRecords(w, "csv", []string{"wavelength_nm", "angle_deg", "polarisation", o.quantity(), "lower", "upper"})
	for i := range spectra {
		s := &spectra[i]
		for k, nm := range s.NM {
			lower, upper := study.Null(), study.Null()
			if s.Band != nil {
				lower, upper = study.Num(s.Values[k]-s.Band[k]), study.Num(s.Values[k]+s.Band[k])
			}
			if err := out.Write(nm, s.AngleDeg, s.Polarisation, s.Values[k], orNil(lower), orNil(upper)); err != nil {
				return err
			}
		}
	}
	return out.Close()
}

// quantity is what the spectra are of.
func (o *predictOptions) quantity() string {
	if o.of.View.Through {
		return "transmittance"
	}
	return "reflectance"
}

// draw draws the spectra.
func (o *predictOptions) draw(cmd *cobra.Command, d *desk.Desk, spectra []evaluate.Spectrum, stamp study.Stamp) error {
	f := &report.Predicted{Quantity: o.quantity(), Stamp: stamp, Caption: []string{o.said()}}
	for _, s := range spectra {
		f.Curves = append(f.Curves, report.PredictedCurve{NM: s.NM, Values: s.Values, Band: s.Band, AngleDeg: s.AngleDeg,
			Polarisation: s.Polarisation})
	}
	if d != nil {
		return drawFigure(cmd, d, o.figure, f)
	}
	if err := writeFigure(o.figure, f, 0); err != nil {
		return err
	}
	return noteWritten(cmd, o.figure)
}
