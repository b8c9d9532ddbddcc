package web

import (
	"math"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// movePage asks which readings belong elsewhere, and shows what a move would do.
type movePage struct {
	Form   map[string]string // what the person wrote
	Fields []moveField
	*shownCodes
	Would *grid // the readings that would move; nil: nothing was asked yet
	Notes []string
}

// moveField is a field of what readings should be.
type moveField struct {
	Name, Label, Hint string
	Words             []string // to choose from; nil: any text
	Codes             string   // the id of the list of codes that it offers
}

// moveFields are the fields, in the words of wane move.
func moveFields() []moveField {
	return []moveField{
		{Name: "to-coupon", Label: "Coupon", Codes: "coupons"}, {Name: "to-pull", Label: "Pull"}, {Name: "to-spot", Label: "Spot"},
		{Name: "to-angle", Label: "Angle / degrees"},
		{Name: "to-polarisation", Label: "Polarisation", Words: []string{"s", "p", "u", "n"}},
		{Name: "to-session", Label: "Session", Codes: "sessions"},
		{Name: "to-condition", Label: "Condition", Words: []string{"as_found", "rinsed", "cleaned", desk.NoCondition}},
		{Name: "to-position", Label: "Position of the spot"}, {Name: "to-replicate", Label: "Replicate"},
		{Name: "to-mounting", Label: "Mounting"},
		{Name: "to-unit", Label: "Unit in the export", Words: []string{"fraction", "percent"}},
	}
}

// chosenFields are the fields that choose readings.
var chosenFields = []string{"numbers", "coupon", "pull", "spot", "session", "angle", "export"}

// readMove reads a form of a move.
func (q *request) readMove(of map[string]string) (sel desk.MoveSelection, to desk.MoveTo, err error) {
	sel = desk.MoveSelection{Selection: desk.Everything(), Export: of["export"]}
	to = desk.MoveTo{Pull: desk.AllPulls, AngleDeg: study.Null(), Coupon: of["to-coupon"], Spot: of["to-spot"],
		Session: of["to-session"], Condition: of["to-condition"], Polarisation: of["to-polarisation"],
		Position: of["to-position"], Unit: of["to-unit"]}
	if sel.Numbers, err = spans(of["numbers"]); err != nil {
		return sel, to, err
	}
	for field, list := range map[string]*[]string{"coupon": &sel.Coupons, "spot": &sel.Spots, "session": &sel.Sessions} {
		if of[field] != "" {
			*list = []string{of[field]}
		}
	}
	for _, n := range []struct {
		field string
		least int
		set   func(int)
	}{
		{"pull", 0, func(n int) { sel.Pulls = study.Spans{{From: int64(n), To: int64(n)}} }}, {"to-pull", 0, func(n int) { to.Pull = n }},
		{"to-replicate", 1, func(n int) { to.Replicate = n }}, {"to-mounting", 1, func(n int) { to.Mounting = n }},
	} {
		if of[n.field] == "" {
			continue
		}
		v, err := strconv.Atoi(of[n.field])
		if err != nil || v < n.least {
			return sel, to, notANumber(n.field, of[n.field], "write a whole number from "+decimal(n.least))
		}
		n.set(v)
	}
	for field, angle := range map[string]*study.Num{"angle": &sel.AngleDeg, "to-angle": &to.AngleDeg} {
		if of[field] == "" {
			continue
		}
		v, err := strconv.ParseFloat(of[field], 64)
		if err != nil || math.IsNaN(v) || v < 0 || v >= 90 {
			return sel, to, notANumber(field, of[field], "write degrees from the normal, from 0 to below 90")
		}
		*angle = study.Num(v)
	}
	if of["exchange"] != "" {
		to.Exchange = strings.Fields(strings.ReplaceAll(of["exchange"], ",", " "))
		if len(to.Exchange) != 2 || to.Exchange[0] == to.Exchange[1] {
			return sel, to, &study.Refusal{Fault: "an exchange takes two coupons, not " + study.Shown(of["exchange"]),
				Try: "write two codes: A02,K01"}
		}
	}
	return sel, to, nil
}

func notANumber(field, text, try string) error {
	return &study.Refusal{Fault: study.Shown(text) + " is no " + strings.TrimPrefix(field, "to-") + " of readings", Try: try}
}

// spans reads numbers and spans of numbers: 17-20 33.
func spans(text string) ([]int64, error) {
	words := strings.FieldsFunc(text, func(c rune) bool { return c == ' ' || c == ',' })
	if len(words) == 0 {
		return nil, nil
	}
	of, err := study.ParseSpans(strings.Join(words, ","), 1)
	if err != nil {
		return nil, &study.Refusal{Fault: "the numbers of readings: " + err.Error(), Try: "write numbers, or spans: 17-20 33"}
	}
	return of.Numbers(), nil
}

// moveForm reads what a form or an address says.
func moveForm(value func(string) string) map[string]string {
	of := map[string]string{}
	for _, f := range chosenFields {
		of[f] = strings.TrimSpace(value(f))
	}
	for _, f := range moveFields() {
		of[f.Name] = strings.TrimSpace(value(f.Name))
	}
	of["exchange"], of["why"] = strings.TrimSpace(value("exchange")), strings.TrimSpace(value("why"))
	return of
}

func (s *Server) movePage(q *request) (answer, error) {
	return s.askMove(q, moveForm(q.URL.Query().Get), nil)
}

// askMove shows the form, with what it would do.
func (s *Server) askMove(q *request, of map[string]string, would *desk.Moved) (answer, error) {
	codes, err := s.codes(q)
	if err != nil {
		return nil, err
	}
	p := &movePage{Form: of, Fields: moveFields(), shownCodes: codes}
	if would != nil {
		p.Would = gridOf("Readings that would move", shown.Moved().Table(), pointers(would.Readings), nil)
		p.Notes = shown.MovedNotes(would)
	}
	return &view{Name: "move", Title: "Move readings", Topic: "corrections", Nav: moveAt, Data: p}, nil
}

// move puts readings where they belong, or shows what that would do.
func (s *Server) move(q *request) (answer, error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	form := moveForm(q.PostFormValue)
	of, to, err := q.readMove(form)
	if err != nil {
		return nil, err
	}
	preview := q.PostFormValue("act") != "move"
	s.single.Lock()
	defer s.single.Unlock()
	if !preview {
		if c, err := s.corrected(q, "The readings were not moved", moveAt); c != nil || err != nil {
			return c, err
		}
	}
	if len(of.Numbers) == 0 && len(of.Coupons)+len(of.Spots)+len(of.Sessions)+len(to.Exchange) == 0 && of.Export == "" &&
		form["pull"]+form["angle"] == "" {
		return nil, &study.Refusal{Fault: "no reading is named", Try: "write numbers, or a place: coupon, pull, spot, export and so on"}
	}
	moved, err := d.Move(q.Context(), of, to, form["why"], preview)
	if err != nil {
		return nil, err
	}
	if preview {
		return s.askMove(q, form, moved)
	}
	return &done{To: moveAt, Said: "moved: " + countWords(len(moved.Readings), "reading") + "; now fit",
		Notes: append(shown.MovedNotes(moved), shown.GuardLines(&moved.Guards)...)}, nil
}

// corrected returns what others changed after the person saw what a correction would do; nil: nothing.
func (s *Server) corrected(q *request, what, back string) (answer, error) {
	by, err := q.since("amend", "move", "review", "enrol", "intake", "measure", "merge")
	if err != nil || len(by) == 0 {
		return nil, err
	}
	return &conflict{What: what + ": the study changed after you saw what would happen", By: by, Back: back}, nil
}
