package main

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit"
	"wane/fit/film"
	"wane/study"
	"wane/study/desk"
)

// methodOptions are the flags that say how curves are fitted and what instrument
// they come from, as far as their words have to be read.
type methodOptions struct {
	loss, joins string
	masks       []string
}

var lossWords = []string{"squares", "soft-l1", "huber"}

func (o *methodOptions) bind(cmd *cobra.Command, of *desk.QuickOptions) {
	f := cmd.Flags()
	f.BoolVar(&of.Structures, "structures", false,
		"also fit the film with one structure at a time, and show what the curves say of it: film+gradient, film+skin, "+
			"film+variance; no other value changes")
	f.BoolVar(&of.Structures, "ladder", false, "the former name of --structures")
	f.Lookup("ladder").Hidden = true
	f.StringVar(&o.loss, "loss", lossWords[0], "how much points far from the model count: squares, soft-l1 or huber")
	f.StringArrayVar(&o.masks, "mask", nil, "do not use a range of wavelengths, LO-HI in nm; repeatable")
	f.Float64Var(&of.NoiseSD, "noise", 0,
		"standard deviation of one point, as a fraction; without the flag it is estimated from the readings")
	f.Float64Var(&of.Instrument.ConeDeg, "cone-deg", 0, "half-angle of the cone of the beam, in degrees")
	f.Float64Var(&of.Instrument.SlitNM, "slit-nm", 0, "spectral width of the slit at half maximum, in nm")
	f.StringVar(&o.joins, "join-nm", "", "wavelengths in nm where another detector takes over, separated by commas")
	f.Float64Var(&of.Instrument.UJoin, "u-join", 0.001,
		"standard uncertainty of the step at each --join-nm, as a fraction")
	completeWords(cmd, map[string][]string{"loss": lossWords})
}

// parse reads the words of the flags.
func (o *methodOptions) parse(cmd *cobra.Command, of *desk.QuickOptions) (err error) {
	if of.Loss, err = fit.ParseLoss(o.loss); err != nil {
		return usagef("write for example --loss huber", "--loss must be one of %s, not %q", strings.Join(lossWords, ", "),
			o.loss)
	}
	for _, text := range o.masks {
		lo, hi, ok := parseRange(text)
		if !ok || lo > hi {
			return usagef("write the shorter and the longer wavelength in nm, for example --mask 850-870",
				"--mask: %q is not of the form LO-HI", text)
		}
		of.Masks = append(of.Masks, film.Window{LoNM: lo, HiNM: hi})
	}
	if o.joins == "" {
		if cmd.Flags().Changed("u-join") {
			return usagef("say where another detector takes over, for example --join-nm 860, or leave it out",
				"--u-join is for --join-nm, which is not given")
		}
		return nil
	}
	for _, word := range strings.Split(o.joins, ",") {
		nm, err := strconv.ParseFloat(strings.TrimSpace(word), 64)
		if err != nil {
			return usagef("write wavelengths separated by commas, for example --join-nm 860", "--join-nm: %q is not a number",
				word)
		}
		of.Instrument.JoinsNM = append(of.Instrument.JoinsNM, nm)
	}
	return nil
}

// parseRange reads LO-HI.
func parseRange(text string) (lo, hi float64, ok bool) {
	first, second, ok := strings.Cut(text, "-")
	lo, errLo := strconv.ParseFloat(strings.TrimSpace(first), 64)
	hi, errHi := strconv.ParseFloat(strings.TrimSpace(second), 64)
	return lo, hi, ok && errLo == nil && errHi == nil && !math.IsNaN(lo) && !math.IsNaN(hi)
}

// structuresSection shows the structures fitted. The detection limit is one of the curves; every row for a program
// repeats it.
var structuresSection = section{
	columns: []string{"model", "chosen", "separable", "free_parameters", "points", "effective_points", "reduced_chi2",
		"likelihood_ratio", "delta_aicc", "detection_limit_nm", "size", "u_size", "size_unit"},
	rows: func(ctx context.Context, f *desk.QuickFit, write func(...any) error) error {
		found, err := f.Structures(ctx)
		if err != nil {
			return err
		}
		for i := range found.Rungs {
			r := &found.Rungs[i]
			err := write(r.Model, r.Chosen, r.Separable, r.Free, f.Verdict.Points, f.Verdict.EffectivePoints, r.ReducedChi2,
				orNil(study.Num(r.LikelihoodRatio)), orNil(study.Num(r.AboveLowestAICc)), orNil(found.DetectionLimitNM),
				orNil(study.Num(r.Size.Value)), orNil(study.Num(r.Size.U)), orEmpty(sizeWords[r.Model].unit))
			if err != nil {
				return err
			}
		}
		return nil
	},
	table: func(ctx context.Context, p page, f *desk.QuickFit) error {
		found, err := f.Structures(ctx)
		if err != nil {
			return err
		}
		return structuresTable(p, f.Verdict, found)
	},
}

// sizeWords are the words for the size of a structure, by its model, and its unit for programs and for people.
var sizeWords = map[string]struct{ name, unit, short string }{
	film.ModelFilm + "+gradient": {"half of what porosity is more at the bottom than at the top", "1", ""},
	film.ModelFilm + "+skin":     {"skin", "nm", "nm"},
	film.ModelFilm + "+variance": {"variance of thickness over its square", "1", ""},
}

// structuresTable prints the structures fitted for a person.
func structuresTable(p page, v *film.Verdict, found *desk.Structures) error {
	fmt.Fprintf(p, "\n  film structures; %d points, which count as %.0f independent ones\n", v.Points, v.EffectivePoints)
	out := foldedTable(p, "    ", "structure", "free", "reduced chi-square", "likelihood ratio", "AICc - lowest",
		"size (k=2)", "")
	for i := range found.Rungs {
		r := &found.Rungs[i]
		var words []string
		if w, ok := sizeWords[r.Model]; ok {
			words = append(words, w.name)
		}
		if r.Chosen {
			words = append(words, "chosen")
		}
		if !r.Separable {
			words = append(words, "not separable")
		}
		if err := out.row(r.Model, fmt.Sprint(r.Free), decimal(study.Num(r.ReducedChi2), 3),
			decimal(study.Num(r.LikelihoodRatio), 1), decimal(study.Num(r.AboveLowestAICc), 1), sizeOf(r),
			strings.Join(words, "; ")); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	if found.Called {
		fmt.Fprintln(p, "  likelihood ratio: of film over bare glass, and of each structure over the uniform film; above 11, "+
			"the curves\n  show it with less than 0.1 % false alarms, and another structure may explain them as well")
	} else {
		fmt.Fprintln(p, "  likelihood ratio: of film over bare glass\n  the curves do not call for a structure (no flag "+
			"structure), so none is shown")
	}
	if !found.DetectionLimitNM.Valid() {
		_, err := fmt.Fprintln(p,
			"  detection limit: none; these curves would miss even a thick film, or a fixed value says that there is a film")
		return err
	}
	_, err := fmt.Fprintf(p, "  detection limit: a uniform film of %.1f nm would be distinguished from bare glass in "+
		"95 of 100 such spots\n", float64(found.DetectionLimitNM))
	return err
}

// sizeOf writes the size of a structure with its expanded uncertainty.
func sizeOf(r *desk.Rung) string {
	if !study.Num(r.Size.Value).Valid() {
		return "-"
	}
	size := study.Measure{Value: study.Num(r.Size.Value), U: study.Num(r.Size.U)}
	return plusMinus(size, 1, sizeWords[r.Model].short)
}
