package desk

import (
	"context"
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
// nothing.
func (d *Desk) Preview(ctx context.Context, mapFile string, files []string, opt IntakeOptions) ([]Previewed, error) {
	jobs, index, err := d.intakeJobs(ctx, mapFile, files, opt)
	if err != nil {
		return nil, err
	}
	var all []Previewed
	for _, j := range jobs {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		j.read(index)
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
	return all, nil
}
