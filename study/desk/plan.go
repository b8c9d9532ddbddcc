package desk

import (
	"context"
	"errors"
	"strings"

	"wane/study"
	"wane/study/evaluate"
)

// UsualCandidates returns the angles, in degrees, among which a best set is usually chosen: the angle at
// which spectrophotometers read near the normal, and then every five degrees. Common practice, no source.
func UsualCandidates() []float64 {
	return []float64{8, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75}
}

// PlanOptions are what a person states of a measurement that has not been made.
type PlanOptions struct {
	Pane
	evaluate.Proposal
	AnglesDeg     []float64 // to be judged; empty: none
	Best          int       // how many angles to choose; 0: none
	CandidatesDeg []float64 // that they are chosen among
	Minimise      string    // one of evaluate.Goals: what the best set makes least uncertain
}

// Planned is the outcome of a plan.
type Planned struct {
	Setup *evaluate.Setup
	Sets  []*evaluate.Plan // the given set, then the best one
	Means []*evaluate.Plan // the given set with one means more each: see evaluate.Evaluator.PlanMeans
}

// Plan computes how well curves would determine the film that is expected. Everything that it depends on
// was stated, so that each refusal is a [*UsageError], except that of a file.
func Plan(ctx context.Context, opt *PlanOptions) (*Planned, error) {
	setup, err := opt.Setup()
	if err != nil {
		return nil, err
	}
	evaluator, err := opt.Evaluator(setup)
	if err != nil {
		return nil, err
	}
	out := &Planned{Setup: setup}
	if len(opt.AnglesDeg) > 0 {
		given, err := evaluator.Plan(ctx, &opt.Proposal, opt.AnglesDeg)
		if err != nil {
			return nil, statedWrongly(err)
		}
		out.Sets = append(out.Sets, given)
		if out.Means, err = evaluator.PlanMeans(ctx, &opt.Proposal, opt.AnglesDeg, opt.CandidatesDeg); err != nil {
			return nil, statedWrongly(err)
		}
	}
	if opt.Best > 0 {
		best, err := evaluator.BestAngles(ctx, &opt.Proposal, opt.CandidatesDeg, opt.Best, opt.Minimise)
		if err != nil {
			return nil, statedWrongly(err)
		}
		out.Sets = append(out.Sets, best)
	}
	return out, nil
}

// statedWrongly turns a refusal into wrong usage.
func statedWrongly(err error) error {
	var r *study.Refusal
	if errors.As(err, &r) {
		return usagef(r.Try, "%s", strings.Replace(r.Error(), "film: ", "the film that you expect: ", 1))
	}
	return err
}

// PlanColumns returns the columns of results that a plan fills.
func PlanColumns() (columns []study.Column) {
	fills := false
	for _, c := range study.Columns() {
		switch c.Name {
		case "solar_T", "change_pp", "thickness_nm", "solar_share_covered", "points", "flags":
			fills = true
		case "gain_kept", "corrected_change_pp", "solar_T_data", "noise", "model", "cleanings":
			fills = false
		}
		if fills {
			columns = append(columns, c)
		}
	}
	return columns
}
