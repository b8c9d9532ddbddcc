//go:build unix

package main

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What comes out of a study may be read by whom the study may be read: the figure, the
// backup, and the originals with their folder, whatever the system takes off new files.
func TestWhatComesOutHasTheModeOfTheStudy(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	defer syscall.Umask(syscall.Umask(0o022))
	require.NoError(t, demoIn("d"))
	study := filepath.Join("d", "demo.wane")
	// the system takes the group's right to write off the folder
	for _, c := range []struct{ file, folder fs.FileMode }{{0o600, 0o700}, {0o640, 0o750}, {0o664, 0o755}} {
		require.NoError(t, os.Chmod(study, c.file))
		out := fmt.Sprintf("o%o", c.file)
		for _, line := range []string{"results --figure " + out + ".svg", "export --originals " + out,
			"backup " + out + ".wane"} {
			code, _, stderr := wane(t, append(strings.Split(line, " "), "--study", study)...)
			require.Equal(t, exitDone, code, "%s: %s", line, stderr)
		}
		for _, path := range []string{out + ".svg", out + ".wane", filepath.Join(out, "SHA256SUMS"),
			filepath.Join(out, "map.csv")} {
			if filepath.Base(path) == "map.csv" { // any of the exports
				found, err := filepath.Glob(filepath.Join(out, "*.csv"))
				require.NoError(t, err)
				require.NotEmpty(t, found)
				path = found[0]
			}
			info, err := os.Stat(path)
			require.NoError(t, err)
			assert.Equal(t, c.file, info.Mode(), path)
		}
		info, err := os.Stat(out)
		require.NoError(t, err)
		assert.Equal(t, c.folder, info.Mode().Perm(), out)
	}
}

// A demo that was killed while it made its study can be run again.
func TestDemoAfterAKill(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("WANE_OPERATOR", "ada")
	code, _, stderr := wane(t, "demo", "d")
	require.Equal(t, exitDone, code, stderr)
	left := filepath.Join("d", ".demo.wane.ABCDEFGHIJKLMNOPQRSTUVWX23.partial")
	require.NoError(t, os.WriteFile(left, []byte("half"), 0o600))
	code, _, stderr = wane(t, "demo", "d")
	require.Equal(t, exitDone, code, stderr)
	assert.NoFileExists(t, left)
}

// A process leaves no temporary file, and removes what killed ones left, if it is surely
// theirs.
func TestSpoolsAreSwept(t *testing.T) {
	folder := t.TempDir()
	t.Setenv("TMPDIR", folder)
	left := []string{"wane-123456.out", "wane-7.out"}
	foreign := []string{"wane-.out", "wane-12x.out", "wane-12.out.gz", "other-12.out", "wane-99.out"}
	for _, name := range append(left, foreign...) {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), nil, 0o600))
	}
	require.NoError(t, os.Chmod(filepath.Join(folder, "wane-99.out"), 0o644), "no temporary file is for others to read")
	s := &spool{to: &strings.Builder{}}
	for range spoolMemory>>20 + 1 {
		_, err := s.Write(make([]byte, 1<<20))
		require.NoError(t, err)
	}
	require.NotNil(t, s.file)
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	assert.ElementsMatch(t, foreign, names, "the one in use has no name, so that a kill leaves nothing")
	require.NoError(t, s.release())
	require.NoError(t, s.close())
	assert.Equal(t, spoolMemory+1<<20, s.to.(*strings.Builder).Len())
}
