package web

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"wane/study"
)

// answer is what a page or a change returns: a *view, *done, *file or *stream.
type answer interface {
	give(s *Server, w *counted, q *request) error
}

// give gives an answer.
func (s *Server) give(w *counted, q *request, a answer) error { return a.give(s, w, q) }

// view is a page, and the files in which it can be had.
type view struct {
	Name   string // of its template
	Title  string // of the page, a heading
	Topic  string // of the guide, about the heading; empty: none
	Nav    string // the address of the entry of the menu under which the page is
	Data   any    // what the template shows
	Status int    // 0: 200

	Rows   func(w io.Writer, format string) error // as csv or json; nil: there is no such file
	Figure func(w io.Writer, format string) error // as svg, png or pdf, or as an image; nil: there is no such file
	File   string                                 // the name of files without their ending; empty: that of the template

	UpTo int64 // the line of the log up to which the data go, if they are older than the study; 0: they are not
}

// formats are the files in which the view can be had.
func (v *view) formats() (all []string) {
	if v.Rows != nil {
		all = append(all, "csv", "json")
	}
	if v.Figure != nil {
		all = append(all, "svg", "png", "pdf")
	}
	return all
}

func (v *view) give(s *Server, w *counted, q *request) error {
	if q.format == "" {
		return s.show(w, q, v)
	}
	if !slices.Contains(v.formats(), q.format) {
		return s.notThere(w, q)
	}
	write := v.Rows
	if q.format != "csv" && q.format != "json" {
		write = v.Figure
		w.Header().Set("Content-Security-Policy", figurePolicy)
	}
	var out bytes.Buffer
	if err := write(&out, q.imageFormat()); err != nil {
		return s.refuse(w, q, statusOf(err), err)
	}
	return (&file{Name: cmp.Or(v.File, v.Name) + "." + q.format, Type: types[q.format], Data: out.Bytes()}).give(s, w, q)
}

// types are the media types of files.
var types = map[string]string{"csv": "text/csv; charset=utf-8", "json": "application/json", "svg": "image/svg+xml",
	"png": "image/png", "pdf": "application/pdf"}

// file is a file that a browser shows or keeps.
type file struct {
	Name, Type string
	Data       []byte
	Policy     string // empty: that of the pages
	Keep       bool   // a browser keeps it, and does not show it
}

func (f *file) give(_ *Server, w *counted, q *request) error {
	h := w.Header()
	h.Set("Content-Type", f.Type)
	if f.Policy != "" {
		h.Set("Content-Security-Policy", f.Policy)
	}
	if f.Keep || f.Type == types["csv"] {
		h.Set("Content-Disposition", `attachment; filename="`+plainName(f.Name)+`"`)
	}
	if len(f.Data) > worthPacking && packable[f.Type] {
		h.Set("Vary", "Accept-Encoding")
		if takesGzip(q.Header) && q.Method == http.MethodGet {
			return f.givePacked(w)
		}
	}
	http.ServeContent(w, q.Request, "", time.Time{}, bytes.NewReader(f.Data))
	return nil
}

// Files that are sent in gzip: figures and numbers become a fifth. Pages are not: they hold tokens beside what others
// wrote, and lengths would tell of them.
const worthPacking = 10_000 // bytes

var packable = map[string]bool{types["svg"]: true, types["json"]: true}

// givePacked gives a file in gzip.
func (f *file) givePacked(w *counted) error {
	w.Header().Set("Content-Encoding", "gzip")
	out, err := gzip.NewWriterLevel(w, gzip.BestSpeed)
	if err != nil {
		return err
	}
	if _, err := out.Write(f.Data); err != nil {
		return nil // the browser has gone
	}
	_ = out.Close() // that it has gone is no fault
	return nil
}

// takesGzip reports whether whoever asks can unpack gzip.
func takesGzip(h http.Header) bool {
	for _, one := range strings.Split(h.Get("Accept-Encoding"), ",") {
		name, weight, _ := strings.Cut(strings.ReplaceAll(one, " ", ""), ";")
		if name == "gzip" {
			return weight == "" || strings.Trim(strings.TrimPrefix(weight, "q="), "0.") != ""
		}
	}
	return false
}

// plainName is a name of a file without what means something in a header or a path.
func plainName(name string) string {
	return strings.Map(func(c rune) rune {
		if c == '.' || c == '-' || c == '_' || c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' {
			return c
		}
		return '-'
	}, name)
}

// stream is an answer that is written while it is made, such as progress.
type stream struct {
	Type  string
	Write func(w io.Writer, flush func() error) error
}

func (a *stream) give(_ *Server, w *counted, q *request) error {
	control := http.NewResponseController(w)
	if err := control.SetWriteDeadline(time.Time{}); err != nil && !errors.Is(err, http.ErrNotSupported) {
		return err
	}
	w.Header().Set("Content-Type", a.Type)
	w.release() // a page that is open keeps no other waiting
	return a.Write(w, control.Flush)
}

// done is what a change returns that was made: the page to go to, and what is said there.
type done struct {
	To, Said string
	Notes    []string // what else is said there
	Cookie   *http.Cookie
}

func (d *done) give(_ *Server, w *counted, q *request) error {
	if d.Said != "" || len(d.Notes) > 0 {
		q.session.say(d.Said, d.Notes...)
	}
	if d.Cookie != nil {
		http.SetCookie(w, d.Cookie)
	}
	http.Redirect(w, q.Request, d.To, http.StatusSeeOther)
	return nil
}

// conflict is what a change returns that others have overtaken, with what they did.
type conflict struct {
	What string // what was not done, such as: the reading was not judged
	By   []study.Entry
	Back string // the address of the page to look at again
}

func (c *conflict) give(s *Server, w *counted, q *request) error {
	return s.show(w, q, &view{Name: "conflict", Title: "Somebody was faster", Status: http.StatusConflict, Data: c})
}

// status is an error with the status of its answer.
type status struct {
	code int
	err  error
}

func (s *status) Error() string { return s.err.Error() }
func (s *status) Unwrap() error { return s.err }

// absent says that what an address names is not there.
func absent(err error) error {
	var refusal *study.Refusal
	if errors.As(err, &refusal) {
		return &status{http.StatusNotFound, err}
	}
	return err
}

func (s *Server) notThere(w *counted, q *request) error {
	return s.refuse(w, q, http.StatusNotFound, &study.Refusal{
		Fault: fmt.Sprintf("there is no page %q", q.URL.Path), Try: "go on from one of the entries of the menu"})
}

// passOn gives what the patterns said: another way to write the address, or that it takes another method.
func (s *Server) passOn(w *counted, q *request, out *held) error {
	if to := out.Header().Get("Location"); to != "" {
		http.Redirect(w, q.Request, localPath(to), http.StatusSeeOther)
		return nil
	}
	if out.status == http.StatusMethodNotAllowed {
		w.Header().Set("Allow", out.Header().Get("Allow"))
		return s.refuse(w, q, out.status, &study.Refusal{Fault: "this address does not take " + study.Shown(q.Method),
			Try: "open it as a page"})
	}
	return s.notThere(w, q)
}
