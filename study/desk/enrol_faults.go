package desk

import (
	"cmp"
	"slices"

	"wane/study"
	"wane/study/intake/sheet"
)

// enrolFaults gathers what is wrong with the rows of rosters, so that one run says all of it. Rows that are refused are taken
// out, and so are rows that name what a refused row defines: what would be said of those may not be so.
type enrolFaults struct {
	roster  *sheet.Roster
	refused study.Refusals
}

// note notes a refusal, and returns any other error.
func (f *enrolFaults) note(err error) error {
	if err == nil {
		return nil
	}
	if !f.refused.Note(err) {
		return err
	}
	f.takeOut()
	return nil
}

// takeOut takes out what is refused or depends on that.
func (f *enrolFaults) takeOut() {
	r, is := f.roster, func(column, name string) sheet.Name { return sheet.Name{Column: column, Name: name} }
	keepGood(f, &r.Exposures, func(e *study.Exposure) []sheet.Name { return []sheet.Name{is("exposure", e.Exposure)} })
	keepGood(f, &r.Pulls, func(p *study.Pull) []sheet.Name {
		return []sheet.Name{is("pull", p.Exposure), is("exposure", p.Exposure)}
	})
	keepGood(f, &r.Coupons, func(c *study.Coupon) []sheet.Name {
		return []sheet.Name{is("coupon", c.Coupon), is("exposure", c.Exposure)}
	})
	keepGood(f, &r.Instruments, func(i *study.Instrument) []sheet.Name { return []sheet.Name{is("instrument", i.Instrument)} })
	keepGood(f, &r.References, func(c *study.Reference) []sheet.Name { return []sheet.Name{is("reference", c.Reference)} })
	keepGood(f, &r.Standards, func(s *study.Standard) []sheet.Name { return []sheet.Name{is("standard", s.Standard)} })
	keepGood(f, &r.Sessions, func(s *study.Session) []sheet.Name {
		return []sheet.Name{is("session", s.Session), is("instrument", s.Instrument), is("reference", s.Reference)}
	})
	keepGood(f, &r.Batches, func(*study.GlassBatch) []sheet.Name { return []sheet.Name{{}} })
	keepGood(f, &r.Events, func(e *study.Event) []sheet.Name { return []sheet.Name{{}, is("instrument", e.Instrument)} })
	keepGood(f, &r.Checks, func(c *study.StandardReading) []sheet.Name {
		return []sheet.Name{{}, is("session", c.Session), is("standard", c.Standard)}
	})
	keepGood(f, &r.Doses, func(d *study.DoseReading) []sheet.Name { return []sheet.Name{{}, is("exposure", d.Exposure)} })
	keepGood(f, &r.Lives, func(e *study.CouponEvent) []sheet.Name {
		return []sheet.Name{{}, is("coupon", e.Coupon), is("exposure", e.Exposure)}
	})
}

// keepGood takes out rows that are refused or name what is unread. names returns first the name that a row defines, none for
// the zero one, then those on which it depends.
func keepGood[T any](f *enrolFaults, lines *[]sheet.Line[T], names func(*T) []sheet.Name) {
	*lines = slices.DeleteFunc(slices.Clone(*lines), func(l sheet.Line[T]) bool {
		of := names(&l.Row)
		bad := slices.ContainsFunc(f.refused, func(r *study.Refusal) bool { return r.File == l.File && r.Line == l.Number }) ||
			slices.ContainsFunc(of[1:], func(n sheet.Name) bool { return n.Name != "" && f.roster.Unread[n] })
		if bad && of[0] != (sheet.Name{}) {
			if f.roster.Unread == nil {
				f.roster.Unread = map[sheet.Name]bool{}
			}
			f.roster.Unread[of[0]] = true
		}
		return bad
	})
}

// readsAllPulls reports whether every row of pulls could be read, without which nobody can say which pulls are planned.
func (f *enrolFaults) readsAllPulls() bool {
	for n := range f.roster.Unread {
		if n.Column == "pull" {
			return false
		}
	}
	return true
}

// err returns the refusals in the order of the files and their lines; nil if there are none.
func (f *enrolFaults) err(files []string) error {
	slices.SortStableFunc(f.refused, func(a, b *study.Refusal) int {
		if at := cmp.Compare(slices.Index(files, a.File), slices.Index(files, b.File)); at != 0 {
			return at
		}
		return cmp.Compare(a.Line, b.Line)
	})
	return f.refused.Err()
}
