package store

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"wane/study"
)

// The methods below add a row of the register. Each reports false if the same is
// there already, and refuses one of the same name that differs, one that names what
// is not there, and a word or number that cannot be.

// AddInstrument adds an instrument.
func (tx *Tx) AddInstrument(i study.Instrument) (added bool, err error) {
	r := row{nil, nil, i.Instrument, nullText(i.Serial), nullText(i.Kind), nullReal(float64(i.ConeDeg)),
		nullReal(float64(i.SlitNM)),
		nullText(joinsText(i.JoinsNM)), nullReal(float64(i.UJoin)), nullText(i.Note)}
	return tx.register(instrumentTable, fmt.Sprintf("instrument %q", i.Instrument), 1, r)
}

// AddEvent adds an event of an instrument that is there.
func (tx *Tx) AddEvent(e study.Event) (added bool, err error) {
	r := row{nil, nil, e.Instrument, e.Date, e.Event, nullText(e.Note)}
	return tx.register(eventTable, fmt.Sprintf("event %s of instrument %q on %s", e.Event, e.Instrument, e.Date), 3, r)
}

// AddReference adds a certificate of a reference with its values. It panics if the
// columns of a curve differ in length.
func (tx *Tx) AddReference(c study.Reference) (added bool, err error) {
	what := fmt.Sprintf("reference %q with the certificate issued %s", c.Reference, c.Issued)
	curves, sum, err := packReference(what, c.Curves)
	if err != nil {
		return false, err
	}
	r := row{nil, nil, c.Reference, c.Issued, nullText(c.Serial), c.Certificate, nullText(c.Expires),
		nullReal(float64(c.UScale)),
		int64(len(curves)), sum, nullText(c.Note)}
	err = tx.atomically(func() error {
		if added, err = tx.register(referenceTable, what, 2, r); err != nil || !added {
			return err
		}
		for i, curve := range curves {
			curve[2], curve[3] = c.Reference, c.Issued
			isNew, err := tx.register(referenceCurveTable, fmt.Sprintf("%s, curve %d,", what, i+1), 4, curve)
			if err == nil && !isNew {
				err = &study.Refusal{Fault: what + " has a curve twice", Try: "give each angle and polarisation once"}
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	return added && err == nil, err
}

// packReference returns the rows of curves, without the names, and their digest, nil
// if there are none.
func packReference(what string, curves []study.ReferenceCurve) (rows []row, sum any, err error) {
	h := sha256.New()
	for i := range curves {
		c := &curves[i]
		if len(c.Values) != len(c.NM) || len(c.U) != len(c.NM) {
			panic("store: the columns of a reference differ in length")
		}
		if len(c.NM) == 0 {
			return nil, nil, &study.Refusal{Fault: what + " has a curve without points", Try: "give at least one wavelength"}
		}
		r := row{nil, nil, nil, nil, c.AngleDeg, c.Polarisation, int64(len(c.NM)), c.NM[0], c.NM[len(c.NM)-1], nil, nil, nil}
		h.Write(binary.BigEndian.AppendUint64([]byte(c.Polarisation), math.Float64bits(c.AngleDeg)))
		for k, column := range [][]float64{c.NM, c.Values, c.U} {
			packed, err := pack(column)
			if err != nil {
				return nil, nil, &study.Refusal{Fault: what + " holds what is " + err.Error(), Try: "correct its table"}
			}
			r[len(r)-3+k] = packed
			h.Write(appendCounted(nil, packed))
		}
		rows = append(rows, r)
	}
	if len(rows) == 0 {
		return nil, nil, nil
	}
	return rows, h.Sum(nil), nil
}

// AddStandard adds a certified value of a check standard.
func (tx *Tx) AddStandard(c study.Standard) (added bool, err error) {
	r := row{nil, nil, c.Standard, c.Issued, c.AngleDeg, c.Polarisation, nullText(c.Serial), c.Certificate,
		nullText(c.Expires), c.Quantity,
		nullReal(float64(c.WavelengthNM)), c.Value, c.U, nullText(c.Note)}
	return tx.register(standardTable, fmt.Sprintf("standard %q at %g degrees, %s, with the certificate issued %s",
		c.Standard, c.AngleDeg, c.Polarisation, c.Issued), 4, r)
}

// AddSession adds a session at an instrument and against a reference that are there.
func (tx *Tx) AddSession(s study.Session) (added bool, err error) {
	r := row{nil, nil, s.Session, s.Instrument, s.Date, nullText(s.Operator), nullText(s.Reference),
		nullReal(float64(s.HumidityPercent)),
		nullReal(float64(s.TemperatureC)), nullText(s.Condition), nullText(s.Note)}
	return tx.register(sessionTable, fmt.Sprintf("session %q", s.Session), 1, r)
}

// AddStandardReading adds a reading of a check standard in a session that is there.
func (tx *Tx) AddStandardReading(c study.StandardReading) (added bool, err error) {
	r := row{nil, nil, c.Session, c.Standard, c.AngleDeg, c.Polarisation, int64(c.Replicate), c.Value}
	return tx.register(standardReadingTable, fmt.Sprintf("reading %d of standard %q at %g degrees, %s, in session %q",
		c.Replicate, c.Standard, c.AngleDeg, c.Polarisation, c.Session), 5, r)
}

// register is enrol with words that fit the register.
func (tx *Tx) register(t *table, what string, key int, r row) (added bool, err error) {
	added, err = tx.enrol(t, what, key, r)
	var refused *study.Refusal
	if errors.As(err, &refused) && isConstraint(refused.Cause) {
		err = &study.Refusal{
			Fault: what + " does not fit into the study: it names what is not registered, or a word or number cannot be",
			Try:   "register what it names with it, and see the documentation for the words",
			Cause: refused.Cause,
		}
	}
	return added, err
}

func joinsText(nm []float64) string {
	words := make([]string, len(nm))
	for i, x := range nm {
		words[i] = strconv.FormatFloat(x, 'g', -1, 64)
	}
	return strings.Join(words, " ")
}

// readRegister fills in the register, each table in the order of its keys.
func readRegister(ctx context.Context, q querier, roster *study.Roster) error {
	err := instrumentTable.each(ctx, q, "FROM instrument ORDER BY instrument", nil, func(r row) error {
		f := r.fields()
		i := study.Instrument{Instrument: f.text(), Serial: f.text(), Kind: f.text(), ConeDeg: f.num(), SlitNM: f.num()}
		for _, word := range strings.Fields(f.text()) {
			nm, err := strconv.ParseFloat(word, 64)
			if err != nil {
				return &damage{"instrument", r.whole(0), fmt.Sprintf("%q is no wavelength of a join", word)}
			}
			i.JoinsNM = append(i.JoinsNM, nm)
		}
		i.UJoin, i.Note = f.num(), f.text()
		roster.Instruments = append(roster.Instruments, i)
		return nil
	})
	if err != nil {
		return err
	}
	err = eventTable.each(ctx, q, "FROM event ORDER BY instrument, date, event", nil, func(r row) error {
		f := r.fields()
		roster.Events = append(roster.Events,
			study.Event{Instrument: f.text(), Date: f.text(), Event: f.text(), Note: f.text()})
		return nil
	})
	if err != nil {
		return err
	}
	if err := readReferences(ctx, q, roster); err != nil {
		return err
	}
	err = standardTable.each(ctx, q, "FROM standard ORDER BY standard, issued, angle_deg, polarisation", nil,
		func(r row) error {
			f := r.fields()
			c := study.Standard{Standard: f.text(), Issued: f.text(), AngleDeg: f.real(), Polarisation: f.text(),
				Serial: f.text(), Certificate: f.text(),
				Expires: f.text(), Quantity: f.text(), WavelengthNM: f.num(), Value: f.real(), U: f.real(), Note: f.text()}
			roster.Standards = append(roster.Standards, c)
			return nil
		})
	if err != nil {
		return err
	}
	err = sessionTable.each(ctx, q, "FROM session ORDER BY session", nil, func(r row) error {
		f := r.fields()
		s := study.Session{Session: f.text(), Instrument: f.text(), Date: f.text(), Operator: f.text(), Reference: f.text(),
			HumidityPercent: f.num(), TemperatureC: f.num(), Condition: f.text(), Note: f.text()}
		roster.Sessions = append(roster.Sessions, s)
		return nil
	})
	if err != nil {
		return err
	}
	return standardReadingTable.each(ctx, q,
		"FROM standard_reading ORDER BY session, standard, angle_deg, polarisation, replicate", nil, func(r row) error {
			f := r.fields()
			c := study.StandardReading{Session: f.text(), Standard: f.text(), AngleDeg: f.real(), Polarisation: f.text(),
				Replicate: f.whole(), Value: f.real()}
			roster.Checks = append(roster.Checks, c)
			return nil
		})
}

func readReferences(ctx context.Context, q querier, roster *study.Roster) error {
	type certificate struct{ reference, issued string }
	curves := map[certificate][]study.ReferenceCurve{}
	err := referenceCurveTable.each(ctx, q, "FROM reference_curve ORDER BY reference, issued, angle_deg, polarisation",
		nil, func(r row) error {
			f := r.fields()
			of := certificate{f.text(), f.text()}
			c := study.ReferenceCurve{AngleDeg: f.real(), Polarisation: f.text()}
			points := f.whole()
			f.next += 2 // the ends
			for _, column := range []*[]float64{&c.NM, &c.Values, &c.U} {
				values, err := unpack(f.bytes(), points)
				if err != nil {
					return &damage{"reference_curve", r.whole(0), err.Error()}
				}
				*column = values
			}
			curves[of] = append(curves[of], c)
			return nil
		})
	if err != nil {
		return err
	}
	return referenceTable.each(ctx, q, "FROM reference ORDER BY reference, issued", nil, func(r row) error {
		f := r.fields()
		c := study.Reference{Reference: f.text(), Issued: f.text(), Serial: f.text(), Certificate: f.text(),
			Expires: f.text(), UScale: f.num()}
		count := f.whole()
		f.step() // the digest
		c.Note, c.Curves = f.text(), curves[certificate{c.Reference, c.Issued}]
		if len(c.Curves) != count {
			return &damage{"reference", r.whole(0), fmt.Sprintf("it had %d curves, %d are there", count, len(c.Curves))}
		}
		roster.References = append(roster.References, c)
		return nil
	})
}

// HeldIn returns how many readings of each session are held, by its name. Like
// [View.Units] it does not check rows.
func (v *View) HeldIn() (map[string]int, error) {
	now, err := v.standings()
	if err != nil {
		return nil, v.refuse(err)
	}
	held := map[string]int{}
	const query = "SELECT id, coalesce(session, '') FROM reading WHERE id IN (SELECT reading FROM hold)"
	return held, v.refuse(ask(v.ctx, v.q, query, nil, func(r row) error {
		if now[r.whole(0)] == study.Held {
			held[r.text(1)]++
		}
		return nil
	}))
}

// SessionsOf returns the sessions that the readings of a unit name, of those that are
// counted, each as often as it is named. Like [View.Units] it does not check rows.
func (v *View) SessionsOf(u study.Unit) (names []string, err error) {
	now, err := v.standings()
	if err != nil {
		return nil, v.refuse(err)
	}
	const query = `SELECT id, session FROM reading
		WHERE (coupon, pull, spot, condition) = (?, ?, ?, ?) AND session IS NOT NULL ORDER BY id`
	err = ask(v.ctx, v.ready, query, []any{u.Coupon, u.Pull, u.Spot, u.Condition}, func(r row) error {
		if now[r.whole(0)] == study.Counted {
			names = append(names, r.text(1))
		}
		return nil
	})
	return names, v.refuse(err)
}

// SessionsRead returns the sessions that readings name, in their order. Like
// [View.Units] it does not check rows.
func (v *View) SessionsRead() ([]string, error) {
	var names []string
	rows, err := v.q.QueryContext(v.ctx, "SELECT DISTINCT session FROM reading WHERE session IS NOT NULL ORDER BY session")
	if err != nil {
		return nil, v.refuse(err)
	}
	defer rows.Close()
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			return nil, v.refuse(err)
		}
		names = append(names, name)
	}
	return names, v.refuse(rows.Err())
}
