package intake

import (
	"errors"
	"fmt"

	"wane/study"
	"wane/study/intake/heading"
	"wane/study/intake/jcamp"
	"wane/study/intake/text"
)

// jcampCurve is a block with data and what is known of it before its table is
// read. As a curve it is the second column of the table of its block, and named
// by a number that counts the blocks: 2 for the first.
type jcampCurve struct {
	*jcamp.Block
	curve
	header   header
	axis     string // unit of its wavelengths, "" if nobody says
	lost     string // what XUNITS says if the symbol was lost
	standard bool   // only the standard says that the values are fractions
	// fault says why the block cannot be read at all, or is nil.
	fault *study.Refusal
}

// readJCAMPLines reads what lines of a block say of a reference, and which name another
// quantity. Records that are read by their labels speak for themselves.
func (r *asker) readJCAMPLines(h *header, lines []jcamp.Line) {
	for _, l := range lines {
		if len(l.Text) > jcamp.MostInRecord || r.overrules(l.Number) { // the first are no words for people
			continue
		}
		h.noteReference(l.Text, l.Number)
		if !l.IsRecord {
			h.noteOther(outsideLine{Line: text.Line{Number: l.Number}, text: l.Text})
		}
	}
}

// overruledIn returns the lines that a person overrules.
func (r *asker) overruledIn(lines []jcamp.Line) []outsideLine {
	var overruled []outsideLine
	for _, l := range lines {
		if r.overrules(l.Number) {
			overruled = append(overruled, outsideLine{Line: text.Line{Number: l.Number}, text: l.Text})
		}
	}
	return overruled
}

// jcampLabel names labels of instruments that say what a record of ours does.
func jcampLabel(label string) string {
	switch key := heading.KeyOf(label); {
	case key.IsPolarisation():
		return "POLARISATION"
	case key.IsAngle():
		return "ANGLE"
	}
	return label
}

// refuseJCAMP returns the refusal of an error of the codec.
func (r grid) refuseJCAMP(err error) *study.Refusal {
	var e *jcamp.Error
	switch {
	case !errors.As(err, &e):
		return r.Refuse(text.Nowhere, text.ExportAgain, "%v", err)
	case e.Choices != nil:
		return r.question(e.At, e.Choices, e.Try, "%s", e.Fault)
	}
	return r.Refuse(e.At, e.Try, "%s", e.Fault)
}

// planJCAMP decides what each block is. The only block of a file is taken whatever
// its title, and that is reported.
func (r grid) planJCAMP(f *jcamp.File) (curves []jcampCurve, notes []string, err error) {
	if err := r.checkAnswers(); err != nil {
		return nil, nil, err
	}
	for _, b := range f.Blocks {
		if b.IsLink() {
			continue
		}
		c := jcampCurve{Block: b}
		c.column, c.x, c.number, c.at, c.isBlock = 1, 0, len(curves)+2, b.Title.At(), true
		if err := r.planJCAMPBlock(&c); err != nil {
			return nil, nil, err
		}
		curves = append(curves, c)
	}
	if len(curves) == 0 {
		return nil, nil, r.Refuse(text.Nowhere, text.ExportAgain, "the file has no block of data")
	}
	if c := &curves[0]; len(curves) == 1 && c.fault == nil && c.aside != "" {
		notes = append(notes, fmt.Sprintf("%s is %s, and was used because there is no other", c.name(), c.aside))
		c.aside = ""
	}
	if err := r.chooseBlocks(curves); err != nil {
		return nil, nil, err
	}
	return curves, notes, r.refuseNone(curves)
}

// checkAnswers refuses statements about what a JCAMP-DX file settles itself.
func (r *asker) checkAnswers() error {
	for _, a := range r.Stated.Answers() {
		if *a.To != "" && heading.IsAny(a.Name, "decimal", "thousands", "block", "axis", "group-by") && *a.To != "point" {
			return r.Refuse(text.Nowhere, "leave --"+a.Name+" out; --columns states which blocks are curves, the first being 2",
				"the file is JCAMP-DX, in which --%s means nothing", a.Name)
		}
	}
	return nil
}

// chooseBlocks sets the blocks aside that are not asked for or not meant.
func (r grid) chooseBlocks(curves []jcampCurve) error {
	var p plan
	var from []int
	for i, c := range curves {
		if c.fault == nil {
			p.curves, from = append(p.curves, c.curve), append(from, i)
		}
	}
	setMarkedAside(p.curves)
	var err error
	switch {
	case r.want.Columns != nil:
		err = r.takeColumns(p)
	case r.Stated.InMap:
		setFacesAside(p.curves)
	default:
		err = r.askWhich(p)
	}
	for k, i := range from {
		curves[i].curve = p.curves[k]
	}
	return err
}

// refuseNone refuses a file without a block to take. A map may name one that is
// set aside.
func (r grid) refuseNone(curves []jcampCurve) error {
	var readable []curve
	var first *study.Refusal
	for _, c := range curves {
		switch {
		case c.fault == nil && (c.aside == "" || r.Stated.InMap):
			return nil
		case c.fault == nil:
			readable = append(readable, c.curve)
		case first == nil:
			first = c.fault
		}
	}
	if len(readable) == 0 {
		return first
	}
	c := readable[0]
	return r.question(c.at, columnChoices(readable, anyCurve), "give the block that is meant a file of its own",
		"%s is %s, and no other block remains", c.name(), c.aside)
}

// planJCAMPBlock decides what a block holds.
func (r grid) planJCAMPBlock(c *jcampCurve) error {
	if err := c.Unread(); err != nil {
		c.fault = r.refuseJCAMP(err)
		return nil
	}
	if t := c.Twice; t.Line > 0 {
		return r.Refuse(t.At(), text.ExportAgain+", or delete one of the two", "##%s= has another value in line %d", t.Label,
			c.Records[t.Label].Line)
	}
	r.dropOverruled(c.Block)
	c.label = heading.Parse(c.Title.Value)
	c.label.Quantity = heading.QuantityIn(c.Title.Value)
	if r.overrules(c.Title.Line) {
		c.label.Quantity = ""
	}
	c.label.Angles = nil // a title is the name of a sample
	if c.label.ByLetter {
		c.label.Polarisation, c.label.ByLetter = "", false
	}
	fault, err := r.jcampHeader(c)
	if c.fault = fault; err != nil || fault != nil {
		return err
	}
	if c.angle, err = r.incidence(c.label, c.at, c.header.angle); err != nil {
		return err
	}
	if c.axis, err = r.agree(c.header.axis, said{r.Stated.WavelengthUnit, "--wavelength-unit", text.Nowhere}); err != nil {
		return err
	}
	if err := r.agreeOnCurve(&c.curve, c.header, ""); err != nil {
		return err
	}
	if c.unit == "" && c.Records["YUNITS"].Value != "" {
		c.unit, c.standard = "fraction", true
	}
	switch {
	case c.Tables[0].Label == "PEAKTABLE":
		c.aside = "a table of peaks by its label"
	case c.label.Role == heading.AsAside:
		c.aside = "a baseline or reference by its name"
	case c.label.Role == heading.AsUncertainty:
		c.aside = "an uncertainty by its name"
	}
	return nil
}

// dropOverruled drops the records that a person overrules, but for those without which the
// table means nothing.
func (r *asker) dropOverruled(b *jcamp.Block) {
	for _, label := range []string{"DATATYPE", "XUNITS", "YUNITS", "POLARISATION", "ANGLE", "DATE", "LONGDATE",
		"MINX", "MAXX", "FIRSTY", "LASTY", "MINY", "MAXY", "FIRSTX", "LASTX", "DELTAX"} {
		needed := !b.InPairs() && heading.IsAny(label, "FIRSTX", "LASTX", "DELTAX")
		if r.overrules(b.Records[label].Line) && !needed {
			delete(b.Records, label)
		}
	}
}

// jcampHeader reads what the records of a block state. fault says why the block
// cannot be used; err refuses the file.
func (r grid) jcampHeader(c *jcampCurve) (fault *study.Refusal, err error) {
	const export = "export the reflectance over wavelengths"
	h := &c.header
	y, x, kind, p := c.Records["YUNITS"], c.Records["XUNITS"], c.Records["DATATYPE"], c.Records["POLARISATION"]
	r.readJCAMPLines(h, c.Lines)
	if y.Value != "" {
		l := heading.Parse(y.Value)
		if !l.IsOrdinate() {
			return r.Refuse(y.At(), export+"; ##YUNITS= is then REFLECTANCE or PERCENT REFLECTANCE",
				"##YUNITS= %s: this needs reflectance", text.Short(y.Value)), nil
		}
		h.quantity, h.unit = said{string(l.Quantity), "##YUNITS=", y.At()}, said{l.Unit, "##YUNITS=", y.At()}
	}
	if heading.IsNoSpectrum(kind.Value) {
		return r.Refuse(kind.At(), export, "##DATA TYPE= %s: this needs a spectrum of reflectance", text.Short(kind.Value)),
			nil
	}
	ofKind := said{string(heading.QuantityIn(kind.Value)), "##DATA TYPE=", kind.At()}
	if _, err := r.agree(h.quantity, ofKind); err != nil {
		return nil, r.askOverrule(err, ofKind.at, h.quantity.at)
	}
	if h.quantity.value == "" {
		h.quantity = ofKind
	}
	if c.label.Quantity == heading.Absorbance || h.quantity.value == string(heading.Absorbance) {
		return r.Refuse(c.at, export, "%s is absorbance; this needs reflectance", c.name()), nil
	}
	if x.Value != "" {
		l := heading.Parse(x.Value)
		switch {
		case l.Lost:
			c.lost = x.Value
		case !heading.IsAny(l.Axis, "nm", "um", "cm-1"):
			return r.Refuse(x.At(), "export wavelengths in nm", "##XUNITS= %s is not a unit of wavelength that wane reads",
				text.Short(x.Value)), nil
		}
		h.axis = said{l.Axis, "##XUNITS=", x.At()}
	}
	h.angle = said{heading.AngleIn(c.Records["ANGLE"].Value), "the header", c.Records["ANGLE"].At()}
	named, _ := heading.PolarisationIn(p.Value)
	h.polarisation = said{named, "the header", p.At()}
	for _, label := range []string{"LONGDATE", "DATE"} { // the first has the year in four digits
		if d := c.Records[label]; d.Value != "" {
			h.date.note("date", "##"+label+"= "+d.Value)
		}
	}
	return nil, nil
}
