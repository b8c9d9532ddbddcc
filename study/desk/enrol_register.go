package desk

import (
	"errors"
	"fmt"

	"wane/study"
	"wane/study/evaluate"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// Registered counts what enrol added to the register.
type Registered struct {
	Instruments, Events, References, Standards, Sessions, Checks int
}

// words count what was added.
func (n Registered) words() []string {
	return countsInWords([]added{
		{n.Instruments, "instrument", "instruments"}, {n.Events, "event", "events"},
		{n.References, "certificate of a reference", "certificates of references"},
		{n.Standards, "certified value of a check standard", "certified values of check standards"},
		{n.Sessions, "session", "sessions"}, {n.Checks, "reading of a check standard", "readings of check standards"},
	})
}

// loadReferences reads the tables of values that references name.
func loadReferences(roster *sheet.Roster, given *givenFiles) error {
	for i := range roster.References {
		l := &roster.References[i]
		if l.Row.Table == "" {
			continue
		}
		path := besideFile(l.File, l.Row.Table)
		data, err := given.read(givenByRoster, path)
		if err != nil {
			return err
		}
		if l.Row.Curves, err = sheet.ReadReferenceTable(path, data); err != nil {
			return err
		}
	}
	return nil
}

// addRegister adds the rows of the register, those that others name first.
func addRegister(tx *store.Tx, faults *enrolFaults, n *Registered) error {
	roster := faults.roster
	known := func(check func(*study.Roster) error) func() error {
		return func() error {
			known, err := tx.Roster()
			if err != nil {
				return err
			}
			return check(known)
		}
	}
	for _, add := range []func() error{
		func() error { return instrumentsPossible(roster) },
		func() error { return addLines(roster.Instruments, tx.AddInstrument, &n.Instruments) },
		func() error { return addLines(roster.References, tx.AddReference, &n.References) },
		func() error { return addLines(roster.Standards, tx.AddStandard, &n.Standards) },
		known(func(known *study.Roster) error { return namesKnown(known, roster) }),
		known(func(known *study.Roster) error { return quantitiesAgree(known, roster) }),
		func() error { return addLines(roster.Events, tx.AddEvent, &n.Events) },
		func() error { return addLines(roster.Sessions, tx.AddSession, &n.Sessions) },
		known(func(known *study.Roster) error { return checksKnown(known, roster) }),
		func() error { return addLines(roster.Checks, tx.AddStandardReading, &n.Checks) },
		known(evaluate.CheckStandards),
	} {
		if err := faults.note(add()); err != nil {
			return err
		}
	}
	return nil
}

// instrumentsPossible refuses instruments that cannot be.
func instrumentsPossible(roster *sheet.Roster) error {
	var refused study.Refusals
	for _, l := range roster.Instruments {
		if err := withPlace(l, evaluate.CheckInstrument(&l.Row)); err != nil && !refused.Note(err) {
			return err
		}
	}
	return refused.Err()
}

// withPlace gives a refusal the place of a line.
func withPlace[T any](l sheet.Line[T], err error) error {
	var r *study.Refusal
	if errors.As(err, &r) {
		return r.At(l.File, l.Number)
	}
	return err
}

const tryRegister = "enrol it too, in this call or an earlier one, or correct the name"

// namesKnown refuses events and sessions that name an instrument or a reference that is not enrolled.
func namesKnown(known *study.Roster, roster *sheet.Roster) error {
	instruments, references := map[string]bool{}, map[string]bool{"": true}
	for _, i := range known.Instruments {
		instruments[i.Instrument] = true
	}
	for _, r := range known.References {
		references[r.Reference] = true
	}
	var refused study.Refusals
	for _, l := range roster.Events {
		if !instruments[l.Row.Instrument] {
			refused.Note(l.Refuse(tryRegister, "there is no instrument %q", l.Row.Instrument))
		}
	}
	for _, l := range roster.Sessions {
		if !instruments[l.Row.Instrument] {
			refused.Note(l.Refuse(tryRegister, "session %s: there is no instrument %q", l.Row.Session, l.Row.Instrument))
		}
		if !references[l.Row.Reference] {
			refused.Note(l.Refuse(tryRegister, "session %s: there is no reference %q", l.Row.Session, l.Row.Reference))
		}
	}
	return refused.Err()
}

// quantitiesAgree refuses a check standard that is certified for two quantities.
func quantitiesAgree(known *study.Roster, roster *sheet.Roster) error {
	var refused study.Refusals
	certified := map[string]*study.Standard{}
	for i := range known.Standards {
		c := &known.Standards[i]
		if certified[c.Standard] == nil {
			certified[c.Standard] = c
		}
	}
	for _, l := range roster.Standards {
		if first := certified[l.Row.Standard]; quantity(first) != quantity(&l.Row) {
			refused.Note(l.Refuse("give each certified quantity of a piece a name of its own; the serial says that it is one piece",
				"standard %s is certified for %s here, and for %s elsewhere", l.Row.Standard, quantity(&l.Row), quantity(first)))
		}
	}
	return refused.Err()
}

// quantity says what a standard is certified for.
func quantity(c *study.Standard) string {
	if c.WavelengthNM.Valid() {
		return fmt.Sprintf("%s at %g nm", c.Quantity, float64(c.WavelengthNM))
	}
	return c.Quantity
}

// checksKnown refuses readings of check standards in sessions that are not enrolled, and those for which
// there is no certified value.
func checksKnown(known *study.Roster, roster *sheet.Roster) error {
	sessions, certified := map[string]bool{}, map[checkKey]bool{}
	for _, s := range known.Sessions {
		sessions[s.Session] = true
	}
	standards, lines := map[string]bool{}, map[string]bool{}
	for _, c := range known.Standards {
		standards[c.Standard], lines[c.Standard] = true, c.Quantity == study.Line
		certified[checkKey{standard: c.Standard, angleDeg: c.AngleDeg, polarisation: c.Polarisation}] = true
	}
	var refused study.Refusals
	for _, l := range roster.Checks {
		c := &l.Row
		switch {
		case !sessions[c.Session]:
			refused.Note(l.Refuse(tryRegister, "there is no session %q", c.Session))
		case !standards[c.Standard]:
			refused.Note(l.Refuse(tryRegister, "there is no check standard %q", c.Standard))
		case !certified[checkKey{standard: c.Standard, angleDeg: c.AngleDeg, polarisation: c.Polarisation}]:
			refused.Note(l.Refuse("enrol what its certificate says there, or correct angle and polarisation",
				"standard %s has no certified value at %g degrees, %s", c.Standard, c.AngleDeg, c.Polarisation))
		case lines[c.Standard] && c.Value < sheet.LeastLineNM:
			refused.Note(l.Refuse("write the wavelength in nm at which the line was read",
				"standard %s is a line, and %g is no wavelength of one", c.Standard, c.Value))
		case !lines[c.Standard] && c.Value >= sheet.LeastLineNM:
			refused.Note(l.Refuse("write a fraction: 0.042 for 4.2 %", "%g is outside -0.1 to 2", c.Value))
		}
	}
	return refused.Err()
}
