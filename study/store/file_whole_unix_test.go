//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package store

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"wane/study"
)

const holdIn = "STORE_TEST_HOLD" // the folder of the child

// TestHoldingChild is the process that TestSweep kills: it never finishes the file that it
// makes.
func TestHoldingChild(t *testing.T) {
	folder := os.Getenv(holdIn)
	if folder == "" {
		t.Skip("runs only as the child of TestSweep")
	}
	_ = createWhole(filepath.Join(folder, "copy.wane"), 0, func(temporary string) error {
		for _, tail := range tails {
			if err := os.WriteFile(temporary+tail, []byte("half"), 0o600); err != nil {
				return err
			}
		}
		fmt.Println("holds")
		select {}
	})
}

func namesIn(t *testing.T, folder string) (names []string) {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// What a killed process left of the files that it made is removed by the next one that
// makes a file there, and nothing else is: not what another process is at, and no file that
// only looks like one.
func TestSweep(t *testing.T) {
	folder := t.TempDir()
	child := exec.Command(os.Args[0], "-test.run=^TestHoldingChild$")
	child.Env = append(os.Environ(), holdIn+"="+folder)
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	in := bufio.NewScanner(out)
	require.True(t, in.Scan())
	require.Equal(t, "holds", in.Text())
	held := namesIn(t, folder)
	require.Len(t, held, len(tails))

	const word = "ABCDEFGHIJKLMNOPQRSTUVWX23"
	foreign := []string{".x.partial", "x." + word + ".partial", ".x." + word + ".partial.txt", ".x." + word + "-partial",
		".x.abcdefghijklmnopqrstuvwx23.partial"}
	for _, name := range foreign {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), nil, 0o600))
	}
	foreign = append(foreign, ".folder."+word+".partial", ".link."+word+".partial")
	require.NoError(t, os.Mkdir(filepath.Join(folder, foreign[len(foreign)-2]), 0o755))
	require.NoError(t, os.Symlink("x", filepath.Join(folder, foreign[len(foreign)-1])))
	left := []string{".old." + word + ".partial", ".old." + word + ".partial-wal", ".alone." + word + ".partial-shm"}
	for _, name := range left {
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), nil, 0o600))
	}
	// A file that got its name, by a process that was killed before it took the old one away.
	require.NoError(t, os.WriteFile(filepath.Join(folder, "named.wane"), []byte("whole"), 0o600))
	linked := filepath.Join(folder, ".named.wane."+word+".partial")
	require.NoError(t, os.Link(filepath.Join(folder, "named.wane"), linked))

	s, err := Create(t.Context(), filepath.Join(folder, "new.wane"), study.Settings{Correction: study.RouteNone,
		Mixing: "bruggeman"}, &study.Entry{At: "2031-03-01T08:00:00Z", Verb: "new"})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	assert.ElementsMatch(t, append(append([]string{"new.wane", "named.wane"}, held...), foreign...), namesIn(t, folder))
	whole, err := os.ReadFile(filepath.Join(folder, "named.wane"))
	require.NoError(t, err)
	assert.Equal(t, "whole", string(whole))

	require.NoError(t, child.Process.Kill())
	var exit *exec.ExitError
	require.ErrorAs(t, child.Wait(), &exit)
	require.NoError(t, Replace(filepath.Join(folder, "figure.svg"), 0o640, []byte("drawn")))
	assert.ElementsMatch(t, append([]string{"new.wane", "named.wane", "figure.svg"}, foreign...), namesIn(t, folder))
}

// withMask runs do while the system takes these permissions off new files.
func withMask(mask int, do func()) {
	defer syscall.Umask(syscall.Umask(mask))
	do()
}

func permissions(t *testing.T, path string) fs.FileMode {
	t.Helper()
	info, err := os.Stat(path)
	require.NoError(t, err)
	return info.Mode().Perm()
}

// A copy of a study may be read by whom the study may be read, whatever the system takes
// off new files.
func TestBackupsTakeTheModeOfTheStudy(t *testing.T) {
	folder := t.TempDir()
	path := filepath.Join(folder, "s.wane")
	s, err := Create(t.Context(), path, study.Settings{Correction: study.RouteNone, Mixing: "bruggeman"},
		&study.Entry{At: "2031-03-01T08:00:00Z", Verb: "new"})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	for i, mode := range []fs.FileMode{0o600, 0o640, 0o664, 0o444} {
		for _, mask := range []int{0o022, 0o077, 0} {
			require.NoError(t, os.Chmod(path, mode))
			to := filepath.Join(folder, fmt.Sprintf("b%d-%o.wane", i, mask))
			withMask(mask, func() { _, err = s.Backup(t.Context(), to) })
			require.NoError(t, err)
			assert.Equal(t, mode, permissions(t, to), "mask %o", mask)
		}
	}
}

func TestReplace(t *testing.T) {
	folder := t.TempDir()
	at := func(name string) string { return filepath.Join(folder, name) }
	content := func(name string) string {
		data, err := os.ReadFile(at(name))
		require.NoError(t, err)
		return string(data)
	}
	withMask(0o022, func() {
		require.NoError(t, Replace(at("a.svg"), 0, []byte("one")))
		assert.Equal(t, fs.FileMode(0o644), permissions(t, at("a.svg")), "as the system has it")
		require.NoError(t, os.Chmod(at("a.svg"), 0o600))
		require.NoError(t, Replace(at("a.svg"), 0, []byte("two")))
		assert.Equal(t, fs.FileMode(0o600), permissions(t, at("a.svg")), "as it was")
		require.NoError(t, Replace(at("a.svg"), 0o664, []byte("three")))
		assert.Equal(t, fs.FileMode(0o664), permissions(t, at("a.svg")), "as it is asked for")
	})
	assert.Equal(t, "three", content("a.svg"))

	reader, err := os.Open(at("a.svg"))
	require.NoError(t, err)
	require.NoError(t, os.Symlink("a.svg", at("link.svg")))
	require.NoError(t, Replace(at("link.svg"), 0, []byte("four")))
	assert.Equal(t, "four", content("a.svg"), "the file behind a link is replaced")
	info, err := os.Lstat(at("link.svg"))
	require.NoError(t, err)
	assert.NotZero(t, info.Mode()&fs.ModeSymlink, "and the link stays")
	was := make([]byte, 10)
	n, err := reader.Read(was)
	require.NoError(t, errors.Join(err, reader.Close()))
	assert.Equal(t, "three", string(was[:n]), "who reads the file before has all of it")

	require.NoError(t, syscall.Mkfifo(at("pipe.svg"), 0o600))
	require.NoError(t, os.Mkdir(at("folder.svg"), 0o755))
	require.NoError(t, os.Symlink("nowhere.svg", at("dangling.svg")))
	before := namesIn(t, folder)
	for _, name := range []string{"pipe.svg", "folder.svg", "dangling.svg", "nowhere/a.svg"} {
		err := Replace(at(name), 0, []byte("x"))
		var r *study.Refusal
		require.ErrorAs(t, err, &r, name)
		assert.Equal(t, at(name), r.File)
	}
	assert.Equal(t, before, namesIn(t, folder), "nothing is left behind")
	long := at(strings.Repeat("é", 120) + ".svg")
	require.NoError(t, Replace(long, 0, []byte("x")), "the name in the making is no longer than the name")
}
