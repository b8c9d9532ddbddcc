package main

import (
	"bufio"
	"cmp"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"wane/fit/film"
	"wane/study"
	"wane/study/desk"
	"wane/study/evaluate"
)

const planLong = `Before you measure: compute how well curves at the given angles would determine the film
that you expect. The result is the uncertainty of each quantity. It follows from the
noise and from what is known about the instrument, the glass and the coating. --best N
finds the N angles, among the candidates, for which one uncertainty is smallest. With
--angles and --best you see both sets side by side.

With --angles a second table says what one means more would give: a light trap, a second
mounting of each spot, one more angle of --candidates, or transmittance where the far face
lets light out. Its column change is that of solar transmittance between two sessions.

No reading is needed. The computation does not know what your instrument cannot do: near
grazing incidence, for example, the beam is wider than the coupon. Leave such angles out
of --candidates.

Which coupons, controls and blanks to read in one session, so that coatings can be compared:
wane help comparing.
` + planPowerLong + planRehearseLong + planCleaningLong + exitCodes

const planExample = `  # are four angles enough?
  wane plan --angles 8,30,45,60 --back matched --thickness 118 --porosity 0.36 --bare 0.05

  # which three are best for the material left, and how do mine compare?
  wane plan --best 3 --minimise solid --angles 8,45,60 --back matched --thickness 118 --porosity 0.36

  # how many coupons does a difference of 0.05 pp need?
  wane plan --power --difference 0.05 --coupon-sd 0.04 --u 0.015 --lots 1,3

  # what would the study find that is planned in plan.yaml?
  wane plan --rehearse plan.yaml

  # how often should coated modules be cleaned?
  wane plan --cleaning --soiling 0.01 --u-soiling 0.003 --loss 0.03 --u-loss 0.01 --yield 1000`

type planOptions struct {
	rehearse                   rehearseOptions
	power                      powerOptions
	cleaning                   cleaningOptions
	pane                       paneOptions
	anglesText, candidatesText string
	rangeText, format          string
	of                         desk.PlanOptions
}

func newPlanCommand() *cobra.Command {
	o := &planOptions{}
	cmd := &cobra.Command{
		Use:     "plan",
		Short:   "which angles to measure, what a planned study would find, how often to clean",
		Long:    planLong,
		Example: planExample,
		Args:    exactly(0, "use flags: see wane plan --help"),
		RunE:    func(cmd *cobra.Command, args []string) error { return runPlan(cmd, o) },
	}
	o.bind(cmd)
	return cmd
}

func (o *planOptions) bind(cmd *cobra.Command) {
	f, p := cmd.Flags(), &o.of
	f.StringVar(&o.anglesText, "angles", "", "angles of incidence to measure, in degrees, separated by commas")
	f.IntVar(&p.Best, "best", 0, "find the best set of this number of angles")
	f.StringVar(&o.candidatesText, "candidates", angleList(desk.UsualCandidates()).join(","),
		"angles that --best and the second table choose from, in degrees")
	f.StringVar(&p.Minimise, "minimise", evaluate.Goals()[0],
		"the quantity whose uncertainty --best makes smallest: "+strings.Join(evaluate.Goals(), ", "))
	f.Float64Var(&p.ThicknessNM, "thickness", 0, "thickness in nm of the film that you expect (no default)")
	f.Float64Var(&p.Porosity, "porosity", 0, "porosity of the film that you expect (no default)")
	f.Float64Var(&p.Bare, "bare", 0, "bare fraction that you expect")
	f.StringVar(&o.rangeText, "range", "380-1100", "range of the wavelengths of each curve, in nm")
	f.Float64Var(&p.StepNM, "step", 2, "step of the wavelengths, in nm")
	f.Float64Var(&p.NoiseSD, "noise", 0.0005, "standard deviation of one point, as a fraction")
	f.StringVar(&p.Polarisation, "polarisation", "u", "s, p, u (depolarised, or the mean of s and p) or n (native beam)")
	o.pane.bind(cmd)
	o.rehearse.bind(cmd)
	o.power.bind(cmd)
	o.cleaning.bind(cmd, &o.power.study)
	f.StringVar(&o.format, "format", "table", "table, json or csv")
	completeWords(cmd, map[string][]string{
		"polarisation": polarisationWords, "format": formats, "minimise": evaluate.Goals(),
	})
}

func runPlan(cmd *cobra.Command, o *planOptions) error {
	if o.cleaning.asked {
		return runCleaning(cmd, &o.cleaning, &o.power.study, o.format)
	}
	if cmd.Flags().Changed("rehearse") {
		return runRehearse(cmd, o)
	}
	if o.power.asked {
		return runPower(cmd, o)
	}
	if err := noFlags(cmd, "rehearse", "workers"); err != nil {
		return err
	}
	if err := noFlags(cmd, "power", powerFlags...); err != nil {
		return err
	}
	if err := noFlags(cmd, "cleaning", cleaningFlags...); err != nil {
		return err
	}
	if err := o.checkWords(cmd); err != nil {
		return err
	}
	if err := o.parse(); err != nil {
		return err
	}
	planned, err := desk.Plan(cmd.Context(), &o.of)
	if err != nil {
		return err
	}
	if o.format == "table" {
		return o.table(pageOf(cmd), planned)
	}
	return o.rows(cmd.OutOrStdout(), append(planned.Sets, planned.Means...))
}

// parse reads the words and numbers of the flags.
func (o *planOptions) parse() (err error) {
	if o.of.Pane, err = o.pane.parse(); err != nil {
		return err
	}
	if o.anglesText != "" {
		if o.of.AnglesDeg, err = degrees("angles", o.anglesText); err != nil {
			return err
		}
	}
	if o.of.CandidatesDeg, err = degrees("candidates", o.candidatesText); err != nil {
		return err
	}
	var ok bool
	if o.of.LoNM, o.of.HiNM, ok = parseRange(o.rangeText); !ok {
		return usagef("write the shortest and the longest wavelength in nm, for example --range 380-1100",
			"--range: %q is not of the form LO-HI", o.rangeText)
	}
	return nil
}

func (o *planOptions) checkWords(cmd *cobra.Command) error {
	given := cmd.Flags().Changed
	if o.anglesText == "" && !given("best") {
		return usagef("give angles: --angles 8,30,45,60; or ask for the best four: --best 4",
			"neither --angles nor --best is given")
	}
	if given("best") && o.of.Best < 1 {
		return usagef("write for example --best 4", "--best must be at least 1, not %d", o.of.Best)
	}
	for _, flag := range []string{"candidates", "minimise"} {
		if given(flag) && o.of.Best == 0 && (flag != "candidates" || o.anglesText == "") {
			return usagef("say how many angles to choose, for example --best 4, or leave it out",
				"--%s is for --best, which is not given", flag)
		}
	}
	for _, w := range []struct {
		flag, value string
		words       []string
	}{
		{"back", o.pane.back, backWords}, {"polarisation", o.of.Polarisation, polarisationWords},
		{"mixing", o.pane.mixing, mixingWords}, {"format", o.format, formats}, {"minimise", o.of.Minimise, evaluate.Goals()},
	} {
		if err := oneOf(w.flag, w.value, w.words); err != nil {
			return err
		}
	}
	for _, flag := range []string{"thickness", "porosity"} {
		if !given(flag) {
			return usagef("describe the film that you expect: --thickness 118 --porosity 0.36 --bare 0.05",
				"--%s is not given; it has no default", flag)
		}
	}
	if err := fraction("porosity", o.of.Porosity); err != nil {
		return err
	}
	return fraction("bare", o.of.Bare)
}

// fraction refuses a share that is above 1, and was meant in percent.
func fraction(flag string, value float64) error {
	if !(value > 1) {
		return nil
	}
	try := fmt.Sprintf("write %g percent as --%s %.6g", value, flag, value/100)
	if value > 100 {
		try = "give a number from 0 to 1"
	}
	return usagef(try, "--%s is a fraction, but %g is more than 1", flag, value)
}

// degrees reads angles separated by commas.
func degrees(flag, text string) ([]float64, error) {
	var angles []float64
	for _, word := range strings.Split(text, ",") {
		a, err := strconv.ParseFloat(strings.TrimSpace(word), 64)
		if err != nil {
			return nil, usagef("write degrees separated by commas, for example --"+flag+" 8,30,45,60",
				"--%s: %q is not a number", flag, word)
		}
		if !(a >= 0 && a < 90) {
			return nil, usagef("state angles from the normal, in degrees", "--%s %g is outside 0 to below 90 degrees", flag, a)
		}
		angles = append(angles, a)
	}
	return angles, nil
}

// angleList is printed as numbers separated by a space, and as an array in JSON.
type angleList []float64

func (a angleList) String() string { return a.join(" ") }

func (a angleList) join(with string) string {
	words := make([]string, len(a))
	for i, deg := range a {
		words[i] = strconv.FormatFloat(deg, 'g', -1, 64)
	}
	return strings.Join(words, with)
}

// rows prints one row a set.
func (o *planOptions) rows(w io.Writer, plans []*evaluate.Plan) error {
	columns, p := desk.PlanColumns(), &o.of
	names := []string{"set", "angles_deg", "minimised", "sets_compared", "all_sets_compared", "polarisation", "lo_nm",
		"hi_nm", "step_nm", "noise"}
	for _, c := range columns {
		names = append(names, c.Name)
	}
	out := newRecords(w, o.format, names)
	for _, plan := range plans {
		cells := []any{cmp.Or(plan.Means, "given"), angleList(plan.AnglesDeg), nil, nil, nil}
		if plan.Tried > 0 {
			cells = []any{"best", angleList(plan.AnglesDeg), o.of.Minimise, plan.Tried, plan.All}
		}
		cells = append(cells, p.Polarisation, p.LoNM, p.HiNM, p.StepNM, p.NoiseSD)
		for _, c := range columns {
			switch {
			case c.Num != nil:
				cells = append(cells, orNil(c.Num(&plan.Result)))
			case o.format == "json":
				cells = append(cells, append([]string{}, c.Words(&plan.Result)...))
			default:
				cells = append(cells, strings.Join(c.Words(&plan.Result), " "))
			}
		}
		if err := out.Write(cells...); err != nil {
			return err
		}
	}
	return out.Close()
}

// table prints the outputs as lines and the sets as columns, for a person.
func (o *planOptions) table(w page, planned *desk.Planned) error {
	out, p := bufio.NewWriter(w), &o.of
	fmt.Fprintf(out, "plan for a film of %g nm, porosity %g, bare fraction %g; no reading needed\n", p.ThicknessNM,
		p.Porosity, p.Bare)
	fmt.Fprintf(out, "each curve %g-%g nm by %g nm, polarisation %s, noise %g pp\n", p.LoNM, p.HiNM, p.StepNM,
		p.Polarisation, 100*p.NoiseSD)
	fmt.Fprintf(out, "glass %s, far face %s, values ± U (k=2)\n\n", study.Shown(o.pane.glass), o.pane.farFace())
	heading := []string{""}
	var values [][]line
	for _, plan := range planned.Sets {
		heading = append(heading, o.heading(plan))
		values = append(values, resultLines(&plan.Result, o.pane.mixing))
	}
	columns := foldedTable(page{out, w.screen}, "  ", append(heading, "")...)
	for i, l := range values[0] {
		if l.name == "state" {
			continue
		}
		cells := []string{l.name}
		for _, v := range values {
			cells = append(cells, v[i].value)
		}
		if err := columns.row(append(cells, l.remark)...); err != nil {
			return err
		}
	}
	if err := columns.end(); err != nil {
		return err
	}
	if planned.Sets[0].Result.IsLossless() {
		fmt.Fprintf(out, "  %s\n", losslessWords)
	}
	if err := meansTable(page{out, w.screen}, planned); err != nil {
		return err
	}
	fmt.Fprintln(out)
	o.notes(out, planned.Sets)
	for _, l := range o.assumed(planned.Setup) {
		fmt.Fprintf(out, "  %s\n", l)
	}
	return out.Flush()
}

// meansNames are the words of the means that a plan tries.
var meansNames = map[string]string{"": "as planned", evaluate.MeansTrap: "with a light trap",
	evaluate.MeansMounting: "with a second mounting", evaluate.MeansAngle: "with one angle more",
	evaluate.MeansThrough: "with transmittance", evaluate.MeansPane: "with it and that of a blank"}

// meansTable says by how much one means more would make the given set less uncertain.
func meansTable(w page, planned *desk.Planned) error {
	if len(planned.Means) == 0 {
		return nil
	}
	given, through := &planned.Sets[0].Result, planned.Setup.Glass.LetsThrough()
	fmt.Fprintln(w, "\n  what one means more would give, U (k=2):")
	heading := []string{"", "solar T", "change", "material left", "thickness"}
	if through {
		heading = append(heading, "absorbed")
	}
	columns := foldedTable(w, "  ", heading...)
	for _, plan := range append(planned.Sets[:1:1], planned.Means...) {
		name := meansNames[plan.Means]
		if plan.Means == evaluate.MeansAngle {
			name += ": " + angleList(plan.AnglesDeg).join(", ") + " deg"
		}
		r := &plan.Result
		cells := []string{name, lessU(r.SolarT, given.SolarT, 100, "%"), lessU(r.Change, given.Change, 1, "pp"),
			lessU(r.Solid, given.Solid, 1, "nm"), lessU(r.Thickness, given.Thickness, 1, "nm")}
		switch {
		case through && r.IsLossless():
			cells = append(cells, "unknown")
		case through:
			cells = append(cells, lessU(r.Absorbed, r.Absorbed, 1, "pp"))
		}
		if err := columns.row(cells...); err != nil {
			return err
		}
	}
	if err := columns.end(); err != nil {
		return err
	}
	return writeLine(w, meansNotes(through))
}

// meansNotes say what the second table means, and what its uncertainties do not show. through says whether transmittance
// is in it.
func meansNotes(through bool) string {
	notes := "  change: of the solar transmittance of one spot between two sessions, without controls;\n" +
		"  a light trap is read in each session; a second mounting: each spot is set down and read twice"
	if !through {
		return notes + "\n  transmittance is not tried: its light does not leave such a far face. Without it nobody knows what film\n" +
			"  and residue absorb, and no U contains it: wane help transmittance"
	}
	return notes + ";\n  transmittance: of the same spot, at normal incidence; a blank: of the same pane, in each session\n" +
		"  absorbed: what film and residue absorb. Only transmittance shows it; without it nobody knows it, and the U\n" +
		"  of solar T and change hold for a film that absorbs nothing: wane help transmittance"
}

// lessU shows an uncertainty, and its difference from that of the given set in percent.
func lessU(m, given study.Measure, factor float64, unit string) string {
	if !m.U.Valid() || !given.U.Valid() {
		return "-"
	}
	size := coverage * factor * float64(m.U)
	u := fmt.Sprintf("± %s %s", decimal(study.Num(size), decimals(size)), unit)
	if off := 100 * (float64(m.U/given.U) - 1); math.Abs(off) >= 0.5 {
		u += fmt.Sprintf(" (%+.0f %%)", off)
	}
	return u
}

// heading names a set: by its angles, and by where it comes from if there are two.
func (o *planOptions) heading(plan *evaluate.Plan) string {
	at := angleList(plan.AnglesDeg).join(", ") + " deg"
	switch {
	case plan.Tried > 0:
		return "best: " + at
	case o.of.Best > 0:
		return "given: " + at
	}
	return at
}

// notes says how the best set was found, and what a set does not determine.
func (o *planOptions) notes(out io.Writer, plans []*evaluate.Plan) {
	for _, plan := range plans {
		switch {
		case plan.Tried == 0:
		case plan.All:
			fmt.Fprintf(out, "  best for the least uncertainty of %s: all %d sets of %d angles among %s degrees were "+
				"compared\n", o.of.Minimise, plan.Tried, o.of.Best, o.candidatesText)
		default:
			fmt.Fprintf(out, "  best found for the least uncertainty of %s: no exchange of one angle improves it, but not "+
				"all sets of %d angles among %s degrees were compared\n",
				o.of.Minimise, o.of.Best, o.candidatesText)
		}
	}
	for _, plan := range plans {
		for _, f := range plan.Result.Flags {
			fmt.Fprintf(out, "  flag %s at %s degrees: %s\n", f, angleList(plan.AnglesDeg).join(", "), flagMeaning(f))
		}
	}
}

// assumed says what is taken to be known beforehand, a line for each owner of the law.
func (o *planOptions) assumed(setup *evaluate.Setup) []string {
	lines, line := []string{"assumed beside the noise, as standard uncertainties:"}, map[film.Owner]int{}
	for _, e := range film.Law(setup) {
		if e.U == 0 || !o.isAffectedBy(&e) {
			continue
		}
		known := fmt.Sprintf("%s %.4g ± %.3g", e.Term, e.Mean, e.U)
		if e.Unit != "" {
			known += " " + e.Unit
		}
		if i := line[e.Owner]; i > 0 {
			lines[i] += "; " + known
			continue
		}
		line[e.Owner] = len(lines)
		lines = append(lines, fmt.Sprintf("%s: %s", e.Owner, known))
	}
	for i, l := range lines {
		if i > 0 {
			lines[i] = "  " + strings.ReplaceAll(wrapped(l, guideWidth), "\n", "\n      ")
		}
	}
	if o.pane.back != "matched" {
		lines = append(lines,
			"  what the far face sends back: all caught up to 15 degrees, anything from none to all of it beyond")
	}
	return lines
}

// isAffectedBy reports whether an effect changes curves of the planned polarisation.
func (o *planOptions) isAffectedBy(e *film.LawEffect) bool {
	if e.Through {
		return false
	}
	switch e.Name {
	case "s_share":
		return o.of.Polarisation == "u"
	case "s_share_native":
		return o.of.Polarisation == "n"
	}
	return true
}
