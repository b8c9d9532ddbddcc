package evaluate

import (
	"wane/fit/film"
	"wane/study"
)

// pullErrors splits what the fits of all pulls of a spot share. A joint fit of pulls says what its pulls have in
// common, columns J of sensitivities. A part of that is due to the sessions, which other spots share: S, by what was
// known of them beforehand, or by the fits of whole sessions. The covariance of the rest is
//
//	J·J' - S·S'
//
// It has negative eigenvalues where a fit of a whole session says more than the joint fit of pulls; they count as 0.
type pullErrors struct {
	fits     []*study.Fit
	inside   [][]byOutput          // J, by fit
	sessions [][]study.Sensitivity // S, by fit
}

// add adds the fit f of pull i of a joint fit, by an evaluator, and fills its errors but for what split fills. single
// is the fit of the pull without the others; inSession says that it comes from the fit of its session.
func (p *pullErrors) add(f, single *study.Fit, joint *film.Joint, i int, e *Evaluator, inSession bool) error {
	parts, err := joint.Errors(i, e.measurands()...)
	if err != nil {
		return err
	}
	var inside []byOutput
	f.Errors, inside = errorsOf(parts)
	var session []study.Sensitivity
	if inSession {
		for _, s := range single.Errors.Shared {
			if s.Owner == study.OwnerJoint {
				session = append(session, s)
			}
		}
	} else if session, err = sessionErrors(joint, i, e); err != nil {
		return err
	}
	p.fits, p.inside, p.sessions = append(p.fits, f), append(p.inside, inside), append(p.sessions, session)
	return nil
}

// sessionErrors returns what the effects of all sessions of a joint fit do to its spot i.
func sessionErrors(joint *film.Joint, i int, e *Evaluator) (list []study.Sensitivity, err error) {
	at := map[study.Effect]int{}
	for q, m := range e.measurands() {
		by, err := joint.SessionErrors(i, m)
		if err != nil {
			return nil, err
		}
		for _, b := range by {
			effect := study.Effect{Owner: study.OwnerSession, Of: b.Session, Name: b.Name}
			k, known := at[effect]
			if !known {
				k = len(list)
				at[effect], list = k, append(list, study.Sensitivity{Effect: effect})
			}
			list[k].By[q] = b.By * perUnit[q]
		}
	}
	return list, nil
}

// split gives the fits the effects of their sessions, and what else they share, with joint as the name of the joint
// fit. The thickness comes from a fit of its own: what noise does to both is not followed.
func (p *pullErrors) split(joint string) {
	ofThickness := func(q int) bool { return q == int(study.OutThickness) }
	j := jointFits{name: joint, fits: p.fits, covariance: func(i, a, k, b int) float64 {
		if ofThickness(a) != ofThickness(b) {
			return 0
		}
		return covarianceOf(p.inside[i], p.inside[k], a, b) - commonOf(p.sessions[i], p.sessions[k], a, b)
	}}
	j.share()
	for i, f := range p.fits {
		f.Errors.Shared = append(f.Errors.Shared, p.sessions[i]...)
	}
}

// commonOf returns the covariance of quantity a by some effects with quantity b by others.
func commonOf(some, others []study.Sensitivity, a, b int) (sum float64) {
	for i := range some {
		for k := range others {
			if some[i].Effect == others[k].Effect {
				sum += some[i].By[a] * others[k].By[b]
			}
		}
	}
	return sum
}
