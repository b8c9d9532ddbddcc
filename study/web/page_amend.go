package web

import (
	"errors"
	"os"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// amendPage asks for corrections, and shows what they would do.
type amendPage struct {
	Kinds []amendKind
	Text  string // the table of corrections
	Names string // of rows to be withdrawn
	Why   string
	Sheet string
	Most  int
	Would []string // what would happen; nil: nothing was asked yet
	Notes []string
}

// amendKind is a kind of rows with the columns of its key.
type amendKind struct{ Word, Key string }

// amendKinds are the kinds of which a row can be corrected in a field.
func amendKinds() []amendKind {
	return []amendKind{{"coupon", "coupon"}, {"pull", "exposure,pull"}, {"exposure", "exposure"}, {"session", "session"},
		{"instrument", "instrument"}, {"reference", "reference,issued"}, {"event", "coupon,event,pull"}, {"dose", "exposure,date"},
		{"batch", "glass,batch"}}
}

func (s *Server) amendPage(q *request) (answer, error) {
	v := q.URL.Query()
	return s.askAmend(&amendPage{Text: v.Get("text"), Names: v.Get("withdraw")})
}

func (s *Server) askAmend(p *amendPage) (answer, error) {
	p.Kinds, p.Most = amendKinds(), largestUpload>>20
	return &view{Name: "amend", Title: "Correct what was enrolled or measured", Topic: "corrections", Nav: moveAt, Data: p}, nil
}

// oneCell writes the table of corrections of one cell that a form states; empty: it states none.
func (q *request) oneCell() (string, error) {
	kind, key, column := q.PostFormValue("kind"), strings.TrimSpace(q.PostFormValue("key")), strings.TrimSpace(q.PostFormValue("column"))
	if key == "" && column == "" {
		return "", nil
	}
	for _, k := range amendKinds() {
		if k.Word != kind {
			continue
		}
		columns, parts := strings.Split(k.Key, ","), strings.Split(key, "/")
		if len(columns) != len(parts) {
			return "", &study.Refusal{Fault: "a " + k.Word + " is named by " + strings.ReplaceAll(k.Key, ",", "/") + ", not by " +
				study.Shown(key), Try: "write each, with / between them"}
		}
		return tableOf(append(columns, column), append(parts, strings.TrimSpace(q.PostFormValue("becomes"))))
	}
	return "", &study.Refusal{Fault: "there is no kind of rows " + study.Shown(kind), Try: "choose one of the list"}
}

// amend corrects rows, or takes them out, or shows what that would do.
func (s *Server) amend(q *request) (_ answer, err error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	p := &amendPage{Text: q.PostFormValue("text"), Names: strings.TrimSpace(q.PostFormValue("withdraw")), Why: q.PostFormValue("why")}
	cell, err := q.oneCell()
	if err != nil {
		return nil, err
	}
	if cell != "" {
		p.Text = cell
		q.PostForm.Set("text", cell)
	}
	preview := q.PostFormValue("act") != "amend"
	s.single.Lock()
	defer s.single.Unlock()
	if !preview {
		if c, err := s.corrected(q, "Nothing was corrected", amendAt); c != nil || err != nil {
			return c, err
		}
	}
	if p.Names != "" {
		out, err := d.Withdraw(q.Context(), strings.Fields(p.Names), p.Why, preview)
		return s.amended(p, out, preview, err)
	}
	t, err := s.receive(q, "corrections.csv")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(t.folder)) }()
	if p.Text == "" && len(t.Files) == 1 && strings.HasSuffix(strings.ToLower(t.Files[0]), ".csv") {
		data, err := os.ReadFile(t.at(t.Files[0])) // the page keeps it for the second step
		if err != nil {
			return nil, cannotKeep(err)
		}
		p.Text = string(data)
	}
	out, err := d.Amend(q.Context(), t.tables(strings.TrimSpace(q.PostFormValue("sheet"))), p.Why, preview)
	if err != nil {
		return nil, t.without(err)
	}
	out.Notes = t.plainAll(out.Notes)
	return s.amended(p, out, preview, nil)
}

// amended says what corrections did, or would do.
func (s *Server) amended(p *amendPage, out *desk.Amended, preview bool, err error) (answer, error) {
	if err != nil {
		return nil, err
	}
	lines := shown.AmendedLines(out, preview, true)
	notes := append(out.Notes, shown.GuardLines(&out.Guards)...)
	if preview {
		p.Would, p.Notes = lines, notes
		return s.askAmend(p)
	}
	return &done{To: amendAt, Said: lines[len(lines)-1], Notes: append(lines[:len(lines)-1], notes...)}, nil
}
