package film

import "math"

// SessionError is the error of a quantity of a joint fit that an effect of one session causes.
type SessionError struct {
	Effect
	Session string
	By      float64 // when the effect is off by one prior standard deviation
}

// SessionErrors returns what the effects of the sessions of a joint fit do to a quantity at a spot, those of sessions
// in which the spot was not read included: they reach it through the parameters that its pulls share. With Σ the
// covariance of the shared parameters and t how much the quantity moves with them, an effect k of prior standard
// deviation sd_k causes
//
//	a_k = -(t'Σ)_k/sd_k
//
// [Joint.Errors] counts it among what the spots share inside the joint fit. The errors are those of [Joint.Combine].
func (j *Joint) SessionErrors(spot int, q Measurand) ([]SessionError, error) {
	e, m, err := j.sensitivity(q, spot)
	if err != nil || math.IsNaN(e.U) {
		return nil, err
	}
	var out []SessionError
	t := m.fit
	for k, s := range t.slots {
		sd := t.params[k].Prior.SD
		if !s.ofSession || sd == 0 {
			continue
		}
		moved := 0.0
		for i, by := range m.by {
			moved += by * t.inflation * t.inverse.At(i, k)
		}
		out = append(out, SessionError{Effect{OwnerSession, s.Name}, s.Session, -moved / sd})
	}
	return out, nil
}
