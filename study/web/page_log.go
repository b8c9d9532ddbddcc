package web

import (
	"context"
	"slices"

	"wane/study"
	"wane/study/shown"
)

// logPage is a part of the history, the last line first.
type logPage struct {
	Who, Verb           string
	Whos, Verbs         []string
	Lines               []study.Entry
	All, Found, Part    int
	Before, After, Word string
}

// linesAtOnce is how many lines of the history a page shows.
const linesAtOnce = 100

// readLog reads the whole history.
func (s *Server) readLog(ctx context.Context) (lines []study.Entry, err error) {
	err = s.desk.Log(ctx, func(e study.Entry) error {
		lines = append(lines, e)
		return nil
	})
	return lines, err
}

// history is the page of the log.
func (s *Server) history(q *request) (answer, error) {
	lines, upTo, err := s.whole.log.get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	p := &logPage{Who: q.URL.Query().Get("who"), Verb: q.URL.Query().Get("verb"), All: len(lines)}
	whos, verbs := map[string]bool{}, map[string]bool{}
	var found []*shown.Logged
	for i := range lines {
		e := &lines[i]
		whos[e.Who], verbs[e.Verb] = true, true
		if (p.Who == "" || e.Who == p.Who) && (p.Verb == "" || e.Verb == p.Verb) {
			found = append(found, &shown.Logged{Entry: *e})
		}
	}
	p.Whos, p.Verbs, p.Found = namesOf(whos), namesOf(verbs), len(found)
	last := max(1, (p.Found+linesAtOnce-1)/linesAtOnce)
	p.Part = min(q.number("part"), last)
	to := p.Found - (p.Part-1)*linesAtOnce
	for _, e := range slices.Backward(found[max(0, to-linesAtOnce):max(0, to)]) {
		p.Lines = append(p.Lines, e.Entry)
	}
	at := func(part int) string { return withQuery(logAt, "who", p.Who, "verb", p.Verb, "part", decimal(part)) }
	if p.Part > 1 {
		p.Before = at(p.Part - 1)
	}
	if p.Part < last {
		p.After = at(p.Part + 1)
	}
	return &view{Name: "log", Title: "Log", Topic: "provenance", Nav: logAt, Data: p, UpTo: upTo,
		Rows: rowsFile(shown.Log(), found)}, nil
}
