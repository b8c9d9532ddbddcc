package placing

import (
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

// Sample is an export that a profile is drafted from.
type Sample struct {
	Path    string
	Says    []string         // what the reader found, a line each
	Header  []string         // its lines
	Asked   []study.Answered // what it leaves open, with the answers by which the columns were found
	Spectra []study.Spectrum
	Skipped []study.SkippedColumn
}

// Draft writes a profile of that name, which may be empty, from one export for a person
// to finish: in comments what the reader found, a commented line for each answer to what
// the export leaves open, and a curve for each column, with fields to fill in where the
// export does not say. Nothing that is open is answered. others are more samples of the same kind: what varies in their
// names and headers is proposed as gaps of patterns, in comments too.
func Draft(profile string, x Sample, others ...Sample) string {
	d := &draft{Sample: x, samples: append([]Sample{x}, others...)}
	d.head(profile)
	d.open()
	d.curves()
	return d.text.String()
}

// draft is a profile in the making.
type draft struct {
	Sample
	samples []Sample // with the first
	text    strings.Builder
}

const (
	mostDraftLines  = 60 // of what the reader found
	mostDraftCurves = 500
)

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
	d.line("# Drafted from %s. What the reader found there:", filepath.Base(d.Path))
	says := d.Says
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
	d.line("# Which exports it is for, by the end of their path; without it: all. * is any text, {name} a")
	d.line("# text to use below as %s.", `"{name}"`)
	d.line("# files: %s", yamlText(filesAlike(d.samples)))
	d.line("")
	if proposals := headerAlike(d.samples); len(proposals) > 0 {
		d.line("# Lines of the header that vary: take the # away where a curve is to use them.")
		d.line("# header:")
		for _, p := range proposals {
			d.line("#   - %s", p)
		}
		d.line("")
	}
	if names := otherColumns(d.samples); len(names) > 0 {
		d.line("# These samples have other columns than %s: %s.", filepath.Base(d.Path), strings.Join(names, ", "))
		d.line("")
	}
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
	if len(d.Asked) == 0 {
		d.line("# The export leaves nothing open. What is stated here would apply to all exports.")
		d.line("stated:")
		d.line("")
		return
	}
	d.line("# What the export leaves open. Take the # away in front of one answer to each question.")
	d.line("stated:")
	for _, a := range d.Asked {
		at := ""
		if a.Question.Line > 0 {
			at = fmt.Sprintf("line %d: ", a.Question.Line)
		}
		d.line("  # %s%s", at, a.Question.Fault)
		for _, c := range a.Question.Choices {
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
func (d *draft) curves() {
	if len(d.Asked) > 0 {
		var tried []string
		for _, a := range d.Asked {
			tried = append(tried, a.Answer.Name+" "+a.Answer.Value)
		}
		d.line("# The columns below are those that are found with %s.", strings.Join(tried, ", "))
	}
	if !slices.ContainsFunc(d.Spectra, func(s study.Spectrum) bool { return s.Quantity == study.Reflectance }) {
		d.line("# No column contains reflectance, so there is none to place.")
		d.line("# curves:")
	} else {
		d.line("# Where each column belongs. Leave curves out if a map says it.")
		d.line("curves:")
	}
	columns := columnsOf(d.Spectra, d.Skipped)
	for i, s := range columns[:len(d.Spectra)] {
		name := columnName(s.Column, s.Heading, columns)
		switch {
		case i == mostDraftCurves:
			d.line("  # and %s more", text.Count(len(d.Spectra)-i, "column"))
		case i > mostDraftCurves:
		case s.Quantity != study.Reflectance:
			d.line("  # - column: %s   # transmittance: wane help transmittance", name)
		default:
			d.curve("  ", name, fmt.Sprintf("column %d, %s", s.Column, text.Points(s.NM, s.Values)), s)
		}
	}
	for i, l := range d.Skipped {
		name, why := columnName(l.Column, l.Heading, columns), "skipped: "+l.Why
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
	angles := anglesOf(d.samples, s.Heading)
	switch {
	case math.IsNaN(s.AngleDeg):
		d.line(`%s  angle: ""   # fill in: from the normal, in degrees`, indent)
	case len(angles) > 1:
		d.line(`%s  angle: ""   # fill in: the samples have %s; "{angle}" with a line of the header or of files above`, indent,
			strings.Join(angles[:min(len(angles), 3)], ", "))
	default:
		d.line("%s  angle: %s", indent, strconv.FormatFloat(s.AngleDeg, 'f', -1, 64))
	}
	if s.Polarisation == "" {
		d.line(`%s  polarisation: ""   # fill in: s, p, u (unpolarised light) or n (as the instrument has it)`, indent)
	} else {
		d.line("%s  polarisation: %s", indent, yamlText(s.Polarisation))
	}
}

// columnName names a column by its heading, or by its number where the heading is not
// plain or not only that of one column.
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
