package store

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"

	"wane/study"
)

var instrumentTable = newTable(10, "instrument", fields[study.Instrument]{
	textField("instrument", func(i *study.Instrument) *string { return &i.Instrument }),
	textOrNull("serial", func(i *study.Instrument) *string { return &i.Serial }),
	textOrNull("kind", func(i *study.Instrument) *string { return &i.Kind }),
	realOrNull("cone_deg", func(i *study.Instrument) *study.Num { return &i.ConeDeg }),
	realOrNull("slit_nm", func(i *study.Instrument) *study.Num { return &i.SlitNM }),
	numbersOrNull("join_nm", func(i *study.Instrument) *[]float64 { return &i.JoinsNM }),
	realOrNull("u_join", func(i *study.Instrument) *study.Num { return &i.UJoin }),
	textOrNull("note", func(i *study.Instrument) *string { return &i.Note }),
	statedOrNull("u_zero", func(i *study.Instrument) *study.Stated { return &i.UZero }),
	statedOrNull("u_place", func(i *study.Instrument) *study.Stated { return &i.UPlace }),
	statedOrNull("u_tilt", func(i *study.Instrument) *study.Stated { return &i.UTiltDeg }),
	statedOrNull("u_place_zero", func(i *study.Instrument) *study.Stated { return &i.UPlaceZero }),
	statedOrNull("u_wavelength_nm", func(i *study.Instrument) *study.Stated { return &i.UWavelengthNM }),
	geometryField(),
}).keyedBy(func(i *study.Instrument) string { return fmt.Sprintf("instrument %q", i.Instrument) }, "instrument")

// geometryField is null where no geometry is stated.
func geometryField() field[study.Instrument] {
	f := wordsOrNull("geometry", func(i *study.Instrument) *[]string { return &i.Geometries })
	words := f.set
	f.set = func(i *study.Instrument, x any) error {
		if x == nil {
			i.Geometries = nil
			return nil
		}
		return words(i, x)
	}
	return f
}

var eventTable = newTable(11, "event", fields[study.Event]{
	textField("instrument", func(e *study.Event) *string { return &e.Instrument }),
	textField("date", func(e *study.Event) *string { return &e.Date }),
	textField("event", func(e *study.Event) *string { return &e.Event }),
	textOrNull("note", func(e *study.Event) *string { return &e.Note }),
}).keyedBy(func(e *study.Event) string {
	return fmt.Sprintf("event %s of instrument %q on %s", e.Event, e.Instrument, e.Date)
}, "date", "instrument", "event")

var referenceTable = newTable(12, "reference", fields[referenceRow]{
	textField("reference", func(c *referenceRow) *string { return &c.Reference.Reference }),
	textField("issued", func(c *referenceRow) *string { return &c.Issued }),
	textOrNull("serial", func(c *referenceRow) *string { return &c.Serial }),
	textField("certificate", func(c *referenceRow) *string { return &c.Certificate }),
	textOrNull("expires", func(c *referenceRow) *string { return &c.Expires }),
	realOrNull("u_scale", func(c *referenceRow) *study.Num { return &c.UScale }),
	wholeField("curves", func(c *referenceRow) *int { return &c.curves }),
	blobOrNull("sha256", func(c *referenceRow) *[]byte { return &c.sum }),
	textOrNull("note", func(c *referenceRow) *string { return &c.Note }),
}).keyedBy(func(c *referenceRow) string { return describeReference(c.Reference.Reference, c.Issued) },
	"issued", "reference")

// describeReference names a certificate.
func describeReference(reference, issued string) string {
	return fmt.Sprintf("reference %q with the certificate issued %s", reference, issued)
}

var referenceCurveTable = newTable(13, "reference_curve", fields[curveRow]{
	textField("reference", func(c *curveRow) *string { return &c.reference }),
	textField("issued", func(c *curveRow) *string { return &c.issued }),
	realField("angle_deg", func(c *curveRow) *float64 { return &c.angleDeg }),
	textField("polarisation", func(c *curveRow) *string { return &c.polarisation }),
	wholeField("points", func(c *curveRow) *int { return &c.points }),
	realField("first_nm", func(c *curveRow) *float64 { return &c.firstNM }),
	realField("last_nm", func(c *curveRow) *float64 { return &c.lastNM }),
	blobField("nm_packed", func(c *curveRow) *[]byte { return &c.nm }),
	blobField("values_packed", func(c *curveRow) *[]byte { return &c.values }),
	blobField("u_packed", func(c *curveRow) *[]byte { return &c.u }),
}).keyedBy(func(c *curveRow) string {
	return fmt.Sprintf("%s, the values at %g degrees, %s,", describeReference(c.reference, c.issued), c.angleDeg,
		c.polarisation)
}, "angle_deg", "reference", "issued", "polarisation")

var standardTable = newTable(14, "standard", fields[study.Standard]{
	textField("standard", func(c *study.Standard) *string { return &c.Standard }),
	textField("issued", func(c *study.Standard) *string { return &c.Issued }),
	realField("angle_deg", func(c *study.Standard) *float64 { return &c.AngleDeg }),
	textField("polarisation", func(c *study.Standard) *string { return &c.Polarisation }),
	textOrNull("serial", func(c *study.Standard) *string { return &c.Serial }),
	textField("certificate", func(c *study.Standard) *string { return &c.Certificate }),
	textOrNull("expires", func(c *study.Standard) *string { return &c.Expires }),
	textField("quantity", func(c *study.Standard) *string { return &c.Quantity }),
	realOrNull("wavelength_nm", func(c *study.Standard) *study.Num { return &c.WavelengthNM }),
	realField("value", func(c *study.Standard) *float64 { return &c.Value }),
	realField("u", func(c *study.Standard) *float64 { return &c.U }),
	textOrNull("note", func(c *study.Standard) *string { return &c.Note }),
}).keyedBy(func(c *study.Standard) string {
	return fmt.Sprintf("standard %q at %g degrees, %s, with the certificate issued %s", c.Standard, c.AngleDeg,
		c.Polarisation, c.Issued)
}, "issued", "standard", "angle_deg", "polarisation")

var sessionTable = newTable(15, "session", fields[study.Session]{
	textField("session", func(s *study.Session) *string { return &s.Session }),
	textField("instrument", func(s *study.Session) *string { return &s.Instrument }),
	textField("date", func(s *study.Session) *string { return &s.Date }),
	textOrNull("operator", func(s *study.Session) *string { return &s.Operator }),
	textOrNull("reference", func(s *study.Session) *string { return &s.Reference }),
	realOrNull("humidity_percent", func(s *study.Session) *study.Num { return &s.HumidityPercent }),
	realOrNull("temperature_c", func(s *study.Session) *study.Num { return &s.TemperatureC }),
	textOrNull("condition", func(s *study.Session) *string { return &s.Condition }),
	textOrNull("note", func(s *study.Session) *string { return &s.Note }),
	statedOrNull("pore_water", func(s *study.Session) *study.Stated { return &s.PoreWater }),
	statedOrNull("u_pore_water", func(s *study.Session) *study.Stated { return &s.UPoreWater }),
}).keyedBy(func(s *study.Session) string { return fmt.Sprintf("session %q", s.Session) }, "session")

var standardReadingTable = newTable(16, "standard_reading", fields[study.StandardReading]{
	textField("session", func(c *study.StandardReading) *string { return &c.Session }),
	textField("standard", func(c *study.StandardReading) *string { return &c.Standard }),
	realField("angle_deg", func(c *study.StandardReading) *float64 { return &c.AngleDeg }),
	textField("polarisation", func(c *study.StandardReading) *string { return &c.Polarisation }),
	wholeField("replicate", func(c *study.StandardReading) *int { return &c.Replicate }),
	realField("value", func(c *study.StandardReading) *float64 { return &c.Value }),
}).keyedBy(func(c *study.StandardReading) string {
	return fmt.Sprintf("reading %d of standard %q at %g degrees, %s, in session %q", c.Replicate, c.Standard, c.AngleDeg,
		c.Polarisation, c.Session)
}, "replicate", "session", "standard", "angle_deg", "polarisation").
	afterWithdrawal("give the reading another replicate")

// referenceRow is a certificate of a reference without its curves.
type referenceRow struct {
	study.Reference
	curves int    // how many it has
	sum    []byte // SHA-256 of the curves; nil: there are none
}

// curveRow is a curve of a certificate, packed.
type curveRow struct {
	reference, issued string
	angleDeg          float64
	polarisation      string
	points            int
	firstNM, lastNM   float64
	nm, values, u     []byte
}

// The methods below add a row of the register. Each reports false if the same is
// there already, and refuses one of the same name that differs, one that names what
// is not there, and a word or number that cannot be.

// AddInstrument adds an instrument.
func (tx *Tx) AddInstrument(i study.Instrument) (added bool, err error) {
	return instrumentTable.enrol(tx, &i)
}

// AddEvent adds an event of an instrument that is there.
func (tx *Tx) AddEvent(e study.Event) (added bool, err error) {
	return eventTable.enrol(tx, &e)
}

// AddReference adds a certificate of a reference with its values. It panics if the
// columns of a curve differ in length.
func (tx *Tx) AddReference(c study.Reference) (added bool, err error) {
	what := describeReference(c.Reference, c.Issued)
	curves, sum, err := packReference(what, &c)
	if err != nil {
		return false, err
	}
	err = tx.atomically(func() error {
		if added, err = referenceTable.enrol(tx, &referenceRow{c, len(curves), sum}); err != nil || !added {
			return err
		}
		for i := range curves {
			isNew, err := referenceCurveTable.enrol(tx, &curves[i])
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

// packReference returns the rows of the curves of a certificate, and their digest, nil if
// there are none.
func packReference(what string, of *study.Reference) (rows []curveRow, sum []byte, err error) {
	h := sha256.New()
	for i := range of.Curves {
		c := &of.Curves[i]
		if len(c.Values) != len(c.NM) || len(c.U) != len(c.NM) {
			panic("store: the columns of a reference differ in length")
		}
		if len(c.NM) == 0 {
			return nil, nil, &study.Refusal{Fault: what + " has a curve without points", Try: "give at least one wavelength"}
		}
		r := curveRow{reference: of.Reference, issued: of.Issued, angleDeg: c.AngleDeg, polarisation: c.Polarisation,
			points: len(c.NM), firstNM: c.NM[0], lastNM: c.NM[len(c.NM)-1]}
		if err := packColumns([]*[]byte{&r.nm, &r.values, &r.u}, c.NM, c.Values, c.U); err != nil {
			return nil, nil, &study.Refusal{Fault: what + " contains what is " + err.Error(), Try: "correct its table",
				Cause: err}
		}
		h.Write(binary.BigEndian.AppendUint64([]byte(c.Polarisation), math.Float64bits(c.AngleDeg)))
		for _, packed := range [][]byte{r.nm, r.values, r.u} {
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
	return standardTable.enrol(tx, &c)
}

// AddSession adds a session at an instrument and against a reference that are there.
func (tx *Tx) AddSession(s study.Session) (added bool, err error) {
	return sessionTable.enrol(tx, &s)
}

// AddStandardReading adds a reading of a check standard in a session that is there.
func (tx *Tx) AddStandardReading(c study.StandardReading) (added bool, err error) {
	return standardReadingTable.enrol(tx, &c)
}

// readRegister fills in the register, each table in the order of its keys.
func readRegister(ctx context.Context, q querier, roster *study.Roster) error {
	for _, read := range []func() error{
		func() error { return appendRows(ctx, q, instrumentTable, "instrument", &roster.Instruments) },
		func() error { return appendRows(ctx, q, eventTable, "instrument, date, event", &roster.Events) },
		func() error { return readReferences(ctx, q, roster) },
		func() error {
			return appendRows(ctx, q, standardTable, "standard, issued, angle_deg, polarisation", &roster.Standards)
		},
		func() error { return appendRows(ctx, q, sessionTable, "session", &roster.Sessions) },
		func() error {
			const order = "session, standard, angle_deg, polarisation, replicate"
			return appendRows(ctx, q, standardReadingTable, order, &roster.Checks)
		},
	} {
		if err := read(); err != nil {
			return err
		}
	}
	return nil
}

func readReferences(ctx context.Context, q querier, roster *study.Roster) error {
	type certificate struct{ reference, issued string }
	curves := map[certificate][]study.ReferenceCurve{}
	err := referenceCurveTable.each(ctx, q, "FROM reference_curve ORDER BY reference, issued, angle_deg, polarisation",
		nil, func(k *Kept[curveRow]) error {
			p, of := &k.Row, certificate{k.Row.reference, k.Row.issued}
			c := study.ReferenceCurve{AngleDeg: p.angleDeg, Polarisation: p.polarisation}
			if err := unpackColumns([]*[]float64{&c.NM, &c.Values, &c.U}, p.points, p.nm, p.values, p.u); err != nil {
				return damaged("reference_curve", k.Number, err)
			}
			curves[of] = append(curves[of], c)
			return nil
		})
	if err != nil {
		return err
	}
	tail := "FROM reference ORDER BY reference, issued"
	return referenceTable.each(ctx, q, tail, nil, func(k *Kept[referenceRow]) error {
		c := k.Row.Reference
		c.Curves = curves[certificate{c.Reference, c.Issued}]
		if len(c.Curves) != k.Row.curves {
			return &damage{table: "reference", row: k.Number,
				fault: fmt.Sprintf("it had %d curves, %d are there", k.Row.curves, len(c.Curves))}
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
	const query = "SELECT id, coalesce(session, '') FROM reading WHERE superseded_by IS NULL AND id IN (SELECT reading FROM hold)"
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
		WHERE superseded_by IS NULL AND (coupon, pull, spot, condition) = (?, ?, ?, ?) AND session IS NOT NULL ORDER BY id`
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
func (v *View) SessionsRead() (names []string, err error) {
	query := sessionsRead
	if _, past := v.q.(asOf); past { // which has no index of sessions
		query = "SELECT DISTINCT session FROM reading WHERE superseded_by IS NULL AND session IS NOT NULL ORDER BY session"
	}
	err = ask(v.ctx, v.q, query, nil, func(r row) error {
		names = append(names, r.text(0))
		return nil
	})
	return names, v.refuse(err)
}

// sessionsRead goes from each session to the next one by the index, whatever the number of readings.
const sessionsRead = `WITH RECURSIVE named (session) AS (
		SELECT min(session) FROM reading WHERE session IS NOT NULL
		UNION ALL SELECT (SELECT min(r.session) FROM reading r WHERE r.session > named.session) FROM named
			WHERE named.session IS NOT NULL)
	SELECT session FROM named WHERE session IS NOT NULL AND EXISTS (
		SELECT 1 FROM reading r WHERE r.session = named.session AND r.superseded_by IS NULL)
	ORDER BY session`

// SessionsMixed reports whether readings of one unit name several sessions, counted or not. Like [View.Units] it does
// not check rows.
func (v *View) SessionsMixed() (mixed bool, err error) {
	rows, err := v.q.QueryContext(v.ctx, `SELECT 1 FROM reading WHERE superseded_by IS NULL AND session IS NOT NULL
		GROUP BY coupon, pull, spot, condition HAVING min(session) <> max(session) LIMIT 1`)
	if err != nil {
		return false, v.refuse(err)
	}
	defer rows.Close()
	mixed = rows.Next()
	return mixed, v.refuse(rows.Err())
}
