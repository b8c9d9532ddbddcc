package web

import (
	"strings"
)

// namePage asks who works at this browser.
type namePage struct{ Who, To string }

func (s *Server) askName(q *request) (answer, error) {
	return &view{Name: "name", Title: "Who works here?", Topic: "study-pages",
		Data: &namePage{q.who(), localPath(q.URL.Query().Get("to"))}}, nil
}

// setName keeps the name that the log gets of what is changed from this browser.
func (s *Server) setName(q *request) (answer, error) {
	name := strings.TrimSpace(q.PostFormValue("name"))
	if _, err := s.desk.As(name); err != nil {
		return nil, err
	}
	q.session.setWorker(name)
	return &done{To: localPath(q.PostFormValue("to")), Cookie: nameCookie(name), Said: "What you change from this browser is logged as " + name + "."}, nil
}
