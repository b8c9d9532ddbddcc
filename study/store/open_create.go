package store

import (
	"context"
	"os"

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
	made, err := newBlank()
	if err != nil {
		return nil, err
	}
	err = createWhole(path, 0, func(temporary string) error {
		if err := os.WriteFile(temporary, made.file, 0); err != nil {
			return err
		}
		s, err := connect(temporary, modeWrite)
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

// fill makes a study without rows one that is used.
func (s *Store) fill(ctx context.Context, settings study.Settings, entry *study.Entry, do func(*Tx) error) error {
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
