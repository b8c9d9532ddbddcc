package web

import (
	"strings"

	"wane/study"
	"wane/study/desk"
	"wane/study/shown"
)

// replacePage shows what replacing the exports of a tray would do.
type replacePage struct {
	At, Why, Words string
	Would          *grid
	Notes          []string
}

// replace puts the readings of exports that are known where the map or the profile of a tray says now, or shows what that
// would do.
func (s *Server) replace(q *request) (answer, error) {
	t, err := s.trays.of(q)
	if err != nil {
		return nil, err
	}
	d, err := q.desk()
	if err != nil {
		return nil, err
	}
	preview, why := q.PostFormValue("act") != "replace", strings.TrimSpace(q.PostFormValue("why"))
	s.single.Lock()
	defer s.single.Unlock()
	if !preview {
		if c, err := s.corrected(q, "The exports were not replaced", trayAt(t.id)); c != nil || err != nil {
			return c, err
		}
	}
	moved, err := t.replace(q, d, why, preview)
	if err != nil {
		return nil, t.without(err)
	}
	var notes []string
	for _, n := range moved.Notes {
		notes = append(notes, t.plain(n.String()))
	}
	notes = append(notes, shown.MovedNotes(moved)...)
	if preview {
		p := &replacePage{At: trayAt(t.id), Why: why, Words: shown.ReplacedWords(moved), Notes: notes,
			Would: gridOf("Readings that would be replaced or added", shown.Moved().Table(), pointers(moved.Readings), nil)}
		return &view{Name: "replace", Title: "Replace exports", Topic: "corrections", Nav: intakeAt, Data: p}, nil
	}
	return &done{To: trayAt(t.id), Said: shown.ReplacedWords(moved) + "; now fit",
		Notes: append(notes, shown.GuardLines(&moved.Guards)...)}, nil
}

// replace replaces the exports of a tray.
func (t *tray) replace(q *request, d *desk.Desk, why string, preview bool) (*desk.Moved, error) {
	u := t.intake
	if u == nil {
		return nil, &study.Refusal{Fault: "no exports were uploaded here", Try: "upload them on the page to take in exports"}
	}
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.task.isBusy() {
		return nil, beingTakenIn()
	}
	mapFile, profile := u.where(t)
	if mapFile == "" && profile == "" {
		return nil, nothingPlaces()
	}
	u.said++
	return d.Replace(q.Context(), mapFile, []string{t.folder}, desk.IntakeOptions{Profile: profile}, why, preview)
}
