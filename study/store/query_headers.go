package store

import (
	"context"
	"slices"
	"strings"

	"wane/study"
)

// ReadingHeader is a reading without its numbers: what guards compare.
type ReadingHeader struct {
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

// Guarded returns the last look of the guards, without what it found, and the numbers of
// the last reading and of the last line of the log; 0 if there is none.
func (v *View) Guarded() (last Guarding, reading, line int64, err error) {
	if last, err = lastGuarding(v.ctx, v.q); err != nil {
		return last, 0, 0, v.refuse(err)
	}
	if reading, err = lastNumber(v.ctx, v.q, readingTable.table); err == nil {
		line, err = lastNumber(v.ctx, v.q, logTable.table)
	}
	return last, reading, line, v.refuse(err)
}

func lastGuarding(ctx context.Context, q querier) (l Guarding, err error) {
	k, err := guardingTable.one(ctx, q, "FROM guarding ORDER BY id DESC LIMIT 1")
	if k == nil || err != nil {
		return l, err
	}
	l = k.Row
	l.After = k.Number
	return l, nil
}

// ReadingSet names readings that guards compare: those of a session, or those of a coupon
// that name none.
type ReadingSet struct{ Session, Coupon string }

// ReadingSetsSince returns those of the readings with a number above the given one, and of those that such a
// reading stands instead of, in their order. Like [View.Units] it does not check rows.
func (v *View) ReadingSetsSince(number int64) (all []ReadingSet, err error) {
	err = ask(v.ctx, v.q, `SELECT DISTINCT coalesce(session, '') AS name, iif(session IS NULL, coupon, '') AS of
		FROM reading WHERE id > ?1 OR superseded_by > ?1 ORDER BY name, of`, []any{number}, func(r row) error {
		all = append(all, ReadingSet{r.text(0), r.text(1)})
		return nil
	})
	return all, v.refuse(err)
}

// RegisteredSince returns the sessions of which something was enrolled, amended or withdrawn after a line of
// the log, by themselves, by a certificate of their reference, or by an amendment of their instrument or of a coupon
// that was read in them, with the last line of that.
func (v *View) RegisteredSince(line int64) (map[string]int64, error) {
	lines := map[string]int64{}
	err := ask(v.ctx, v.q, `WITH changed AS (
			SELECT of, row, log FROM amendment WHERE log > ?1 UNION ALL SELECT of, row, log FROM withdrawal WHERE log > ?1)
		SELECT session, max(log) FROM (
			SELECT session, log FROM session WHERE log > ?1
			UNION ALL SELECT s.session, r.log FROM reference r JOIN v_sessions s ON s.reference = r.reference WHERE r.log > ?1
			UNION ALL SELECT s.session, a.log FROM changed a JOIN session s ON (a.of, a.row) = ('session', s.id)
			UNION ALL SELECT s.session, a.log FROM changed a JOIN reference r ON (a.of, a.row) = ('reference', r.id)
				JOIN v_sessions s ON s.reference = r.reference
			UNION ALL SELECT s.session, a.log FROM changed a JOIN instrument i ON (a.of, a.row) = ('instrument', i.id)
				JOIN v_sessions s ON s.instrument = i.instrument
			UNION ALL SELECT r.session, a.log FROM changed a JOIN coupon c ON (a.of, a.row) = ('coupon', c.id)
				JOIN reading r ON r.coupon = c.coupon AND r.superseded_by IS NULL AND r.session IS NOT NULL)
		GROUP BY session`, []any{line}, func(r row) error {
		lines[r.text(0)] = r.whole(1)
		return nil
	})
	return lines, v.refuse(err)
}

// CouponsAmendedSince returns the coupons that were amended after a line of the log, in their order.
func (v *View) CouponsAmendedSince(line int64) (codes []string, err error) {
	err = ask(v.ctx, v.q, `SELECT DISTINCT c.coupon FROM amendment a JOIN v_coupons c
		ON c.coupon = (SELECT coupon FROM coupon WHERE id = a.row) WHERE a.of = 'coupon' AND a.log > ? ORDER BY c.coupon`,
		[]any{line}, func(r row) error {
			codes = append(codes, r.text(0))
			return nil
		})
	return codes, v.refuse(err)
}

// ReviewedSince hands the readings that were reviewed after a line of the log to yield, in
// the order of their places.
func (v *View) ReviewedSince(line int64, yield func(ReadingHeader) error) error {
	return v.readingHeaders("id IN (SELECT reading FROM review WHERE log > ?)", []any{line}, yield)
}

// PullRead is a pull of which something was read in a session.
type PullRead struct {
	Session string
	Pull    int
}

// ReadLater returns the sessions and pulls in which coupons that go with an exposure were
// read at later pulls: coupons of that exposure, and of none; of any if it is empty.
func (v *View) ReadLater(exposure string, pull int) (all []PullRead, err error) {
	err = ask(v.ctx, v.q, `SELECT DISTINCT r.session, r.pull
		FROM v_coupons c CROSS JOIN reading r ON r.coupon = c.coupon AND r.pull > ?1 AND r.superseded_by IS NULL
		WHERE r.session IS NOT NULL AND (?2 = '' OR c.exposure IS NULL OR c.exposure = ?2) ORDER BY r.pull, r.session`,
		[]any{int64(pull), exposure}, func(r row) error {
			all = append(all, PullRead{r.text(0), int(r.whole(1))})
			return nil
		})
	return all, v.refuse(err)
}

// FirstPullsSince returns by exposure the first pull of which something was read, of the
// readings with a number above the given one and of those that such a reading stands instead of.
func (v *View) FirstPullsSince(number int64) (map[string]int, error) {
	first := map[string]int{}
	err := ask(v.ctx, v.q, `SELECT coalesce(c.exposure, ''), min(r.pull)
		FROM reading r JOIN v_coupons c ON c.coupon = r.coupon
		WHERE r.id > ?1 OR r.superseded_by > ?1 GROUP BY 1`, []any{number}, func(r row) error {
		first[r.text(0)] = int(r.whole(1))
		return nil
	})
	return first, v.refuse(err)
}

// HeadersIn hands the readings of a set to yield, in the order of their places. Like
// [View.Units] it does not check rows.
func (v *View) HeadersIn(g ReadingSet, yield func(ReadingHeader) error) error {
	where, args := g.where()
	return v.readingHeaders(where, args, yield)
}

func (g ReadingSet) where() (where string, args []any) {
	if g.Session == "" {
		return "session IS NULL AND coupon = ?", []any{g.Coupon}
	}
	return "session = ?", []any{g.Session}
}

// HeadersBefore hands the readings of a coupon at its last pull before the given one to
// yield, in the order of their places, and returns that pull; -1 if there is none. Like
// [View.Units] it does not check rows.
func (v *View) HeadersBefore(coupon string, pull int, yield func(ReadingHeader) error) (at int, err error) {
	at = -1
	err = v.readingHeadersBy(v.ready, headersBefore(), []any{coupon, pull}, func(m ReadingHeader) error {
		at = m.Pull
		return yield(m)
	})
	return at, err
}

// headersBefore is the query of HeadersBefore, which guards ask for each coupon of a session.
func headersBefore() string {
	return headersWhere(`(coupon, pull) = (?1,
		(SELECT max(pull) FROM reading WHERE superseded_by IS NULL AND coupon = ?1 AND pull < ?2))`)
}

// headersWhere is the query of the headers of readings by a condition.
func headersWhere(condition string) string {
	return "SELECT id, log, " + headerFields.list("") + " FROM reading WHERE superseded_by IS NULL AND " + condition +
		" ORDER BY " + placeColumns
}

// ReadingsIn hands the readings of a set that were taken in before a line of the log
// to yield, with their numbers in the study, in the order of their places.
func (v *View) ReadingsIn(g ReadingSet, before int64, yield func(Kept[study.Reading]) error) error {
	where, args := g.where()
	return v.readings(where+" AND log < ?", append(args, before), yield)
}

// SpotsOf returns the spots of a coupon that readings of a line of the log and before are of, sorted. Like
// [View.Units] it does not check rows.
func (v *View) SpotsOf(coupon string, line int64) (spots []string, err error) {
	err = ask(v.ctx, v.q, `SELECT DISTINCT spot FROM reading
		WHERE superseded_by IS NULL AND coupon = ? AND log <= ? ORDER BY spot`, []any{coupon, line}, func(r row) error {
		spots = append(spots, r.text(0))
		return nil
	})
	return spots, v.refuse(err)
}

// HeadersOf hands the readings of a coupon to yield, in the order of their places. Like
// [View.Units] it does not check rows.
func (v *View) HeadersOf(coupon string, yield func(ReadingHeader) error) error {
	return v.readingHeaders("coupon = ?", []any{coupon}, yield)
}

// EachHeader hands all readings to yield, in the order of their places. Like
// [View.Units] it does not check rows.
func (v *View) EachHeader(yield func(ReadingHeader) error) error {
	return v.readingHeaders("true", nil, yield)
}

// ReadingHeader returns the current reading with a number, nil if there is none, and the name of the
// export that it came from. Its coupon may have been withdrawn.
func (v *View) ReadingHeader(number int64) (found *ReadingHeader, export string, err error) {
	check, err := v.everEnrolled(readingTable.table)
	if err != nil {
		return nil, "", v.refuse(err)
	}
	err = v.headersIf(check, v.q, headersWhere("id = ?"), []any{number}, func(m ReadingHeader) error {
		found = &m
		return nil
	})
	if err != nil || found == nil {
		return nil, "", err
	}
	e, err := exportTable.one(v.ctx, v.q, "FROM export WHERE id = (SELECT export FROM reading WHERE id = ?)", number)
	if err == nil && e == nil {
		err = &damage{table: "reading", row: number, fault: "its export is missing"}
	}
	if err != nil {
		return nil, "", v.refuse(err)
	}
	return found, e.Row.Name, nil
}

// placeColumns are the columns of a place.
const placeColumns = "coupon, pull, spot, condition, angle_deg, polarisation, quantity, replicate"

// markedFields are the columns of a reading that guards compare.
var headerFields = append(readingTable.fields.pick(strings.Split(placeColumns, ", ")...),
	readingTable.fields.pick("session", "geometry", "noise", "band_first_nm", "bands_packed", "twin", "column_number")...)

// InsteadOf returns the place of the reading that the one with a number stands instead of, and Instead that of the
// one that stands instead of it; nil if there is none.
func (v *View) InsteadOf(number int64) (*Kept[study.Place], error) {
	return v.placeOf("superseded_by = ?", number)
}

// Instead is described at [View.InsteadOf].
func (v *View) Instead(number int64) (*Kept[study.Place], error) {
	return v.placeOf("id = (SELECT superseded_by FROM reading WHERE id = ?)", number)
}

var onlyPlaceFields = placeFields(func(p *study.Place) *study.Place { return p })

// placeOf returns the place of a reading, current or not, that meets a condition. Like [View.Units] it does not
// check rows.
func (v *View) placeOf(condition string, number int64) (found *Kept[study.Place], err error) {
	query := "SELECT id, log, " + onlyPlaceFields.list("") + " FROM reading WHERE " + condition
	err = ask(v.ctx, v.q, query, []any{number}, func(r row) error {
		found = &Kept[study.Place]{Number: r.whole(0), Line: r.whole(1)}
		return onlyPlaceFields.read(r[2:], &found.Row)
	})
	return found, v.refuse(err)
}

// readingHeaders hands the current readings that meet a condition to yield.
func (v *View) readingHeaders(condition string, args []any, yield func(ReadingHeader) error) error {
	return v.readingHeadersBy(v.q, headersWhere(condition), args, yield)
}

// readingHeadersBy is readingHeaders by a query of headersWhere.
func (v *View) readingHeadersBy(q querier, query string, args []any, yield func(ReadingHeader) error) error {
	check, err := v.enrolled(readingTable.table)
	if err != nil {
		return v.refuse(err)
	}
	return v.headersIf(check, q, query, args, yield)
}

// headersIf is readingHeadersBy of the readings whose coupons check lets pass.
func (v *View) headersIf(check func(int64, string) (bool, error), q querier, query string, args []any,
	yield func(ReadingHeader) error) error {
	now, err := v.standings()
	if err != nil {
		return v.refuse(err)
	}
	var reading readingRow
	return v.refuse(ask(v.ctx, q, query, args, func(r row) (err error) {
		if err := headerFields.read(r[2:], &reading); err != nil {
			return err
		}
		m := ReadingHeader{Number: r.whole(0), Line: r.whole(1), Place: reading.Place, Session: reading.Session,
			Geometry: reading.Geometry, Column: reading.Column, Guardable: reading.guardable}
		if there, err := check(m.Number, m.Coupon); !there || err != nil {
			return err
		}
		if m.Traits, err = reading.traits(m.Number); err != nil {
			return err
		}
		m.Standing = now[m.Number]
		return yield(m)
	}))
}

// Twin is one of several readings that hold the same numbers.
type Twin struct {
	study.Place
	Number int64
	Export string // the name of the file
}

var twinFields = placeFields(func(t *Twin) *study.Place { return &t.Place })

// TwinsSince hands to yield the readings that hold the same wavelengths and values, to the last digit, if one of
// them has a number above the given one: each such group once, its readings in the order of their places. A
// reading that is alone is handed over where one of the others was moved since: a reading above the number stands
// instead of it. Readings that were taken in before there were guards are not compared. Like [View.Units] it does
// not check rows.
func (v *View) TwinsSince(number int64, yield func([]Twin) error) error {
	const same = "m.twin = r.twin AND m.grid = r.grid AND m.values_packed = r.values_packed AND m.superseded_by IS NULL"
	var alike []int64 // readings with others like them
	err := ask(v.ctx, v.q, "SELECT r.id FROM reading r WHERE (r.id > ?1 OR r.superseded_by > ?1) AND EXISTS ("+
		"SELECT 1 FROM reading m INDEXED BY reading_twin WHERE m.id <> r.id AND "+same+")",
		[]any{number}, func(r row) error {
			alike = append(alike, r.whole(0))
			return nil
		})
	if err != nil {
		return v.refuse(err)
	}
	slices.Sort(alike) // SQLite would go through all readings to have them in order
	query := "SELECT m.id, x.name, " + twinFields.list("m.") + `
		FROM reading r JOIN reading m INDEXED BY reading_twin ON ` + same + ` JOIN export x ON x.id = m.export
		WHERE r.id = ? ORDER BY ` + twinFields.list("m.")
	known := map[int64]bool{}
	for _, n := range alike {
		if known[n] {
			continue
		}
		var group []Twin
		err := ask(v.ctx, v.q, query, []any{n}, func(r row) error {
			t := Twin{Number: r.whole(0), Export: r.text(1)}
			err := twinFields.read(r[2:], &t)
			group = append(group, t)
			return err
		})
		if err == nil && !known[group[0].Number] {
			err = yield(group)
		}
		if err != nil {
			return v.refuse(err)
		}
		for i := range group {
			known[group[i].Number] = true
		}
	}
	return nil
}

// Opposes reports whether two readings of the same numbers cannot both be right: of
// two coupons, or of two angles of one spot.
func (t *Twin) Opposes(o Twin) bool {
	return t.Coupon != o.Coupon ||
		t.AngleDeg != o.AngleDeg && t.Pull == o.Pull && t.Spot == o.Spot && t.Condition == o.Condition
}
