package intake

import (
	"errors"
	"fmt"
	"math"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"wane/study"
	"wane/study/intake/text"
)

// Draft writes a profile of that name, which may be empty, from one export for a person
// to finish: in comments what the reader found, a commented line for each answer to what
// the export leaves open, and a curve for each column, with fields to fill in where the
// export does not say. Nothing that is open is answered. An export that cannot be read
// whatever is answered gives its refusal, a [*study.Refusal].
func Draft(profile, sample string, data []byte) (string, error) {
	d := &draft{sample: sample, data: data}
	x := d.settle(text.Stated{})
	if x == nil {
		return "", d.refusal
	}
	d.head(profile)
	d.open()
	d.curves(x)
	return d.text.String(), nil
}

// draft is a profile in the making.
type draft struct {
	sample string
	data   []byte
	text   strings.Builder

	reads   int
	refusal *study.Refusal // of the export as it is
	asked   []asked        // on the way to the reading that is shown
}

// asked is what an export leaves open, and the answer that was tried.
type asked struct {
	refusal *study.Refusal
	tried   study.Choice
}

const (
	mostDraftReads  = 100 // of one export, with one set of answers each
	mostDraftLines  = 60  // of what the reader found
	mostDraftCurves = 500
)

// settle reads the export with the first answers that make it readable; nil if there are
// none.
func (d *draft) settle(stated text.Stated) *Export {
	if d.reads++; d.reads > mostDraftReads {
		return nil
	}
	x, err := Read(d.sample, d.data, stated)
	if err == nil {
		return x
	}
	var refusal *study.Refusal
	if !errors.As(err, &refusal) {
		return nil
	}
	if d.refusal == nil {
		d.refusal = refusal
	}
	for _, c := range refusal.Choices {
		c.Value = orElse(c.Value, "reference")
		next := stated
		if next.Set(c.Name, c.Value) != nil {
			continue // it contradicts what was tried
		}
		d.asked = append(d.asked, asked{refusal, c})
		if x := d.settle(next); x != nil {
			return x
		}
		d.asked = d.asked[:len(d.asked)-1]
	}
	return nil
}

// line writes a line, on which what does not belong into one line is not shown.
func (d *draft) line(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	for _, c := range norm.NFC.String(text) {
		if !unicode.IsPrint(c) {
			c = unicode.ReplacementChar
		}
		d.text.WriteRune(c)
	}
	d.text.WriteByte('\n')
}

func (d *draft) head(profile string) {
	d.line("# Drafted from %s. What the reader found there:", filepath.Base(d.sample))
	says := Explain(filepath.Base(d.sample), d.data, text.Stated{})
	for _, l := range says[:min(len(says), mostDraftLines)] {
		d.line("#   %s", l)
	}
	if more := len(says) - mostDraftLines; more > 0 {
		d.line("#   and %s more", text.Count(more, "line"))
	}
	d.line("")
	if profile == "" {
		d.line(`profile: ""   # fill in: its name in the study`)
	} else {
		d.line("profile: %s", yamlText(profile))
	}
	d.line("# Which exports it is for, by the end of their path; left out: all. * is any text, {name} a")
	d.line("# text to use below as %s.", `"{name}"`)
	d.line("# files: %s", yamlText(filesLike(d.sample)))
	d.line("")
}

var labelled = regexp.MustCompile(`(pull|spot)[0-9]+`)

// filesLike proposes a pattern for files named as the sample is: words that say what the
// number after them is become gaps, and other numbers are left as they are.
func filesLike(sample string) string {
	base := path.Base(filepath.ToSlash(sample))
	stem := strings.TrimSuffix(base, path.Ext(base))
	if isPattern(base) || stem == "" {
		return "*"
	}
	coupon, rest, cut := stem, "", -1
	if cut = strings.IndexAny(stem, "-_ "); cut > 0 {
		coupon, rest = "", stem[cut:]
	}
	if coupon != "" {
		return "{coupon}" + path.Ext(base)
	}
	seen := map[string]bool{}
	rest = labelled.ReplaceAllStringFunc(rest, func(text string) string {
		word := strings.TrimRight(text, "0123456789")
		if seen[word] {
			return text
		}
		seen[word] = true
		return word + "{" + word + "}"
	})
	return "{coupon}" + rest + path.Ext(base)
}

// open writes the answers to what the export leaves open, each commented out.
func (d *draft) open() {
	if len(d.asked) == 0 {
		d.line("# The export leaves nothing open. What is stated here would hold for all exports.")
		d.line("stated:")
		d.line("")
		return
	}
	d.line("# What the export leaves open. Take the # away in front of one answer to each question.")
	d.line("stated:")
	for _, a := range d.asked {
		at := ""
		if a.refusal.Line > 0 {
			at = fmt.Sprintf("line %d: ", a.refusal.Line)
		}
		d.line("  # %s%s", at, a.refusal.Fault)
		for _, c := range a.refusal.Choices {
			value := "NAME"
			if c.Value != "" {
				value = yamlText(c.Value)
			}
			d.line("  # %s: %s   # %s", c.Name, value, c.Meaning)
		}
	}
	d.line("")
}

// curves writes a curve for each column.
func (d *draft) curves(x *Export) {
	if len(d.asked) > 0 {
		var tried []string
		for _, a := range d.asked {
			tried = append(tried, a.tried.Name+" "+a.tried.Value)
		}
		d.line("# The columns below are those that are found with %s.", strings.Join(tried, ", "))
	}
	if !slices.ContainsFunc(x.Spectra, func(s study.Spectrum) bool { return s.Quantity == study.Reflectance }) {
		d.line("# No column holds reflectance, so there is none to place.")
		d.line("# curves:")
	} else {
		d.line("# Where each column belongs. Leave curves out if a map says it.")
		d.line("curves:")
	}
	columns := columnsOf(x)
	for i, s := range columns[:len(x.Spectra)] {
		name := columnName(s.Column, s.Heading, columns)
		switch {
		case i == mostDraftCurves:
			d.line("  # and %s more", text.Count(len(x.Spectra)-i, "column"))
		case i > mostDraftCurves:
		case s.Quantity != study.Reflectance:
			d.line("  # - column: %s   # transmittance; this needs reflectance", name)
		default:
			d.curve("  ", name, fmt.Sprintf("column %d, %s", s.Column, PreviewPoints(s.NM, s.Values)), s)
		}
	}
	for i, l := range x.Left {
		name, why := columnName(l.Column, l.Heading, columns), "left out: "+l.Why
		switch {
		case i >= mostDraftCurves: // they are among the notes above
		case l.Spectrum == nil || l.Spectrum.Quantity != study.Reflectance:
			d.line("  # - column: %s   # %s", name, why)
		default:
			d.curve("  # ", name, why, l.Spectrum)
		}
	}
}

// curve writes a curve behind the indentation given.
func (d *draft) curve(indent, name, says string, s *study.Spectrum) {
	d.line("%s- column: %s   # %s", indent, name, says)
	for _, f := range []string{"coupon", "pull", "spot"} {
		d.line(`%s  %s: ""   # fill in`, indent, f)
	}
	if math.IsNaN(s.AngleDeg) {
		d.line(`%s  angle: ""   # fill in: from the normal, in degrees`, indent)
	} else {
		d.line("%s  angle: %s", indent, strconv.FormatFloat(s.AngleDeg, 'f', -1, 64))
	}
	if s.Polarisation == "" {
		d.line(`%s  polarisation: ""   # fill in: s, p, u (unpolarised light) or n (as the instrument has it)`, indent)
	} else {
		d.line("%s  polarisation: %s", indent, yamlText(s.Polarisation))
	}
}

// columnName names a column by its heading, or by its number where the heading is not
// plain or not that of one column alone.
func columnName(column int, heading string, columns []*study.Spectrum) string {
	const longest = 80
	same := 0
	for _, c := range columns {
		if c.Heading == heading {
			same++
		}
	}
	plain := heading != "" && len(heading) <= longest && heading[0] != '#' && !isPattern(heading) &&
		!strings.ContainsFunc(heading, func(c rune) bool { return !unicode.IsPrint(c) }) && norm.NFC.IsNormalString(heading)
	if !plain || same > 1 {
		return strconv.Quote("#" + strconv.Itoa(column))
	}
	return strconv.Quote(heading)
}
