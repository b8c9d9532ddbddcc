package desk

import (
	"fmt"
	"strings"

	"wane/optics"
	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/placing"
	"wane/study/intake/sheet"
	"wane/study/life"
)

// rosterIndex looks up whether a coupon is enrolled, whether a pull is planned, and what is enrolled of
// a session.
type rosterIndex struct {
	roster   *study.Roster
	coupons  map[string]*study.Coupon
	lives    *life.Lives
	sessions map[string]*study.Session
}

func newRosterIndex(r *study.Roster) *rosterIndex {
	x := &rosterIndex{roster: r, coupons: couponsByCode(r), lives: life.New(r), sessions: map[string]*study.Session{}}
	for i := range r.Sessions {
		x.sessions[r.Sessions[i].Session] = &r.Sessions[i]
	}
	return x
}

// check refuses a line for a coupon that is not enrolled, and for a pull that is not planned, or at which the coupon was
// not in the study.
func (x *rosterIndex) check(l *sheet.Line[placing.Placing]) error {
	c := x.coupons[l.Row.Coupon]
	if c == nil {
		r := notEnrolled(x.roster, l.Row.Coupon)
		return l.Refuse(r.Try, "%s", r.Fault)
	}
	of := x.lives.Of(c.Coupon)
	if err := checkInStudy(of, l); err != nil {
		return err
	}
	if !of.Plans(l.Row.Pull) {
		plan := "any exposure"
		if c.Exposure != "" {
			plan = "the exposure " + c.Exposure
		}
		return l.Refuse("enrol the pull first, or correct its number",
			"pull %d is not planned for %s (coupon %s)", l.Row.Pull, plan, c.Coupon)
	}
	return x.checkGeometry(l)
}

// checkInStudy refuses a line for a pull before the baseline of a coupon or after its end.
func checkInStudy(of *life.Life, l *sheet.Line[placing.Placing]) error {
	c, pull := of.Coupon, l.Row.Pull
	switch {
	case pull < c.BaselinePull:
		return l.Refuse("correct the coupon or the pull; if it was there before, correct its baseline pull",
			"coupon %s joined at pull %d, and this is pull %d", c.Coupon, c.BaselinePull, pull)
	case of.After(pull):
		return l.Refuse("correct the coupon or the pull; if the event is wrong, correct that first",
			"the history of coupon %s has ended (%s), and pull %d is later", c.Coupon, of.End().Words(), pull)
	}
	return nil
}

// instrumentOf returns the instrument of a session; nil: one of them is not enrolled.
func (x *rosterIndex) instrumentOf(session string) *study.Instrument {
	s := x.sessions[session]
	if s == nil {
		return nil
	}
	for i := range x.roster.Instruments {
		if in := &x.roster.Instruments[i]; in.Instrument == s.Instrument {
			return in
		}
	}
	return nil
}

// checkGeometry refuses a line whose geometry the instrument of its session is not registered for.
func (x *rosterIndex) checkGeometry(l *sheet.Line[placing.Placing]) error {
	in := x.instrumentOf(l.Row.Session)
	if in == nil {
		return nil
	}
	geometry, ok := in.GeometryOf(l.Row.Geometry)
	if ok {
		return nil
	}
	return l.Refuse("correct the geometry or the session, or enrol the instrument under another name with this geometry too",
		"the geometry is %s, and instrument %s of session %s is registered for %s only", geometry, in.Instrument, l.Row.Session,
		strings.Join(in.Geometries, ", "))
}

// checkReturn refuses a reading that the return spectrum of a laminated far face does not cover.
func (x *rosterIndex) checkReturn(r *study.Reading, l *sheet.Line[placing.Placing]) error {
	s := x.roster.ReturnOf(x.coupons[r.Coupon])
	if s == nil || r.Quantity != study.Reflectance || len(r.NM) == 0 {
		return nil
	}
	lo, hi := s.NM[0], s.NM[len(s.NM)-1]
	if first, last := r.NM[0], r.NM[len(r.NM)-1]; first < lo || last > hi {
		return l.Refuse(fmt.Sprintf("leave out what lies outside: --range %g-%g; or enrol the coupon under another name with a "+
			"return spectrum that covers its curves", max(lo, first), min(hi, last)),
			"the curve runs from %g to %g nm, and the return spectrum %s of coupon %s from %g to %g nm", first, last, s.Name,
			r.Coupon, lo, hi)
	}
	return nil
}

// checkPane refuses transmittance of a coupon through which no light comes.
func (x *rosterIndex) checkPane(r *study.Reading, l *sheet.Line[placing.Placing]) error {
	c := x.coupons[r.Coupon]
	if r.Quantity != study.Transmittance || c == nil || c.Back == optics.Bare.String() || c.Back == optics.Coated.String() {
		return nil
	}
	return l.Refuse("leave its row out, or read transmittance of a coupon that is enrolled with a bare or coated far face and its "+
		"thickness glass_mm",
		"the curve is of transmittance, and behind the %s far face of coupon %s the light that should be measured is absorbed", c.Back,
		r.Coupon)
}

// needsCertificate reports whether values that were stated to be relative to something have to be
// converted.
func needsCertificate(relativeTo string) bool { return relativeTo != "" && relativeTo != "absolute" }

// certificate returns the certificate by which a reading of a line is made absolute. The reading is
// relative to a reference.
func (x *rosterIndex) certificate(l *sheet.Line[placing.Placing], reference string) (*study.Reference, error) {
	s := x.sessions[l.Row.Session]
	switch {
	case l.Row.Session == "":
		return nil, l.Refuse("name the session of the readings: its day decides which certificate is valid",
			"the readings are relative to %s, and this line names no session", reference)
	case s == nil:
		return nil, l.Refuse("enrol it: session,instrument,date,...",
			"the readings are relative to %s, and session %q is not enrolled", reference, l.Row.Session)
	case s.Reference != "" && s.Reference != reference:
		return nil, l.Refuse("correct one of the two",
			"the readings are stated to be relative to %s, but session %s has the reference %s", reference, s.Session,
			s.Reference)
	}
	c := x.roster.ReferenceOn(reference, s.Date)
	if c == nil {
		return nil, l.Refuse("enrol its certificate with a table of values",
			"no certificate of reference %s was issued by %s, the day of session %s", reference, s.Date, s.Session)
	}
	return c, nil
}

// makeAbsolute converts a reading that is relative to a reference.
func (x *rosterIndex) makeAbsolute(r *study.Reading, l *sheet.Line[placing.Placing], reference string) error {
	c, err := x.certificate(l, reference)
	if err != nil {
		return err
	}
	s := study.Spectrum{File: l.Row.File, NM: r.NM, Values: r.Values, AngleDeg: r.AngleDeg, Polarisation: r.Polarisation}
	values, _, err := evaluate.Absolute(c, &s) // its u is in what the session's scale is known by
	if err != nil {
		return err
	}
	r.Values, r.Reference, r.Issued = values, c.Reference, c.Issued
	return nil
}
