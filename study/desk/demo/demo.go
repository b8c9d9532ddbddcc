// Package demo takes a made-up study through the whole job, by the verbs of desk.
package demo

import (
	"context"
	"errors"
	"path/filepath"

	"wane/study"
	"wane/study/desk"
	"wane/study/scenario"
)

// What a demo writes besides the files of the scenario.
const (
	studyName = "demo.wane"

	// Written by the command.
	Bench  = "bench-sheet.pdf"
	Labels = "labels.pdf"
	Report = "report.html"
	Tints  = "tints.pdf" // the card of tints

	Predicted = "predicted.svg" // what a fitted spot would show, also at an angle that was not read
)

// Exposure is the exposure of the made-up study, and LastPull its last pull.
const (
	Exposure = "roof"
	LastPull = 3
)

// Figures are the figures that the command draws: of the coatings, and of one coupon.
var Figures = []string{"change.svg", "pulls.svg", "material.svg", "structure.svg", "sunlight.svg", "budget.svg"}

// Shown is the coupon of these figures.
const Shown = "A01"

// Made is a made-up study that went through the whole job.
type Made struct {
	Folder, Study string // paths
	Enrolled      *desk.Enrolled
	TakenIn       *desk.TakenIn
	Fitted        *desk.Fitted
	Rules         []desk.RuleState
	Truth         scenario.Truth
}

// Run writes the rosters, the map and the exports of a made-up study into folder, and takes
// them through new, enrol, rule add, intake, fit and rule judge. It replaces an existing folder only if an
// earlier demo made it. The study stays open at the desk that it returns.
func Run(ctx context.Context, folder string, workers int, who desk.Person) (*Made, *desk.Desk, error) {
	if err := who.Check(); err != nil {
		return nil, nil, err
	}
	if err := clearFolder(folder); err != nil {
		return nil, nil, err
	}
	s := scenario.New()
	truth, err := writeFolder(folder, s)
	if err != nil {
		return nil, nil, err
	}
	made := &Made{Folder: folder, Study: filepath.Join(folder, studyName), Truth: truth}
	d, err := desk.New(ctx, made.Study, study.Settings{Correction: study.RouteControls, Mixing: "bruggeman"}, who)
	if err != nil {
		return nil, nil, err
	}
	if err := made.run(ctx, d, s, workers); err != nil {
		return nil, nil, errors.Join(err, d.Close())
	}
	return made, d, nil
}

// run enrols, takes in and fits.
func (made *Made) run(ctx context.Context, d *desk.Desk, s *scenario.Scenario, workers int) (err error) {
	in := func(name string) string { return filepath.Join(made.Folder, name) }
	var tables []string
	for _, name := range s.Tables() {
		tables = append(tables, in(name))
	}
	if made.Enrolled, err = d.Enrol(ctx, tables); err != nil {
		return err
	}
	if _, err = d.AddRule(ctx, in(ruleName)); err != nil {
		return err
	}
	made.TakenIn, err = d.Intake(ctx, in(scenario.MapName), nil, desk.IntakeOptions{Workers: workers})
	if err != nil {
		return err
	}
	if len(made.TakenIn.Refused) > 0 {
		return made.TakenIn.Refused[0]
	}
	if made.Fitted, err = d.Fit(ctx, desk.FitOptions{Workers: workers}); err != nil {
		return err
	}
	made.Rules, err = d.JudgeRules(ctx, nil)
	return err
}

const ruleName = "loss-year.yaml"

// ruleText is the rule by which the coatings are judged. A coupon that broke is not held against its coating, since a ladder
// fell on it.
const ruleText = `# Made up. What a coating may lose in a year on the roof.
rule: loss-year
quantity: solar_T
weighting: energy
condition: cleaned
exposure: roof
dose: 365
by: coating
limit: 0.5
unit: pp
n: 5
failures: 0
share: 0.5
confidence: 0.95
looks: 1
lost: [broken]
`
