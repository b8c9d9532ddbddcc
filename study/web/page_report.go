package web

import (
	"archive/zip"
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"time"

	"wane/study"
	"wane/study/ageing"
	"wane/study/desk"
	"wane/study/series"
)

// ReportWanted says which report is wanted, in the words of wane report. An empty word is the usual one.
type ReportWanted struct{ For, By, Quantity string }

// Report is a report as files: a page, and the tables that lie in a folder beside it.
type Report struct {
	Page   []byte
	Folder string
	Tables []desk.ReportTable
}

// reportPage asks for a report, and shows the one that was made last.
type reportPage struct {
	Readers, Groups, Quantities []string
	Task                        *task
	StreamsAt, PageAt           string
	Failed                      []troubleLine
	Made                        *madeReport
	None                        bool // nothing makes reports
}

// madeReport is a report that was made.
type madeReport struct {
	Who, At string
	Sum     string // SHA-256 of the page
	Tables  int
}

func (s *Server) lastReport() *task {
	s.lasts.mu.Lock()
	defer s.lasts.mu.Unlock()
	return s.lasts.report
}

func (s *Server) reportPage(*request) (answer, error) {
	p := &reportPage{StreamsAt: reportAt + "/progress", PageAt: reportAt,
		Readers: []string{"lab", "research", "purchasing"}, Groups: groupings(), Quantities: series.Names(), None: s.opt.Report == nil}
	t := s.lastReport()
	switch {
	case t.isBusy():
		p.Task = t
	case t != nil:
		result, err := t.came()
		if err != nil {
			p.Failed = linesOf(err)
		}
		if r, _ := result.(*Report); r != nil {
			sum := sha256.Sum256(r.Page)
			p.Made = &madeReport{t.Who, t.Begun.UTC().Format(time.RFC3339), hex.EncodeToString(sum[:]), len(r.Tables)}
		}
	}
	return &view{Name: "report", Title: "Report", Topic: "reports", Nav: reportAt, Data: p}, nil
}

func groupings() (words []string) {
	for _, by := range ageing.Groupings() {
		words = append(words, string(by))
	}
	return words
}

// makeReport begins to make a report, or joins the one that is being made.
func (s *Server) makeReport(q *request) (answer, error) {
	if s.opt.Report == nil {
		return nil, &study.Refusal{Fault: "no report is made here", Try: "run wane report report.html"}
	}
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	of := ReportWanted{For: q.PostFormValue("for"), By: cmp.Or(q.PostFormValue("by"), "coating"),
		Quantity: cmp.Or(q.PostFormValue("quantity"), "solar_T")}
	s.lasts.mu.Lock()
	if !s.lasts.report.isBusy() {
		s.lasts.report = s.begin(d.Who(), "part", func(ctx context.Context, _ desk.Progress) (any, error) {
			r, err := s.opt.Report(ctx, d, of)
			if r == nil {
				return nil, err // else it would be a nil in an interface
			}
			return r, err
		})
	}
	t := s.lasts.report
	s.lasts.mu.Unlock()
	select {
	case <-t.ended:
	case <-time.After(waitFirst):
	}
	return &done{To: reportAt}, nil
}

// reportProgress is the stream of how far a report is.
func (s *Server) reportProgress(q *request) (answer, error) {
	t := s.lastReport()
	if t == nil {
		return nil, absent(&study.Refusal{Fault: "no report is being made", Try: "make one on the page of reports"})
	}
	return q.follow(t), nil
}

// reportPolicy is that of a report: it has its own style and pictures, and nothing else.
const reportPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; sandbox"

// reportFile gives the report that was made last: the page to look at, or the page with its tables as a zip file.
func (s *Server) reportFile(q *request) (answer, error) {
	var r *Report
	if t := s.lastReport(); t != nil && !t.isBusy() {
		result, _ := t.came()
		r, _ = result.(*Report)
	}
	switch name := q.PathValue("file"); {
	case r == nil:
		return nil, absent(&study.Refusal{Fault: "no report was made since the server began",
			Try: "make one on the page of reports"})
	case name == "report.html":
		return &file{Name: name, Type: "text/html; charset=utf-8", Data: r.Page, Policy: reportPolicy}, nil
	case name == "report.zip":
		data, err := r.zip()
		return &file{Name: name, Type: "application/zip", Data: data, Keep: true}, err
	}
	return nil, &status{http.StatusNotFound, &study.Refusal{Fault: "a report has no such file",
		Try: "open it from the page of reports"}}
}

// zip packs the page with its tables.
func (r *Report) zip() ([]byte, error) {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	put := func(name string, data []byte) error {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write(data)
		}
		return err
	}
	if err := put("report.html", r.Page); err != nil {
		return nil, err
	}
	for _, t := range r.Tables {
		if err := put(r.Folder+"/"+t.Name, t.CSV); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
