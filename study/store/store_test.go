package store_test

import (
	"context"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
	"wane/study/store"
)

func TestCreateOpenClose(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a study 100% #1?.wane")
	s, err := store.Create(t.Context(), path, settings, entry("new"))
	require.NoError(t, err)
	assert.Equal(t, settings, s.Settings())
	require.NoError(t, s.Close())
	assert.Equal(t, []string{filepath.Base(path)}, filesBeside(t, path), "one file when no one has it open")

	s, err = store.Open(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, settings, s.Settings())
	require.NoError(t, s.Write(t.Context(), entry("enrol"), enrol))
	verified(t, s)
	require.NoError(t, s.Close())
	assert.Equal(t, []string{filepath.Base(path)}, filesBeside(t, path))
}

func TestCreateBesideTheWorkingFolder(t *testing.T) {
	t.Chdir(t.TempDir())
	s, err := store.Create(t.Context(), "s.wane", settings, entry("new"))
	require.NoError(t, err)
	require.NoError(t, s.Close())
	assert.Equal(t, []string{"s.wane"}, filesBeside(t, "s.wane"))
}

func TestCreateRefuses(t *testing.T) {
	folder := t.TempDir()
	taken := filepath.Join(folder, "taken.wane")
	require.NoError(t, os.WriteFile(taken, []byte("mine"), 0o644))

	t.Run("an existing file", func(t *testing.T) {
		_, err := store.Create(t.Context(), taken, settings, entry("new"))
		refused(t, err, taken, "exists")
		kept, err := os.ReadFile(taken)
		require.NoError(t, err)
		assert.Equal(t, "mine", string(kept))
	})
	t.Run("an existing folder", func(t *testing.T) {
		_, err := store.Create(t.Context(), folder, settings, entry("new"))
		refused(t, err, folder, "exists")
	})
	t.Run("a folder that is not there", func(t *testing.T) {
		_, err := store.Create(t.Context(), filepath.Join(folder, "no", "s.wane"), settings, entry("new"))
		refused(t, err, "no such folder")
	})
	t.Run("a folder that is a file", func(t *testing.T) {
		_, err := store.Create(t.Context(), filepath.Join(taken, "s.wane"), settings, entry("new"))
		refused(t, err)
	})
	t.Run("a correction that there is not", func(t *testing.T) {
		_, err := store.Create(t.Context(), filepath.Join(folder, "s.wane"), study.Settings{Correction: "luck"}, entry("new"))
		require.Error(t, err)
	})
	t.Run("cancelled", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		_, err := store.Create(ctx, filepath.Join(folder, "s.wane"), settings, entry("new"))
		require.ErrorIs(t, err, context.Canceled)
	})
	assert.Equal(t, []string{"taken.wane"}, filesBeside(t, taken), "nothing is left behind")
}

func TestWriteIsOneTransaction(t *testing.T) {
	s, _ := enrolled(t)
	before := dump(t, s)

	t.Run("an error undoes all of it", func(t *testing.T) {
		own := errors.New("enough")
		err := s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
			_, err := tx.AddCoupon(coupon("C900", study.Exposed, "rack"))
			require.NoError(t, err)
			return own
		})
		require.ErrorIs(t, err, own)
		assert.Equal(t, before, dump(t, s))
	})
	t.Run("nothing new leaves no line", func(t *testing.T) {
		e := entry("enrol")
		require.NoError(t, s.Write(t.Context(), e, enrol))
		assert.Zero(t, e.Number)
		assert.Equal(t, before, dump(t, s))
	})
	t.Run("a panic undoes all of it", func(t *testing.T) {
		assert.Panics(t, func() {
			_ = s.Write(t.Context(), entry("enrol"), func(tx *store.Tx) error {
				_, err := tx.AddCoupon(coupon("C900", study.Exposed, "rack"))
				require.NoError(t, err)
				panic("as a test")
			})
		})
		assert.Equal(t, before, dump(t, s))
	})
	t.Run("cancelled within", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		err := s.Write(ctx, entry("enrol"), func(tx *store.Tx) error {
			_, err := tx.AddCoupon(coupon("C900", study.Exposed, "rack"))
			require.NoError(t, err)
			cancel()
			return nil
		})
		require.ErrorIs(t, err, context.Canceled)
		assert.Equal(t, before, dump(t, s))
	})
	t.Run("after a failure nothing more is kept", func(t *testing.T) {
		e, readings := export("x.csv", study.Unit{Coupon: "C001", Spot: "a"}, 8)
		e.SHA256[0] ^= 1
		err := s.Write(t.Context(), entry("intake"), func(tx *store.Tx) error {
			_, err := tx.AddExport(e, how, readings)
			require.ErrorContains(t, err, "SHA-256")
			_, err = tx.AddCoupon(coupon("C900", study.Exposed, "rack"))
			require.ErrorContains(t, err, "SHA-256")
			return nil
		})
		require.ErrorContains(t, err, "SHA-256")
		assert.Equal(t, before, dump(t, s))
	})
	t.Run("the summary may come last", func(t *testing.T) {
		e := entry("enrol")
		require.NoError(t, s.Write(t.Context(), e, func(tx *store.Tx) error {
			_, err := tx.AddCoupon(coupon("C900", study.Exposed, "rack"))
			e.Summary = "1 coupon"
			return err
		}))
		assert.EqualValues(t, 3, e.Number)
		var last study.Entry
		require.NoError(t, s.Log(t.Context(), func(e study.Entry) error { last = e; return nil }))
		assert.Equal(t, *e, last)
	})
	verified(t, s)
}

// Each connection has what the study file promises.
func TestEveryCommitIsSynchronised(t *testing.T) {
	s, path := create(t)
	got := store.Pragmas(t, s, "journal_mode", "synchronous", "foreign_keys", "busy_timeout")
	// 2 is FULL. Source: sqlite.org/pragma.html#pragma_synchronous.
	assert.Equal(t, []string{"wal", "2", "1", "5000"}, got)
	var id int
	var version string
	require.NoError(t,
		raw(t, path).QueryRow("SELECT * FROM pragma_application_id, pragma_user_version").Scan(&id, &version))
	assert.EqualValues(t, binary.BigEndian.Uint32([]byte("wane")), id)
	assert.Equal(t, store.NewestVersion, openVersion(t, version))
}

// A study begins with what is added to it in the same transaction, under its first line of the log. Where that is
// refused there is no study.
func TestCreateWith(t *testing.T) {
	path := filepath.Join(t.TempDir(), "s.wane")
	no := &study.Refusal{Fault: "not this one", Try: "another"}
	_, err := store.CreateWith(t.Context(), path, settings, entry("new"), func(tx *store.Tx) error {
		return errors.Join(enrol(tx), no)
	})
	assert.ErrorIs(t, err, no)
	assert.Empty(t, filesBeside(t, path))
	s, err := store.CreateWith(t.Context(), path, settings, entry("new"), enrol)
	require.NoError(t, err)
	defer s.Close()
	roster, err := s.Roster(t.Context())
	require.NoError(t, err)
	assert.Len(t, roster.Pulls, 4)
	verified(t, s)
	assert.Equal(t, []string{"1"}, ask(t, path, "SELECT count(*) FROM log"))
}
