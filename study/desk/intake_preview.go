package desk

import (
	"context"
	"errors"
	"fmt"

	"wane/study"
	"wane/study/intake"
	"wane/study/intake/placing"
	"wane/study/intake/source"
	"wane/study/intake/text"
	"wane/study/store"
)

// Previewed is what an intake would make of one file.
type Previewed struct {
	File    string
	Curves  []string // a line for each: its place, and its first, middle and last point
	Read    string   // units, and the lines that are read and that are not; empty if it is refused
	Seen    []string // what the reader sees, as [intake.Explain] has it
	Notes   []string // on lines and columns that are skipped, and others
	Refused error    // a *study.Refusal or a *study.Fault, or nil
}

// Preview returns what [Desk.Intake] would do with the same arguments, and changes nothing. The last
// element has the name of the map: its notes are on the map, and on files that would be skipped.
func (d *Desk) Preview(
	ctx context.Context, mapFile string, paths []string, opt IntakeOptions,
) (all []Previewed, err error) {
	p, err := d.planIntake(ctx, mapFile, paths, opt)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, p.close()) }()
	p.previewOnly, p.placesShown = true, map[study.Place]string{}
	for j := range p.jobs() {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		shown, err := p.preview(ctx, j)
		if err != nil {
			return nil, err
		}
		all = append(all, shown)
	}
	if notes := append(p.placement.notes(), p.skipped.notes(p.placement.describe())...); len(notes) > 0 {
		rest := Previewed{File: p.placement.name, Notes: notes}
		for _, n := range notes {
			rest.Seen = append(rest.Seen, "note        "+n)
		}
		all = append(all, rest)
	}
	return all, nil
}

// preview returns what would become of one file, also of one that is known.
func (p *intakePlan) preview(ctx context.Context, j *exportJob) (out Previewed, err error) {
	out = Previewed{File: j.path}
	defer study.Catch(j.path, &out.Refused)
	err = p.read(ctx, j)
	if j.export.Data != nil {
		lines, fault := p.placement.linesOf(j.path)
		stated, wrong := p.placement.statedOf(j.path, lines)
		if fault == nil && wrong == nil {
			out.Seen = intake.Explain(j.path, j.export.Data, stated)
		}
		if j.known {
			j.refused = p.parse(j, lines, stated)
			out.Notes = append(out.Notes, "known already: the same bytes were taken in at the same places")
		}
	}
	if err == nil {
		err = p.noteNewSpots(ctx, j)
	}
	if j.parsed != nil {
		out.Read = describeExport(j.parsed)
	}
	for _, n := range j.notes {
		out.Notes = append(out.Notes, n.String())
	}
	out.Refused = j.refused
	if j.refused == nil {
		for i := range j.readings {
			r := &j.readings[i]
			out.Curves = append(out.Curves, describePlace(r.Column, r.Heading, r.Place)+": "+text.Points(r.NM, r.Values))
			for _, c := range r.Concerns {
				out.Notes = append(out.Notes, fmt.Sprintf("#%d would be held: %s: %s", r.Column, c.Guard, c.Reason))
			}
		}
	}
	return out, err
}

// errTrialRun undoes what was tried.
var errTrialRun = errors.New("desk: only tried")

// tryToStore refuses the job if the study would refuse its readings. The study does not change.
func (p *intakePlan) tryToStore(ctx context.Context, j *exportJob) error {
	how := j.how
	how.Profile, how.Version = "", 0 // which is kept by an intake alone
	err := p.desk.store.Write(ctx, p.desk.entry("intake", ""), func(tx *store.Tx) error {
		if _, err := tx.AddExport(j.export, how, j.readings); err != nil {
			return err
		}
		return errTrialRun
	})
	var r *study.Refusal
	switch {
	case errors.As(err, &r):
		j.refused = r.At(j.path, r.Line)
		return nil
	case !errors.Is(err, errTrialRun):
		return err
	}
	for i := range j.readings {
		place := j.readings[i].Place
		if other, there := p.placesShown[place]; there && other != j.path {
			j.refused = &study.Refusal{
				File: j.path,
				Fault: fmt.Sprintf("column %d has the same place as a curve of %s: %s, %g degrees, polarisation %s",
					j.readings[i].Column, other, describeUnit(unitOf(&place)), place.AngleDeg, place.Polarisation),
				Try: "give the second reading another replicate, or correct its place",
			}
			return nil
		}
		p.placesShown[place] = j.path
	}
	return nil
}

// describeExport says in which units an export is read, and which of its lines are not.
func describeExport(x *intake.Export) string {
	text := fmt.Sprintf("wavelengths in %s, values as %s, kept as nm and fractions; lines %d to %d are read",
		x.WavelengthUnit, x.Unit, x.FirstLine, x.LastLine)
	if n := len(x.Header) + len(x.Footer); n > 0 {
		text += fmt.Sprintf("; lines kept as text: %d before and %d after them", len(x.Header), len(x.Footer))
	}
	return text
}

// describePlace says where a curve goes.
func describePlace(column int, heading string, to study.Place) string {
	return fmt.Sprintf("#%d %q to %s, %g degrees, polarisation %s",
		column, heading, describeUnit(unitOf(&to)), to.AngleDeg, to.Polarisation)
}

// preview says where the curves of one file would go, whatever the study holds.
func (p *placement) preview(files *source.Files, f source.Found) (out Previewed) {
	out = Previewed{File: f.Path, Refused: f.Fault}
	defer study.Catch(f.Path, &out.Refused)
	if f.Fault != nil {
		return out
	}
	if !p.profile.Matches(f.Path) {
		out.Refused = &study.Refusal{
			File: f.Path, Fault: p.describe() + " is not for files of this name",
			Try: "correct the pattern of its files, or leave the file out",
		}
		return out
	}
	lines, err := p.linesOf(f.Path)
	var stated text.Stated
	var data []byte
	if err == nil {
		stated, err = p.statedOf(f.Path, lines)
	}
	if err == nil {
		data, err = files.Read(f.Path)
	}
	if err != nil {
		out.Refused = err
		return out
	}
	out.Seen = intake.Explain(f.Path, data, stated)
	parsed, err := intake.Read(f.Path, data, stated)
	if err != nil {
		out.Refused = err
		return out
	}
	out.Read, out.Notes = describeExport(parsed), parsed.Notes
	if lines, err = placing.WithHeader(lines, parsed.Header); err != nil {
		out.Refused = err
		return out
	}
	placed, unplaced, err := placing.Place(lines, parsed.Spectra, parsed.Skipped)
	if err != nil {
		out.Refused = err
		return out
	}
	for i := range placed {
		s := placed[i].Spectrum
		where := describePlace(s.Column, s.Heading, placed[i].Row.Place)
		out.Curves = append(out.Curves, where+": "+text.Points(s.NM, s.Values))
	}
	for _, l := range unplaced {
		out.Notes = append(out.Notes, "skipped: no row for "+l)
	}
	return out
}
