package main

import (
	"fmt"

	"wane/study"
	"wane/study/desk"
	"wane/study/report/document"
	"wane/study/shown"
)

// correctionsPart lists what was corrected, moved and withdrawn, by whom and why.
func correctionsPart(w *reporter) (document.Part, error) {
	p := document.Part{Name: "corrections", Title: "What was corrected, moved and withdrawn"}
	if len(w.of.Deeds) == 0 && len(w.of.Corrected) == 0 {
		p.Blocks = []document.Block{document.Text("Nothing: no row was amended or withdrawn, and no reading was moved.")}
		return p, nil
	}
	p.Blocks = append(p.Blocks, document.Text("Nothing is deleted: each row that was corrected stays in the study as it "+
		"was, and each line of the history has a checksum that covers the lines before it."))
	deeds := make([]*shown.Logged, len(w.of.Deeds))
	for i := range w.of.Deeds {
		deeds[i] = &shown.Logged{Entry: w.of.Deeds[i]}
	}
	lines, err := tableOf("corrections", "Lines of the history by which people corrected, moved, judged or decided",
		shown.Log().Pick("number", "at", "who", "verb", "summary", "why"), shown.Log(), deeds)
	if err != nil {
		return p, err
	}
	p.Blocks = append(p.Blocks, lines)
	var cells []correctedCell
	var moves []movedReading
	for i := range w.of.Corrected {
		c := &w.of.Corrected[i]
		for _, change := range c.Changes {
			cells = append(cells, correctedCell{c.Line, change})
		}
		for k := range c.Moves {
			m := &c.Moves[k]
			moves = append(moves, movedReading{c.Line, m.Number, m.Instead, shown.PlaceWords(&m.From.Place), shown.PlaceWords(&m.To.Place)})
		}
	}
	if len(cells) > 0 {
		t, err := tableOf("corrected-values", "Values that were corrected, and rows that were "+
			"withdrawn", cellColumns, cellColumns,
			pointers(cells))
		if err != nil {
			return p, err
		}
		p.Blocks = append(p.Blocks, t)
	}
	if len(moves) > 0 {
		t, err := tableOf("moved-readings", "Readings that were moved", moveColumns, moveColumns, pointers(moves))
		if err != nil {
			return p, err
		}
		p.Blocks = append(p.Blocks, t)
	}
	return p, nil
}

// correctedCell is a value that was corrected, with the line of the history.
type correctedCell struct {
	line study.Entry
	desk.Change
}

var cellColumns = listing[*correctedCell]{
	valueColumn("line", func(c *correctedCell) any { return c.line.Number }),
	valueColumn("day", func(c *correctedCell) any { return dayOf(c.line.At) }),
	valueColumn("who", func(c *correctedCell) any { return orEmpty(c.line.Who) }),
	valueColumn("what", func(c *correctedCell) any { return c.What }),
	valueColumn("field", func(c *correctedCell) any { return orEmpty(c.Field) }),
	valueColumn("was", func(c *correctedCell) any { return orEmpty(c.Was) }),
	valueColumn("becomes", func(c *correctedCell) any {
		if c.Field == "" {
			return "withdrawn"
		}
		return orEmpty(c.Becomes)
	}),
	valueColumn("why", func(c *correctedCell) any { return orEmpty(c.line.Why) }),
}

// movedReading is a reading that was moved.
type movedReading struct {
	line            study.Entry
	number, instead int64
	from, to        string
}

var moveColumns = listing[*movedReading]{
	valueColumn("line", func(m *movedReading) any { return m.line.Number }),
	valueColumn("day", func(m *movedReading) any { return dayOf(m.line.At) }),
	valueColumn("who", func(m *movedReading) any { return orEmpty(m.line.Who) }),
	valueColumn("reading", func(m *movedReading) any { return m.number }),
	valueColumn("from", func(m *movedReading) any { return m.from }),
	valueColumn("to", func(m *movedReading) any { return m.to }),
	valueColumn("reading_now", func(m *movedReading) any { return m.instead }),
	valueColumn("why", func(m *movedReading) any { return orEmpty(m.line.Why) }),
}

// elsewherePart counts, for who reads verdicts alone, what the full report lists.
func elsewherePart(w *reporter) (document.Part, error) {
	untrusted := 0
	for i := range w.of.Sessions {
		if !w.of.Sessions[i].Trust {
			untrusted++
		}
	}
	aside, held, corrected, moved := 0, 0, 0, 0
	for i := range w.of.Judged {
		switch w.of.Judged[i].Standing {
		case study.Aside:
			aside++
		case study.Held:
			held++
		}
	}
	for i := range w.of.Corrected {
		corrected, moved = corrected+len(w.of.Corrected[i].Changes), moved+len(w.of.Corrected[i].Moves)
	}
	return document.Part{Name: "elsewhere", Title: "What is not shown here", Blocks: []document.Block{
		document.Text("This report is an extract. wane report FILE.html without --for lists each of these, with its reason:"),
		document.List{
			fmt.Sprintf("%s, %d of them not trusted", count(len(w.of.Sessions), "session"), untrusted),
			fmt.Sprintf("%s held by guards, %d set aside", count(held, "reading"), aside),
			fmt.Sprintf("%s corrected or withdrawn, %s moved", count(corrected, "value"), count(moved, "reading")),
		}}}, nil
}
