package store

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

// What the system says of a file of the study is said with the file and a remedy that helps.
func TestAccessIsSaid(t *testing.T) {
	gone := filepath.Join(t.TempDir(), "gone.wane")
	there := filepath.Join(t.TempDir(), "there.wane")
	require.NoError(t, os.WriteFile(there, []byte("x"), 0o600))
	for _, c := range []struct {
		path       string
		cause      error
		words, try string
	}{
		{gone, syscall.ENOENT, "this file is not there any more", "put it back"},
		{gone + "-wal", syscall.ENOENT, "this file is not there any more", "put it back"},
		{there, syscall.EMFILE, "this file cannot be opened", study.TryFiles},
		{there, syscall.ENFILE, "this file cannot be opened", study.TryFiles},
		{there, syscall.EACCES, "this cannot be written", tryFolder},
		{there, syscall.EROFS, "this cannot be written", tryFolder},
	} {
		for _, op := range []string{"open", "stat", "lstat"} {
			err := refuse("s.wane", fmt.Errorf("looking: %w", &fs.PathError{Op: op, Path: c.path, Err: c.cause}))
			var f *study.Failure
			require.ErrorAs(t, err, &f)
			assert.Equal(t, c.path, f.File)
			assert.Contains(t, f.Error(), c.words)
			assert.Contains(t, f.Try, c.try)
		}
	}
	other := errors.New("something else")
	assert.Equal(t, other, refuse("s.wane", other))
}

// SQLite says only that it could not open a study; what kept it from that is looked for.
func TestWhyAStudyCannotBeOpened(t *testing.T) {
	gone := filepath.Join(t.TempDir(), "gone.wane")
	s, err := connect(gone, modeWrite)
	require.NoError(t, err)
	_, err = pragma(t.Context(), s.db, "application_id")
	require.Error(t, err)
	err = refuse(gone, err)
	var f *study.Failure
	require.ErrorAs(t, err, &f)
	assert.Contains(t, f.Error(), gone+": this file is not there any more")
	require.NoError(t, s.disconnect())

	there := filepath.Join(t.TempDir(), "there.wane")
	require.NoError(t, os.WriteFile(there, []byte("x"), 0o600))
	f = cannotOpen(there)
	require.NotNil(t, f, "file and folder are as they should be")
	assert.Contains(t, f.Error(), "too many files are open")
	assert.Equal(t, study.TryFiles, f.Try)
}

// How many commits a -wal file held is said, and what was not finished.
func TestRecoveredInWords(t *testing.T) {
	assert.Empty(t, recovered(walFound{}))
	assert.Equal(t, []string{"recovered 1 commit of a command that was cut off"}, recovered(walFound{commits: 1}))
	notes := recovered(walFound{commits: 2, torn: true})
	require.Len(t, notes, 2)
	assert.Equal(t, "recovered 2 commits of a command that was cut off", notes[0])
	assert.Contains(t, notes[1], "the last transaction was incomplete")
}
