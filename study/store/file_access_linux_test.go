package store_test

import (
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// asNobody lets this goroutine look at files as a user without rights, which does not bind
// root otherwise.
func asNobody(t *testing.T, do func()) {
	t.Helper()
	if os.Geteuid() == 0 {
		const nobody = 65534
		runtime.LockOSThread()
		defer runtime.UnlockOSThread()
		require.NoError(t, syscall.Setfsuid(nobody))
		defer func() { require.NoError(t, syscall.Setfsuid(0)) }()
	}
	do()
}

// A study, or its -wal file, that may not be read is named, and what may not be done to it.
func TestUnreadableFilesAreNamed(t *testing.T) {
	c := cutOff(t)
	folder, err := os.MkdirTemp("", "wane-test-*")
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(folder)) })
	require.NoError(t, os.Chmod(folder, 0o755))
	for _, unread := range []string{"s.wane", "s.wane-wal"} {
		for name, data := range map[string][]byte{"s.wane": c.main, "s.wane-wal": c.wal} {
			path := filepath.Join(folder, name)
			require.NoError(t, os.WriteFile(path, data, 0o644))
			require.NoError(t, os.Chmod(path, 0o644))
		}
		require.NoError(t, os.Chmod(filepath.Join(folder, unread), 0))
		for name, open := range openers {
			asNobody(t, func() {
				_, err = open(t.Context(), filepath.Join(folder, "s.wane"))
			})
			r := refused(t, err, filepath.Join(folder, unread)+": this file cannot be read by the user ")
			assert.Contains(t, r.Try, "the owner of the file", name)
		}
	}
}
