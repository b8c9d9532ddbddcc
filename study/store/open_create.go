package store

import (
	"context"
	"fmt"

	"wane/study"
)

// studyTable has one row, and stands for the study itself.
var studyTable = newTable(0, "study", fields[study.Settings]{
	textField("correction", func(s *study.Settings) *study.Route { return &s.Correction }),
	textField("mixing", func(s *study.Settings) *string { return &s.Mixing }),
	textField("created", func(s *study.Settings) *string { return &s.Created }),
	flagOrNull("over_blank", int64(1), func(s *study.Settings) *bool { return &s.OverBlank }),
	flagOrNull("two_people", int64(1), func(s *study.Settings) *bool { return &s.TwoPeople }),
})

// Create makes a study at path, with entry as the first line of its log, and
// opens it. A path that exists is refused. The study appears at path when it is
// whole; after an error nothing is left behind.
func Create(ctx context.Context, path string, settings study.Settings, entry *study.Entry) (*Store, error) {
	return CreateWith(ctx, path, settings, entry, func(*Tx) error { return nil })
}

// CreateWith is [Create] for a study that begins with what do adds, in the same transaction. If do returns an error,
// there is no study.
func CreateWith(ctx context.Context, path string, settings study.Settings, entry *study.Entry, do func(*Tx) error) (
	*Store, error) {
	err := createWhole(path, 0, func(temporary string) error {
		s, err := connect(temporary, "rwc")
		if err != nil {
			return err
		}
		err = s.fill(ctx, settings, entry, do)
		if closed := s.Close(); err == nil {
			err = closed
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	return Open(ctx, path)
}

// fill fills an empty file.
func (s *Store) fill(ctx context.Context, settings study.Settings, entry *study.Entry, do func(*Tx) error) error {
	setup := fmt.Sprintf("PRAGMA page_size = %d; PRAGMA application_id = %d", pageSize, applicationID)
	if _, err := s.db.ExecContext(ctx, setup); err != nil {
		return err
	}
	if err := migrate(ctx, s.db, migrations); err != nil {
		return err
	}
	err := s.Write(ctx, entry, func(tx *Tx) error {
		if _, err := studyTable.add(tx, &settings); err != nil {
			return err
		}
		return do(tx)
	})
	if err != nil {
		return err
	}
	_, err = s.db.ExecContext(ctx, "PRAGMA journal_mode = wal")
	return err
}
