package store_test

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

func TestBackup(t *testing.T) {
	path := filled(t)
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	copied := filepath.Join(t.TempDir(), "file:copy?.wane")
	report, err := s.Backup(t.Context(), copied)
	require.NoError(t, err)
	assert.Equal(t, verified(t, s), report)
	assert.Equal(t, dump(t, s), dumpFile(t, copied))
	assert.Equal(t, []string{"file:copy?.wane"}, filesBeside(t, copied))

	t.Run("an existing file is refused", func(t *testing.T) {
		was, err := os.ReadFile(copied)
		require.NoError(t, err)
		_, err = s.Backup(t.Context(), copied)
		refused(t, err, copied, "exists")
		_, err = s.Backup(t.Context(), path)
		refused(t, err, path, "exists")
		is, err := os.ReadFile(copied)
		require.NoError(t, err)
		assert.Equal(t, was, is)
	})
	t.Run("a cancelled one leaves nothing", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		other := filepath.Join(t.TempDir(), "b.wane")
		_, err := s.Backup(ctx, other)
		require.ErrorIs(t, err, context.Canceled)
		assert.Empty(t, filesBeside(t, other))
	})
	t.Run("the copy goes on as a study", func(t *testing.T) {
		c, err := store.Open(t.Context(), copied)
		require.NoError(t, err)
		defer c.Close()
		takeIn(t, c, study.Unit{Coupon: "C003", Pull: 1, Spot: "a"})
		verified(t, c)
	})
}

func TestBackupOfADamagedStudyIsNotKept(t *testing.T) {
	path := filled(t)
	tamper(t, path, func(db *sql.DB) { run(t, db, "UPDATE coupon SET lot = 'L9' WHERE id = 1") })
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	copied := filepath.Join(t.TempDir(), "b.wane")
	_, err = s.Backup(t.Context(), copied)
	refused(t, err, copied, "table coupon, row 1: its checksum is wrong")
	assert.Empty(t, filesBeside(t, copied))
}

func TestBackupOfABrokenFile(t *testing.T) {
	path := filled(t)
	whole, err := os.ReadFile(path)
	require.NoError(t, err)
	var page int
	require.NoError(t, raw(t, path).QueryRow("SELECT rootpage FROM sqlite_schema WHERE name = 'original'").Scan(&page))
	for i := 4096 * (page - 1); i < 4096*page; i++ {
		whole[i] = 0x5a
	}
	require.NoError(t, os.WriteFile(path, whole, 0o644))
	s, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	copied := filepath.Join(t.TempDir(), "b.wane")
	_, err = s.Backup(t.Context(), copied)
	refused(t, err, path, "damaged")
	assert.Empty(t, filesBeside(t, copied))
	report, err := s.Verify(t.Context())
	require.NoError(t, err)
	assert.Contains(t, findings(report), "SQLite finds")
	assert.Contains(t, findings(report), "the rest cannot be read")
}

// While another Store writes, each backup is whole and of one moment.
func TestBackupWhileAnotherWrites(t *testing.T) {
	s, path := enrolled(t)
	other, err := store.Open(t.Context(), path)
	require.NoError(t, err)
	defer other.Close()
	written := make(chan error, 1)
	stop := make(chan struct{})
	go func() {
		var err error
		for i := 0; err == nil; i++ {
			select {
			case <-stop:
				written <- nil
				return
			default:
				e, readings := export("x.csv", study.Unit{Coupon: "C001", Pull: i % 4, Spot: fmt.Sprint(i)}, 8, 45)
				err = other.Write(context.Background(), entry("intake"), func(tx *store.Tx) error {
					_, err := tx.AddExport(e, how, readings)
					return err
				})
			}
		}
		written <- err
	}()
	folder := t.TempDir()
	last := int64(0)
	for i := range 5 {
		report, err := s.Backup(t.Context(), filepath.Join(folder, string(rune('a'+i))+".wane"))
		require.NoError(t, err)
		assert.GreaterOrEqual(t, report.Lines, last)
		last = report.Lines
	}
	close(stop)
	require.NoError(t, <-written)
	verified(t, s)
}
