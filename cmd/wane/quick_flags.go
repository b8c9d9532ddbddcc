package main

import (
	"errors"
	"fmt"
	"strings"

	"wane/fit/film"
	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
)

// quickJob is the command line understood.
type quickJob struct {
	setup evaluate.Setup
	pins  film.Pins
	base  *evaluate.Baseline
}

// job checks the flags, before any file is read.
func (o *quickOptions) job(files []string) (*quickJob, error) {
	if len(files) == 0 {
		return nil, usagef("name at least one file: wane quick G07.csv --back matched", "no export is given")
	}
	if err := o.spots.check(files); err != nil {
		return nil, err
	}
	if err := o.checkWords(); err != nil {
		return nil, err
	}
	job := &quickJob{}
	if err := o.setUp(job); err != nil {
		return nil, err
	}
	if err := o.method.apply(&job.setup); err != nil {
		return nil, err
	}
	if err := o.more.check(); err != nil {
		return nil, err
	}
	if n := len(o.sections()); n > 1 && o.format != "table" {
		return nil, usagef("ask for one at a time, or for --format table", "--ladder, --intervals, --budget and --influence each have rows of their own, so --format %s can show only one of them", o.format)
	}
	var err error
	if job.pins, err = film.ParsePins(o.pins); err != nil {
		return nil, pinUsage(err)
	}
	if err := job.pins.Check(job.setup.Coating); err != nil {
		return nil, pinUsage(err)
	}
	if o.baselineNM != 0 {
		job.base = &evaluate.Baseline{Thickness: study.Measure{Value: study.Num(o.baselineNM), U: study.Null()}}
	}
	return job, nil
}

func (o *quickOptions) setUp(job *quickJob) error {
	back, err := optics.ParseBack(o.back)
	if err != nil {
		return usagef("state one with --back, for example --back matched", "the far face must be one of %s, not %q", strings.Join(backWords, ", "), o.back)
	}
	if (back == optics.Bare || back == optics.Coated) && o.glassMM == 0 {
		return usagef("give it in mm, for example --glass-mm 3.2", "--back %s needs the thickness of the glass", back)
	}
	mixing, err := optics.ParseMixing(o.mixing)
	if err != nil {
		return usagef("for example --mixing bruggeman", "the mixing rule must be one of %s, not %q", strings.Join(mixingWords, ", "), o.mixing)
	}
	o.glass = study.GlassName(o.glass)
	index, err := loadGlass(o.glass)
	if err != nil {
		return err
	}
	job.setup = evaluate.Setup{Glass: film.Glass{Index: index, UIndex: evaluate.GlassUncertainty(o.glass), ThicknessMM: o.glassMM, Back: back},
		Coating: film.Coating{Mixing: mixing}, Texture: o.texture}
	return nil
}

func (o *quickOptions) checkWords() error {
	for _, w := range []struct {
		flag, value string
		words       []string
	}{
		{"back", o.back, backWords}, {"unit", o.stated.Unit, []string{"", "fraction", "percent"}},
		{"wavelength-unit", o.stated.WavelengthUnit, []string{"", "nm", "um", "cm-1"}}, {"quantity", o.stated.Quantity, []string{"", "R"}},
		{"polarisation", o.polarisation, []string{"s", "p", "u", "n"}}, {"mixing", o.mixing, mixingWords}, {"format", o.format, formats},
	} {
		if err := oneOf(w.flag, w.value, w.words); err != nil {
			return err
		}
	}
	if o.angleText != "" {
		var err error
		if o.angles, err = degrees("angle", o.angleText); err != nil {
			return err
		}
	}
	for _, v := range []struct {
		flag  string
		value float64
		unit  string
		most  float64
	}{{"glass-mm", o.glassMM, "mm", 1000}, {"baseline-thickness", o.baselineNM, "nm", 10000}} {
		if !(v.value >= 0 && v.value <= v.most) {
			return usagef(fmt.Sprintf("give a number of %s up to %g, or leave the flag out", v.unit, v.most), "--%s %g is not a thickness", v.flag, v.value)
		}
	}
	return checkFigure(o.figure)
}

func pinUsage(err error) error {
	var in *film.InputError
	if errors.As(err, &in) {
		return usagef(in.Try, "--pin: %s", in.Fault)
	}
	return err
}
