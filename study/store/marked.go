package store

import (
	"context"
	"strings"

	"wane/study"
)

// Marked is a reading without its numbers: what guards compare.
type Marked struct {
	study.Place
	Number, Line int64 // in the study, and of the log
	Session      string
	Geometry     string
	Standing     study.Standing
	Column       int // of the export that it came from

	// Traits are empty, with a Noise of NaN, and Guardable is false, if the reading was
	// taken in before there were guards.
	Traits    study.Traits
	Guardable bool
}

// Guarded returns the number up to which guards that compare readings have been over
// all, and the number of the last reading; 0 if there is none.
func (v *View) Guarded() (upTo, last int64, err error) {
	upTo, err = guardedUpTo(v.ctx, v.q)
	if err == nil {
		last, err = lastNumber(v.ctx, v.q, readingTable)
	}
	return upTo, last, v.refuse(err)
}

func guardedUpTo(ctx context.Context, q querier) (int64, error) {
	r, err := guardingTable.one(ctx, q, "FROM guarding ORDER BY id DESC LIMIT 1")
	if r == nil || err != nil {
		return 0, err
	}
	return r.whole(2), nil
}

// SessionsSince returns the sessions of the readings with a number above the given one,
// in their order, with the empty one if some name none. Like [View.Units] it does not
// check rows.
func (v *View) SessionsSince(number int64) (names []string, err error) {
	err = ask(v.ctx, v.q, "SELECT DISTINCT coalesce(session, '') AS name FROM reading WHERE id > ? ORDER BY name", []any{number}, func(r row) error {
		names = append(names, r.text(0))
		return nil
	})
	return names, v.refuse(err)
}

// MarkedIn hands the readings of a session, or those without one, to yield, in the
// order of their places. Like [View.Units] it does not check rows.
func (v *View) MarkedIn(session string, yield func(Marked) error) error {
	return v.marked("WHERE session IS ?", []any{nullText(session)}, yield)
}

// MarkedOf hands the readings of a coupon to yield, in the order of their places. Like
// [View.Units] it does not check rows.
func (v *View) MarkedOf(coupon string, yield func(Marked) error) error {
	return v.marked("WHERE coupon = ?", []any{coupon}, yield)
}

// MarkedBefore hands the readings of a coupon at its last pull before the given one to
// yield, in the order of their places, and returns that pull; -1 if there is none. Like
// [View.Units] it does not check rows.
func (v *View) MarkedBefore(coupon string, pull int, yield func(Marked) error) (at int, err error) {
	at = -1
	err = v.marked("WHERE (coupon, pull) = (?1, (SELECT max(pull) FROM reading WHERE coupon = ?1 AND pull < ?2))", []any{coupon, pull}, func(m Marked) error {
		at = m.Pull
		return yield(m)
	})
	return at, err
}

// EachMarked hands all readings to yield, in the order of their places. Like
// [View.Units] it does not check rows.
func (v *View) EachMarked(yield func(Marked) error) error { return v.marked("", nil, yield) }

// Marked returns the reading with a number, nil if there is none, and the name of the
// export that it came from.
func (v *View) Marked(number int64) (found *Marked, export string, err error) {
	err = v.marked("WHERE id = ?", []any{number}, func(m Marked) error {
		found = &m
		return nil
	})
	if err != nil || found == nil {
		return nil, "", err
	}
	e, err := exportTable.one(v.ctx, v.q, "FROM export WHERE id = (SELECT export FROM reading WHERE id = ?)", number)
	if err == nil && e == nil {
		err = &damage{"reading", number, "its export is missing"}
	}
	if err != nil {
		return nil, "", v.refuse(err)
	}
	return found, e.text(exportName), nil
}

const placeColumns = "coupon, pull, spot, condition, angle_deg, polarisation, quantity, replicate"

func (v *View) marked(where string, args []any, yield func(Marked) error) error {
	now, err := v.standings()
	if err != nil {
		return v.refuse(err)
	}
	check, err := v.enrolled(readingTable)
	if err != nil {
		return v.refuse(err)
	}
	const columns = "SELECT id, log, " + placeColumns + ", session, geometry, noise, band_first_nm, bands_packed, twin, column_number FROM reading "
	return v.refuse(ask(v.ctx, v.q, columns+where+" ORDER BY "+placeColumns, args, func(r row) (err error) {
		f := r.fields()
		m := Marked{Number: r.whole(0), Line: r.whole(1), Place: f.place(), Session: f.text(), Geometry: f.text()}
		if err := check(m.Number, m.Coupon); err != nil {
			return err
		}
		if m.Traits, err = f.traits(m.Number); err != nil {
			return err
		}
		m.Guardable, m.Standing, m.Column = r[f.step()] != nil, now[m.Number], f.whole()
		return yield(m)
	}))
}

// Twin is one of two readings that hold the same numbers.
type Twin struct {
	study.Place
	Number int64
	Export string // the name of the file
}

// TwinsSince hands to yield each reading with a number above the given one that holds
// the same wavelengths and values, to the last digit, as an earlier one of another coupon
// or of another angle of its own spot, and the first of those. Readings that were taken in before there were guards are not compared. Like
// [View.Units] it does not check rows.
func (v *View) TwinsSince(number int64, yield func(reading, other Twin) error) error {
	columns := ""
	for _, of := range []string{"r", "o"} {
		columns += ", " + of + ".id, " + of + "." + strings.ReplaceAll(placeColumns, ", ", ", "+of+".") + ", x" + of + ".name"
	}
	query := "SELECT " + columns[2:] + ` FROM reading r
		JOIN reading o ON o.id = (SELECT min(m.id) FROM reading m INDEXED BY reading_twin
			WHERE m.twin = r.twin AND m.id < r.id AND m.grid = r.grid AND m.values_packed = r.values_packed
			AND (m.coupon <> r.coupon OR m.angle_deg <> r.angle_deg AND (m.pull, m.spot, m.condition) = (r.pull, r.spot, r.condition)))
		JOIN export xr ON xr.id = r.export
		JOIN export xo ON xo.id = o.export
		WHERE r.id > ? ORDER BY r.id`
	return v.refuse(ask(v.ctx, v.q, query, []any{number}, func(r row) error {
		c := &cursor{row: r}
		return yield(c.twin(), c.twin())
	}))
}

func (c *cursor) twin() Twin {
	number := int64(c.whole())
	return Twin{Number: number, Place: c.place(), Export: c.text()}
}
