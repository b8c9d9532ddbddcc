package web

import (
	"context"
	"fmt"
	"time"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// fitPage says what there is to be fitted, how far a fit is, and what the last one did.
type fitPage struct {
	Due               int // spots
	Task              *task
	StreamsAt, PageAt string
	Last              *fitted
}

// fitted is what a fit did.
type fitted struct {
	Who, At string
	Words   string
	Support []string
	Guards  []string
	Refused []troubleLine
	Failed  []troubleLine
	Judge   bool
}

// lastFit returns the last fit since the server began.
func (s *Server) lastFit() *task {
	s.lasts.mu.Lock()
	defer s.lasts.mu.Unlock()
	return s.lasts.fit
}

func (s *Server) fitPage(q *request) (answer, error) {
	p := &fitPage{StreamsAt: fitAt + "/progress", PageAt: fitAt}
	v := &view{Name: "fit", Title: "Fit", Topic: "reading-results", Nav: fitAt, Data: p}
	t := s.lastFit()
	if t.isBusy() {
		p.Task = t
		return v, nil
	}
	st, upTo, err := s.whole.status.get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	p.Due, v.UpTo = st.Overview.Fits.Spots(), upTo
	if t != nil {
		p.Last = s.fittedOf(t)
	}
	return v, nil
}

func (s *Server) fittedOf(t *task) *fitted {
	result, err := t.came()
	out := &fitted{Who: t.Who, At: t.Begun.UTC().Format(time.RFC3339)}
	if n, _ := result.(*desk.Fitted); n != nil {
		out.Words, out.Support = shown.FitWords(n), shown.SupportLines(n.Sessions, s.desk.Settings())
		out.Guards, out.Judge = shown.GuardLines(&n.Guards), len(n.Guards.Held) > 0
		for _, r := range shown.RefusedSpots(n.Refused) {
			out.Refused = append(out.Refused, linesOf(r)...)
		}
	}
	if err != nil {
		out.Failed = linesOf(err)
	}
	return out
}

// fit begins a fit, or joins the one that goes on.
func (s *Server) fit(q *request) (answer, error) {
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	t, joined := s.beginFit(d)
	if joined {
		return &done{To: fitAt, Said: fmt.Sprintf("A fit goes on already, begun by %s: this is it.", study.Shown(t.Who))}, nil
	}
	select { // a few spots are fitted at once
	case <-t.ended:
	case <-time.After(waitFirst / 4):
	}
	return &done{To: fitAt}, nil
}

func (s *Server) beginFit(d *desk.Desk) (t *task, joined bool) {
	s.lasts.mu.Lock()
	defer s.lasts.mu.Unlock()
	if s.lasts.fit.isBusy() {
		return s.lasts.fit, true
	}
	s.lasts.fit = s.begin(d.Who(), "spot", func(ctx context.Context, progress desk.Progress) (any, error) {
		return d.Fit(ctx, desk.FitOptions{Progress: progress})
	})
	return s.lasts.fit, false
}

// fitProgress is the stream of how far the fit is.
func (s *Server) fitProgress(q *request) (answer, error) {
	t := s.lastFit()
	if t == nil {
		return nil, absent(&study.Refusal{Fault: "no fit goes on", Try: "begin one on the page of fits"})
	}
	return q.follow(t), nil
}
