package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/desk"
)

// request is a request with what is known of who asks.
type request struct {
	*http.Request
	server  *Server
	session *session // nil: a program that reads
	format  string   // csv, json, svg, png or pdf; empty: a page
	path    string   // as it is in addresses, without the format
	head    study.Entry
	let     bool // it may know which study this is
}

// fileFormats are the formats in which a page can be had, by what is behind its address.
var fileFormats = []string{"csv", "json", "svg", "png", "pdf"}

// split takes the format off the path. Dots of codes are written %2E in addresses.
func (q *request) split() {
	q.path = q.URL.EscapedPath()
	for _, f := range fileFormats {
		if rest, ok := strings.CutSuffix(q.path, "."+f); ok && len(rest) > 1 && !strings.HasSuffix(rest, "/") {
			q.path, q.format = rest, f
			break
		}
	}
	u := *q.URL
	u.RawPath = q.path
	if path, err := url.PathUnescape(q.path); err == nil {
		u.Path = path
	}
	r := *q.Request
	r.URL = &u
	q.Request = &r
}

// desk returns the desk at which the person of this browser works.
func (q *request) desk() (*desk.Desk, error) { return q.server.desk.As(q.who()) }

// who returns the name of who works at this browser.
func (q *request) who() string {
	if q.session != nil {
		if name := q.session.worker(); name != "" {
			return name
		}
	}
	return q.server.opt.Who
}

// seen returns the line of the log up to which the person saw the study when the form was made.
func (q *request) seen() int64 {
	line, err := strconv.ParseInt(q.PostFormValue("line"), 10, 64)
	if err != nil || line < 0 {
		return 0
	}
	return line
}

// since returns the lines of the log that came after what the person saw, by these verbs; without verbs all.
func (q *request) since(verbs ...string) ([]study.Entry, error) {
	lines, err := q.server.desk.LinesAfter(q.Context(), q.seen())
	if err != nil || len(verbs) == 0 {
		return lines, err
	}
	var of []study.Entry
	for _, l := range lines {
		for _, v := range verbs {
			if l.Verb == v {
				of = append(of, l)
			}
		}
	}
	return of, nil
}

// number returns a number from 1 of the query; 1 if it says none.
func (q *request) number(name string) int {
	n, err := strconv.Atoi(q.URL.Query().Get(name))
	if err != nil || n < 1 {
		return 1
	}
	return min(n, 1<<30)
}
