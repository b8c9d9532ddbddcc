package web

import (
	"context"
	"errors"
	"net/http"

	"wane/study"
	"wane/study/desk"
)

// trouble is what a page says of what could not be done.
type trouble struct {
	Lines []troubleLine
	Back  bool // the person came from a form
}

// troubleLine is what happened, and what to try.
type troubleLine struct{ Fault, Try string }

// statusOf returns the status of an answer that is an error.
func statusOf(err error) int {
	var with *status
	var failure *study.Failure
	var fault *study.Fault
	var refusal *study.Refusal
	var usage *desk.UsageError
	switch {
	case errors.As(err, &with):
		return with.code
	case errors.As(err, &fault):
		return http.StatusInternalServerError
	case errors.As(err, &failure), errors.Is(err, context.Canceled), errors.Is(err, errBeingMade):
		return http.StatusServiceUnavailable
	case errors.As(err, &usage), errors.As(err, &refusal):
		return http.StatusUnprocessableEntity
	}
	return http.StatusInternalServerError
}

// linesOf says what happened, and what to try.
func linesOf(err error) (lines []troubleLine) {
	var in *inTray
	if errors.As(err, &in) {
		return in.tray.linesOf(in.error)
	}
	var all study.Refusals
	if errors.As(err, &all) {
		for _, r := range all {
			lines = append(lines, troubleLine{r.Error(), r.Try})
		}
		return lines
	}
	var refusal *study.Refusal
	var failure *study.Failure
	var fault *study.Fault
	var usage *desk.UsageError
	try := "load the page again"
	switch {
	case errors.As(err, &fault):
		try = "report it to whoever gave you wane, with what wane serve printed; the server goes on"
	case errors.As(err, &usage):
		try = usage.Try
	case errors.As(err, &refusal):
		try = refusal.Try
	case errors.As(err, &failure):
		try = failure.Try
	case errors.Is(err, context.Canceled):
		return []troubleLine{{"wane serve is ending", "start it again: what was finished is kept"}}
	}
	return []troubleLine{{study.OneLine(err.Error()), study.OneLine(try)}}
}

// refuse answers with a page that says what happened and what to try. It returns the error if it is of the program
// or of the study.
func (s *Server) refuse(w *counted, q *request, status int, err error) error {
	if errors.Is(err, errBeingMade) {
		w.Header().Set("Retry-After", "1")
		if q.format == "" {
			status = http.StatusAccepted
		}
		w.Header().Set("Wane-Up-To", "0")
		q.format = ""
		return s.show(w, q, &view{Name: "making", Title: "Reading the study", Status: status})
	}
	q.format = ""
	titles := map[int]string{http.StatusNotFound: "Not here",
		http.StatusServiceUnavailable:  "The study cannot be read now",
		http.StatusInternalServerError: "A fault of the program"}
	title := titles[status]
	if title == "" {
		title = "Not done"
	}
	shown := s.show(w, q, &view{Name: "trouble", Title: title, Status: status,
		Data: &trouble{Lines: linesOf(err), Back: q.Method == http.MethodPost}})
	if status < http.StatusInternalServerError {
		return shown
	}
	return errors.Join(err, shown)
}

// sayFault answers after a panic.
func (s *Server) sayFault(w *counted, q *request, fault error) {
	defer func() {
		if recover() != nil && w.status == 0 { // the page of faults has one
			http.Error(w, "a fault of the program", http.StatusInternalServerError)
		}
	}()
	setHeaders(w.Header())
	s.refuse(w, q, http.StatusInternalServerError, fault)
}

func readOnly() error {
	return &study.Refusal{Fault: "the study is served to be read only", Try: "start wane serve without --read-only"}
}

// replaced says what to do where the study is not any more the file that is served.
func replaced(err error) error {
	var failure *study.Failure
	if errors.As(err, &failure) {
		changed := *failure
		changed.Try = "look which file is at its place, put the right one there, then end wane serve and start it again"
		return &changed
	}
	return err
}
