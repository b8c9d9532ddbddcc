package evaluate

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"wane/fit/film"
	"wane/study"
)

// pullErrors splits what the fits of all pulls of a spot share. A joint fit of pulls says what its pulls have in common,
// columns J of sensitivities. A part of that is due to the sessions, which other spots share: S, by what was known of
// them beforehand, or by the fits of whole sessions. The rest is a square root of
//
//	J·J' - S·S'
//
// where negative eigenvalues, which fits of whole sessions cause, count as 0.
type pullErrors struct {
	fits     []*study.Fit
	inside   [][]study.Sensitivity // J, by fit
	sessions [][]study.Sensitivity // S, by fit
}

// add adds the fit f of pull i of a joint fit, by an evaluator, and fills its errors but for what split fills. single is the
// fit of the pull without the others; inSession says that it comes from the fit of its session.
func (p *pullErrors) add(f, single *study.Fit, joint *film.Joint, i int, e *Evaluator, inSession bool) error {
	parts, err := joint.Errors(i, e.measurands()...)
	if err != nil {
		return err
	}
	var inside []study.Sensitivity
	f.Errors, inside = parted(errorsOf(parts, ""), study.OwnerJoint)
	_, session := parted(single.Errors, study.OwnerJoint)
	if !inSession {
		if session, err = sessionErrors(joint, i, e); err != nil {
			return err
		}
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

// parted returns errors without the effects of an owner, and these.
func parted(e study.Errors, owner study.Owner) (rest study.Errors, of []study.Sensitivity) {
	rest.Own = e.Own
	for _, s := range e.Shared {
		if s.Owner == owner {
			of = append(of, s)
		} else {
			rest.Shared = append(rest.Shared, s)
		}
	}
	return rest, of
}

// split gives the fits the effects of their sessions, and what else they share, with joint as the name of the joint fit.
func (p *pullErrors) split(joint string) error {
	const q = int(study.NumberOfOutputs)
	if len(p.fits) == 0 {
		return nil
	}
	rest, unit := mat.NewSymDense(q*len(p.fits), nil), p.units()
	for i := range p.fits {
		for k := range i + 1 {
			for a := range q {
				for b := range q {
					if uniform := study.OutThickness; (a == int(uniform)) != (b == int(uniform)) {
						continue // of two fits: what noise does to both is not followed
					}
					v := commonOf(p.inside[i], p.inside[k], a, b) - commonOf(p.sessions[i], p.sessions[k], a, b)
					rest.SetSym(q*i+a, q*k+b, v/unit[q*i+a]/unit[q*k+b])
				}
			}
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(rest, true) {
		return errors.New("evaluate: what pulls share has no eigenvalues")
	}
	var u mat.Dense
	eigen.VectorsTo(&u)
	for i, f := range p.fits {
		f.Errors.Shared = append(f.Errors.Shared, p.sessions[i]...)
		for k, lambda := range eigen.Values(nil) {
			if lambda <= 0 {
				continue
			}
			s := study.Sensitivity{Effect: study.Effect{Owner: study.OwnerJoint, Of: joint, Name: fmt.Sprint(k + 1)}}
			for a := range q {
				s.By[a] = u.At(q*i+a, k) * math.Sqrt(lambda) * unit[q*i+a]
			}
			f.Errors.Shared = append(f.Errors.Shared, s)
		}
	}
	return nil
}

// units returns for each quantity of each fit a unit of its size: what its pulls share of its uncertainty, or 1 if that is 0.
func (p *pullErrors) units() []float64 {
	const q = int(study.NumberOfOutputs)
	unit := make([]float64, q*len(p.fits))
	for i := range p.fits {
		for a := range q {
			v := commonOf(p.inside[i], p.inside[i], a, a)
			if unit[q*i+a] = math.Sqrt(v); v == 0 {
				unit[q*i+a] = 1
			}
		}
	}
	return unit
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
