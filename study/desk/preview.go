package desk

import (
	"context"
	"errors"
	"fmt"

	"wane/study/intake"
)

// Previewed is what an intake would make of one file.
type Previewed struct {
	File    string
	Curves  []string // in a line for each: where it goes, and its first, middle and last point
	Seen    []string // what the reader sees, as [intake.Explain] has it
	Notes   []string // lines and columns left, and what else is worth telling
	Refused error    // a *study.Refusal, or nil
}

// Preview says what [Desk.Intake] would do with the same arguments, and changes
// nothing. Files that would be left stand last, under the name of the map.
func (d *Desk) Preview(ctx context.Context, mapFile string, paths []string, opt IntakeOptions) (all []Previewed, err error) {
	files := &intake.Files{}
	defer func() { err = errors.Join(err, files.Close()) }()
	plan, err := d.planIntake(ctx, files, mapFile, paths, opt)
	if err != nil {
		return nil, err
	}
	for _, j := range plan.jobs {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		j.read(files, plan.index)
		p := Previewed{File: j.path, Notes: j.notes, Refused: j.refused}
		if j.export.Data != nil {
			if stated, err := j.stated(); err == nil {
				p.Seen = intake.Explain(j.path, j.export.Data, stated)
			}
		}
		if j.refused == nil {
			for i := range j.readings {
				r := &j.readings[i]
				place := fmt.Sprintf("#%d %q to coupon %s, pull %d, spot %s, %g degrees, polarisation %s", r.Column, r.Heading, r.Coupon, r.Pull, r.Spot, r.AngleDeg, r.Polarisation)
				p.Curves = append(p.Curves, place+": "+intake.PreviewPoints(r.NM, r.Values))
			}
		}
		all = append(all, p)
		*j = exportJob{} // the list outlives the contents of the files
	}
	if plan.left.n > 0 {
		note := plan.left.note(mapFile)
		all = append(all, Previewed{File: mapFile, Seen: []string{"note        " + note}, Notes: []string{note}})
	}
	return all, nil
}
