package film

import (
	"context"
	"fmt"
)

// Pull is the reading of a spot at one pull.
type Pull struct {
	Member
	// Known is the information of the other spots of the pull's session: the result of
	// [Joint.Without] of the fit of that session, without all pulls of this spot. nil
	// means the priors only. If several pulls are of one session, only one has it.
	Known *Knowledge
}

// FitPulls fits all pulls of one spot together, on workers goroutines; 0 means one for each processor. Glass
// and coating are the same at all pulls, each pull has a film of its own, and pulls of one session share the
// parameters of the session. [Joint.Difference] gives changes.
//
// Pulls of more than one glass or coating, and knowledge that is of another session or given twice, give an
// [*InputError]. A pull that cannot be fitted is not used: see [JointSpot].
func FitPulls(ctx context.Context, pulls []Pull, workers int) (*Joint, error) {
	return new(Fitters).Pulls(ctx, pulls, workers)
}

// Pulls is like [FitPulls], with the fitters of f.
func (f *Fitters) Pulls(ctx context.Context, pulls []Pull, workers int) (*Joint, error) {
	if len(pulls) == 0 {
		return nil, &InputError{"life", "no pull is given", "give the pulls of one spot"}
	}
	given := map[string]bool{}
	members, known := make([]Member, len(pulls)), make([]*Knowledge, len(pulls))
	for i, p := range pulls {
		members[i], known[i] = p.Member, p.Known
		if members[i].Name == "" {
			members[i].Name = fmt.Sprintf("pull %d", i)
		}
		if members[i].Coupon == "" {
			members[i].Coupon = "of the spot"
		}
		if first := pulls[0]; p.Glass != first.Glass || p.Coating != first.Coating {
			return nil, &InputError{members[i].Name, "its glass or coating is not that of the first pull, as it is through " +
				"the life of a spot", "give the pulls of one spot"}
		}
		if p.Known == nil {
			continue
		}
		if s, ok := p.Known.session(); ok && s != p.Session {
			return nil, &InputError{members[i].Name, fmt.Sprintf("it is of session %q, but what is known is of %q", p.Session,
				s), "hand over what is known of its own session"}
		}
		if given[p.Session] {
			return nil, &InputError{members[i].Name, fmt.Sprintf("what is known of session %q is there already", p.Session),
				"hand it over with one pull of the session"}
		}
		given[p.Session] = true
	}
	j, err := f.fitJointly(ctx, members, known, workers)
	if err == nil {
		j.ofOneSpot = true
	}
	return j, err
}
