package store

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"maps"
	"slices"
	"strings"

	"wane/study"
)

// Unit is a unit that has readings of reflectance, and what shows whether its fit
// is stale.
type Unit struct {
	study.Unit

	// Readings is a digest of the identity and content of all readings of the unit that
	// are counted, and of Held and Aside if either is above 0. It is the same as long as
	// they are, in this study and its backups.
	Readings [sha256.Size]byte

	// Fit is the Digest of the current fit of the unit, zeros if it has none.
	Fit [sha256.Size]byte

	// Evaluated reports whether the current fit holds values: its readings were evaluated.
	Evaluated bool

	// Session is the session of its readings of reflectance that are counted, or of
	// transmittance where there are no others; empty if they name none or several; where none
	// is counted, that of the last one.
	Session string

	// Mixed reports whether those that are counted, or all where none is, come from more than
	// one session.
	Mixed bool

	// Geometry is that which its readings of reflectance that are counted state, the last one if they are of several.
	Geometry string

	Counted, Held, Aside int // readings, by their standing
	Through              int // those of transmittance that are counted
}

// Units is [View.Units] of a moment of its own.
func (s *Store) Units(ctx context.Context) ([]Unit, error) {
	return view(ctx, s, (*View).Units)
}

// Units returns the units that have readings, in the order of
// coupon, pull, spot and condition (texts by their bytes).
//
// Unlike the other reads, Units does not check rows: the digests are of the numbers
// of rows and of the checksums stored with them, which never change, and a row
// that was altered under its old checksum looks as before. [View.Readings] and
// [Store.Verify] notice it.
func (v *View) Units() ([]Unit, error) { return v.unitsWhere("") }

// UnitsOf is Units of some coupons, which are sorted.
func (v *View) UnitsOf(coupons []string) (all []Unit, err error) {
	for _, coupon := range coupons {
		units, err := v.unitsWhere(" AND coupon = ?", coupon)
		if err != nil {
			return nil, err
		}
		all = append(all, units...)
	}
	return all, nil
}

// CouponsReadIn returns the coupons that were read in some sessions.
func (v *View) CouponsReadIn(sessions map[string]bool) (coupons []string, err error) {
	for _, session := range slices.Sorted(maps.Keys(sessions)) {
		err := ask(v.ctx, v.q, "SELECT DISTINCT coupon FROM reading WHERE session = ? AND superseded_by IS NULL", []any{session},
			func(r row) error {
				coupons = append(coupons, r.text(0))
				return nil
			})
		if err != nil {
			return nil, v.refuse(err)
		}
	}
	return coupons, nil
}

// unitsWhere is Units of the coupons that a condition selects.
func (v *View) unitsWhere(condition string, args ...any) ([]Unit, error) {
	units, err := v.unitsOfReadings(condition, args)
	if err == nil {
		err = addFits(v.ctx, v.q, units, condition, args)
	}
	return units, v.refuse(err)
}

func (v *View) unitsOfReadings(condition string, args []any) (units []Unit, err error) {
	now, err := v.standings()
	if err != nil {
		return nil, err
	}
	check, err := v.enrolled(readingTable.table)
	if err != nil {
		return nil, err
	}
	var then map[int64]int64 // other checksums, which the file has no more
	if past, is := v.q.(asOf); is {
		if then, err = past.checksums(v.ctx); err != nil {
			return nil, err
		}
	}
	rows, err := v.q.QueryContext(v.ctx, `SELECT coupon, pull, spot, condition, quantity, coalesce(session, ''),
		coalesce(geometry, ''), id, crc
		FROM reading WHERE superseded_by IS NULL`+condition+" ORDER BY "+placeColumns, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var g gathered
	var there bool
	for rows.Next() {
		var u study.Unit
		var quantity, session, geometry string
		var id, crc int64
		if err := rows.Scan(&u.Coupon, &u.Pull, &u.Spot, &u.Condition, &quantity, &session, &geometry, &id, &crc); err != nil {
			return nil, err
		}
		if sum, other := then[id]; other {
			crc = sum
		}
		if u != g.Unit.Unit {
			if there, err = check(id, u.Coupon); err != nil {
				return nil, err
			}
			units = g.finish(units)
			g = gathered{Unit: Unit{Unit: u}, seen: g.seen[:0]}
		}
		switch {
		case !there:
		case study.Quantity(quantity) == study.Transmittance:
			g.addThrough(now[id], session, geometry, id, crc)
		default:
			g.add(now[id], session, geometry, id, crc)
		}
	}
	return g.finish(units), rows.Err()
}

// gathered is a unit whose readings are seen one after the other.
type gathered struct {
	Unit
	seen     []byte // numbers and checksums of those that are counted
	out      string // a session of those that are not
	outMixed bool   // they name several
	reflects bool   // there are readings of reflectance, whose session counts
	through  *gathered
}

// addThrough adds a reading of transmittance, whose session counts only where there is no reflectance.
func (g *gathered) addThrough(standing study.Standing, session, geometry string, id, crc int64) {
	if g.through == nil {
		g.through = &gathered{}
	}
	g.through.add(standing, session, geometry, id, crc)
	if standing == study.Counted {
		g.see(id, crc)
	}
}

// see adds a reading that is counted to the digest.
func (g *gathered) see(id, crc int64) {
	g.seen = binary.BigEndian.AppendUint64(g.seen, uint64(id))
	g.seen = binary.BigEndian.AppendUint64(g.seen, uint64(crc))
}

func (g *gathered) add(standing study.Standing, session, geometry string, id, crc int64) {
	if g.reflects = true; standing == study.Counted {
		g.see(id, crc)
	}
	switch {
	case standing != study.Counted:
		g.outMixed = g.outMixed || g.Held+g.Aside > 0 && session != g.out
		g.out = session
		if standing == study.Held {
			g.Held++
		} else {
			g.Aside++
		}
	default:
		g.Mixed = g.Mixed || g.Counted > 0 && session != g.Session
		g.Session, g.Geometry = session, geometry
		g.Counted++
	}
}

// addThroughs adds what the readings of transmittance are to the unit.
func (g *gathered) addThroughs() {
	t := g.through
	if t == nil {
		return
	}
	if !g.reflects {
		g.Session, g.Mixed, g.Geometry, g.out, g.outMixed = t.Session, t.Mixed, t.Geometry, t.out, t.outMixed
	}
	g.Through = t.Counted
	g.Counted, g.Held, g.Aside = g.Counted+t.Counted, g.Held+t.Held, g.Aside+t.Aside
}

// finish appends the unit to units if it has readings.
func (g *gathered) finish(units []Unit) []Unit {
	g.addThroughs()
	if g.Counted+g.Held+g.Aside == 0 {
		return units
	}
	if g.Held+g.Aside > 0 {
		g.seen = binary.BigEndian.AppendUint64(g.seen, uint64(g.Held))
		g.seen = binary.BigEndian.AppendUint64(g.seen, uint64(g.Aside))
	}
	switch {
	case g.Counted == 0:
		g.Session, g.Mixed = g.out, g.outMixed
	case g.Mixed:
		g.Session = ""
	}
	g.Readings = sha256.Sum256(g.seen)
	return append(units, g.Unit)
}

// compare orders units as the study does.
func compare(a, b study.Unit) int {
	return cmp.Or(strings.Compare(a.Coupon, b.Coupon), cmp.Compare(a.Pull, b.Pull),
		strings.Compare(a.Spot, b.Spot), strings.Compare(a.Condition, b.Condition))
}

// addFits fills in the digests of the current fits. Both run in the same order.
func addFits(ctx context.Context, q querier, units []Unit, condition string, args []any) error {
	rows, err := q.QueryContext(ctx, `SELECT coupon, pull, spot, condition, digest, model IS NOT NULL FROM `+currentFits+`
		WHERE TRUE`+condition+" ORDER BY coupon, pull, spot, condition", args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var u study.Unit
		var digest []byte
		var evaluated bool
		if err := rows.Scan(&u.Coupon, &u.Pull, &u.Spot, &u.Condition, &digest, &evaluated); err != nil {
			return err
		}
		for len(units) > 0 && compare(units[0].Unit, u) < 0 {
			units = units[1:]
		}
		if len(units) > 0 && units[0].Unit == u {
			copy(units[0].Fit[:], digest)
			units[0].Evaluated = evaluated
		}
	}
	return rows.Err()
}
