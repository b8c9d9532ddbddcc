package web

import (
	"bytes"
	"encoding/csv"
	"errors"
	"os"
	"path"
	"strings"

	"wane/study"
	"wane/study/shown"
)

// tablesPage asks for tables: as files, or written on the page.
type tablesPage struct{ Most int }

func (s *Server) enrolPage(*request) (answer, error) {
	return &view{Name: "enrol", Title: "Enrol", Topic: "rosters", Nav: enrolAt, Data: &tablesPage{largestUpload >> 20}}, nil
}

func (s *Server) measurePage(*request) (answer, error) {
	return &view{Name: "measure", Title: "Take in measurements of other instruments", Topic: "measurements", Nav: enrolAt,
		Data: &tablesPage{largestUpload >> 20}}, nil
}

// withTables receives the tables of a form, and removes them after they were used.
func (s *Server) withTables(q *request, written string, use func(t *tray) (answer, error)) (_ answer, err error) {
	t, err := s.receive(q, written)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(t.folder)) }()
	a, err := use(t)
	return a, t.without(err)
}

// tables are the tables of a tray that stand for themselves, each with the sheet of its workbook. Tables that begin with
// wavelengths are those that these name.
func (t *tray) tables(sheet string) (paths []string) {
	for _, f := range t.Files {
		ending := strings.ToLower(path.Ext(f))
		head := t.header(f)
		named := len(head) > 0 && head[0] == "wavelength_nm"
		switch {
		case ending == ".xlsx" && sheet != "":
			paths = append(paths, t.at(f)+"#"+sheet)
		case ending == ".csv" && (!named || len(t.Files) == 1), ending == ".txt", ending == ".xlsx":
			paths = append(paths, t.at(f))
		}
	}
	if len(paths) == 0 {
		paths = t.paths(t.Files) // which says what is wrong with them
	}
	return paths
}

// enrol enrols the rows of tables.
func (s *Server) enrol(q *request) (answer, error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	return s.withTables(q, "written.csv", func(t *tray) (answer, error) {
		n, err := d.Enrol(q.Context(), t.tables(strings.TrimSpace(q.PostFormValue("sheet"))))
		if err != nil {
			return nil, err
		}
		return &done{To: enrolAt, Said: "enrolled: " + n.String() + "; identical rows add nothing",
			Notes: append(t.plainAll(n.Notes), shown.GuardLines(&n.Guards)...)}, nil
	})
}

// enrolFrom merges the study of another laboratory.
func (s *Server) enrolFrom(q *request) (answer, error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	return s.withTables(q, "", func(t *tray) (answer, error) {
		if len(t.Files) != 1 {
			return nil, &study.Refusal{Fault: "a study is one file, and " + countWords(len(t.Files), "file") + " are chosen",
				Try: "choose one file that ends in .wane"}
		}
		other := t.at(t.Files[0])
		m, err := d.EnrolFrom(q.Context(), other)
		var failure *study.Failure
		if errors.As(err, &failure) && failure.File == other { // this study is well
			refused := study.Refusal(*failure)
			err = &refused
		}
		if err != nil {
			return nil, err
		}
		return &done{To: enrolAt, Said: shown.MergedWords(m), Notes: append(t.plainAll(m.Notes), shown.GuardLines(&m.Guards)...)}, nil
	})
}

// measure takes tables of measurements in, with the pictures that they name.
func (s *Server) measure(q *request) (answer, error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	return s.withTables(q, "written.csv", func(t *tray) (answer, error) {
		in, err := d.Measure(q.Context(), t.tables(strings.TrimSpace(q.PostFormValue("sheet"))))
		if err != nil {
			return nil, err
		}
		if len(in.Refused) > 0 && in.Rows+in.Known == 0 {
			return nil, refusals(in.Refused)
		}
		out := &done{To: measureAt, Said: shown.MeasuredWords(in), Notes: t.plainAll(in.Notes)}
		for _, r := range in.Refused {
			for _, l := range t.linesOf(r) {
				out.Notes = append(out.Notes, "refused: "+l.Fault+"; try: "+l.Try)
			}
		}
		return out, nil
	})
}

// refusals are refusals as one error.
func refusals(all []error) error {
	var r study.Refusals
	for _, err := range all {
		if !r.Note(err) {
			return err
		}
	}
	return r.Err()
}

// eventFields asks what happened to a coupon.
type eventFields struct {
	Coupon, Event, Pull, Date, By, Note, Picture string
	Events                                       []study.EventKind
	*shownCodes
}

func (s *Server) eventPage(q *request) (answer, error) {
	codes, err := s.codes(q)
	if err != nil {
		return nil, err
	}
	p := &eventFields{Coupon: q.URL.Query().Get("coupon"), Pull: q.URL.Query().Get("pull"), By: q.who(), Date: s.day(),
		Events: study.EventKinds(), shownCodes: codes}
	return &view{Name: "event", Title: "What happened to a coupon", Topic: "events", Nav: enrolAt, Data: p}, nil
}

// addEvent enrols what happened to a coupon, as a table of one row.
func (s *Server) addEvent(q *request) (answer, error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	columns := []string{"coupon", "event", "pull", "exposure", "dose", "date", "by", "note", "picture"}
	var row []string
	for _, c := range columns {
		row = append(row, strings.TrimSpace(q.PostFormValue(c)))
	}
	table, err := tableOf(columns, row)
	if err != nil {
		return nil, err
	}
	q.PostForm.Set("text", table)
	return s.withTables(q, "events.csv", func(t *tray) (answer, error) {
		n, err := d.Enrol(q.Context(), t.paths(t.Files))
		if err != nil {
			return nil, err
		}
		return &done{To: couponAt(row[0]), Said: "enrolled: " + n.String() + "; identical rows add nothing",
			Notes: append(t.plainAll(n.Notes), shown.GuardLines(&n.Guards)...)}, nil
	})
}

// tableOf writes a table of one row.
func tableOf(columns, row []string) (string, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	err := w.WriteAll([][]string{columns, row})
	return b.String(), err
}
