package desk

import (
	"errors"
	"slices"

	"wane/study"
	"wane/study/intake/sheet"
	"wane/study/store"
)

// correcting is one run over corrections, in a transaction: first all rows are found and completed, then all are amended,
// then the study is checked.
type correcting struct {
	desk    *Desk
	tx      *store.Tx
	roster  sheet.Roster // the rows as they should be, with their lines
	touched []touched
	steps   []func() ([]store.Correction, error)
	given   givenFiles
	coupons []string // whose events or exposure are corrected
	faults  study.Refusals
	before  *study.Roster // as it was

	made []store.Correction
	same int // rows of which nothing changed
}

func (d *Desk) newCorrecting(tx *store.Tx) (*correcting, error) {
	before, err := tx.Roster()
	return &correcting{desk: d, tx: tx, before: before}, err
}

// findAll finds the rows of all tables.
func (c *correcting) findAll(t *sheet.Corrections) {
	found(c, t.Batches, func(b *study.GlassBatch) any { return b }, &c.roster.Batches, c.tx.AmendGlassBatch, nil)
	found(c, t.Exposures, func(e *study.Exposure) any { return e }, &c.roster.Exposures, c.amendExposure, nil)
	found(c, t.Pulls, func(p *study.Pull) any { return p }, &c.roster.Pulls, c.tx.AmendPull, nil)
	found(c, t.Coupons, func(p *study.Coupon) any { return p }, &c.roster.Coupons, c.tx.AmendCoupon, c.bringTables)
	c.findLives(t.Lives)
	found(c, t.Doses, func(d *study.DoseReading) any { return d }, &c.roster.Doses, nil, c.amendDose)
	found(c, t.Instruments, func(i *study.Instrument) any { return i }, &c.roster.Instruments, c.tx.AmendInstrument, nil)
	found(c, t.Events, func(e *study.Event) any { return e }, &c.roster.Events, c.tx.AmendEvent, nil)
	found(c, t.References, func(r *study.Reference) any { return r }, &c.roster.References, c.tx.AmendReference, c.bringValues)
	found(c, t.Standards, func(s *study.Standard) any { return s }, &c.roster.Standards, c.tx.AmendStandard, nil)
	found(c, t.Sessions, func(s *study.Session) any { return s }, &c.roster.Sessions, c.tx.AmendSession, nil)
	found(c, t.Checks, func(s *study.StandardReading) any { return s }, &c.roster.Checks, c.tx.AmendStandardReading, nil)
	var measured []sheet.Line[sheet.Measured]
	found(c, t.Measurements, func(m *sheet.Measured) any { return &m.Measurement }, &measured, nil, c.amendMeasurement)
}

// found finds and completes the rows of one table, and notes how they are amended. bring, if there is one, reads what a row
// names and may amend in place of amend.
func found[T any](c *correcting, rows []sheet.Correction[T], key func(*T) any, into *[]sheet.Line[T],
	amend func(T, ...string) ([]store.Correction, error),
	bring func(*sheet.Line[T], *sheet.Correction[T]) (func() ([]store.Correction, error), error)) {
	seen := map[string]int{} // lines by key
	for _, r := range rows {
		present, err := c.tx.Present(key(&r.Row))
		line := sheet.Line[T]{File: r.File, Number: r.Number}
		if err == nil {
			if before := seen[present.What]; before > 0 {
				err = line.Refuse("write each row once, with all that changes", "%s stands in line %d too", present.What, before)
			}
			seen[present.What] = r.Number
		}
		if err == nil {
			line.Row, err = r.Complete(present.Cells)
		}
		step := func() ([]store.Correction, error) { return amend(line.Row, r.Given...) }
		if err == nil && bring != nil {
			var instead func() ([]store.Correction, error)
			if instead, err = bring(&line, &r); instead != nil {
				step = instead
			}
		}
		if err != nil {
			c.faultAt(line.File, line.Number, err)
			continue
		}
		*into = append(*into, line)
		c.touched = append(c.touched, touched{present.Of, present.Number, present.What})
		c.steps = append(c.steps, func() ([]store.Correction, error) {
			made, err := step()
			return made, withPlace(line, err)
		})
	}
}

// faultAt notes a refusal with its place.
func (c *correcting) faultAt(file string, line int, err error) {
	var r *study.Refusal
	if !errors.As(err, &r) {
		r = &study.Refusal{Fault: err.Error(), Try: "check the study file with `wane verify`", Cause: err}
	}
	if r.Line == 0 {
		errors.As(r.At(file, line), &r)
	}
	c.faults = append(c.faults, r)
}

// make amends all rows. All refusals come back together.
func (c *correcting) make() error {
	for _, step := range c.steps {
		made, err := step()
		var r *study.Refusal
		switch {
		case errors.As(err, &r):
			c.faults = append(c.faults, r)
		case err != nil:
			return err
		case len(made) == 0:
			c.same++
		}
		c.made = append(c.made, made...)
	}
	return c.faults.Err()
}

// amendExposure amends an exposure. With another protocol, exposure and pulls remember the version of that.
func (c *correcting) amendExposure(e study.Exposure, columns ...string) ([]store.Correction, error) {
	if !slices.Contains(columns, "protocol") {
		return c.tx.AmendExposure(e, columns...)
	}
	whole, err := c.tx.Roster()
	if err != nil {
		return nil, err
	}
	was := whole.Exposures[slices.IndexFunc(whole.Exposures, func(o study.Exposure) bool { return o.Exposure == e.Exposure })]
	if was.Protocol == e.Protocol {
		return c.tx.AmendExposure(e, columns...)
	}
	if e.KeptProtocol, err = newProtocolKeeper(c.tx).keep(&e); err != nil {
		return nil, err
	}
	made, err := c.tx.AmendExposure(e, append(slices.Clone(columns), "kept_protocol")...)
	for _, p := range whole.Pulls {
		if err != nil || p.Exposure != e.Exposure || p.KeptProtocol != was.KeptProtocol {
			continue
		}
		p.KeptProtocol = e.KeptProtocol
		var more []store.Correction
		more, err = c.tx.AmendPull(p, "kept_protocol")
		made = append(made, more...)
	}
	return made, err
}

// bringTables reads the tables of glass and of return spectra that a coupon is to name.
func (c *correcting) bringTables(l *sheet.Line[study.Coupon], r *sheet.Correction[study.Coupon]) (
	func() ([]store.Correction, error), error) {
	only, given := sheet.Roster{Coupons: []sheet.Line[study.Coupon]{*l}}, r.Given
	var glasses []glassLine
	var returns []returnLine
	var err error
	if slices.Contains(given, "glass") {
		if glasses, err = loadGlasses(&only, &c.given); err != nil {
			return nil, err
		}
	}
	if slices.Contains(given, "return_spectrum") {
		if returns, err = loadReturns(&only, &c.given); err != nil {
			return nil, err
		}
	}
	return func() (made []store.Correction, err error) {
		known, err := c.tx.Roster()
		if err != nil {
			return nil, err
		}
		for _, g := range glasses {
			if !slices.ContainsFunc(known.Glasses, func(o study.Glass) bool { return o.Name == g.Row.Name }) {
				_, err = c.tx.AddGlass(g.Row)
			} else {
				made, err = c.tx.AmendGlass(g.Row)
			}
			if err != nil {
				return nil, err
			}
		}
		for _, s := range returns {
			var more []store.Correction
			if !slices.ContainsFunc(known.Returns, func(o study.ReturnSpectrum) bool { return o.Name == s.Row.Name }) {
				_, err = c.tx.AddReturnSpectrum(s.Row)
			} else {
				more, err = c.tx.AmendReturnSpectrum(s.Row)
			}
			if err != nil {
				return nil, err
			}
			made = append(made, more...)
		}
		own, err := c.tx.AmendCoupon(l.Row, given...)
		return append(made, own...), err
	}, nil
}

// bringValues reads the table of values that a certificate is to name.
func (c *correcting) bringValues(l *sheet.Line[study.Reference], r *sheet.Correction[study.Reference]) (
	func() ([]store.Correction, error), error) {
	if !slices.Contains(r.Given, "values") {
		return nil, nil
	}
	only := sheet.Roster{References: []sheet.Line[study.Reference]{*l}}
	err := loadReferences(&only, &c.given)
	l.Row = only.References[0].Row
	return nil, err
}

// amendMeasurement reads the picture that a measurement is to name, and amends it.
func (c *correcting) amendMeasurement(l *sheet.Line[sheet.Measured], r *sheet.Correction[sheet.Measured]) (
	func() ([]store.Correction, error), error) {
	var picture *study.Export
	var err error
	if slices.Contains(r.Given, "picture") {
		if picture, err = pictureOf(l.File, l.Row); err != nil {
			return nil, err
		}
	}
	columns := slices.DeleteFunc(slices.Clone(r.Given), func(c string) bool { return c == "unit" }) // it follows from the quantity
	return func() ([]store.Correction, error) {
		return c.tx.AmendMeasurement(l.Row.Measurement, picture, columns...)
	}, nil
}
