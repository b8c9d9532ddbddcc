package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"wane/fit"
	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/report/document"
	"wane/study/series"
)

// reporter makes the parts of a report from what the desk gathered.
type reporter struct {
	ctx context.Context
	d   *desk.Desk
	o   *reportOptions
	of  *desk.Report

	// series gathers the quantity of the report, once.
	series func() (*series.Data, error)
}

func newReporter(ctx context.Context, d *desk.Desk, o *reportOptions) (*reporter, error) {
	of, err := d.Report(ctx, ageing.By(o.by))
	w := &reporter{ctx: ctx, d: d, o: o, of: of}
	w.series = sync.OnceValues(func() (*series.Data, error) {
		return d.Series(ctx, o.quantity, desk.SeriesOptions{AsOf: of.Last.Number})
	})
	return w, err
}

// reportPart makes a part of a report; one without a name is left out. Several run at once.
type reportPart func(*reporter) (document.Part, error)

// partsFor are the parts of a report in the order in which who reads it sees them; verdicts are always the first.
func partsFor(audience string) []reportPart {
	switch audience {
	case "lab":
		return []reportPart{verdictPart, sessionsPart, standingPart, correctionsPart, endedPart, designPart, changesPart,
			comparePart,
			budgetPart, rulesPart, limitsPart, originsPart, methodPart, safetyPart}
	case "research":
		return []reportPart{verdictPart, methodPart, trendPart, filmsPart, comparePart, exposuresPart, changesPart,
			budgetPart,
			rulesPart, designPart, limitsPart,
			sessionsPart, standingPart, correctionsPart, endedPart, originsPart, safetyPart}
	case "purchasing":
		return []reportPart{verdictPart, comparePart, exposuresPart, changesPart, limitsPart, endedPart, elsewherePart,
			originsPart, safetyPart}
	}
	return []reportPart{verdictPart, comparePart, exposuresPart, changesPart, trendPart, filmsPart, rulesPart, budgetPart,
		designPart,
		sessionsPart,
		standingPart, correctionsPart, endedPart, methodPart, limitsPart, originsPart, safetyPart}
}

// document makes the report.
func (w *reporter) document() (*document.Document, error) {
	r := w.of
	doc := &document.Document{
		Title: "Report of the study " + r.Study,
		About: []document.Fact{
			{Name: "made", Value: r.Made.Format(time.DateOnly)},
			{Name: "for", Value: audienceWords(w.o.audience)},
			{Name: "study begun", Value: dayOf(r.Settings.Created)},
			{Name: "last line of the history", Value: fmt.Sprintf("%d, of %s, by "+
				"%s", r.Last.Number, dayOf(r.Last.At), r.Last.Who)},
			{Name: "its checksum, which covers all lines before it", Value: hex.EncodeToString(r.Last.Hash[:])},
		},
		Foot: fmt.Sprintf("%s, line %d of its history, checksum %s", r.Study, r.Last.Number,
			hex.EncodeToString(r.Last.Hash[:])),
	}
	doc.Notice = strings.Join(slices.DeleteFunc([]string{w.o.notice, afterTheFact(r.Rules)},
		func(said string) bool { return said == "" }), ". ")
	parts := partsFor(w.o.audience)
	var err error
	doc.Parts, err = together(len(parts), func(i int) (document.Part, error) { return parts[i](w) })
	if err != nil {
		return nil, err
	}
	doc.Parts = slices.DeleteFunc(doc.Parts, func(p document.Part) bool { return p.Name == "" })
	doc.Parts = append(doc.Parts, filesPart(doc))
	return doc, nil
}

// together makes n things at once, and returns them in their order, or the first error in that order.
func together[T any](n int, do func(i int) (T, error)) ([]T, error) {
	made, errs := make([]T, n), make([]error, n)
	var group fit.Group
	for i := range n {
		group.Go(func() { made[i], errs[i] = do(i) })
	}
	group.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return made, nil
}

// audienceWords says who a report is for.
func audienceWords(audience string) string {
	switch audience {
	case "lab":
		return "the laboratory: sessions, readings and corrections first"
	case "research":
		return "research: method and parameters first"
	case "purchasing":
		return "purchasing: verdicts, comparisons and limits; the full report has the rest"
	}
	return "whoever checks it: everything"
}

// dayOf is the day of a time, ISO 8601.
func dayOf(at string) string {
	day, _, _ := strings.Cut(at, "T")
	return day
}

// mostRowsShown is how many rows of a table stand on the page; its file has all.
const mostRowsShown = 120

// tableOf makes a table: on the page the columns shown, and in its file all that have a value for programs. Of a table
// with more rows than mostRowsShown the page has the first ones and says so; without columns shown it only names the
// file.
func tableOf[R any](name, caption string, shown, all listing[R], rows []R) (document.Table, error) {
	t := document.Table{Name: name, Caption: caption}
	var out bytes.Buffer
	if all == nil {
		all = shown
	}
	columns, err := all.Choose("csv", nil)
	if err != nil {
		return t, err
	}
	file := openRows(columns, page{Writer: &out}, "csv")
	for _, row := range rows {
		if err := file.write(row); err != nil {
			return t, err
		}
	}
	if err := file.end(); err != nil {
		return t, err
	}
	t.CSV = out.Bytes()
	if shown == nil {
		t.Hidden = true
		return t, nil
	}
	for k, row := range rows {
		if k == mostRowsShown {
			t.Caption += fmt.Sprintf(". The first %d of %d rows; the file has all", mostRowsShown, len(rows))
			break
		}
		cells := make([]string, len(shown))
		for i := range shown {
			cells[i] = shown[i].Words(row)
		}
		t.Rows = append(t.Rows, cells)
	}
	for i := range shown {
		t.Columns = append(t.Columns, columnOf(shown[i].Title(), t.Rows, i))
	}
	withoutEmpty(&t)
	return t, nil
}

// mostUnbroken is how many letters the cells of a column have at most that are not broken into lines.
const mostUnbroken = 16

// columnOf looks at the i-th cells of rows: whether each is a number, an interval or a value with its uncertainty.
func columnOf(head string, rows [][]string, i int) document.Column {
	c := document.Column{Head: head, Number: true, Whole: true, Code: head == "sha256" || head == "SHA-256"}
	some := false
	for _, row := range rows {
		c.Whole = c.Whole && utf8.RuneCountInString(row[i]) <= mostUnbroken
		if row[i] == "-" {
			continue
		}
		some = true
		if _, err := time.Parse(time.DateOnly, row[i]); err == nil {
			c.Number = false
		}
		for word := range strings.FieldsSeq(row[i]) {
			if word != "±" && word != "to" && strings.Trim(word, "-+.0123456789eE") != "" {
				c.Number = false
			}
		}
	}
	c.Number = c.Number && some
	return c
}

// withoutEmpty takes the columns off the page, but for the first, in which no row has anything.
func withoutEmpty(t *document.Table) {
	keep := make([]bool, len(t.Columns))
	for i := range keep {
		keep[i] = i == 0 || len(t.Rows) == 0 || slices.ContainsFunc(t.Rows, func(row []string) bool { return row[i] != "-" })
	}
	t.Columns = kept(t.Columns, keep)
	for k := range t.Rows {
		t.Rows[k] = kept(t.Rows[k], keep)
	}
}

func kept[E any](all []E, keep []bool) (some []E) {
	for i := range all {
		if keep[i] {
			some = append(some, all[i])
		}
	}
	return some
}

// pointers are those of rows.
func pointers[R any](rows []R) []*R {
	all := make([]*R, len(rows))
	for i := range rows {
		all[i] = &rows[i]
	}
	return all
}

// drawnBlock is a figure as a block of a report.
func drawnBlock(name, caption, alt string, f figure) (document.Figure, error) {
	var out bytes.Buffer
	if err := f.Write(&out, "svg"); err != nil {
		return document.Figure{}, err
	}
	return document.Figure{Name: name, Caption: caption, Alt: alt, SVG: out.Bytes()}, nil
}

// cannot is what a report says where a verb refuses: the reason that the verb gives, and what to do next. Any other
// error is returned.
func cannot(what string, err error) (document.Block, error) {
	var refused *study.Refusal
	var usage *desk.UsageError
	fault, try := "", ""
	switch {
	case errors.As(err, &refused):
		fault, try = refused.Fault, refused.Try
	case errors.As(err, &usage):
		fault, try = usage.Fault, usage.Try
	default:
		return nil, err
	}
	why := ": " + fault
	if rest, is := strings.CutPrefix(fault, "cannot be told from these data, "); is {
		why = ", " + rest
	}
	return document.Notice(what + why + ". Next: " + try + "."), nil
}

// filesPart lists the files of the tables beside the page, with their checksums.
func filesPart(doc *document.Document) document.Part {
	t := document.Table{Name: "files", Caption: "Tables beside this page, as CSV",
		Columns: []document.Column{{Head: "file"}, {Head: "bytes", Number: true}, {Head: "SHA-256", Code: true}}}
	for _, of := range doc.Tables() {
		sum := sha256.Sum256(of.CSV)
		t.Rows = append(t.Rows, []string{of.FileName(), fmt.Sprint(len(of.CSV)), hex.EncodeToString(sum[:])})
	}
	return document.Part{Name: "tables", Title: "Tables beside this page", Blocks: []document.Block{
		document.Text("CSV is UTF-8 with commas; an empty cell is null; a text that a spreadsheet would take for a formula " +
			"has a ' before it. Numbers have the digits that read back as the same number. u is a standard uncertainty (k = " +
			"1), pp are percentage points, reflectance and transmittance are fractions unless the name of a column says " +
			"otherwise."), t}}
}
