package store

import "wane/study"

// Move is a reading that another one of the same column stands instead of: it was in a wrong place, or its values were
// understood wrongly.
type Move struct {
	Number, Instead int64 // of the reading that was moved, and of the one that stands instead of it
	From, To        MovedPlace
	OtherNumbers    bool // its wavelengths or values are not what they were
	Line            int64
}

// MovedPlace is the place of a reading, with its session and its mounting.
type MovedPlace struct {
	study.Place
	Session  string
	Mounting int // 0: not stated
}

var movedPlaceFields = append(placeFields(func(p *MovedPlace) *study.Place { return &p.Place }),
	textOrNull("session", func(p *MovedPlace) *string { return &p.Session }),
	wholeOrNull("mounting", func(p *MovedPlace) *int { return &p.Mounting }))

// MovesOf hands the moves of readings out of places of a coupon, into them and among them to yield, in the order of the
// new readings. Like [View.Units] it does not check rows.
func (v *View) MovesOf(coupon string, yield func(Move) error) error {
	return v.movesWhere(`WHERE r.id IN (SELECT id FROM reading WHERE superseded_by IS NOT NULL AND coupon = ?1)
		OR r.superseded_by IN (SELECT id FROM reading `+ever("coupon = ?1")+`)`, []any{coupon}, yield)
}

// Moves hands all readings that were moved to yield, in the order of the moves.
func (v *View) Moves(yield func(Move) error) error { return v.movesWhere("", nil, yield) }

func (v *View) movesWhere(where string, args []any, yield func(Move) error) error {
	query := "SELECT r.id, m.id, m.log, r.grid <> m.grid OR r.values_packed <> m.values_packed, " +
		movedPlaceFields.list("r.") + ", " + movedPlaceFields.list("m.") + `
		FROM reading r JOIN reading m ON m.id = r.superseded_by ` + where + `
		ORDER BY m.id`
	return v.refuse(ask(v.ctx, v.q, query, args, func(r row) error {
		m := Move{Number: r.whole(0), Instead: r.whole(1), Line: r.whole(2), OtherNumbers: r.whole(3) != 0}
		from, to := r[4:4+len(movedPlaceFields)], r[4+len(movedPlaceFields):]
		if err := movedPlaceFields.read(from, &m.From); err != nil {
			return err
		}
		if err := movedPlaceFields.read(to, &m.To); err != nil {
			return err
		}
		return yield(m)
	}))
}
