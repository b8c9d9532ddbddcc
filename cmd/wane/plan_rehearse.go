package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"wane/study"
	"wane/study/desk"
	"wane/study/scenario"
)

const planRehearseLong = `
--rehearse PLAN.yaml makes a planned study up many times, takes each through the real
evaluation, comparison and rule, and prints the chance of each verdict, of a false one, and
which one means more pays most. What is finished is kept in PLAN.yaml.rehearsed, so that it goes
on where it was stopped. wane help planning shows a plan with all its lines.
`

// rehearseOptions are the flags of a rehearsal.
type rehearseOptions struct {
	plan    string
	workers int
}

func (o *rehearseOptions) bind(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&o.plan, "rehearse", "", "rehearse the study that is planned in this file: wane help planning")
	f.IntVar(&o.workers, "workers", 0, "with --rehearse, studies that are made at once; 0: one for each core")
}

// runRehearse rehearses a plan.
func runRehearse(cmd *cobra.Command, o *planOptions) error {
	if err := onlyFlags(cmd, "rehearse", "workers", "format"); err != nil {
		return err
	}
	if err := oneOf("format", o.format, formats); err != nil {
		return err
	}
	bar := newProgress(cmd, "studies rehearsed")
	defer bar.end()
	r, err := desk.Rehearse(cmd.Context(), o.rehearse.plan, desk.RehearseOptions{Workers: o.rehearse.workers, Progress: bar.to})
	if err != nil {
		return err
	}
	bar.end()
	if r.Stale {
		cmd.PrintErrln("note: the plan or the model of wane has changed; what an earlier run had finished was made again")
	}
	if o.format == "table" {
		return rehearsalTable(pageOf(cmd), r)
	}
	return rehearsalRows(cmd, o.format, r)
}

// onlyFlags refuses the flags of other ways to plan.
func onlyFlags(cmd *cobra.Command, way string, own ...string) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		if err == nil && f.Name != way && !slices.Contains(own, f.Name) {
			err = usagef("leave it out: wane plan --"+way+" takes only --"+strings.Join(own, ", --"),
				"--%s does not go together with --%s", f.Name, way)
		}
	})
	return err
}

// noFlags refuses flags that belong to a way to plan which is not asked for.
func noFlags(cmd *cobra.Command, way string, own ...string) error {
	for _, name := range own {
		if cmd.Flags().Changed(name) {
			return usagef("add --"+way+", or leave it out", "--%s is for --%s, which is not given", name, way)
		}
	}
	return nil
}

// rehearsalLine is what is said in one scene, in words, with its chance.
type rehearsalLine struct {
	scene, subject, verdict string
	chance                  desk.Chance
	formula                 float64
	pair                    *desk.PairOutcomes
	rule                    *desk.RuleOutcomes
}

// scenes are the outcomes of a rehearsal by the names of their scenes.
func scenesOfRehearsal(r *desk.Rehearsal) (names []string, of []*desk.Outcomes) {
	names, of = []string{"planned"}, []*desk.Outcomes{&r.Planned}
	if r.Alike != nil {
		names, of = append(names, "alike"), append(of, r.Alike)
	}
	if r.Unfit != nil {
		names, of = append(names, "unfit"), append(of, r.Unfit)
	}
	return names, of
}

// linesOf returns the lines of a scene.
func linesOf(scene string, o *desk.Outcomes) (lines []rehearsalLine) {
	for i := range o.Pairs {
		p := &o.Pairs[i]
		subject := p.A + " " + p.B
		for _, l := range []rehearsalLine{
			{verdict: "different", chance: p.Different, formula: p.Formula}, {verdict: "wrong-way", chance: p.Reversed},
			{verdict: "equivalent", chance: p.Equal}, {verdict: "not-distinguished", chance: p.Nothing},
			{verdict: "cannot-tell", chance: p.CannotTell},
		} {
			l.scene, l.subject, l.pair = scene, subject, p
			if l.verdict != "different" {
				l.formula = math.NaN()
			}
			lines = append(lines, l)
		}
	}
	if o.Rule == nil {
		return lines
	}
	f := [3]float64{math.NaN(), math.NaN(), math.NaN()}
	if c := o.Rule.Formula; c != nil {
		f = [3]float64{c.Accept, c.Reject, c.Undecided}
	}
	for i, c := range []desk.Chance{o.Rule.Accept, o.Rule.Reject, o.Rule.Undecided} {
		lines = append(lines, rehearsalLine{scene: scene, subject: "rule", verdict: []string{"accept", "reject", "undecided"}[i],
			chance: c, formula: f[i], rule: o.Rule})
	}
	return lines
}

// rehearsalRows prints one row a verdict, and one an improvement.
func rehearsalRows(cmd *cobra.Command, format string, r *desk.Rehearsal) error {
	out := newRecords(cmd.OutOrStdout(), format, []string{"plan", "scene", "subject", "verdict", "count", "studies", "chance", "lower",
		"upper", "level", "formula", "true_difference_pp", "u_difference_pp", "conforming", "u_loss_pp", "readings", "gain", "u_gain",
		"gain_per_reading"})
	names, of := scenesOfRehearsal(r)
	for i, scene := range names {
		for _, l := range linesOf(scene, of[i]) {
			cells := []any{r.Plan.Name, l.scene, l.subject, l.verdict, l.chance.Of, l.chance.N, l.chance.Share(), l.chance.Lower,
				l.chance.Upper, desk.RehearsalLevel, numberCell(l.formula), nil, nil, nil, nil, nil, nil, nil, nil}
			if l.pair != nil {
				cells[11], cells[12] = l.pair.True, numberCell(l.pair.U)
			} else {
				cells[13], cells[14] = l.rule.Conforming, numberCell(l.rule.U)
			}
			if err := out.Write(cells...); err != nil {
				return err
			}
		}
	}
	for i := range r.Tries {
		t := &r.Tries[i]
		if err := out.Write(r.Plan.Name, "try", string(t.Improvement), nil, nil, t.Studies, nil, nil, nil, nil, nil, nil, nil, nil, nil,
			t.Readings, t.Gain, t.UGain, t.PerReading); err != nil {
			return err
		}
	}
	return out.Close()
}

// numberCell is a number for a cell, nil if there is none.
func numberCell(x float64) any { return orNil(study.Num(x)) }

// percentOf writes a share in percent.
func percentOf(share float64) string {
	if math.IsNaN(share) {
		return "-"
	}
	return fmt.Sprintf("%.1f %%", 100*share)
}

// rehearsalTable prints what a rehearsal found, for a person.
func rehearsalTable(w page, r *desk.Rehearsal) error {
	p := r.Plan
	fmt.Fprintf(w, "plan %s: %s, %d pulls, %s; changes corrected by: %s\n", p.Name, couponsOf(p), len(p.Doses),
		count(p.Readings(), "coupon reading"), p.Route)
	fmt.Fprintf(w, "made up %s as planned, %d of them through exports, intake and store", count(r.Planned.Studies, "time"),
		r.Planned.ThroughFiles)
	if r.Kept > 0 {
		fmt.Fprintf(w, "; %d finished before", r.Kept)
	}
	fmt.Fprintln(w)
	names, of := scenesOfRehearsal(r)
	for i, scene := range names {
		if err := sceneTable(w, r, scene, of[i]); err != nil {
			return err
		}
	}
	if err := triesTable(w, r); err != nil {
		return err
	}
	if err := writeLine(w, "\n"+wrapped(rehearsalNotes(r), guideWidth)); err != nil {
		return err
	}
	return writeLines(w, rehearsedDesign(r.Plan)...)
}

// rehearsedDesign says which readings the chances of a plan count on.
func rehearsedDesign(p *scenario.Plan) []string {
	exposed, controls, blanks := numbersOf(p)
	read := []string{count(exposed, "exposed coupon"), count(controls, "control"), count(blanks, "dark blank")}
	if p.Reading.LightTrap {
		read = append(read, "a light trap")
	}
	if p.Apart {
		return []string{
			fmt.Sprintf("Read at each pull, each coating in a session of its own: %s.", strings.Join(read, ", ")),
			"What sessions are off is then in each contrast of coatings; sessions: together reads all in one, where it cancels.",
		}
	}
	return []string{
		fmt.Sprintf("Read in one session at each pull: %s.", strings.Join(read, ", ")),
		"What the session is off is then the same in all and cancels in each contrast; " +
			"in sessions apart these chances are too good.",
	}
}

// numbersOf counts the exposed coupons, controls and blanks of a plan.
func numbersOf(p *scenario.Plan) (exposed, controls, blanks int) {
	for i := range p.Coatings {
		exposed, controls = exposed+p.Coatings[i].Coupons, controls+p.Coatings[i].Controls
	}
	return exposed, controls, p.Blanks * len(p.Coatings)
}

// couponsOf counts the coupons of a plan.
func couponsOf(p *scenario.Plan) string {
	exposed, controls, blanks := numbersOf(p)
	return fmt.Sprintf("%s, %s exposed, %s, %s", count(len(p.Coatings), "coating"), count(exposed, "coupon"),
		count(controls, "control"), count(blanks, "dark blank"))
}

// rehearsedWords say in words what a line counts.
func rehearsedWords(l *rehearsalLine, p *scenario.Plan) string {
	switch l.verdict {
	case "different":
		if l.pair.True == 0 {
			return "falsely called different"
		}
		return "called different"
	case "wrong-way":
		return "of these, the wrong way round"
	case "equivalent":
		return fmt.Sprintf("called equal within %g pp", p.Compare.Margin)
	case "not-distinguished":
		return "neither"
	case "cannot-tell":
		return "cannot be told"
	case "accept":
		if l.rule.Conforming <= p.Rule.Share+1e-9 {
			return "falsely accepted"
		}
		return "accepted"
	case "reject":
		return "rejected"
	}
	return "undecided"
}

// sceneTable prints the chances of a scene.
func sceneTable(w page, r *desk.Rehearsal, scene string, o *desk.Outcomes) error {
	subject := ""
	var columns *tableWriter
	for _, l := range linesOf(scene, o) {
		if l.skipped(r.Plan) {
			continue
		}
		if l.subject != subject {
			if columns != nil {
				if err := columns.end(); err != nil {
					return err
				}
			}
			subject = l.subject
			fmt.Fprintf(w, "\n%s\n", wrapped(subjectWords(&l, r.Plan), guideWidth))
			columns = foldedTable(w, "  ", "", "chance", "95 % interval", "by formula")
		}
		formula := "-"
		if !math.IsNaN(l.formula) {
			formula = percentOf(l.formula)
		}
		if err := columns.row(rehearsedWords(&l, r.Plan), percentOf(l.chance.Share()), fmt.Sprintf("%.1f to %.1f %%", 100*l.chance.Lower,
			100*l.chance.Upper), formula); err != nil {
			return err
		}
	}
	if columns == nil {
		return nil
	}
	return columns.end()
}

// skipped reports whether a line says nothing in a table.
func (l *rehearsalLine) skipped(p *scenario.Plan) bool {
	switch l.verdict {
	case "wrong-way":
		return l.pair.True == 0 || l.chance.Of == 0
	case "equivalent":
		return p.Compare.Margin == 0
	case "cannot-tell":
		return l.chance.Of == 0
	}
	return false
}

// subjectWords say what a table is about.
func subjectWords(l *rehearsalLine, p *scenario.Plan) string {
	if l.pair != nil {
		more := fmt.Sprintf("%s loses %.3g pp more than %s", l.pair.B, l.pair.True, l.pair.A)
		switch {
		case l.pair.True == 0:
			more = "both lose alike"
		case l.pair.True < 0:
			more = fmt.Sprintf("%s loses %.3g pp more than %s", l.pair.A, -l.pair.True, l.pair.B)
		}
		return fmt.Sprintf("%s against %s, if %s on the mean (u of a difference found: %s pp)", l.pair.A, l.pair.B, more,
			threeDigits(study.Num(l.pair.U)))
	}
	allowed := ""
	if l.scene == "unfit" {
		allowed = fmt.Sprintf("; the rule states that it accepts such a product in at most %s", percentOf(l.rule.Allowed))
	}
	return fmt.Sprintf("coating %s by the rule, if %s of the product is below the limit of %g pp (u of a loss: %s pp%s)", p.Rule.Coating,
		percentOf(l.rule.Conforming), p.Rule.Limit, threeDigits(study.Num(l.rule.U)), allowed)
}

// triesTable prints what each improvement would gain.
func triesTable(w page, r *desk.Rehearsal) error {
	if len(r.Tries) == 0 {
		return nil
	}
	fmt.Fprintf(w, "\none means more at a time, on %d studies each; gain: of the chance of a right verdict\n", r.Tries[0].Studies)
	columns := foldedTable(w, "  ", "", "gain, ± U (k=2)", "readings more", "gain a reading")
	for i := range r.Tries {
		t := &r.Tries[i]
		if err := columns.row(string(t.Improvement), fmt.Sprintf("%+.1f ± %.1f %%", 100*t.Gain, 200*t.UGain), fmt.Sprint(t.Readings),
			fmt.Sprintf("%+.2f %%", 100*t.PerReading)); err != nil {
			return err
		}
	}
	return columns.end()
}

// rehearsalNotes say what pays most, and what happened in the studies.
func rehearsalNotes(r *desk.Rehearsal) string {
	var said []string
	if len(r.Tries) > 0 {
		best := -1
		for i := range r.Tries {
			if r.Tries[i].Told() {
				best = i
				break
			}
		}
		if best < 0 {
			said = append(said, "No improvement is distinguished from none: raise tries, or change the plan by more than one means.")
		} else {
			said = append(said, fmt.Sprintf("The cheapest improvement is %s.", r.Tries[best].Improvement))
		}
	}
	if o := &r.Planned; o.Lost+o.Soiled+o.Faulty > 0 {
		said = append(said, fmt.Sprintf("In the studies as planned: lost coupons %d, readings of soiled coupons %d, instruments and "+
			"dark blanks with a fault %d.", o.Lost, o.Soiled, o.Faulty))
	}
	if r.Planned.Held > 0 {
		said = append(said, fmt.Sprintf("Guards held %s in the %d studies that went through the store; the others have no guards.",
			count(r.Planned.Held, "reading"), r.Planned.ThroughFiles))
	}
	if r.Planned.Capped > 0 {
		said = append(said, fmt.Sprintf("Losses drawn that no such film has: %d; the film has the nearest one.", r.Planned.Capped))
	}
	if len(said) == 0 {
		said = append(said, "Nothing went wrong in these studies beyond the errors of the plan.")
	}
	return strings.Join(said, " ")
}
