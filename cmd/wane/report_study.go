package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/report/document"
	"wane/study/shown"
)

// designPart says what is studied: coatings, lots, coupons, exposures, pulls.
func designPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "design", Title: "The design"}
	r := w.of
	p.Blocks = append(p.Blocks, document.Facts{
		{Name: "coupons", Value: fmt.Sprint(len(r.Roster.Coupons))},
		{Name: "correction of changes", Value: routeName(r.Settings.Correction)},
		{Name: "mixing rule of the film's index", Value: r.Settings.Mixing},
		{Name: "readings evaluated over the dark blanks of their session", Value: yesNo(r.Settings.OverBlank)},
		{Name: "two people: nobody judges or corrects what they took in", Value: yesNo(r.Settings.TwoPeople)},
	})
	coatings, err := tableOf("coatings", "Coatings, lots and coupons", coatingColumns, coatingColumns,
		coatingRows(r.Roster))
	if err != nil {
		return p, err
	}
	exposures, err := tableOf("exposures", "Exposures", exposureColumns, exposureColumns, pointers(r.Roster.Exposures))
	if err != nil {
		return p, err
	}
	pulls, err := tableOf("pulls", "Pulls: how many coupons were read at "+
		"each", pullColumns, pullColumns, shown.GroupStatus(r.Pulls))
	if err != nil {
		return p, err
	}
	coupons, err := tableOf("coupons", count(len(r.Pulls), "row")+" of coupons at their pulls, with what was "+
		"read:", nil, shown.Status(),
		pointers(r.Pulls))
	p.Blocks = append(p.Blocks, coatings, exposures, pulls, coupons)
	return p, err
}

func yesNo(is bool) string {
	if is {
		return "yes"
	}
	return "no"
}

// coatingRow counts the coupons of one lot of a coating in one role.
type coatingRow struct {
	study.Coupon
	coupons int
}

var coatingColumns = listing[*coatingRow]{
	valueColumn("coating", func(r *coatingRow) any { return orEmpty(r.Coating) }),
	valueColumn("supplier", func(r *coatingRow) any { return orEmpty(r.Supplier) }),
	valueColumn("lot", func(r *coatingRow) any { return orEmpty(r.Lot) }),
	valueColumn("role", func(r *coatingRow) any { return string(r.Role) }),
	valueColumn("exposure", func(r *coatingRow) any { return orEmpty(r.Exposure) }),
	valueColumn("glass", func(r *coatingRow) any { return r.Glass }),
	valueColumn("far_face", func(r *coatingRow) any { return r.Back }),
	valueColumn("coupons", func(r *coatingRow) any { return r.coupons }),
}

func coatingRows(roster *study.Roster) (rows []*coatingRow) {
	known := map[study.Coupon]*coatingRow{}
	for i := range roster.Coupons {
		c := &roster.Coupons[i]
		key := study.Coupon{Role: c.Role, Supplier: c.Supplier, Coating: c.Coating, Lot: c.Lot, Exposure: c.Exposure,
			Glass: c.Glass, Back: c.Back}
		if known[key] == nil {
			known[key] = &coatingRow{Coupon: key}
			rows = append(rows, known[key])
		}
		known[key].coupons++
	}
	slices.SortStableFunc(rows, func(a, b *coatingRow) int {
		return cmp.Or(strings.Compare(a.Coating, b.Coating), strings.Compare(a.Supplier, b.Supplier), strings.Compare(a.Lot,
			b.Lot),
			-strings.Compare(string(a.Role), string(b.Role)), strings.Compare(a.Exposure, b.Exposure))
	})
	return rows
}

var exposureColumns = listing[*study.Exposure]{
	valueColumn("exposure", func(e *study.Exposure) any { return e.Exposure }),
	valueColumn("protocol", func(e *study.Exposure) any { return orEmpty(e.Protocol) }),
	valueColumn("site", func(e *study.Exposure) any { return orEmpty(e.Site) }),
	valueColumn("dose_unit", func(e *study.Exposure) any { return e.DoseUnit }),
	valueColumn("start", func(e *study.Exposure) any { return orEmpty(e.Start) }),
}

var pullColumns = listing[*shown.StatusGroup]{
	valueColumn("exposure", func(g *shown.StatusGroup) any { return orEmpty(g.Exposure) }),
	valueColumn("pull", func(g *shown.StatusGroup) any { return g.Pull }),
	valueColumn("date", func(g *shown.StatusGroup) any { return orEmpty(g.Date) }),
	valueColumn("coupons", func(g *shown.StatusGroup) any { return g.Coupons }),
	stateColumn(desk.PullRead), stateColumn(desk.PullPartly), stateColumn(desk.PullMissing), stateColumn(desk.PullMissed),
	stateColumn(desk.PullPlanned), stateColumn(desk.PullEnded),
	valueColumn("held", func(g *shown.StatusGroup) any { return g.Held }),
	valueColumn("to_fit", func(g *shown.StatusGroup) any { return g.Stale + g.Unfitted }),
}

func stateColumn(state desk.PullState) column[*shown.StatusGroup] {
	return valueColumn(string(state), func(g *shown.StatusGroup) any { return g.States[state] })
}

// endedPart lists the coupons whose history has ended.
func endedPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "lost", Title: "Lost coupons and other ends"}
	if len(w.of.Ended) == 0 {
		p.Blocks = []document.Block{document.Text("The history of no coupon has ended: none is enrolled as lost, broken or " +
			"taken out for good.")}
		return p, nil
	}
	p.Blocks = append(p.Blocks, document.Text("The values of these coupons end here. What is said of their groups after "+
		"that is said of the coupons that remained, which may not be like those that did not."))
	t, err := tableOf("ended", "Coupons whose history has ended", endedColumns(w.of.Roster), endedColumns(w.of.Roster),
		pointers(w.of.Ended))
	p.Blocks = append(p.Blocks, t)
	return p, err
}

func endedColumns(roster *study.Roster) listing[*study.CouponEvent] {
	coupons := map[string]*study.Coupon{}
	for i := range roster.Coupons {
		coupons[roster.Coupons[i].Coupon] = &roster.Coupons[i]
	}
	type event = study.CouponEvent
	return listing[*event]{
		valueColumn("coupon", func(e *event) any { return e.Coupon }),
		valueColumn("role", func(e *event) any { return string(coupons[e.Coupon].Role) }),
		valueColumn("coating", func(e *event) any { return orEmpty(coupons[e.Coupon].Coating) }),
		valueColumn("lot", func(e *event) any { return orEmpty(coupons[e.Coupon].Lot) }),
		valueColumn("ended", func(e *event) any { return string(e.Event) }),
		valueColumn("pull", func(e *event) any {
			if !e.Pull.Is {
				return nil
			}
			return e.Pull.Value
		}),
		valueColumn("date", func(e *event) any { return orEmpty(e.Date) }),
		valueColumn("by", func(e *event) any { return orEmpty(e.By) }),
		valueColumn("note", func(e *event) any { return orEmpty(e.Note) }),
	}
}

// originsPart says by which programs everything was made, of which files, and where the history ends.
func originsPart(w *reporter) (document.Part, error) {
	r := w.of
	p := document.Part{Name: "origins", Title: "Versions, originals and history"}
	p.Blocks = append(p.Blocks, document.Facts{
		{Name: "this report was made by", Value: r.Software},
		{Name: "the study was written by", Value: strings.Join(r.Writers, "; ")},
		{Name: "last line of the history", Value: fmt.Sprintf("%d: %s, %s, %s: "+
			"%s", r.Last.Number, r.Last.At, r.Last.Who, r.Last.Verb,
			r.Last.Summary)},
		{Name: "its checksum (SHA-256 of the chain)", Value: fmt.Sprintf("%x", r.Last.Hash)},
	}, document.Text(fmt.Sprintf("The study keeps %s byte for byte. wane verify --deep reads each again and computes "+
		"every number again; wane verify --contains %x says whether the history still has the state of this report.",
		count(len(r.Files), "file"), r.Last.Hash[:8])))
	shown, caption := fileColumns, "Original files with their SHA-256"
	if w.o.audience != "" || len(r.Files) > mostRowsShown {
		shown, caption = nil, count(len(r.Files), "original file")+" with their SHA-256:"
	}
	t, err := tableOf("originals", caption, shown, fileColumns, pointers(r.Files))
	p.Blocks = append(p.Blocks, t)
	return p, err
}

var fileColumns = listing[*desk.ReportFile]{
	valueColumn("file", func(f *desk.ReportFile) any { return f.Name }),
	valueColumn("bytes", func(f *desk.ReportFile) any { return f.Bytes }),
	valueColumn("sha256", func(f *desk.ReportFile) any { return f.SHA256 }),
	valueColumn("line", func(f *desk.ReportFile) any { return f.Line }),
}
