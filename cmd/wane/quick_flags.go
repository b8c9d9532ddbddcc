package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
)

// paneOptions are the flags that say what the film lies on.
type paneOptions struct {
	back, glass, mixing string
	returned            string // file of a return spectrum
	glassMM             float64
}

func (o *paneOptions) bind(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.back, "back", "", "far face of the glass: matched, blackened, bare, coated or laminated (no default)")
	f.StringVar(&o.glass, "glass", "soda-lime",
		"soda-lime, low-iron, fused-silica, borosilicate-crown, a CSV file wavelength_nm,n,k, or a formula: "+
			"cauchy:A,B,C or sellmeier:B1,C1,... with wavelengths in µm (see wane help rosters)")
	f.Float64Var(&o.glassMM, "glass-mm", 0, "thickness of the glass in mm, needed for --back bare and coated")
	f.StringVar(&o.returned, "return-spectrum", "",
		"for --back laminated: a CSV file wavelength_nm,return with the share of light that comes back from the laminate")
	f.StringVar(&o.mixing, "mixing", "bruggeman",
		"mixing rule: bruggeman, maxwell-garnett, lorentz-lorenz or volume-average")
	completeWords(cmd, map[string][]string{"back": backWords, "glass": evaluate.GlassNames(), "mixing": mixingWords})
}

// parse reads the words of the flags.
func (o *paneOptions) parse() (pane desk.Pane, err error) {
	if err := oneOf("back", o.back, backWords); err != nil {
		return pane, err
	}
	if err := oneOf("mixing", o.mixing, mixingWords); err != nil {
		return pane, err
	}
	o.glass = study.GlassName(o.glass) // as it is named now
	pane.Glass, pane.GlassMM, pane.Return = o.glass, o.glassMM, o.returned
	if pane.Back, err = optics.ParseBack(o.back); err != nil {
		return pane, err
	}
	pane.Mixing, err = optics.ParseMixing(o.mixing)
	return pane, err
}

// farFace says in words what the far face is.
func (o *paneOptions) farFace() string {
	switch o.back {
	case "matched":
		return "matched to an absorber (taken to return next to no light)"
	case "blackened":
		return "blackened (paint of index 1.50)"
	case "laminated":
		return "laminated (returns what " + study.Shown(o.returned) + " says)"
	}
	return fmt.Sprintf("%s, pane %g mm thick", o.back, o.glassMM)
}

// parse reads the words and numbers of the flags, before any file is read.
func (o *quickOptions) parse(cmd *cobra.Command) (err error) {
	if o.of.Pane, err = o.pane.parse(); err != nil {
		return err
	}
	if err := oneOf("polarisation", o.polarisation, polarisationWords); err != nil {
		return err
	}
	if err := oneOf("format", o.format, formats); err != nil {
		return err
	}
	if err := oneOf("geometry", o.of.Geometry, study.Geometries()); err != nil {
		return err
	}
	if cmd.Flags().Changed("polarisation") {
		o.of.Polarisation = o.polarisation
	}
	if o.angleText != "" {
		if o.of.AnglesDeg, err = degrees("angle", o.angleText); err != nil {
			return err
		}
	}
	if err := checkFigure(o.figure); err != nil {
		return err
	}
	if err := o.method.parse(cmd, &o.of); err != nil {
		return err
	}
	if err := checkUncertainty(cmd, &o.of); err != nil {
		return err
	}
	if n := len(o.sections()); n > 1 && o.format != "table" {
		return usagef("ask for one of them, or use --format table",
			"--structures, --intervals, --budget and --influence each have rows of their own, so --format %s can show only one "+
				"of them", o.format)
	}
	o.of.Pins, err = film.ParsePins(o.pins)
	var bad *film.InputError
	if errors.As(err, &bad) {
		return usagef(bad.Try, "--pin: %s", bad.Fault)
	}
	return err
}
