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
	f.BoolVar(&of.Ladder, "ladder", false, "fit all film structures and show them: bare, film, film+spread")
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

// ladderSection shows the structures fitted. The detection limit is one of the curves;
// every row for a program repeats it.
var ladderSection = section{
	columns: []string{"model", "chosen", "interval", "separable", "free_parameters", "points", "effective_points",
		"reduced_chi2", "likelihood_ratio", "delta_aicc", "detection_limit_nm"},
	rows: func(ctx context.Context, f *desk.QuickFit, write func(...any) error) error {
		ladder, err := f.Ladder(ctx)
		if err != nil {
			return err
		}
		for i := range ladder.Structures {
			r := &ladder.Structures[i]
			err := write(r.Model, r.Chosen, r.Interval, r.Separable, r.Free, f.Verdict.Points, f.Verdict.EffectivePoints,
				r.ReducedChi2,
				orNil(study.Num(r.LikelihoodRatio)), orNil(study.Num(r.AboveLowestAICc)), orNil(ladder.DetectionLimitNM))
			if err != nil {
				return err
			}
		}
		return nil
	},
	table: func(ctx context.Context, p page, f *desk.QuickFit) error {
		ladder, err := f.Ladder(ctx)
		if err != nil {
			return err
		}
		return ladderTable(p, f.Verdict, ladder)
	},
}

// ladderTable prints the structures fitted for a person.
func ladderTable(p page, v *film.Verdict, ladder *desk.Ladder) error {
	fmt.Fprintf(p, "\n  film structures; %d points, which count as %.0f independent ones\n", v.Points, v.EffectivePoints)
	out := foldedTable(p, "    ", "structure", "free", "reduced chi-square", "likelihood ratio over the one above",
		"AICc - lowest", "")
	for i := range ladder.Structures {
		r := &ladder.Structures[i]
		var words []string
		if r.Chosen {
			words = append(words, "the values are of this one")
		}
		if r.Interval {
			words = append(words, "the uncertainties are of this one")
		}
		if !r.Separable {
			words = append(words, "not separable")
		}
		if err := out.row(r.Model, fmt.Sprint(r.Free), decimal(study.Num(r.ReducedChi2), 3),
			decimal(study.Num(r.LikelihoodRatio), 1), decimal(study.Num(r.AboveLowestAICc), 1),
			strings.Join(words, "; ")); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	if !ladder.DetectionLimitNM.Valid() {
		_, err := fmt.Fprintln(p,
			"  detection limit: none; these curves would miss even a thick film, or a pin says that there is a film")
		return err
	}
	_, err := fmt.Fprintf(p, "  detection limit: a uniform film of %.1f nm would be distinguished from bare glass in "+
		"95 of 100 such spots\n", float64(ladder.DetectionLimitNM))
	return err
}
