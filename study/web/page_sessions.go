package web

import (
	"context"

	"wane/study"
	"wane/study/desk"
	"wane/study/drawn"
	"wane/study/shown"
)

// checked are the sessions and their charts.
type checked struct {
	sessions []desk.SessionCheck
	charts   []drawn.Chart
	pictures []picture
}

// sessionsPage is the list of sessions with the charts of their standards.
type sessionsPage struct {
	Verdicts *grid
	Charts   []chartOnPage
	Held     int
}

type chartOnPage struct {
	Labels  string
	Picture picture
	Files   []fileLink
}

// readSessions checks all sessions.
func (s *Server) readSessions(ctx context.Context) (*checked, error) {
	sessions, err := s.desk.Check(ctx, desk.CheckOptions{})
	if err != nil {
		return nil, err
	}
	out := &checked{sessions: sessions, charts: drawn.Charts(sessions, nil)}
	stamp, err := s.desk.Stamp(ctx, 0)
	if err != nil {
		return nil, err
	}
	for i := range out.charts {
		out.charts[i].Figure.Stamp = stamp
		p, err := pictureOf(ctx, out.charts[i].Figure)
		if err != nil {
			return nil, err
		}
		out.pictures = append(out.pictures, p)
	}
	return out, nil
}

// checks is the page of sessions.
func (s *Server) checks(q *request) (answer, error) {
	of, upTo, err := s.whole.sessions.get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	rows := make([]shown.Checked, len(of.sessions))
	for i := range rows {
		rows[i] = shown.Checked{Session: &of.sessions[i]}
	}
	p := &sessionsPage{Verdicts: gridOf("Sessions, in the order of their dates", shown.CheckVerdicts(), rows, checkedAt)}
	for i := range of.charts {
		p.Charts = append(p.Charts, chartOnPage{Labels: of.charts[i].Labels, Picture: of.pictures[i]})
	}
	v := &view{Name: "sessions", Title: "Sessions", Topic: "sessions", Nav: sessionsAt, Data: p, UpTo: upTo,
		Rows: rowsFile(shown.Check(), shown.CheckedRows(of.sessions))}
	if n := q.number("chart"); n <= len(of.charts) {
		v.Figure = of.charts[n-1].Figure.Write
	}
	for i := range p.Charts {
		for _, format := range []string{"svg", "png", "pdf"} {
			p.Charts[i].Files = append(p.Charts[i].Files, fileLink{format, withQuery(sessionsAt+"."+format, "chart",
				decimal(i+1))})
		}
	}
	return v, nil
}

// checkedAt leads from a session to its page.
func checkedAt(column string, r shown.Checked) string {
	if column == "session" {
		return sessionAt(r.Session.Session.Session)
	}
	return ""
}

// sessionPage is one session.
type sessionPage struct {
	Verdict, Read *grid
	Held          int
}

// oneSession is the page of a session.
func (s *Server) oneSession(q *request) (answer, error) {
	of, upTo, err := s.whole.sessions.get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	name := q.PathValue("session")
	var names []string
	for i := range of.sessions {
		names = append(names, of.sessions[i].Session.Session)
		if names[i] != name {
			continue
		}
		rows := shown.CheckedRows(of.sessions[i : i+1])
		p := &sessionPage{Verdict: gridOf("Whether the session can be trusted", shown.CheckVerdicts(), rows[:1], nil),
			Held: of.sessions[i].Held}
		if rows[0].Standard != nil {
			p.Read = gridOf("What was read of check standards; fractions, certified ± U (k=2)", shown.CheckRead(), rows, nil)
		}
		return &view{Name: "session", Title: "Session " + name, Topic: "sessions", Nav: sessionsAt, Data: p, UpTo: upTo,
			File: "session-" + name, Rows: rowsFile(shown.Check(), rows)}, nil
	}
	return nil, absent(&study.Refusal{Fault: "session " + study.Shown(name) + " is not enrolled",
		Try: study.DidYouMean(name, names, "choose one of the page of sessions")})
}
