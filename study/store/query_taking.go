package store

import (
	"context"
	"crypto/sha256"
	"database/sql"

	"wane/study"
)

// KnownExports is the set of exports that were taken in, each with the ways in which it was. It
// takes some 50 bytes for each.
type KnownExports map[knownExport]struct{}

// knownExport is an export and a way, by the first halves of their digests.
type knownExport struct{ sum, digest [sha256.Size / 2]byte }

// Has reports whether the export with the given SHA-256 was taken in in the way of which
// digest is the Digest of its [study.Taking].
func (t KnownExports) Has(sum, digest [sha256.Size]byte) bool {
	_, there := t[knownExport{[sha256.Size / 2]byte(sum[:]), [sha256.Size / 2]byte(digest[:])}]
	return there
}

// KnownExports returns what was taken in until now. It says only what is there, and does not
// check the rows.
func (s *Store) KnownExports(ctx context.Context) (KnownExports, error) {
	all := KnownExports{}
	rows, err := s.db.QueryContext(ctx,
		"SELECT export.sha256, intake.digest FROM intake JOIN export ON export.id = intake.export")
	if err != nil {
		return nil, s.refuse(ctx, err)
	}
	defer rows.Close()
	var sum, digest sql.RawBytes
	for rows.Next() {
		if err := rows.Scan(&sum, &digest); err != nil {
			return nil, s.refuse(ctx, err)
		}
		var key knownExport
		copy(key.sum[:], sum)
		copy(key.digest[:], digest)
		all[key] = struct{}{}
	}
	return all, s.refuse(ctx, rows.Err())
}

// TakingOf returns how the reading with the given number was taken in, with the number
// of the row of intake and its line of the log. It is nil if that is not known: the
// reading is not there, or was taken in before a study kept it.
func (v *View) TakingOf(reading int64) (*Kept[study.Taking], error) {
	k, err := intakeTable.one(v.ctx, v.q, "FROM intake WHERE id = (SELECT intake FROM reading WHERE id = ?)", reading)
	if k == nil || err != nil {
		return nil, v.refuse(err)
	}
	how := k.Row.Taking
	if k.Row.profile != 0 {
		p, err := profileTable.one(v.ctx, v.q, "FROM profile WHERE id = ?", k.Row.profile)
		if err == nil && p == nil {
			err = &damage{table: "profile", row: k.Row.profile, fault: "it is missing"}
		}
		if err != nil {
			return nil, v.refuse(err)
		}
		how.Profile, how.Version = p.Row.Name, p.Row.Version
	}
	return &Kept[study.Taking]{how, k.Number, k.Line}, nil
}
