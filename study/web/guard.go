package web

import (
	"errors"
	"fmt"
	"mime/multipart"
	"net"
	"net/http"
	"slices"
	"strings"

	"wane/study"
)

// The policies of answers: only files of these pages, nothing within others. A figure has styles of its own and no
// script.
const (
	policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; " +
		"form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
	figurePolicy = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
)

// setHeaders sets what holds for every answer.
func setHeaders(h http.Header) {
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(), microphone=(), geolocation=()")
	h.Set("Cache-Control", "no-store")
}

// guarded lets a request to a page or a change, if it may.
func (s *Server) guarded(w *counted, r *http.Request) error {
	setHeaders(w.Header())
	q := &request{Request: r, server: s}
	if err := s.checkHost(r); err != nil {
		return s.refuse(w, q, http.StatusMisdirectedRequest, err)
	}
	if strings.HasPrefix(r.URL.Path, filesAt) {
		serveFile(w, r)
		return nil
	}
	if err := s.crossOrigin().Check(r); err != nil {
		return s.refuse(w, q, http.StatusForbidden, foreignForm())
	}
	q.session = s.sessions.of(r)
	if q.session == nil && isFromElsewhere(r) {
		// The browser keeps the cookie back when a link of another site leads here. A page of ours that leads to the same
		// address gets it.
		return s.give(w, q, &view{Name: "again", Title: "One moment", Data: r.URL.RequestURI()})
	}
	if ok, err := s.admitted(w, q); !ok {
		return err
	}
	q.let = true
	q.split()
	return s.route(w, q)
}

// crossOrigin refuses changes that another site asks a browser for.
func (s *Server) crossOrigin() *http.CrossOriginProtection { return http.NewCrossOriginProtection() }

func foreignForm() error {
	return &study.Refusal{Fault: "this change was asked for by another site, and is not made",
		Try: "open the page here and send its form again"}
}

// isFromElsewhere reports whether a link of another site led the browser here.
func isFromElsewhere(r *http.Request) bool {
	return r.Method == http.MethodGet && r.Header.Get("Sec-Fetch-Mode") == "navigate" &&
		slices.Contains([]string{"cross-site", "same-site"}, r.Header.Get("Sec-Fetch-Site"))
}

// checkHost refuses a request for a name that is not one of this machine: by a name of their own that leads to this
// machine, other sites would read the pages (DNS rebinding).
func (s *Server) checkHost(r *http.Request) error {
	host, _, err := net.SplitHostPort(r.Host)
	if err != nil {
		host = strings.Trim(r.Host, "[]")
	}
	host = strings.ToLower(strings.TrimSuffix(host, "."))
	if slices.ContainsFunc(s.opt.Hosts, func(h string) bool { return strings.EqualFold(h, host) }) {
		return nil
	}
	at, _ := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	ip := net.ParseIP(host)
	switch {
	case at == nil:
	case host == "localhost" && at.IP.IsLoopback():
		return nil
	case ip != nil && (ip.Equal(at.IP) || ip.IsLoopback() && at.IP.IsLoopback()):
		return nil
	}
	return &study.Refusal{
		Fault: fmt.Sprintf("the pages are not served under the name %q", host),
		Try:   "use the address that wane serve printed; if this is a name of the machine, start it with --host and that name",
	}
}

// admitted reports whether a request may go on. Without a token nobody needs to be admitted; else who is not gets the
// page that asks for it, and is answered.
func (s *Server) admitted(w *counted, q *request) (bool, error) {
	if s.opt.Token == "" || q.session != nil && q.session.admitted {
		return true, nil
	}
	if stated, ok := strings.CutPrefix(q.Header.Get("Authorization"), "Bearer "); ok {
		if !s.isToken(stated) {
			return false, s.refuse(w, q, http.StatusUnauthorized, wrongToken())
		}
		if q.Method == http.MethodGet || q.Method == http.MethodHead {
			q.session = nil // a program that reads
			return true, nil
		}
		return false, s.refuse(w, q, http.StatusForbidden, &study.Refusal{
			Fault: "a change needs a form of these pages", Try: "use the pages in a browser, or the commands of wane"})
	}
	if q.URL.Path == enterAt && q.Method == http.MethodPost {
		return false, s.enter(w, q)
	}
	return false, s.give(w, q, &view{Name: "enter", Title: "Token", Status: http.StatusUnauthorized,
		Data: &entering{To: q.URL.RequestURI()}})
}

func wrongToken() error {
	return &study.Refusal{Fault: "this is not the token", Try: "copy the token that wane serve printed when it started"}
}

// entering is what the page shows that asks for the token.
type entering struct {
	To    string // where the person wanted to go
	Wrong bool
}

// enter admits a browser that states the token.
func (s *Server) enter(w *counted, q *request) error {
	q.Body = http.MaxBytesReader(w, q.Body, largestForm)
	if err := q.ParseForm(); err != nil {
		return s.refuse(w, q, http.StatusBadRequest, badForm(err))
	}
	to := localPath(q.PostForm.Get("to"))
	if !s.isToken(strings.TrimSpace(q.PostForm.Get("token"))) {
		return s.give(w, q, &view{Name: "enter", Title: "Token", Status: http.StatusUnauthorized,
			Data: &entering{To: to, Wrong: true}})
	}
	s.sessions.begin(w, q, true)
	if q.session.worker() == "" {
		to = withQuery(nameAt, "to", to) // people of several machines: the server does not know who they are
	}
	http.Redirect(w, q.Request, to, http.StatusSeeOther)
	return nil
}

// localPath is a path on these pages; that of the first page if it is none.
func localPath(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n\t") {
		return todayAt
	}
	return to
}

// checkForm refuses a change whose form is not one of this session.
func (q *request) checkForm() error {
	if q.session == nil || !q.session.isToken(q.PostFormValue("csrf")) {
		return &study.Refusal{Fault: "this form is of another session: the server was started again, or the browser has " +
			"forgotten its cookie", Try: "go back, load the page again and send its form again"}
	}
	return nil
}

// badForm says what is wrong with a form that cannot be read.
func badForm(err error) error {
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return &study.Refusal{Fault: fmt.Sprintf("what was sent is larger than %d MB, the most that is taken at once",
			large.Limit>>20),
			Try: "send fewer files at once, or use wane intake, which has no such limit"}
	}
	if errors.Is(err, multipart.ErrMessageTooLarge) {
		return &study.Refusal{Fault: "more files were sent than are taken at once", Try: "send at most 900 at once, put them into a " +
			"zip file, or use wane intake, which has no such limit"}
	}
	return &study.Refusal{Fault: "the form cannot be read", Try: "load the page again and send its form again", Cause: err}
}
