package desk

import (
	"cmp"
	"slices"
	"strings"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/store"
)

// SessionSupport says what one session supports.
type SessionSupport struct {
	Session string
	Blanks  int   // dark blanks that were evaluated and may say what is wrong with it
	Lost    int   // spots that could not be evaluated, where none could
	Why     error // of the first of these that is in this fit

	Coatings []CoatingSupport // of the coupons that were exposed and read in it, in the order of their names

	// Results and Notes are those of the joint fit of the session, where the study corrects by sessions.
	Results []evaluate.Support
	Notes   []string

	unfit int // blanks that say nothing of it
}

// CoatingSupport says whether the changes of the exposed coupons of one coating can be corrected by controls, by the
// readings of one session.
type CoatingSupport struct {
	Coating   string
	Controls  int // that were read in the session
	Coupons   int // exposed ones
	Corrected int // of these, those that have controls that were read in the same sessions, at this pull and at its baseline
}

// sessionReadings are what was read in one session.
type sessionReadings struct {
	blanks map[string]bool // coupons
	lost   []study.Unit    // that could not be evaluated
	units  []*store.Unit   // of coated coupons

	evaluated int // units of all roles
}

// supportOf says what sessions support, by what was read in them and is not known to have been refused by a fit. It
// leaves out sessions of which no reading counts.
func (w *fitWorkspace) supportOf(sessions map[string]bool) (all []SessionSupport) {
	read, starts := map[string]*sessionReadings{}, w.starts()
	var names []string
	for i := range w.units {
		u := &w.units[i]
		if u.Counted == 0 || u.Session == "" || !sessions[u.Session] {
			continue
		}
		s := read[u.Session]
		if s == nil {
			s = &sessionReadings{blanks: map[string]bool{}}
			read[u.Session], names = s, append(names, u.Session)
		}
		role := w.coupons[u.Coupon].Role
		switch {
		case w.isLost(u.Unit):
			s.lost = append(s.lost, u.Unit)
			continue
		case role == study.Blank:
			s.blanks[u.Coupon] = true
		case role.Coated():
			s.units = append(s.units, u)
		}
		s.evaluated++
	}
	slices.Sort(names)
	for _, name := range names {
		s := read[name]
		one := SessionSupport{Session: name, Blanks: len(s.blanks), Coatings: w.coatingsOf(s, starts)}
		if s.evaluated == 0 {
			one.Lost = len(s.lost)
			for _, u := range s.lost {
				one.Why = cmp.Or(one.Why, w.lost[u])
			}
		}
		all = append(all, one)
	}
	return all
}

// evaluatedOnly takes what the sessions of a fit support without the units that could not be evaluated.
func (f *Fitted) evaluatedOnly(w *fitWorkspace, sessions map[string]bool) {
	w.lost, f.lost = f.lost, nil // no one else needs them
	if len(w.lost) == 0 {
		return
	}
	for i, now := range w.supportOf(sessions) {
		s := &f.Sessions[i]
		s.Blanks, s.Lost, s.Why, s.Coatings = max(0, now.Blanks-s.unfit), now.Lost, now.Why, now.Coatings
	}
}

// spotOf names a spot at a pull.
type spotOf struct {
	coupon, spot string
	pull         int
}

// starts returns the sessions of each spot at the pulls with which coupons begin.
func (w *fitWorkspace) starts() map[spotOf][]string {
	first := map[int]bool{}
	for _, c := range w.coupons {
		first[c.BaselinePull] = true
	}
	at := map[spotOf][]string{}
	for i := range w.units {
		if u := &w.units[i]; first[u.Pull] && u.Counted > 0 && !w.isLost(u.Unit) {
			k := spotOf{u.Coupon, u.Spot, u.Pull}
			at[k] = append(at[k], u.Session)
		}
	}
	return at
}

// isLost reports whether a unit could not be evaluated.
func (w *fitWorkspace) isLost(u study.Unit) bool {
	_, lost := w.lost[u]
	return lost
}

// coatingsOf says which coatings have controls among what was read in a session.
func (w *fitWorkspace) coatingsOf(s *sessionReadings, starts map[spotOf][]string) (all []CoatingSupport) {
	type count struct{ controls, coupons, corrected map[string]bool }
	counts := map[string]*count{}
	for _, u := range s.units {
		c := w.coupons[u.Coupon]
		n := counts[c.Coating]
		if n == nil {
			n = &count{map[string]bool{}, map[string]bool{}, map[string]bool{}}
			counts[c.Coating] = n
		}
		if c.Role == study.Control {
			n.controls[c.Coupon] = true
			continue
		}
		n.coupons[c.Coupon] = true
		if slices.ContainsFunc(s.units, func(o *store.Unit) bool { return w.corrects(o, u, starts) }) {
			n.corrected[c.Coupon] = true
		}
	}
	for coating, n := range counts {
		if len(n.coupons) > 0 {
			all = append(all, CoatingSupport{coating, len(n.controls), len(n.coupons), len(n.corrected)})
		}
	}
	slices.SortFunc(all, func(a, b CoatingSupport) int { return strings.Compare(a.Coating, b.Coating) })
	return all
}

// corrects reports whether the control of a unit corrects an exposed coupon of another unit of its session: see
// [ageing.Changes].
func (w *fitWorkspace) corrects(control, exposed *store.Unit, starts map[spotOf][]string) bool {
	k, e := w.coupons[control.Coupon], w.coupons[exposed.Coupon]
	if k.Role != study.Control || k.Coating != e.Coating || k.Exposure != "" && k.Exposure != e.Exposure ||
		control.Pull != exposed.Pull ||
		study.CleanCondition(exposed.Condition) && !study.CleanCondition(control.Condition) {
		return false
	}
	of := starts[spotOf{control.Coupon, control.Spot, e.BaselinePull}]
	return slices.ContainsFunc(starts[spotOf{exposed.Coupon, exposed.Spot, e.BaselinePull}], func(session string) bool {
		return slices.Contains(of, session)
	})
}

// addSession adds what the joint fit of a session says of it.
func (f *Fitted) addSession(o *fitOutcome) {
	for i := range f.Sessions {
		s := &f.Sessions[i]
		if s.Session != o.session {
			continue
		}
		s.Results, s.Notes = o.results, o.notes
		unfit := map[string]bool{} // blanks, of which no spot may say anything
		for _, fit := range o.fits {
			if slices.Contains(fit.Result.Flags, study.FlagNoAnchor) {
				unfit[fit.Coupon] = true
			}
		}
		for _, fit := range o.fits {
			if _, lost := f.lost[fit.Unit]; !lost && !slices.Contains(fit.Result.Flags, study.FlagNoAnchor) {
				delete(unfit, fit.Coupon)
			}
		}
		s.unfit = len(unfit)
		s.Blanks -= s.unfit
	}
}

// replaceSessions takes what is said of sessions that were evaluated again.
func (f *Fitted) replaceSessions(again []SessionSupport) {
	for _, s := range again {
		k := slices.IndexFunc(f.Sessions, func(o SessionSupport) bool { return o.Session == s.Session })
		if k < 0 {
			f.Sessions = append(f.Sessions, s)
		} else {
			f.Sessions[k] = s
		}
	}
	slices.SortFunc(f.Sessions, func(a, b SessionSupport) int { return strings.Compare(a.Session, b.Session) })
}
