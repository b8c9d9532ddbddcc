package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit"
	"wane/fit/film"
	"wane/study"
	"wane/study/evaluate"
)

// methodOptions are the flags that say how curves are fitted and what instrument
// they come from.
type methodOptions struct {
	loss, joinsText string
	masks           []string
	noise           float64
	instrument      film.Instrument
	ladder          bool
	uJoinGiven      bool
}

var lossWords = []string{"squares", "soft-l1", "huber"}

func (o *methodOptions) bind(cmd *cobra.Command) {
	f := cmd.Flags()
	f.BoolVar(&o.ladder, "ladder", false, "fit every film structure and show them all: bare, film, film+spread")
	f.StringVar(&o.loss, "loss", lossWords[0], "how points far off count: squares, soft-l1 or huber")
	f.StringArrayVar(&o.masks, "mask", nil, "leave out a range of wavelengths, LO-HI in nm; repeatable")
	f.Float64Var(&o.noise, "noise", 0, "declared standard deviation of one point, as a fraction; without it, it is found from the readings")
	f.Float64Var(&o.instrument.ConeDeg, "cone-deg", 0, "half-angle of the cone of the beam, in degrees")
	f.Float64Var(&o.instrument.SlitNM, "slit-nm", 0, "spectral width of the slit at half maximum, in nm")
	f.StringVar(&o.joinsText, "join-nm", "", "wavelengths where another detector takes over, in nm, separated by commas")
	f.Float64Var(&o.instrument.UJoin, "u-join", 0.001, "standard uncertainty of the step at each --join-nm, as a fraction")
	completeWords(cmd, map[string][]string{"loss": lossWords})
}

// apply puts the flags into the setup.
func (o *methodOptions) apply(setup *film.Setup) error {
	var err error
	if setup.Loss, err = fit.ParseLoss(o.loss); err != nil {
		return usagef("for example --loss huber", "--loss must be one of %s, not %q", strings.Join(lossWords, ", "), o.loss)
	}
	if !(o.noise >= 0 && o.noise < 1) {
		return usagef("give a fraction, for example --noise 0.0005, or leave the flag out", "--noise %g is not the noise of a reflectance", o.noise)
	}
	for _, text := range o.masks {
		lo, hi, ok := parseRange(text)
		if !ok || lo > hi {
			return usagef("write the shorter and the longer wavelength in nm, for example --mask 850-870", "--mask: %q is not of the form LO-HI", text)
		}
		setup.Masks = append(setup.Masks, film.Window{LoNM: lo, HiNM: hi})
	}
	setup.Instrument, setup.Ladder = o.instrument, o.ladder
	if o.joinsText == "" {
		if o.uJoinGiven {
			return usagef("say where another detector takes over, for example --join-nm 860, or leave it out", "--u-join is for --join-nm, which is not given")
		}
		return instrumentUsage(&setup.Instrument)
	}
	for _, word := range strings.Split(o.joinsText, ",") {
		nm, err := strconv.ParseFloat(strings.TrimSpace(word), 64)
		if err != nil {
			return usagef("write wavelengths separated by commas, for example --join-nm 860", "--join-nm: %q is not a number", word)
		}
		setup.JoinsNM = append(setup.JoinsNM, nm)
	}
	return instrumentUsage(&setup.Instrument)
}

func instrumentUsage(in *film.Instrument) error {
	var bad *film.InputError
	if err := film.CheckInstrument(in); errors.As(err, &bad) {
		return usagef(bad.Try, "%s", bad.Fault)
	} else if err != nil {
		return err
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
	rows: func(ctx context.Context, _ *evaluate.Evaluator, v *film.Verdict, write func(...any) error) error {
		limit, err := v.DetectionLimit(ctx)
		if err != nil {
			return err
		}
		for i := range v.Ladder {
			r := &v.Ladder[i]
			err := write(r.Model, r.Chosen, r.Interval, r.Separable, r.Free, v.Points, v.EffectivePoints, r.ReducedChi2,
				orNil(study.Num(r.LikelihoodRatio)), orNil(study.Num(r.AICc-lowestAICc(v))), orNil(study.Num(limit)))
			if err != nil {
				return err
			}
		}
		return nil
	},
	table: func(ctx context.Context, p page, _ *evaluate.Evaluator, v *film.Verdict) error {
		limit, err := v.DetectionLimit(ctx)
		if err != nil {
			return err
		}
		return ladderTable(p, v, limit)
	},
}

// ladderTable prints the structures fitted for a person.
func ladderTable(p page, v *film.Verdict, limit float64) error {
	fmt.Fprintf(p, "\n  ladder of film structures, %d points that are worth %.0f\n", v.Points, v.EffectivePoints)
	out := foldedTable(p, "    ", "structure", "free", "reduced chi-square", "likelihood ratio over the one above", "AICc - lowest", "")
	for i := range v.Ladder {
		r := &v.Ladder[i]
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
		if err := out.row(r.Model, fmt.Sprint(r.Free), decimal(study.Num(r.ReducedChi2), 3), decimal(study.Num(r.LikelihoodRatio), 1), decimal(study.Num(r.AICc-lowestAICc(v)), 1), strings.Join(words, "; ")); err != nil {
			return err
		}
	}
	if err := out.end(); err != nil {
		return err
	}
	if math.IsNaN(limit) {
		_, err := fmt.Fprintln(p, "  detection limit: these curves would miss even a thick film, or the pins say that there is one")
		return err
	}
	_, err := fmt.Fprintf(p, "  detection limit: a whole film of %.1f nm would be told from bare glass in 95 of 100 such spots\n", limit)
	return err
}

func lowestAICc(v *film.Verdict) float64 {
	least := math.Inf(1)
	for i := range v.Ladder {
		least = min(least, v.Ladder[i].AICc)
	}
	return least
}
