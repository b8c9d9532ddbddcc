package intake

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/text"
)

// selectCurves drops columns without numbers and decides which of the others are the
// curves that are meant.
func (r located) selectCurves(p plan, t table) (plan, error) {
	if err := r.askAxis(p, t); err != nil {
		return p, err
	}
	kept := make([]curve, 0, len(p.curves))
	for _, c := range p.curves {
		switch {
		case r.want.Axis > 0 && c.column < c.x && c.label.Text == "" && countsUp(t.column(c.column), c.unit, 3):
			p.notes = append(p.notes, fmt.Sprintf("column %d counts the rows and is not read", c.column+1))
		case c.label.Role == heading.AsIndex && countsUp(t.column(c.column), c.unit, 3):
			p.notes = append(p.notes, fmt.Sprintf("column %d (%s) counts the rows and is not read", c.column+1, c.label.Text))
		case !t.isEmpty(c.column):
			kept = append(kept, c)
		case c.label.Text != "":
			p.notes = append(p.notes, c.name()+" has no number and is not read")
		}
	}
	p.curves = kept
	if len(kept) == 0 {
		return p, r.Refuse(text.Position{Line: r.block.line}, text.ExportAgain, "the rows have wavelengths but no values")
	}
	if len(kept) == 1 && !kept[0].unusable {
		kept[0].aside = ""
	}
	if err := r.chooseCurves(p, t.width); err != nil {
		return p, err
	}
	return p, r.refuseUnusable(kept)
}

// askAxis asks for the column of wavelengths if the first one counts the rows
// and has no heading.
func (r located) askAxis(p plan, t table) error {
	x := p.xs[0]
	if r.want.Axis > 0 || p.paired || p.head.labels[x].Text != "" || p.head.line != 0 && p.head.labels[x].IsX() ||
		!countsRows(t.column(x)) {
		return nil
	}
	const fault = "column %d counts the rows and has no heading"
	if t.width < 3 {
		return r.Refuse(r.cellPlace(0, x), "export the wavelengths as the first column, with a heading", fault, x+1)
	}
	choices := []study.Choice{
		{Name: "axis", Value: "2", Meaning: "column 2 contains the wavelengths, column 1 counts the rows"},
		{Name: "axis", Value: "1", Meaning: "column 1 contains the wavelengths"},
	}
	return r.Question(r.cellPlace(0, x), choices, "write a line above the rows that names the columns", fault, x+1)
}

// chooseCurves sets aside, in p.curves itself, the columns that are not asked for. If no one
// states which are meant, it takes those whose headings leave no doubt, and asks about the others.
// In a map the rows of the map are the answer.
func (r grid) chooseCurves(p plan, width int) error {
	if slices.ContainsFunc(p.curves, hasNoHeading) {
		if err := r.askIfDecimalCommas(); err != nil {
			return err
		}
	}
	if r.want.Columns != nil {
		return r.takeColumns(p)
	}
	if r.Stated.InMap || len(p.curves) == 1 {
		for i := range p.curves {
			p.curves[i].maybe = p.curves[i].label.Text == "" && len(p.curves) > 1
		}
		setFacesAside(p.curves)
		setUnnamedAside(p.curves)
		return nil
	}
	if err := r.askUnnamed(p, width); err != nil {
		return err
	}
	if err := r.askUnsaid(p); err != nil {
		return err
	}
	if err := r.askCodes(p); err != nil {
		return err
	}
	if p.byRow {
		setMarkedAside(p.curves)
	}
	if err := r.askWhich(p); err != nil {
		return err
	}
	return r.askBaseline(p)
}

const notAsked = "not among the columns asked for"

// takeColumns takes the columns that are asked for and leaves the others.
func (r grid) takeColumns(p plan) error {
	for _, n := range r.want.Columns {
		if !slices.ContainsFunc(p.curves, func(c curve) bool { return c.id() == n }) {
			return r.Refuse(text.Nowhere,
				"state columns that exist: "+text.CutList(listOf(numbersOf(p.curves, anyCurve))),
				"column %d has no values", n)
		}
	}
	var wanted []curve
	for i := range p.curves {
		c := &p.curves[i]
		switch {
		case !slices.Contains(r.want.Columns, c.id()):
			if c.aside == "" {
				c.aside = notAsked
			}
		case !c.unusable:
			c.aside = ""
			wanted = append(wanted, *c)
		default:
			wanted = append(wanted, *c)
			err := r.refuseUnusable(wanted[len(wanted)-1:])
			var refusal *study.Refusal
			if errors.As(err, &refusal) && c.label.Chosen && heading.IsForeign(c.label.Quantity) {
				return r.question(c.at, r.overrule([]otherLine{{at: c.at}}), refusal.Try, "%s", refusal.Fault)
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// askUnnamed asks which columns are curves if one of several has no heading.
func (r section) askUnnamed(p plan, width int) error {
	i := slices.IndexFunc(p.curves, hasNoHeading)
	if i < 0 {
		return nil
	}
	all := numbersOf(p.curves, anyCurve)
	choices := columnChoices(p.curves, anyCurve)
	choices = append(choices, study.Choice{Name: "columns", Value: listOf(all), Meaning: "all of them are curves"})
	if p.head.line == 0 {
		return r.Question(text.Position{Line: r.block.line}, choices, "write a line above the rows that names the columns",
			"no line names the %d columns: it is not known which of them contain reflectance", width)
	}
	c := p.curves[i]
	return r.Question(c.at, choices, "name the column in the heading",
		"column %d has no heading: a reflectance, an uncertainty or a reference", c.id())
}

// isUnsaid reports whether a heading does not say what its column holds.
func isUnsaid(c curve) bool {
	return c.aside == "" && c.label.Text != "" && c.label.Quantity == ""
}

// isNamed reports whether a heading says that its column holds a curve.
func isNamed(c curve) bool { return c.aside == "" && c.label.Quantity != "" }

// askUnsaid asks which columns are curves if the headings of some say so and those
// of others do not: what a person states of quantity or unit is meant for curves.
func (r *asker) askUnsaid(p plan) error {
	i := slices.IndexFunc(p.curves, isUnsaid)
	if i < 0 || !slices.ContainsFunc(p.curves, isNamed) {
		return nil
	}
	choices := []study.Choice{
		{Name: "columns", Value: listOf(numbersOf(p.curves, isNamed)),
			Meaning: "the columns whose headings say what they contain; the others are skipped"},
		{Name: "columns", Value: listOf(numbersOf(p.curves, notAside)), Meaning: "all of them are curves"},
	}
	return r.Question(p.curves[i].at, choices, "name the quantity in the heading",
		"%s does not say that it contains reflectance; the headings of other columns do", p.curves[i].name())
}

// askCodes asks about columns that are named by a letter u and a number, beside others:
// they may be their uncertainties.
func (r *asker) askCodes(p plan) error {
	isCode := func(c curve) bool { return c.aside == "" && c.label.CodeU }
	others := func(c curve) bool { return c.aside == "" && !c.label.CodeU }
	i := slices.IndexFunc(p.curves, isCode)
	if i < 0 || !slices.ContainsFunc(p.curves, others) {
		return nil
	}
	choices := []study.Choice{
		{Name: "columns", Value: listOf(numbersOf(p.curves, others)),
			Meaning: "such columns are uncertainties and are skipped"},
		{Name: "columns", Value: listOf(numbersOf(p.curves, notAside)), Meaning: "all of them are curves"},
	}
	return r.Question(p.curves[i].at, choices, "name the uncertainty in the heading, as in u(R)",
		"%s may be an uncertainty, or the curve of a sample", p.curves[i].name())
}

// setUnnamedAside sets such columns aside, of which neither the file nor a person says
// what they hold: a map need not name them.
func setUnnamedAside(curves []curve) {
	if !slices.ContainsFunc(curves, isNamed) {
		return
	}
	for i := range curves {
		if c := curves[i]; isUnsaid(c) && (c.quantity == "" || c.unit == "") {
			curves[i].aside = "its heading does not say that it contains reflectance; the headings of other columns do"
		}
	}
}

// askWhich asks which curve is meant if they are of different quantities or of
// both faces: only a person knows.
func (r *asker) askWhich(p plan) error {
	var front, back, reflectance, transmittance bool
	var at text.Position
	for _, c := range p.curves {
		if c.aside == "" {
			if at == text.Nowhere {
				at = c.at
			}
			front, back = front || c.label.Face == "front", back || c.label.Face == "back"
			reflectance, transmittance = reflectance || c.quantity == study.Reflectance, transmittance ||
				c.quantity == study.Transmittance
		}
	}
	what, choices := "", columnChoices(p.curves, notAside)
	switch {
	case front && back:
		what = "the front and the back face"
	case reflectance && transmittance:
		what, choices = "reflectance and transmittance", choicesByQuantity(p.curves)
	default:
		return nil
	}
	return r.Question(at, choices, "give the curve that is meant a file of its own",
		"%s stand side by side: it is not known which curves are meant", what)
}

// choicesByQuantity offers reflectance and transmittance together, as they are read of a pane that lets light out, and
// each alone.
func choicesByQuantity(curves []curve) []study.Choice {
	of := func(quantity study.Quantity) string {
		return listOf(numbersOf(curves, func(c curve) bool { return c.aside == "" && c.quantity == quantity }))
	}
	return []study.Choice{
		{Name: "columns", Value: listOf(numbersOf(curves, notAside)), Meaning: "all of them are curves"},
		{Name: "columns", Value: of(study.Reflectance), Meaning: "reflectance alone"},
		{Name: "columns", Value: of(study.Transmittance), Meaning: "transmittance alone"},
	}
}

// askBaseline asks about columns that are baselines or references by their
// names and headed as the samples are.
func (r *asker) askBaseline(p plan) error {
	named := false
	for _, c := range p.curves {
		named = named || c.aside == "" && c.label.Quantity != ""
	}
	doubtful := func(c curve) bool {
		return c.label.Role == heading.AsAside && !c.unusable && (c.label.Quantity != "" || !named)
	}
	i := slices.IndexFunc(p.curves, doubtful)
	if i < 0 {
		return nil
	}
	without := numbersOf(p.curves, notAside)
	with := numbersOf(p.curves, func(c curve) bool { return notAside(c) || doubtful(c) })
	var choices []study.Choice
	if len(without) > 0 {
		choices = append(choices, study.Choice{Name: "columns", Value: listOf(without),
			Meaning: "baselines and references are skipped"})
	}
	choices = append(choices, study.Choice{Name: "columns", Value: listOf(with),
		Meaning: "they are samples like the others"})
	return r.Question(p.curves[i].at, choices, "", "%s is a baseline or reference by its name, among the samples",
		p.curves[i].name())
}

func anyCurve(curve) bool       { return true }
func notAside(c curve) bool     { return c.aside == "" }
func hasNoHeading(c curve) bool { return c.label.Text == "" }

// numbersOf returns the numbers of the columns that meet a condition.
func numbersOf(curves []curve, holds func(curve) bool) []int {
	var all []int
	for _, c := range curves {
		if holds(c) {
			all = append(all, c.id())
		}
	}
	return all
}

// columnChoices offers each of the columns that meet a condition by themselves.
func columnChoices(curves []curve, holds func(curve) bool) []study.Choice {
	var choices []study.Choice
	for _, c := range curves {
		if !holds(c) {
			continue
		}
		choices = append(choices, study.Choice{Name: "columns", Value: strconv.Itoa(c.id()), Meaning: c.name() + " alone"})
		if len(choices) == 20 {
			break
		}
	}
	return choices
}

// setFacesAside sets front and back aside if both are there.
func setFacesAside(curves []curve) {
	seen := map[string]bool{}
	for _, c := range curves {
		seen[c.label.Face] = true
	}
	if !seen["front"] || !seen["back"] {
		return
	}
	for i := range curves {
		if curves[i].label.Face != "" && curves[i].aside == "" {
			curves[i].aside = "the " + curves[i].label.Face + " face, beside the other"
		}
	}
}

// setMarkedAside sets the rows aside that are marked as transmittance among rows
// of reflectance.
func setMarkedAside(curves []curve) {
	if !slices.ContainsFunc(curves, func(c curve) bool { return c.aside == "" && c.quantity == study.Reflectance }) {
		return
	}
	for i := range curves {
		if c := &curves[i]; c.aside == "" && c.quantity == study.Transmittance {
			c.aside = "transmittance"
		}
	}
}

// countsRows reports whether a column holds 0, 1, 2 and so on, or 1, 2, 3.
func countsRows(x []float64) bool {
	if len(x) < 3 || x[0] != 0 && x[0] != 1 {
		return false
	}
	for i, v := range x {
		if v != x[0]+float64(i) {
			return false
		}
	}
	return true
}

// leastListed is how many numbers in a row are written as a range.
const leastListed = 3

// listOf writes numbers as a person states them: 2,4 or 6-36.
func listOf(numbers []int) string {
	var words []string
	for i := 0; i < len(numbers); {
		end := i + 1
		for end < len(numbers) && numbers[end] == numbers[end-1]+1 {
			end++
		}
		if end-i >= leastListed {
			words = append(words, fmt.Sprintf("%d-%d", numbers[i], numbers[end-1]))
			i = end
			continue
		}
		words = append(words, strconv.Itoa(numbers[i]))
		i++
	}
	return strings.Join(words, ",")
}
