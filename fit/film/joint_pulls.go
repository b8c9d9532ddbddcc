package film

import (
	"context"
	"fmt"
)

// Pull is the reading of a spot at one pull.
type Pull struct {
	Member
	// Known is what the other spots of the pull's session say, from
	// [Joint.Without] of the fit of that session, all pulls of this life left out of it;
	// nil: the priors alone. Of several pulls in one session one brings it.
	Known *Knowledge
}

// FitPulls fits all pulls of one spot together, on workers goroutines; 0 means one for each processor. Glass
// and coating are the same at all pulls, the film is another one at each, and pulls of one session share the
// session. [Joint.Difference] gives changes.
//
// Pulls of more than one glass or coating, and knowledge that is of another session or given twice, give an
// [*InputError]. A pull that cannot be fitted is left out: see [JointSpot].
func FitPulls(ctx context.Context, pulls []Pull, workers int) (*Joint, error) {
	if len(pulls) == 0 {
		return nil, &InputError{"life", "no pull is given", "give the pulls of one spot"}
	}
	told := map[string]bool{}
	members, known := make([]Member, len(pulls)), make([]*Knowledge, len(pulls))
	for i, p := range pulls {
		members[i], known[i] = p.Member, p.Known
		if members[i].Name == "" {
			members[i].Name = fmt.Sprintf("pull %d", i)
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
		if told[p.Session] {
			return nil, &InputError{members[i].Name, fmt.Sprintf("what is known of session %q is there already", p.Session),
				"hand it over with one pull of the session"}
		}
		told[p.Session] = true
	}
	return fitJointly(ctx, members, known, workers)
}
