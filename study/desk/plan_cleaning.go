package desk

import (
	"context"
	"fmt"
	"math"
	"slices"

	"wane/study"
	"wane/study/cleaning"
	"wane/study/population"
	"wane/study/series"
)

// CleaningLoss returns what a cycle of an exposure takes off the gain of a coating, pp, with its standard
// uncertainty, by the rate of the population: such as a stroke of a brush. The dose of the exposure must be in
// cycles. coating may be empty where the exposure has one only. gain is that of the coating at its baseline, pp.
func (d *Desk) CleaningLoss(ctx context.Context, exposure, coating string) (loss cleaning.Estimate, gain float64,
	err error) {
	e, err := d.checkExposure(ctx, exposure)
	if err != nil {
		return loss, 0, err
	}
	if e.DoseUnit != "cycles" {
		return loss, 0, &study.Refusal{Fault: fmt.Sprintf("the dose of %s is in %s, and the loss of a cleaning is by cycles",
			study.Shown(exposure), e.DoseUnit), Try: "name an exposure of the brush rig, or state the loss: --loss 0.03 " +
			"--u-loss 0.01"}
	}
	data, err := d.Series(ctx, "gain", SeriesOptions{Keep: func(c *series.Coupon) bool { return c.Exposure == exposure }})
	if err != nil {
		return loss, 0, err
	}
	pop, err := population.Fit(ctx, data, population.Options{By: population.ByCoating})
	if err != nil {
		return loss, 0, err
	}
	var known []string
	for _, g := range pop.Groups {
		known = append(known, g.Coating)
	}
	at := slices.Index(known, coating)
	switch {
	case coating == "" && len(known) == 1:
		at = 0
	case coating == "":
		return loss, 0, &study.Refusal{Fault: fmt.Sprintf("%s has coupons of several coatings: %s", study.Shown(exposure),
			codesInWords(known)),
			Try: "name one: --coating " + known[0]}
	case at < 0:
		return loss, 0, &study.Refusal{Fault: fmt.Sprintf("coating %q has no coupon in %s", coating, study.Shown(exposure)),
			Try: tryCode(coating, known, "name another exposure")}
	}
	g := &pop.Groups[at]
	if g.Rate.Why != "" {
		return loss, 0, cannotTell("what a cycle costs", g.Rate.Why)
	}
	if g.Level.Why != "" || math.IsNaN(g.Level.Value) {
		return loss, 0, cannotTell("the gain of the coating when it was new", g.Level.Why)
	}
	return cleaning.Estimate{Value: max(0, -g.Rate.Value), U: g.Rate.SE}, g.Level.Value, nil
}

// cannotTell is the refusal of what the data do not say.
func cannotTell(what string, why population.Reason) error {
	return &study.Refusal{Fault: what + " cannot be told from these data, because " + why.Sentence(), Try: why.Try()}
}
