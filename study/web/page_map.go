package web

import (
	"encoding/csv"
	"math"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"

	"wane/study"
	"wane/study/desk"
)

// curveRow is a curve of which a person says where it belongs.
type curveRow struct {
	File, Column, Heading         string
	Angle, Polarisation, Quantity string // as the export says; empty: it does not
}

// mostCurvesAsked is of how many curves a person says one by one where they belong: of more a map does.
const mostCurvesAsked = 60

// curves are the curves of the files of a tray, for a person to say where each belongs.
func (t *tray) curves() (rows []curveRow, refused []troubleLine, tooMany bool) {
	for _, f := range t.Files {
		if len(rows) > mostCurvesAsked || strings.EqualFold(path.Ext(f), ".zip") {
			return nil, refused, true
		}
		curves, err := desk.CurvesIn(t.at(f))
		if err != nil {
			refused = append(refused, t.linesOf(err)...)
			continue
		}
		for i := range curves {
			c := &curves[i]
			row := curveRow{File: f, Column: "#" + decimal(c.Column), Heading: c.Heading, Polarisation: c.Polarisation,
				Quantity: string(c.Quantity)}
			if !math.IsNaN(c.AngleDeg) {
				row.Angle = strconv.FormatFloat(c.AngleDeg, 'g', -1, 64)
			}
			rows = append(rows, row)
		}
	}
	if len(rows) > mostCurvesAsked {
		return nil, refused, true
	}
	return rows, refused, false
}

// mapColumns are the columns of a map that the page writes.
var mapColumns = []string{"file", "column", "coupon", "pull", "spot", "angle_deg", "polarisation", "quantity", "unit",
	"session", "condition"}

// drawMap writes the map of what a person said of each curve, and places the exports by it.
func (s *Server) drawMap(q *request) (answer, error) {
	t, err := s.trays.of(q)
	if err != nil {
		return nil, err
	}
	u := t.intake
	u.mu.Lock()
	defer u.mu.Unlock()
	if u.task.isBusy() {
		return nil, beingTakenIn()
	}
	rows, err := t.mapRows(q)
	if err != nil {
		return nil, err
	}
	name := "map.csv"
	for n := 2; slices.Contains(t.Files, name); n++ {
		name = "map-" + decimal(n) + ".csv"
	}
	f, err := os.OpenFile(t.at(name), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return nil, cannotKeep(err)
	}
	err = csv.NewWriter(f).WriteAll(rows)
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err != nil {
		return nil, cannotKeep(err)
	}
	t.Files = append(t.Files, name)
	u.Map, u.Sheet = name, ""
	u.said++
	return &done{To: trayAt(t.id)}, nil
}

// mapRows reads the rows of the form. A curve without a coupon is left out.
func (t *tray) mapRows(q *request) ([][]string, error) {
	rows := [][]string{mapColumns}
	for i := range q.PostForm["file[]"] {
		row := make([]string, len(mapColumns))
		for k, c := range mapColumns {
			if of := q.PostForm[c+"[]"]; i < len(of) {
				row[k] = strings.TrimSpace(of[i])
			}
		}
		if row[2] == "" {
			continue
		}
		if !slices.Contains(t.Files, row[0]) {
			return nil, &study.Refusal{Fault: "no file " + study.Shown(row[0]) + " was uploaded", Try: "load the page of the files again"}
		}
		rows = append(rows, row)
	}
	if len(rows) == 1 {
		return nil, &study.Refusal{Fault: "no curve has a coupon", Try: "write the coupon of each curve that is to be taken in"}
	}
	return rows, nil
}
