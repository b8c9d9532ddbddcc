package desk

import (
	"context"
	"fmt"
	"slices"

	"wane/study/store"
)

// noteNewSpots adds a note for each spot that the job is the first to read of a coupon of which others were read
// before the intake: often the spot is only written in another way. It runs for one job after the other.
func (p *intakePlan) noteNewSpots(ctx context.Context, j *exportJob) error {
	if !j.isNew() {
		return nil
	}
	if p.spots == nil {
		p.spots = map[string][]string{}
	}
	for i := range j.readings {
		coupon, spot := j.readings[i].Coupon, j.readings[i].Spot
		before, known := p.spots[coupon]
		if !known {
			err := p.desk.store.View(ctx, func(v *store.View) (err error) {
				before, err = v.SpotsOf(coupon, p.line)
				return err
			})
			if err != nil {
				return err
			}
			p.spots[coupon] = before
		}
		if len(before) == 0 || slices.Contains(before, spot) {
			continue
		}
		others := "spot " + before[0] + " was"
		if len(before) > 1 {
			others = "spots " + joinFirst(before[:min(len(before), mostNamedFiles)], len(before), ", ") + " were"
		}
		j.notes = append(j.notes, Note{j.path,
			fmt.Sprintf("spot %s is new for coupon %s, of which %s read before", spot, coupon, others)})
		p.spots[coupon] = append(slices.Clone(before), spot)
	}
	return nil
}
