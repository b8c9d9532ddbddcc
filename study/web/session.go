package web

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"net"
	"net/http"
	"net/url"
	"sync"
	"time"

	"wane/study"
)

// session is what the server knows of a browser. It is kept in memory only.
type session struct {
	token    string // of its forms
	admitted bool   // it has stated the token of the server
	seen     time.Time

	mu    sync.Mutex
	who   string   // who works there; empty: who started the server
	said  string   // to be shown on the next page
	notes []string // and these
}

// isToken reports, in a time that does not depend on it, whether a form states the token of the session.
func (s *session) isToken(stated string) bool { return equal(stated, s.token) }

// isToken reports, in a time that does not depend on it, whether a text is the token of the server.
func (s *Server) isToken(stated string) bool { return s.opt.Token != "" && equal(stated, s.opt.Token) }

// equal compares secrets of any length in constant time.
func equal(a, b string) bool {
	x, y := sha256.Sum256([]byte(a)), sha256.Sum256([]byte(b))
	return subtle.ConstantTimeCompare(x[:], y[:]) == 1
}

// say keeps a text and notes for the next page of the session.
func (s *session) say(text string, notes ...string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.said, s.notes = text, notes
}

// takeSaid returns what was said, once.
func (s *session) takeSaid() (text string, notes []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	text, notes, s.said, s.notes = s.said, s.notes, "", nil
	return text, notes
}

// worker returns the name of who works there.
func (s *session) worker() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.who
}

// setWorker changes the name of who works there.
func (s *session) setWorker(name string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.who = name
}

const (
	mostSessions   = 1000               // the one that was not seen for longest is forgotten for a new one
	longestSession = 7 * 24 * time.Hour // without a request
)

// sessions are the browsers that are known, by the digests of what their cookies say.
type sessions struct {
	now func() time.Time
	mu  sync.Mutex
	all map[[32]byte]*session
}

func (s *sessions) init(now func() time.Time) { s.now, s.all = now, map[[32]byte]*session{} }

// cookieName is the name of the cookie: browsers do not keep ports apart.
func cookieName(r *http.Request) string {
	if _, port, err := net.SplitHostPort(r.Host); err == nil {
		return "wane-" + port
	}
	return "wane"
}

// of returns the session of a request; nil: there is none.
func (s *sessions) of(r *http.Request) *session {
	c, err := r.Cookie(cookieName(r))
	if err != nil {
		return nil
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	key := sha256.Sum256([]byte(c.Value))
	found := s.all[key]
	if found == nil {
		return nil
	}
	if s.now().Sub(found.seen) > longestSession {
		delete(s.all, key)
		return nil
	}
	found.seen = s.now()
	return found
}

// begin begins a session of a browser. What the cookie says is no token of anything else.
func (s *sessions) begin(w http.ResponseWriter, q *request, admitted bool) {
	value := rand.Text()
	q.session = &session{token: rand.Text(), admitted: admitted, seen: s.now(), who: keptName(q.Request)}
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.all) >= mostSessions {
		s.forgetOldest()
	}
	s.all[sha256.Sum256([]byte(value))] = q.session
	http.SetCookie(w, &http.Cookie{Name: cookieName(q.Request), Value: value, Path: "/", HttpOnly: true,
		SameSite: http.SameSiteStrictMode, MaxAge: int(longestSession.Seconds())})
}

// nameOfCookie is the name of the cookie in which a browser keeps who works there.
const nameOfCookie = "wane-name"

func nameCookie(name string) *http.Cookie {
	return &http.Cookie{Name: nameOfCookie, Value: url.QueryEscape(name), Path: "/", HttpOnly: true,
		SameSite: http.SameSiteStrictMode, MaxAge: int((365 * 24 * time.Hour).Seconds())}
}

// keptName returns who works at a browser, as it keeps it; empty: it does not know, or what it says is no name.
func keptName(r *http.Request) string {
	c, err := r.Cookie(nameOfCookie)
	if err != nil {
		return ""
	}
	name, err := url.QueryUnescape(c.Value)
	if fault, _ := study.CheckCode(name); err != nil || fault != "" || len(name) > 200 {
		return ""
	}
	return name
}

func (s *sessions) forgetOldest() {
	var oldest [32]byte
	var at time.Time
	for key, one := range s.all {
		if at.IsZero() || one.seen.Before(at) {
			oldest, at = key, one.seen
		}
	}
	delete(s.all, oldest)
}

// NewToken returns a token of 130 bits of chance.
func NewToken() string { return rand.Text() }
