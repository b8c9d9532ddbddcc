package web

import (
	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// todayPage is what the first page shows: how the study stands, what is due, what needs attention.
type todayPage struct {
	Day      string
	Overview desk.Overview
	Next     entry // the page that does what is to be done next, and why
	Why      string
	NextPull string
	Tasks    *grid
	More     int // lines of tasks that are not shown
	Groups   *grid
	Rules    []string
	Lines    []study.Entry // the last ones of the log
}

// mostTaskLines is how many lines of tasks the page of today shows.
const mostTaskLines = 50

func (s *Server) today(q *request) (answer, error) {
	st, upTo, err := s.whole.status.get(q.Context(), q.head.Number)
	if err != nil {
		return nil, err
	}
	p := &todayPage{Day: st.Day, Overview: st.Overview, NextPull: st.NextPull, Rules: shown.RuleLines(st.Rules)}
	line, why := shown.NextVerb(st)
	p.Next, p.Why = pageOf(line), why
	tasks := shown.GroupTasks(st.Tasks)
	p.More = max(0, len(tasks)-mostTaskLines)
	p.Tasks = gridOf("What is due, the most urgent first", shown.TaskGroups(), pointers(tasks[:len(tasks)-p.More]), taskAt)
	p.Groups = gridOf("Coupons by exposure and pull", shown.StatusGroups(), shown.GroupStatus(st.Rows), groupAt)
	if p.Lines, err = s.desk.LinesAfter(q.Context(), max(0, q.head.Number-6)); err != nil {
		return nil, err
	}
	return &view{Name: "today", Title: "Today", Topic: "keeping", Nav: todayAt, Data: p, UpTo: upTo,
		File: "due", Rows: rowsFile(shown.Tasks(), pointers(st.Tasks))}, nil
}

// taskPages are the pages on which tasks are done.
func taskPages() map[desk.TaskKind]string {
	return map[desk.TaskKind]string{desk.TaskMeasure: intakeAt, desk.TaskTakeIn: intakeAt, desk.TaskJudge: judgeAt,
		desk.TaskFit: fitAt, desk.TaskCertificate: enrolAt}
}

// taskAt leads from tasks to the pages that do them, and from their coupons to these.
func taskAt(column string, g *shown.TaskGroup) string {
	switch {
	case column == "task":
		return taskPages()[g.Task.Task]
	case column == "coupons" && len(g.Coupons) == 1:
		return couponAt(g.Coupons[0])
	case column == "coupons" && g.Exposure != "":
		return withQuery(couponsAt, "exposure", g.Exposure)
	}
	return ""
}

// groupAt leads from an exposure to its coupons.
func groupAt(column string, g *shown.StatusGroup) string {
	if column == "exposure" && g.Exposure != "" {
		return withQuery(couponsAt, "exposure", g.Exposure)
	}
	return ""
}

// pointers returns where the elements of a slice are.
func pointers[T any](all []T) []*T {
	at := make([]*T, len(all))
	for i := range all {
		at[i] = &all[i]
	}
	return at
}
