package desk

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"path/filepath"
	"strings"

	"wane/study"
	"wane/study/guard"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/intake/text"
	"wane/study/store"
)

// exportJob is one file that is being taken in.
type exportJob struct {
	number int // in the order of the intake, from 0
	path   string

	export   study.Export
	how      study.Taking
	known    bool           // the same bytes were taken in the same way before
	parsed   *intake.Export // if it is to be shown
	readings []study.Reading
	packed   *store.Packed // the export and its readings
	notes    []Note
	refused  error
}

// isNew reports whether the job has something to take in.
func (j *exportJob) isNew() bool { return j.refused == nil && !j.known }

// read fills in the readings of the job, or its refusal. A panic refuses this file only. The error is
// returned if it is no fault of the file.
func (p *intakePlan) read(ctx context.Context, j *exportJob) error {
	defer study.Catch(j.path, &j.refused)
	if j.refused != nil {
		return nil
	}
	lines, err := p.placement.linesOf(j.path)
	if err != nil {
		j.refused = err
		return nil
	}
	for i := range lines {
		if !lines[i].Row.Literal() {
			continue // it is checked when it has been matched
		}
		if j.refused = p.index.check(&lines[i]); j.refused != nil {
			return nil
		}
	}
	stated, err := p.placement.statedOf(j.path, lines)
	if err != nil {
		j.refused = err
		return nil
	}
	data, err := p.files.Read(j.path)
	if err != nil {
		j.refused = err
		return nil
	}
	j.export = study.Export{Name: filepath.Base(j.path), SHA256: sha256.Sum256(data), Data: data}
	j.how = p.taking(j.path, lines, stated)
	if j.known = !p.replacing && p.known.Has(j.export.SHA256, j.how.Digest); j.known {
		return nil
	}
	if j.refused = p.parse(j, lines, stated); j.refused != nil {
		return nil
	}
	if p.previewOnly {
		return p.tryToStore(ctx, j)
	}
	if p.replacing {
		return nil
	}
	j.packed, err = p.desk.store.PackReadings(j.export, j.readings)
	var r *study.Refusal
	if errors.As(err, &r) {
		j.refused = err
		return nil
	}
	return err
}

// parse reads the curves and puts each where the lines say.
func (p *intakePlan) parse(j *exportJob, lines []sheet.Line[placing.Placing], stated text.Stated) error {
	parsed, err := p.parser(j.path, j.export.Data, stated)
	if err != nil {
		return err
	}
	if p.previewOnly {
		j.parsed = parsed
	}
	for _, n := range parsed.Notes {
		j.notes = append(j.notes, Note{j.path, n})
	}
	if lines, err = placing.WithHeader(lines, parsed.Header); err != nil {
		return err
	}
	placed, unplaced, err := placing.Place(lines, parsed.Spectra, parsed.Skipped)
	if err != nil {
		return err
	}
	sum := hex.EncodeToString(j.export.SHA256[:])
	for i := range placed {
		r, err := p.reading(&placed[i], parsed, stated.RelativeTo)
		if err != nil {
			return err
		}
		r.Export = sum
		j.readings = append(j.readings, *r)
	}
	if len(unplaced) > 0 {
		j.notes = append(j.notes,
			Note{j.path, p.placement.kind() + " has no row for " + strings.Join(unplaced, ", ") + "; skipped"})
	}
	return nil
}

// reading makes the reading of one placed curve.
func (p *intakePlan) reading(at *placing.Placed, parsed *intake.Export, relativeTo string) (*study.Reading, error) {
	if err := p.index.check(&at.Line); err != nil {
		return nil, err
	}
	row, s := &at.Row, at.Spectrum
	r := &study.Reading{Place: row.Place, Session: row.Session, Operator: row.Operator, Geometry: row.Geometry,
		OrientationDeg: row.OrientationDeg, Mounting: row.Mounting, HalfAngleDeg: row.HalfAngleDeg, Position: row.Position,
		Column: s.Column, Heading: s.Heading, NM: s.NM, Values: s.Values}
	r.Quantity = s.Quantity
	if in := p.index.instrumentOf(r.Session); in != nil && r.Geometry == "" && len(in.Geometries) > 0 {
		r.Geometry, _ = in.GeometryOf("")
	}
	if err := p.index.checkReturn(r, &at.Line); err != nil {
		return nil, err
	}
	if err := p.index.checkPane(r, &at.Line); err != nil {
		return nil, err
	}
	r.FirstLine, r.LastLine = parsed.LinesOf(s.Column)
	if needsCertificate(relativeTo) {
		if err := p.index.makeAbsolute(r, &at.Line, relativeTo); err != nil {
			return nil, err
		}
	}
	r.Traits = guard.TraitsOf(r.NM, r.Values)
	r.Concerns = p.guard.JudgeReading(r)
	return r, nil
}
