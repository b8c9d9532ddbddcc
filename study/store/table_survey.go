package store

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strings"

	"wane/study"
)

var surveyTable = newTable(34, "survey", fields[surveyRow]{
	wholeField("last_reading", func(s *surveyRow) *int64 { return &s.LastReading }),
	wholeField("last_line", func(s *surveyRow) *int64 { return &s.LastLine }),
	wholeField("model", func(s *surveyRow) *int { return &s.Model }),
	blobField("packed", func(s *surveyRow) *[]byte { return &s.packed }),
})

// Survey is what was read of each coupon when all of it was evaluated: of the readings up to LastReading, and
// of all that was entered up to LastLine of the log. None of the fits was stale by that version of the model.
type Survey struct {
	LastReading, LastLine int64
	Model                 int
	Coupons               []SurveyedCoupon // in the order of their codes
}

// SurveyedCoupon is what was read of a coupon, and how many fits each of its pulls had.
type SurveyedCoupon struct {
	CouponReads
	Fits []int // of each of Pulls
}

// surveyRow is a survey, packed.
type surveyRow struct {
	Survey
	packed []byte
}

// PutSurvey adds a survey.
func (tx *Tx) PutSurvey(s Survey) error {
	return tx.atomically(func() error {
		data := packSurvey(s.Coupons)
		packed := tx.store.compressor.EncodeAll(data, binary.AppendUvarint(nil, uint64(len(data))))
		_, err := surveyTable.add(tx, &surveyRow{s, packed})
		return err
	})
}

// Survey returns the last survey, nil if there is none.
func (v *View) Survey() (*Survey, error) {
	k, err := surveyTable.one(v.ctx, v.q, "FROM survey ORDER BY id DESC LIMIT 1")
	if k == nil || err != nil {
		return nil, v.refuse(err)
	}
	s := k.Row.Survey
	size, used := binary.Uvarint(k.Row.packed)
	if used <= 0 || size > mostBytes {
		return nil, v.refuse(damaged("survey", k.Number, errSurvey))
	}
	data, err := v.store.decompressor.DecodeAll(k.Row.packed[used:], make([]byte, 0, size))
	if err == nil {
		s.Coupons, err = unpackSurvey(data)
	}
	if err != nil {
		return nil, v.refuse(damaged("survey", k.Number, err))
	}
	return &s, nil
}

// packSurvey writes coupons as numbers (varints) and texts. What is read at a pull is often the same: each such
// list of spots is written once, where it comes first.
func packSurvey(coupons []SurveyedCoupon) []byte {
	w := surveyWriter{known: map[string]uint64{}}
	w.number(uint64(len(coupons)))
	for i := range coupons {
		c := &coupons[i]
		w.text(c.Coupon)
		w.number(uint64(len(c.Pulls)))
		for k := range c.Pulls {
			p := &c.Pulls[k]
			for _, n := range []int{p.Pull, p.Held, p.Aside, c.Fits[k]} {
				w.number(uint64(n))
			}
			w.spots(p.Spots)
			w.spots(p.SetAside)
		}
	}
	return w.out
}

type surveyWriter struct {
	out   []byte
	known map[string]uint64 // lists of spots as they are written, by the order in which they came
}

func (w *surveyWriter) number(n uint64) { w.out = binary.AppendUvarint(w.out, n) }

func (w *surveyWriter) text(s string) {
	w.number(uint64(len(s)))
	w.out = append(w.out, s...)
}

// spots writes the number of a list that came before, or the next number and then the list.
func (w *surveyWriter) spots(spots []SpotReads) {
	list := surveyWriter{}
	list.number(uint64(len(spots)))
	for i := range spots {
		list.text(spots[i].Spot)
		list.number(uint64(len(spots[i].Curves)))
		for _, k := range spots[i].Curves {
			list.out = binary.BigEndian.AppendUint64(list.out, math.Float64bits(k.AngleDeg))
			list.text(string(k.Quantity))
		}
	}
	n, known := w.known[string(list.out)]
	if !known {
		n = uint64(len(w.known))
		w.known[string(list.out)] = n
	}
	if w.number(n); !known {
		w.out = append(w.out, list.out...)
	}
}

var errSurvey = errors.New("it does not hold a survey")

// unpackSurvey reads what packSurvey wrote. Equal lists of spots are one.
func unpackSurvey(data []byte) (coupons []SurveyedCoupon, err error) {
	r := surveyReader{rest: data}
	for range r.count() {
		c := SurveyedCoupon{CouponReads: CouponReads{Coupon: r.text()}}
		n := r.count()
		c.Pulls, c.Fits = make([]PullReads, n), make([]int, n)
		for k := range c.Pulls {
			p := &c.Pulls[k]
			for _, to := range []*int{&p.Pull, &p.Held, &p.Aside, &c.Fits[k]} {
				*to = int(r.number())
			}
			p.Spots, p.SetAside = r.spots(), r.spots()
		}
		if r.wrong {
			return nil, errSurvey
		}
		coupons = append(coupons, c)
	}
	if r.wrong || len(r.rest) > 0 {
		return nil, errSurvey
	}
	return coupons, nil
}

type surveyReader struct {
	rest  []byte
	known [][]SpotReads
	wrong bool
}

func (r *surveyReader) number() uint64 {
	n, used := binary.Uvarint(r.rest)
	if used <= 0 {
		r.wrong, r.rest = true, nil
		return 0
	}
	r.rest = r.rest[used:]
	return n
}

// count reads a number of things, each of which takes a byte or more.
func (r *surveyReader) count() int {
	n := r.number()
	if n > uint64(len(r.rest)) {
		r.wrong, r.rest = true, nil
		return 0
	}
	return int(n)
}

func (r *surveyReader) take(n int) []byte {
	if n > len(r.rest) {
		r.wrong, r.rest = true, nil
		return make([]byte, n)
	}
	taken := r.rest[:n]
	r.rest = r.rest[n:]
	return taken
}

func (r *surveyReader) text() string { return string(r.take(r.count())) }

func (r *surveyReader) spots() []SpotReads {
	switch n := r.number(); {
	case n < uint64(len(r.known)):
		return r.known[n]
	case n > uint64(len(r.known)) || r.wrong:
		r.wrong = true
		return nil
	}
	var spots []SpotReads
	for range r.count() {
		s := SpotReads{Spot: r.text()}
		for range r.count() {
			angle := math.Float64frombits(binary.BigEndian.Uint64(r.take(8)))
			s.Curves = append(s.Curves, CurveKind{angle, study.Quantity(r.text())})
		}
		spots = append(spots, s)
	}
	r.known = append(r.known, spots)
	return spots
}

// Changes is what came after a survey.
type Changes struct {
	All     bool     // it can bear on those of any coupon
	Coupons []string // on whose fits alone it can bear, sorted
}

// bearing are the tables whose rows bear on the fits of coupons that they do not name. Rows of others, such as pulls,
// events of coupons and measurements, do not enter fits, and a new coupon has none.
var bearing = []*table{glassTable.table, glassBatchTable.table, returnTable.table, instrumentTable.table,
	referenceTable.table, standardTable.table}

// ChangesSince returns what came after a survey. Like [View.Units] it does not check rows.
func (v *View) ChangesSince(s *Survey) (c Changes, err error) {
	names := make([]string, len(bearing))
	for i, t := range bearing {
		names[i] = "'" + t.name + "'"
	}
	query := fmt.Sprintf("SELECT EXISTS (SELECT 1 FROM withdrawal WHERE log > ?1) OR EXISTS (SELECT 1 FROM amendment "+
		"WHERE log > ?1 AND of IN (%s))", strings.Join(names, ", "))
	for _, t := range bearing {
		query += fmt.Sprintf(" OR EXISTS (SELECT 1 FROM %s WHERE log > ?1)", t.name)
	}
	err = ask(v.ctx, v.q, query, []any{s.LastLine}, func(r row) error { c.All = r.whole(0) != 0; return nil })
	if err != nil || c.All {
		return c, v.refuse(err)
	}
	err = ask(v.ctx, v.q, couponsSince, []any{s.LastReading, s.LastLine}, func(r row) error {
		c.Coupons = append(c.Coupons, r.text(0))
		return nil
	})
	return c, v.refuse(err)
}

// couponsSince selects the coupons of which readings were added, superseded or judged, that were amended, or that were
// read in sessions of which something was entered or amended.
const couponsSince = `SELECT DISTINCT coupon FROM (
		SELECT coupon FROM reading WHERE id > ?1
		UNION ALL SELECT coupon FROM reading WHERE superseded_by > ?1
		UNION ALL SELECT coupon FROM reading WHERE id IN (
			SELECT reading FROM hold WHERE log > ?2 UNION SELECT reading FROM review WHERE log > ?2
			UNION SELECT h.reading FROM hold_release l JOIN hold h ON h.id = l.hold WHERE l.log > ?2)
		UNION ALL SELECT coupon FROM coupon WHERE id IN (SELECT row FROM amendment WHERE of = 'coupon' AND log > ?2)
		UNION ALL SELECT coupon FROM reading WHERE session IN (
			SELECT session FROM session WHERE log > ?2 OR id IN (SELECT row FROM amendment WHERE of = 'session' AND log > ?2)
			UNION SELECT session FROM standard_reading WHERE log > ?2
				OR id IN (SELECT row FROM amendment WHERE of = 'standard_reading' AND log > ?2)))
	ORDER BY coupon`
