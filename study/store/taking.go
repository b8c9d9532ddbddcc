package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"

	"wane/study"
)

// takenQuery asks whether an export was taken in in a way.
const takenQuery = "SELECT 1 FROM export JOIN intake ON intake.export = export.id WHERE export.sha256 = ? AND intake.digest = ?"

// Taken reports whether the export with the given SHA-256 was taken in before in the
// way of which digest is the Digest of its [study.Taking]. It is meant for many files
// and several goroutines: it looks two rows up, says only whether they are there, and
// does not check them.
func (s *Store) Taken(ctx context.Context, sum, digest [sha256.Size]byte) (bool, error) {
	var one int
	err := s.ready[takenQuery].QueryRowContext(ctx, sum[:], digest[:]).Scan(&one)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return err == nil, s.refuse(ctx, err)
}

// TakingOf returns how the reading with the given number was taken in, with the number
// of the row of intake and its line of the log. It is nil if that is not known: the
// reading is not there, or was taken in before a study kept it.
func (v *View) TakingOf(reading int64) (*Kept[study.Taking], error) {
	r, err := intakeTable.one(v.ctx, v.q, "FROM intake WHERE id = (SELECT intake FROM reading WHERE id = ?)", reading)
	if r == nil || err != nil {
		return nil, v.refuse(err)
	}
	f := r.fields()
	f.step() // the export
	how := study.Taking{Digest: f.sum(), Stated: f.text()}
	if id := f.whole(); id != 0 {
		p, err := profileTable.one(v.ctx, v.q, "FROM profile WHERE id = ?", id)
		if err == nil && p == nil {
			err = &damage{"profile", int64(id), "it is missing"}
		}
		if err != nil {
			return nil, v.refuse(err)
		}
		how.Profile, how.Version = profileOf(p).Name, profileOf(p).Version
	}
	return &Kept[study.Taking]{how, r.whole(0), r.whole(1)}, nil
}
