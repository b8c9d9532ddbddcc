package jcamp

import (
	"math"
	"slices"

	"wane/study"
	"wane/study/intake/text"
)

// numberOf reads the value of a record as a number. ok is false if the block
// has no such record.
func (b *Block) numberOf(label string) (d decimal, ok bool, err error) {
	c := b.Records[label]
	if c.Line == 0 {
		return decimal{}, false, nil
	}
	d, n := readDecimal([]byte(c.Value), true)
	if n == 0 || n < len(c.Value) || math.IsInf(d.float(), 0) {
		return decimal{}, false, refuse(c.At(), text.ExportAgain+", or correct the line", "##%s= %s is not a number", label,
			text.Quoted(c.Value))
	}
	return d, true, nil
}

// needed reads a record without which the table means nothing.
func (b *Block) needed(label string) (decimal, error) {
	d, ok, err := b.numberOf(label)
	if err == nil && !ok {
		err = refuse(b.Tables[0].At(), text.ExportAgain, "the block of line %d has no ##%s=, which its table needs",
			b.Title.Line, label)
	}
	return d, err
}

// factor reads XFACTOR or YFACTOR. Pairs may do without.
func (b *Block) factor(label string, pairs bool) (decimal, error) {
	if pairs && b.Records[label].Line == 0 {
		return one, nil
	}
	d, err := b.needed(label)
	if err == nil && d.mantissa == 0 {
		err = refuse(b.Records[label].At(), text.ExportAgain, "##%s= is zero", label)
	}
	return d, err
}

// checkPoints compares NPOINTS with the points found.
func (b *Block) checkPoints(found int) error {
	d, err := b.needed("NPOINTS")
	if err != nil {
		return err
	}
	c := b.Records["NPOINTS"]
	if d.float() != float64(found) {
		return refuse(c.At(), text.ExportAgain+", or correct the header", "##NPOINTS= says %s, %s found",
			text.Short(c.Value), text.Figure(float64(found)))
	}
	if found < 2 {
		return refuse(b.Tables[0].At(), text.ExportAgain, "the table contains %s: that is not a spectrum",
			text.Count(found, "point"))
	}
	return nil
}

// ends reads FIRSTX and LASTX, between which the points lie in equal steps.
func (b *Block) ends() (first, last decimal, err error) {
	if first, err = b.needed("FIRSTX"); err != nil {
		return first, last, err
	}
	if last, err = b.needed("LASTX"); err != nil {
		return first, last, err
	}
	if first.float() == last.float() {
		err = refuse(b.Records["LASTX"].At(), text.ExportAgain, "##FIRSTX= and ##LASTX= are the same")
	}
	return first, last, err
}

// checkStep compares DELTAX with the mean step between the first and the last
// point, in the unit of the file. Both are known to a digit of size unit. Of pairs
// a person may say that it is wrong; in equal steps it may as well be LASTX.
func (b *Block) checkStep(ignore, pairs bool, first, last, unit float64, points int) error {
	d, ok, err := b.numberOf("DELTAX")
	if err != nil || !ok || pairs && ignore {
		return err
	}
	step := (last - first) / float64(points-1)
	// Either end may be rounded by half a digit, unless it is whole. A step of
	// three digits or more may be rounded or cut off in its last one; a shorter one
	// is meant exactly.
	may := 0.0
	if unit < 1 {
		may = unit / float64(points-1)
	}
	if d.mantissa >= 100 {
		may = max(may, math.Pow10(d.unit))
	}
	if math.Abs(d.float()-step) <= max(may*almostOne, 1e-9*math.Abs(step)) {
		return nil
	}
	c := b.Records["DELTAX"]
	var choices []study.Choice
	if pairs {
		choices = text.DeclaredChoices
	}
	return ask(c.At(), choices, "find out which is right, then correct the header",
		"##DELTAX= says %s, the first and the last point and their number make it %s", text.Short(c.Value),
		text.Wavelength(step))
}

// checkValues compares what the header says of the first, the last, the least
// and the greatest number with the numbers. It returns which of the customary
// four the header does not give.
func (b *Block) checkValues(ignore bool, d *rowReader, xs, ys []float64) (unsaid []string, err error) {
	lowX, highX := text.Ends(xs)
	lowY, highY := text.Ends(ys)
	mostX, mostY := max(-lowX, highX), max(-lowY, highY)
	n := len(xs) - 1
	for _, c := range []struct {
		label string
		found float64
		most  float64
		scale *scale
	}{
		{"FIRSTX", xs[0], mostX, &d.x}, {"LASTX", xs[n], mostX, &d.x}, {"MINX", lowX, mostX, &d.x},
		{"MAXX", highX, mostX, &d.x},
		{"FIRSTY", ys[0], mostY, &d.y}, {"LASTY", ys[n], mostY, &d.y}, {"MINY", lowY, mostY, &d.y},
		{"MAXY", highY, mostY, &d.y},
	} {
		said, ok, err := b.numberOf(c.label)
		switch {
		case err != nil:
			return nil, err
		case !ok && !slices.Contains([]string{"MINX", "MAXX", "LASTY"}, c.label):
			unsaid = append(unsaid, c.label)
		case !ok, ignore, math.IsNaN(c.found), math.IsInf(c.found, 0): // the point is missing, or all are
		case !c.scale.agrees(said, c.found, c.most):
			at := b.Records[c.label]
			return nil, ask(at.At(), text.DeclaredChoices,
				"find out which is right, then correct the header or export the file again",
				"##%s= says %s, the numbers give %s", c.label, text.Short(at.Value), c.scale.shown(c.found))
		}
	}
	return unsaid, nil
}

// agrees reports whether a number of the header can be the one found, where the
// magnitudes found reach most: within half a unit of its own last digit if it was
// rounded, and not to nothing, or within less than one of the rows if those were
// rounded or cut off; in both cases with what the digits of the factor leave open.
func (s *scale) agrees(said decimal, found, most float64) bool {
	said = said.shifted(s.shift)
	apart, unit := math.Abs(said.float()-found)-s.loose*math.Abs(found), math.Pow10(said.unit)
	const rounding = 1 + 1e-9
	return unit <= most && apart <= unit/2*rounding || apart < s.unit*almostOne
}

// looseness returns half a unit of the last digit of a factor as a share of it. A
// factor of four digits or fewer is meant exactly.
func looseness(factor decimal) float64 {
	if factor = factor.trimmed(); factor.mantissa < 10_000 {
		return 0
	}
	return 0.5 / float64(factor.mantissa)
}
